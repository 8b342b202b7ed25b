//! Reading: bytes in, [`crate::recording::Recording`] out.
//!
//! The way of a file: bytes (bounded, hashed) - unpacked by content - text by its encoding - the table found
//! (delimiter, figures, header, units row) - columns planned from headers and sample cells - rows into columns of
//! figures - times ordered and made an axis - cylinders, units and kinds settled - channels in base units.
//! CAN frames and columnar files join at the columns.
//!
//! Nothing is guessed in silence: what a file does not say and the data do not settle stays open (`kind: None`,
//! a column left out) and is said in a notice.

mod candump;
mod clock;
mod columns;
mod cylinder;
mod decode;
mod error;
mod fill;
mod finish;
mod header;
mod header_rows;
mod isotp;
mod j1979;
mod kind;
mod lines;
mod long;
mod notes;
mod number;
mod plan;
mod preamble;
mod resolution;
mod rounds;
mod rows;
mod sniff;
mod source;
mod style;
mod table;
mod time_axis;
mod time_order;
mod time_unit;
mod unit_words;
mod vocabulary;
mod wide;
mod words;

use std::path::Path;

pub use error::ReadError;
use error::Trouble;
use notes::Notes;
use wide::Timed;

use crate::machine::Machine;
use crate::recording::{Format, Preamble, Quantity, Recording, Source};

/// What a person may say about a file beforehand; by default nothing.
#[derive(Debug, Clone, Default)]
pub struct ReadOptions<'a> {
    /// The machine; its `[columns]` go before every header.
    pub machine: Option<&'a Machine>,
    /// Names of the columns, parted by commas, for a table without a header (or instead of its header).
    pub columns: Option<String>,
    /// Rows per second, for a table without a time.
    pub rate_hz: Option<f64>,
}

/// Reads a recording from a file.
///
/// # Errors
/// [`ReadError`] when the file cannot be opened or holds no recording; lesser defects are notices in the result.
pub fn read_path(path: &Path, options: &ReadOptions<'_>) -> Result<Recording, ReadError> {
    let name = source::file_name(path);
    let bytes = source::bytes(path, &name)?;
    read_bytes(&name, &bytes, options)
}

/// Reads a recording from bytes, such as standard input.
///
/// `name` is the file's own name, for errors and the result.
///
/// # Errors
/// [`ReadError`] when the bytes hold no recording; lesser defects are notices in the result.
pub fn read_bytes(name: &str, bytes: &[u8], options: &ReadOptions<'_>) -> Result<Recording, ReadError> {
    understand(name, bytes, options).map_err(|trouble| trouble.in_file(name))
}

fn understand(name: &str, bytes: &[u8], options: &ReadOptions<'_>) -> Result<Recording, Trouble> {
    let mut layout = Vec::new();
    let mut notes = Notes::default();
    let sha256 = source::sha256(bytes);
    let unpacked = decode::unpack(bytes, &mut layout)?;
    let text = decode::text(unpacked, &mut layout)?;
    let start = Source {
        name: error::plain(name, 200),
        sha256,
        format: Format::Csv,
        rows: 0,
        rows_skipped: 0,
        layout,
    };
    if candump::is_candump(&text) {
        let mut start = Source { format: Format::Candump, ..start };
        let decoded = candump::read(&text, options, &mut notes)?;
        start.layout.extend(decoded.layout);
        return from_events(decoded.events, Some(&decoded.codes), start, Preamble::default(), notes);
    }
    let found = sniff::sniff(&text)?;
    let preamble = preamble::read(&found.preamble, found.figures.style);
    let planned = wide::plan_columns(&text, &found, options)?;
    let mut start = start;
    describe(&mut start.layout, &found);
    if let Some(shape) = long::shape(&planned) {
        start.layout.push("long layout: one value a row".to_owned());
        let events = long::read(&text, &found, &planned, shape, options, &mut notes)?;
        return from_events(events, None, start, preamble, notes);
    }
    let Timed { table, time_raw, kind } = wide::read(&text, &found, planned, options, &mut notes)?;
    let table = match rounds::scattered(table, &time_raw, kind) {
        Ok(events) => return from_events(events, None, start, preamble, notes),
        Err(table) => table,
    };
    let ordered = time_order::order(&time_raw, &table.lines, kind, &mut notes)
        .ok_or_else(|| too_little(time_raw.len()))?;
    recording(table, ordered, start, preamble, notes)
}

