//! The way of a recording from bytes to channels, one step after the other.

use std::io::Read;

use super::blocks::Blocks;
use super::error::Trouble;
use super::notes::Notes;
use super::source::Feed;
use super::wide::{Planned, Timed};
use super::{
    ReadOptions, candump, columns, decimal_commas, decode, error, finish, frame, long, plan, preamble,
    rounds, sniff, table, time_axis, time_choice, time_order, wide,
};
use crate::codes;
use crate::recording::{Channel, Format, Preamble, Quantity, Recording, Source};

/// Reads a stream.
///
/// # Errors
/// Content that is no recording.
pub(crate) fn read(
    name: &str,
    source: impl Read + Send,
    options: &ReadOptions<'_>,
) -> Result<Recording, Trouble> {
    let mut layout = Vec::new();
    let mut feed = Feed::new(source, &mut layout)?;
    let name = error::plain(name, 200);
    let mut start =
        Source { name, sha256: String::new(), format: Format::Csv, rows: 0, rows_skipped: 0, layout };
    let mut recording = match frame::format(&feed.head)? {
        Some(format) => {
            start.format = format;
            from_frame(feed.hold()?, start, options)?
        }
        None => from_feed(&mut feed, start, options)?,
    };
    recording.source.sha256 = feed.digest()?;
    Ok(recording)
}

/// Text: block by block; held as a whole where it is UTF-16, or where its beginning does not settle what it is.
fn from_feed(
    feed: &mut Feed<'_>,
    mut start: Source,
    options: &ReadOptions<'_>,
) -> Result<Recording, Trouble> {
    decode::check_text(&feed.head)?;
    start.layout.extend(decode::encoding(&feed.head));
    if !feed.whole && !decode::is_wide(&feed.head) {
        let head = whole_lines(&feed.head).to_vec();
        let text = decode::text(&head);
        if candump::is_candump(&text) {
            return from_frames(&mut blocks(feed, &head)?, &text, start, options);
        }
        let found = sniff::sniff(&text).and_then(|found| {
            let planned = wide::plan_columns(&text, &found, options)?;
            Ok((found, planned))
        });
        let one_line = !head.contains(&b'\n') && !head.contains(&b'\r');
        match found {
            Err(trouble) if one_line => return Err(trouble),
            Ok((found, planned)) if decimal_commas::suspected(&text, &found).is_none() => {
                return from_table(
                    &mut blocks(feed, &head)?,
                    &found,
                    planned,
                    start,
                    options,
                    Notes::default(),
                );
            }
            _ => {}
        }
    }
    let bytes = feed.hold()?;
    let text = decode::text(&bytes);
    if candump::is_candump(&text) {
        return from_frames(&mut Blocks::new(text.as_bytes(), text.as_bytes()), &text, start, options);
    }
    candump::check_stamps(&text)?;
    from_text(&text, start, options, Notes::default())
}

/// The whole content in blocks of lines.
fn blocks<'a>(feed: &'a mut Feed<'_>, head: &[u8]) -> Result<Blocks<'a>, Trouble> {
    let mut stream = feed.stream();
    skip_mark(&mut stream, head)?;
    Ok(Blocks::new(stream, head))
}

/// CAN frames as text.
fn from_frames(
    blocks: &mut Blocks<'_>,
    head: &str,
    mut start: Source,
    options: &ReadOptions<'_>,
) -> Result<Recording, Trouble> {
    let mut notes = Notes::default();
    start.format = Format::Candump;
    let decoded = candump::read(blocks, head, options, &mut notes)?;
    start.layout.extend(decoded.layout);
    from_events(decoded.events, Some(&decoded.codes), start, Preamble::default(), notes)
}

/// The beginning of a text up to its last line end.
fn whole_lines(head: &[u8]) -> &[u8] {
    let end = head.iter().rposition(|b| *b == b'\n').or_else(|| head.iter().rposition(|b| *b == b'\r'));
    end.map_or(head, |at| &head[..=at])
}

/// Takes a byte order mark off the stream.
fn skip_mark(stream: &mut impl Read, head: &[u8]) -> Result<(), Trouble> {
    let mut mark = [0u8; decode::MARK.len()];
    if head.starts_with(decode::MARK) {
        stream.read_exact(&mut mark).map_err(|error| decode::unreadable(&error))?;
    }
    Ok(())
}

/// Delimited text held as a whole.
fn from_text(
    text: &str,
    mut start: Source,
    options: &ReadOptions<'_>,
    mut notes: Notes,
) -> Result<Recording, Trouble> {
    let found = sniff::sniff(text)?;
    if let Some(suspicion) = decimal_commas::suspected(text, &found) {
        let clear = decimal_commas::untangle(text, &found, &suspicion, &mut notes)?;
        start.layout.push(format!("fields parted by comma, and decimal commas: {}", clear.remark));
        return from_text(&clear.text, start, options, notes);
    }
    let planned = wide::plan_columns(text, &found, options)?;
    let mut blocks = Blocks::new(text.as_bytes(), text.as_bytes());
    from_table(&mut blocks, &found, planned, start, options, notes)
}

