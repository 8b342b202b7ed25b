//! Columnar files: Parquet and Arrow IPC. The only room that names polars.
//!
//! Columns of figures and times are taken as they are. A file with columns of text (names of signals, clock times)
//! is written out as delimited text once and read by the rules of text, so that both mean the same.

use std::fmt::Write as _;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

use polars::prelude::{
    ArrowDataType, ArrowSchema, Column, DataFrame, DataType, IpcReader, ParquetReader, SerReader, TimeUnit,
};

use super::ReadOptions;
use super::decode::MOST_HELD;
use super::error::{Trouble, plain};
use super::notes::Notes;
use super::plan::{self, Form, Plan};
use super::sniff::MOST_COLUMNS;
use crate::recording::Format;

/// Whether polars is built with dates, times and short integers; without them such columns are left out.
const ALL_TYPES: bool = true;
/// Values that columns are judged by.
const SAMPLE: usize = 400;

/// What a columnar file holds.
pub(crate) enum Content {
    /// Columns of figures, times in seconds.
    Figures { plans: Vec<Plan>, values: Vec<Vec<f64>>, rows: usize },
    /// The whole as delimited text.
    Text(String),
}

/// The format by its mark.
///
/// # Errors
/// Kinds of columnar files that are not read.
pub(crate) fn format(bytes: &[u8]) -> Result<Option<Format>, Trouble> {
    if bytes.starts_with(b"PAR1") {
        return Ok(Some(Format::Parquet));
    }
    if bytes.starts_with(b"ARROW1") {
        return Ok(Some(Format::Arrow));
    }
    let unread = |found: &str| {
        Err(Trouble::new(
            found,
            "a Parquet file or an Arrow IPC file",
            "save it again as one of these, or as CSV",
        ))
    };
    if bytes.starts_with(b"PARE") {
        return unread("an encrypted Parquet file");
    }
    if bytes.starts_with(&[0xff, 0xff, 0xff, 0xff]) && bytes.len() > 8 && bytes[7] == 0 {
        return unread("an Arrow IPC stream");
    }
    if bytes.starts_with(b"FEA1") {
        return unread("a Feather file of version 1");
    }
    Ok(None)
}

/// Reads the columns.
///
/// # Errors
/// A damaged file, one that grows over the bound, or one without a usable column.
pub(crate) fn read(
    bytes: Vec<u8>,
    format: Format,
    options: &ReadOptions<'_>,
    notes: &mut Notes,
) -> Result<Content, Trouble> {
    // The library may panic on hostile bytes; to the caller that is one more kind of damage.
    let guarded = catch_unwind(AssertUnwindSafe(|| load(bytes, format)));
    let (frame, left_out) = guarded.unwrap_or_else(|_| Err(damaged("its structure does not hold")))?;
    for (name, kind) in left_out {
        let text = format!(
            "`{}` is left out: found values of type {kind}, expected figures; write times as seconds",
            plain(&name, 40)
        );
        notes.caution("column-type", text);
    }
    if frame.width() == 0 || frame.height() == 0 {
        return Err(Trouble::new(
            format!("{} usable columns and {} rows", frame.width(), frame.height()),
            "columns of figures with at least two rows",
            "write time, engine speed and pressures as floating-point columns",
        ));
    }
    if frame.columns().iter().any(|column| column.dtype() == &DataType::String) {
        return Ok(Content::Text(as_text(&frame)));
    }
    figures(&frame, options)
}

/// Name and type of columns that are left out.
type LeftOut = Vec<(String, String)>;
type Loaded = (DataFrame, LeftOut);

fn load(bytes: Vec<u8>, format: Format) -> Result<Loaded, Trouble> {
    let failed = |error: polars::prelude::PolarsError| damaged(&plain(&error.to_string(), 120));
    match format {
        Format::Parquet => {
            let mut reader = ParquetReader::new(Cursor::new(bytes));
            let metadata = reader.get_metadata().map_err(failed)?;
            let unpacked: usize = metadata.row_groups.iter().map(|group| group.total_byte_size()).sum();
            let rows = metadata.num_rows;
            let (wanted, left_out) = usable(reader.schema().map_err(failed)?.as_ref())?;
            bounded(unpacked, rows, wanted.len())?;
            let frame = reader.with_projection(Some(wanted)).finish().map_err(failed)?;
            Ok((frame, left_out))
        }
        _ => {
            let packed = bytes.len();
            let mut reader = IpcReader::new(Cursor::new(bytes));
            let (wanted, left_out) = usable(reader.schema().map_err(failed)?.as_ref())?;
            bounded(packed, 0, wanted.len())?;
            // Rows beyond the bound are cut by the reader before they are kept.
            let most = rows_within(wanted.len()) + 1;
            let frame =
                reader.with_projection(Some(wanted)).with_n_rows(Some(most)).finish().map_err(failed)?;
            bounded(packed, frame.height(), frame.width())?;
            Ok((frame, left_out))
        }
    }
}

fn damaged(reason: &str) -> Trouble {
    Trouble::new(
        format!("a damaged or cut columnar file ({reason})"),
        "a whole Parquet or Arrow IPC file",
        "copy or export it again",
    )
}

fn rows_within(columns: usize) -> usize {
    usize::try_from(MOST_HELD).unwrap_or(usize::MAX) / 8 / columns.max(1)
}

