//! Columnar files: Parquet, Arrow IPC files and Arrow IPC streams. The only room that names polars.
//!
//! Columns of figures and times are taken as they are. A file with columns of text (names of signals, clock times)
//! is written out as delimited text once and read by the rules of text, so that both mean the same.

mod cells;
mod kinds;
mod pages;
#[cfg(test)]
mod tests;

use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use polars::prelude::{
    ArrowSchema, DataFrame, DataType, IpcReader, IpcStreamReader, ParquetReader, SerReader,
};
use polars_buffer::Buffer;

use super::ReadOptions;
use super::decode::MOST_HELD;
use super::error::{Trouble, plain};
use super::notes::Notes;
use super::plan::{self, Plan};
use super::sniff::MOST_COLUMNS;
use crate::codes;
use crate::recording::Format;

/// How a message of an Arrow IPC stream begins; a file begins with words of its own.
///
/// # Source
/// Arrow columnar format, "Encapsulated message format".
const STREAM_MARK: [u8; 4] = [0xff; 4];
/// How a stream ends.
const STREAM_END: [u8; 8] = [0xff, 0xff, 0xff, 0xff, 0, 0, 0, 0];
/// Values that columns are judged by.
const SAMPLE: usize = 400;

/// What a columnar file holds.
pub(crate) enum Content {
    /// Columns of figures, times in seconds.
    Figures { plans: Vec<Plan>, values: Vec<Vec<f64>>, rows: usize, date: Option<String> },
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
    if bytes.starts_with(b"ARROW1") || is_stream(bytes) {
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
    if bytes.starts_with(b"FEA1") {
        return unread("a Feather file of version 1");
    }
    Ok(None)
}

/// Whether the bytes begin like an Arrow IPC stream: its mark, and a length of the schema below 16 MiB.
pub(crate) fn is_stream(bytes: &[u8]) -> bool {
    bytes.starts_with(&STREAM_MARK) && bytes.len() > 8 && bytes[7] == 0
}

/// Reads the columns; with what to do about the first one that is left out.
///
/// # Errors
/// A damaged file, one that grows over the bound, or one without a usable column.
pub(crate) fn read(
    bytes: Vec<u8>,
    format: Format,
    options: &ReadOptions<'_>,
    notes: &mut Notes,
) -> Result<(Content, Option<String>), Trouble> {
    if is_stream(&bytes) && !bytes.ends_with(&STREAM_END) {
        notes.caution(
            codes::CUT_OFF,
            "the Arrow stream has no end mark: it may be cut; the rows that are there are used",
        );
    }
    // The library may panic on hostile bytes; to the caller that is one more kind of damage.
    let guarded = catch_unwind(AssertUnwindSafe(|| load(bytes, format)));
    let (frame, left_out) = guarded.unwrap_or_else(|_| Err(damaged("its structure does not hold")))?;
    for LeftOut { name, what, advice } in &left_out {
        let expected = if *what == kinds::CATEGORIES { "text" } else { "figures" };
        let text = format!("`{name}` is left out: found {what}, expected {expected}; {advice}");
        notes.caution(codes::COLUMN_TYPE, text);
    }
    let first = left_out.first();
    let hint = first.map(|LeftOut { name, what, advice }| format!("`{name}` holds {what}: {advice}"));
    if frame.width() == 0 || frame.height() == 0 {
        let advice = "write time, engine speed and pressures as floating-point columns";
        return Err(Trouble::new(
            format!("{} usable columns and {} rows", frame.width(), frame.height()),
            "columns of figures with at least two rows",
            hint.unwrap_or_else(|| advice.to_owned()),
        ));
    }
    if frame.columns().iter().any(|column| column.dtype() == &DataType::String) {
        return Ok((Content::Text(cells::as_text(&frame)?), hint));
    }
    Ok((figures(&frame, options)?, hint))
}

/// A column that is left out: its name, what it holds and what to do.
struct LeftOut {
    name: String,
    what: &'static str,
    advice: &'static str,
}

type Loaded = (DataFrame, Vec<LeftOut>);

fn load(bytes: Vec<u8>, format: Format) -> Result<Loaded, Trouble> {
    let failed = |error: polars::prelude::PolarsError| damaged(&plain(&error.to_string(), 120));
    match format {
        Format::Parquet => {
            let bytes = Buffer::from(bytes);
            let mut reader = ParquetReader::new(Cursor::new(bytes.clone()));
            let metadata = reader.get_metadata().map_err(failed)?.clone();
            let unpacked: usize = metadata.row_groups.iter().map(|group| group.total_byte_size()).sum();
            let rows = metadata.num_rows;
            let mut schema = reader.schema().map_err(failed)?;
            if let Some(bare) = kinds::without_categories(&schema, &metadata) {
                reader = ParquetReader::new(Cursor::new(bytes.clone()));
                reader.set_metadata(Arc::new(bare));
                schema = reader.schema().map_err(failed)?;
            }
            let (wanted, left_out) = usable(schema.as_ref())?;
            bounded(unpacked, rows, wanted.len())?;
            let asked =
                |name: &str| wanted.iter().any(|at| schema.get_at_index(*at).is_some_and(|f| f.0 == name));
            pages::check(&bytes, &metadata, &asked)?;
            let frame = reader.with_projection(Some(wanted)).finish().map_err(failed)?;
            Ok((frame, left_out))
        }
        _ if is_stream(&bytes) => {
            let packed = bytes.len();
            let mut reader = IpcStreamReader::new(Cursor::new(bytes));
            let (wanted, left_out) = usable(&reader.arrow_schema().map_err(failed)?)?;
            bounded(packed, 0, wanted.len())?;
            let most = rows_within(wanted.len()) + 1;
            let frame =
                reader.with_projection(Some(wanted)).with_n_rows(Some(most)).finish().map_err(failed)?;
            bounded(packed, frame.height(), frame.width())?;
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
    // What follows a brace is the inside of the library.
    let reason = reason.split('{').next().unwrap_or(reason).trim_end();
    let reason = reason.trim_end_matches("Error").trim_end_matches([' ', ':']);
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
        return Err(too_much());
    }
    Ok(())
}

fn too_much() -> Trouble {
    Trouble::new(
        "columns that fill over 256 MiB",
        "a log of at most 256 MiB",
        "cut out the part to be judged",
    )
}

/// Columns of a type that can be read, and the others with their type.
fn usable(schema: &ArrowSchema) -> Result<(Vec<usize>, Vec<LeftOut>), Trouble> {
    if schema.len() > MOST_COLUMNS {
        return Err(Trouble::new(
            format!("{} columns", schema.len()),
            format!("at most {MOST_COLUMNS}"),
            "export only time, engine speed and the pressures",
        ));
    }
    let (mut wanted, mut left_out) = (Vec::new(), Vec::new());
    for (at, (name, field)) in schema.iter().enumerate() {
        if kinds::readable(field.dtype()) {
            wanted.push(at);
        } else {
            let (what, advice) = kinds::in_words(field.dtype());
            left_out.push(LeftOut { name: plain(name, 40), what, advice });
        }
    }
    Ok((wanted, left_out))
}

fn figures(frame: &DataFrame, options: &ReadOptions<'_>) -> Result<Content, Trouble> {
    let rows = frame.height();
    let given: Option<Vec<&str>> =
        options.columns.as_deref().map(|list| list.split(',').map(str::trim).collect());
    let (mut plans, mut values) = (Vec::new(), Vec::new());
    for (at, column) in frame.columns().iter().enumerate() {
        let list = cells::seconds_or_figures(column)?;
        let sample: Vec<String> = list
            .iter()
            .take(SAMPLE)
            .map(|v| if v.is_nan() { String::new() } else { v.to_string() })
            .collect();
        let sample: Vec<&str> = sample.iter().map(String::as_str).collect();
        let name = given.as_ref().and_then(|names| names.get(at)).map_or(column.name().as_str(), |name| name);
        let mut plan = plan::plan(name, None, &sample, options.machine);
        if let Some(form) = cells::time_form(column.dtype()) {
            plan.form = form;
            plan.why = vec![format!("its values are {}", cells::type_name(column.dtype()))];
            plan.quantity = None;
        }
        plans.push(plan);
        values.push(list);
    }
    let date = frame.columns().iter().find_map(cells::first_day);
    Ok(Content::Figures { plans, values, rows, date })
}