/// Single values with their own times: rounds become rows.
fn from_events(
    events: rounds::Events,
    codes: Option<&candump::Codes>,
    mut source: Source,
    preamble: Preamble,
    mut notes: Notes,
) -> Result<Recording, Trouble> {
    let count = events.value.len();
    let by_event = time_order::order(&events.time_raw, &events.lines, events.kind, &mut notes)
        .ok_or_else(|| too_little(count))?;
    let rounds::Rounds { table, ordered, remark } = rounds::merge(events, &by_event);
    source.layout.extend(remark);
    let first = ordered.time_s.first().copied().unwrap_or(0.0);
    let mut recording = recording(table, ordered, source, preamble, notes)?;
    if let Some(codes) = codes {
        let time_of = |event: usize| {
            let at = by_event
                .keep
                .partition_point(|kept| *kept < event)
                .min(by_event.keep.len().saturating_sub(1));
            by_event.time_s.get(at).map(|t| (t - first).max(0.0))
        };
        recording.codes_cleared_s = codes.cleared.iter().filter_map(|event| time_of(*event)).collect();
        recording.trouble_codes = codes
            .found
            .iter()
            .cloned()
            .map(|(event, mut code)| {
                code.time_s = time_of(event);
                code
            })
            .collect();
    }
    Ok(recording)
}

fn describe(lines: &mut Vec<String>, found: &sniff::Layout<'_>) {
    lines.push(format!("fields parted by {}", found.delimiter.name()));
    let style = found.figures.style;
    let decimal = if style.decimal == b',' { "decimal comma" } else { "decimal point" };
    let group = style.group.map(|mark| match mark {
        ' ' => "blank".to_owned(),
        other => format!("`{other}`"),
    });
    lines.push(group.map_or(decimal.to_owned(), |mark| format!("{decimal}, {mark} between thousands")));
    match (&found.names, &found.units) {
        (Some(_), Some(_)) => {
            lines.push(format!("header on line {}, units on a row of their own", found.header_line))
        }
        (Some(_), None) => lines.push(format!("header on line {}", found.header_line)),
        (None, _) => lines.push("no header".to_owned()),
    }
}

/// Settles a table with ordered times into a recording.
fn recording(
    mut table: table::Table,
    ordered: time_order::Ordered,
    mut source: Source,
    preamble: Preamble,
    mut notes: Notes,
) -> Result<Recording, Trouble> {
    let axis = time_axis::finish(ordered, &table.lines, &mut notes);
    columns::settle(&mut table, &mut notes);
    source.rows_skipped += table.skipped + axis.dropped;
    source.rows = axis.time_s.len();
    source.layout.extend(axis.layout.iter().cloned());
    if axis.time_s.len() < 2 {
        return Err(too_little(axis.time_s.len()));
    }
    let channels = finish::channels(table, &axis, &mut notes);
    if !channels.iter().any(|c| !matches!(c.quantity, Quantity::Time | Quantity::Ignored)) {
        return Err(nothing_known(&channels));
    }
    Ok(Recording {
        source,
        time_s: axis.time_s,
        channels,
        preamble,
        notices: notes.finish(),
        trouble_codes: Vec::new(),
        codes_cleared_s: Vec::new(),
    })
}

fn too_little(rows: usize) -> Trouble {
    Trouble::new(
        format!("{rows} usable rows, whose time does not rise"),
        "at least two rows at different times",
        "check the time column, or give the sample rate with --rate",
    )
}

fn nothing_known(channels: &[crate::recording::Channel]) -> Trouble {
    let names: Vec<String> =
        channels.iter().take(8).map(|c| format!("`{}`", error::plain(&c.header, 24))).collect();
    Trouble::new(
        format!("the columns {}", names.join(", ")),
        "at least one manifold pressure or the engine speed",
        "name them in [columns] of the machine file",
    )
}