fn bounded(unpacked: usize, rows: usize, columns: usize) -> Result<(), Trouble> {
    if unpacked as u64 > MOST_HELD || rows > rows_within(columns) {
        return Err(Trouble::new(
            "columns that fill over 256 MiB",
            "a log of at most 256 MiB",
            "cut out the part to be judged",
        ));
    }
    Ok(())
}

/// Columns of a type that can be read, and the others with their type.
fn usable(schema: &ArrowSchema) -> Result<(Vec<usize>, LeftOut), Trouble> {
    if schema.len() > MOST_COLUMNS {
        return Err(Trouble::new(
            format!("{} columns", schema.len()),
            format!("at most {MOST_COLUMNS}"),
            "export only time, engine speed and the pressures",
        ));
    }
    let (mut wanted, mut left_out) = (Vec::new(), Vec::new());
    for (at, (name, field)) in schema.iter().enumerate() {
        if readable(field.dtype()) {
            wanted.push(at);
        } else {
            left_out.push((name.to_string(), plain(&format!("{:?}", field.dtype()), 40)));
        }
    }
    Ok((wanted, left_out))
}

fn readable(kind: &ArrowDataType) -> bool {
    use ArrowDataType as T;
    let always = matches!(
        kind,
        T::Boolean
            | T::Int32
            | T::Int64
            | T::UInt32
            | T::UInt64
            | T::Float32
            | T::Float64
            | T::Utf8
            | T::LargeUtf8
            | T::Utf8View
    );
    let more = matches!(
        kind,
        T::Int8
            | T::Int16
            | T::UInt8
            | T::UInt16
            | T::Timestamp(..)
            | T::Date32
            | T::Date64
            | T::Time32(_)
            | T::Time64(_)
            | T::Duration(_)
    );
    always || (ALL_TYPES && more)
}

fn figures(frame: &DataFrame, options: &ReadOptions<'_>) -> Result<Content, Trouble> {
    let rows = frame.height();
    let given: Option<Vec<&str>> =
        options.columns.as_deref().map(|list| list.split(',').map(str::trim).collect());
    let (mut plans, mut values) = (Vec::new(), Vec::new());
    for (at, column) in frame.columns().iter().enumerate() {
        let list = seconds_or_figures(column)?;
        let cells: Vec<String> = list
            .iter()
            .take(SAMPLE)
            .map(|v| if v.is_nan() { String::new() } else { v.to_string() })
            .collect();
        let cells: Vec<&str> = cells.iter().map(String::as_str).collect();
        let name = given.as_ref().and_then(|names| names.get(at)).map_or(column.name().as_str(), |name| name);
        let mut plan = plan::plan(name, None, &cells, options.machine);
        if is_temporal(column.dtype()) {
            plan.form = Form::Clock;
            plan.why = vec![format!("its values are of type {}", column.dtype())];
            plan.quantity = None;
        }
        plans.push(plan);
        values.push(list);
    }
    Ok(Content::Figures { plans, values, rows })
}

fn is_temporal(kind: &DataType) -> bool {
    matches!(kind, DataType::Datetime(..) | DataType::Date | DataType::Time | DataType::Duration(_))
}

/// A column as figures; dates and times as seconds from their first value.
fn seconds_or_figures(column: &Column) -> Result<Vec<f64>, Trouble> {
    let failed = |error: polars::prelude::PolarsError| damaged(&plain(&error.to_string(), 120));
    let per_unit = |unit: &TimeUnit| match unit {
        TimeUnit::Nanoseconds => 1e9,
        TimeUnit::Microseconds => 1e6,
        TimeUnit::Milliseconds => 1e3,
    };
    let per_second = match column.dtype() {
        DataType::Datetime(unit, _) | DataType::Duration(unit) => per_unit(unit),
        DataType::Time => 1e9,
        DataType::Date => 1.0 / 86_400.0,
        _ => {
            let cast = column.cast(&DataType::Float64).map_err(failed)?;
            let list = cast.f64().map_err(failed)?;
            return Ok(list.iter().map(|v| v.filter(|v| v.is_finite()).unwrap_or(f64::NAN)).collect());
        }
    };
    let counts = column.to_physical_repr().cast(&DataType::Int64).map_err(failed)?;
    let counts = counts.i64().map_err(failed)?;
    let base = counts.iter().flatten().next().unwrap_or(0);
    let seconds = |count: i64| count.wrapping_sub(base) as f64 / per_second;
    Ok(counts.iter().map(|count| count.map_or(f64::NAN, seconds)).collect())
}

/// The frame as text parted by tabs.
fn as_text(frame: &DataFrame) -> String {
    let tidy = |text: &str| text.replace(['\t', '\n', '\r', '"'], " ");
    let names: Vec<String> = frame.columns().iter().map(|c| tidy(c.name())).collect();
    let mut out = names.join("\t");
    out.push('\n');
    for row in 0..frame.height() {
        for (at, column) in frame.columns().iter().enumerate() {
            if at > 0 {
                out.push('\t');
            }
            match column.get(row) {
                Ok(polars::prelude::AnyValue::Null) | Err(_) => {}
                Ok(polars::prelude::AnyValue::String(text)) => out.push_str(&tidy(text)),
                Ok(value) => match value.extract::<f64>() {
                    Some(figure) => {
                        let _ = write!(out, "{figure}");
                    }
                    None => out.push_str(&tidy(&value.to_string())),
                },
            }
        }
        out.push('\n');
    }
    out
}

#[cfg(test)]
#[path = "frame_tests.rs"]
mod tests;