/// A table, wide or long, block by block.
fn from_table(
    blocks: &mut Blocks<'_>,
    found: &sniff::Layout<'_>,
    planned: Planned,
    mut start: Source,
    options: &ReadOptions<'_>,
    mut notes: Notes,
) -> Result<Recording, Trouble> {
    let mut preamble = preamble::read(&found.preamble, found.figures.style);
    preamble.date = preamble.date.or_else(|| planned.date.clone());
    describe(&mut start.layout, found);
    if let Some(shape) = long::shape(&planned) {
        start.layout.push(shape.remark().to_owned());
        let events = long::read(blocks, found, &planned, shape, options, &mut notes)?;
        return from_events(events, None, start, preamble, notes);
    }
    match wide::read(blocks, found, planned, options, &mut notes)? {
        wide::Outcome::Rows(timed) => from_timed(timed, start, preamble, notes),
        wide::Outcome::Events(events) => {
            start.layout.push("several groups of columns, each with a time of its own".to_owned());
            from_events(events, None, start, preamble, notes)
        }
    }
}

fn from_timed(
    timed: Timed,
    start: Source,
    preamble: Preamble,
    mut notes: Notes,
) -> Result<Recording, Trouble> {
    let Timed { mut table, mut time_raw, kind } = timed;
    if time_order::is_newest_first(&time_raw) {
        notes.note(
            codes::NEWEST_FIRST,
            "the rows stand in reverse order, newest first; they are read from the end",
        );
        time_raw.reverse();
        table.values.iter_mut().for_each(|values| values.reverse());
        table.lines = super::row_lines::RowLines::default();
    }
    let table = match rounds::scattered(table, &time_raw, kind) {
        Ok(events) => return from_events(events, None, start, preamble, notes),
        Err(table) => table,
    };
    let rows = time_raw.len();
    let ordered = time_order::order(time_raw, &table.lines, kind, &mut notes)
        .ok_or_else(|| too_little(rows, &notes))?;
    recording(table, ordered, start, preamble, notes)
}

/// A columnar file: figures as they are; with columns of text the way of delimited text.
fn from_frame(bytes: Vec<u8>, mut start: Source, options: &ReadOptions<'_>) -> Result<Recording, Trouble> {
    let mut notes = Notes::default();
    if frame::is_stream(&bytes) {
        start.layout.push("written as a stream".to_owned());
    }
    let (content, hint) = frame::read(bytes, start.format, options, &mut notes)?;
    let recording = match content {
        frame::Content::Text(text) => from_text(&text, start, options, notes),
        frame::Content::Figures { mut plans, mut values, rows, date } => {
            start.layout.push(format!("{rows} rows in {} columns", plans.len()));
            let source = plan::time_source(&plans);
            let (time_raw, kind) =
                time_choice::raw_time(source, &mut plans, &mut values, rows, options, &mut notes)?;
            let table = table::Table { plans, values, ..table::Table::default() };
            let preamble = Preamble { date, ..Preamble::default() };
            from_timed(Timed { table, time_raw, kind }, start, preamble, notes)
        }
    };
    // What is missing may be in a column that could not be read.
    recording.map_err(|trouble| match hint {
        Some(advice) => Trouble { advice, ..trouble },
        None => trouble,
    })
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
    let mut events = events;
    // Frames of a bus stand in order of time, and trouble codes count them.
    if codes.is_none() && rounds::by_signal::put_in_order(&mut events, &mut notes) {
        source.layout.push("the values stand signal by signal; they are put in order of time".to_owned());
    }
    let raw = std::mem::take(&mut events.time_raw);
    let by_event = time_order::order(raw, &events.lines, events.kind, &mut notes)
        .ok_or_else(|| too_little(count, &notes))?;
    let rounds::Rounds { table, ordered, remark } = rounds::merge(events, &by_event)?;
    source.layout.extend(remark);
    let first = ordered.time_s.first().copied().unwrap_or(0.0);
    let mut recording = recording(table, ordered, source, preamble, notes)?;
    if let Some(codes) = codes {
        let time_of = |event: usize| {
            let at = by_event.keep.before(event).min(by_event.keep.len().saturating_sub(1));
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
        return Err(too_little(axis.time_s.len(), &notes));
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

fn too_little(rows: usize, notes: &Notes) -> Trouble {
    let found = if rows < 2 {
        error::counted(rows, "usable row")
    } else {
        format!("{rows} rows whose time does not rise")
    };
    let trouble = Trouble::new(
        found,
        "at least two rows at different times",
        "check the time column, or give the sample rate with --rate",
    );
    match notes.first_placed() {
        Some(first) if rows < 2 => {
            let line = first.line.unwrap_or(1);
            let advice = format!("the others are damaged, line {line} first: {}", first.text);
            Trouble { advice, ..trouble }.at(line, first.column.unwrap_or(1))
        }
        _ => trouble,
    }
}

fn nothing_known(channels: &[Channel]) -> Trouble {
    let names: Vec<String> =
        channels.iter().take(8).map(|c| format!("`{}`", error::plain(&c.header, 24))).collect();
    Trouble::new(
        format!("the columns {}", names.join(", ")),
        "at least one manifold pressure or the engine speed",
        "name them in [columns] of the machine file",
    )
}

#[cfg(test)]
#[path = "pipeline_tests.rs"]
mod tests;
