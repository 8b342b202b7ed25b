//! Delimited text with one row per moment and one column per quantity.

use rayon::prelude::*;

use super::ReadOptions;
use super::blocks::{Blocks, Next};
use super::clock::{self, DateOrder, moment};
use super::date_order;
use super::error::Trouble;
use super::fast::{Fast, Stretch};
use super::groups;
use super::lines::{Delimiter, Field, Lines, split};
use super::notes::Notes;
use super::plan::{self, Form, Plan, TimeSource};
use super::rounds::Events;
use super::rows::{Reader, RowFormat, Rows, reader};
use super::sniff::{Layout, is_comment};
use super::table::Table;
use super::time_choice;
use super::time_order::TimeKind;
use crate::codes;
use crate::recording::Quantity;

/// Bytes of a stretch that is read in one go.
const STRETCH: usize = 256 << 10;
/// Rows that columns are judged by.
const SAMPLE_ROWS: usize = 400;

/// A table with its raw times in seconds.
#[derive(Debug, Clone)]
pub(crate) struct Timed {
    pub(crate) table: Table,
    pub(crate) time_raw: Vec<f64>,
    pub(crate) kind: TimeKind,
}

/// What a wide table turned out to be.
#[derive(Debug)]
pub(crate) enum Outcome {
    Rows(Timed),
    Events(Events),
}

/// Columns planned, before the rows are read.
pub(crate) struct Planned {
    pub(crate) names: Vec<String>,
    pub(crate) plans: Vec<Plan>,
    pub(crate) order: DateOrder,
    /// Whether the dates can be read with day or month first.
    pub(crate) guessed: bool,
    pub(crate) base_day: i64,
    /// Date of the first row that has one.
    pub(crate) date: Option<String>,
}

/// Names and plans for a layout.
///
/// # Errors
/// No header and no names given; names that do not fit.
pub(crate) fn plan_columns(
    text: &str,
    layout: &Layout<'_>,
    options: &ReadOptions<'_>,
) -> Result<Planned, Trouble> {
    let mut names = names(layout, options)?;
    if options.columns.is_none() {
        part_stamps(&mut names, text, layout);
    }
    let samples = sample_cells(text, layout, names.len());
    let unit_cell = |at: usize| layout.units.as_ref().and_then(|row| row.get(at)).map(String::as_str);
    let plans: Vec<Plan> = names
        .iter()
        .enumerate()
        .map(|(at, name)| plan::plan(name, unit_cell(at), &samples[at], options.machine))
        .collect();
    let settled = date_order::settled(&samples);
    let order = settled.unwrap_or(DateOrder::DayFirst);
    let guessed = settled.is_none() && date_order::ambiguous(&samples);
    let dated = samples.iter().zip(&plans).filter(|(_, plan)| matches!(plan.form, Form::Clock | Form::Date));
    let base_day = dated.flat_map(|(cells, _)| cells).find_map(|cell| moment(cell, order)?.day).unwrap_or(0);
    let date = plans
        .iter()
        .zip(&samples)
        .filter(|(plan, _)| matches!(plan.form, Form::Clock | Form::Date))
        .find_map(|(_, cells)| cells.iter().find_map(|cell| clock::iso_day(cell)));
    Ok(Planned { names, plans, order, guessed, base_day, date })
}

fn names(layout: &Layout<'_>, options: &ReadOptions<'_>) -> Result<Vec<String>, Trouble> {
    let given: Option<Vec<String>> =
        options.columns.as_ref().map(|list| list.split(',').map(|name| name.trim().to_owned()).collect());
    let Some(mut names) = given.clone().or_else(|| layout.names.clone()) else {
        return Err(Trouble::new(
            format!("{} columns and no header", layout.width),
            "a header that names them",
            "give the names with --columns, for example --columns 'time_s,map1_kpa,map2_kpa,rpm'",
        )
        .at(layout.data_line, 1));
    };
    // A delimiter at the end of every line is no column.
    while names.len() > 2 && names.len() > layout.width && names.last().is_some_and(String::is_empty) {
        names.pop();
    }
    if let Some(given) = given {
        let fits = given.len() == layout.width || given.len() + 1 == layout.width;
        if !fits {
            return Err(Trouble::new(
                format!("{} columns in the file and {} names in --columns", layout.width, given.len()),
                "one name for each column",
                "name every column; `ignored` leaves one out",
            )
            .at(layout.data_line, 1));
        }
    }
    Ok(names)
}

/// A date and a clock time parted by a blank are two fields of a table that is cut at blanks, under one name.
fn part_stamps(names: &mut Vec<String>, text: &str, layout: &Layout<'_>) {
    if layout.delimiter != Delimiter::Blanks || names.len() + 1 != layout.width {
        return;
    }
    let mut fields: Vec<Field<'_>> = Vec::new();
    let row = Lines::new(text).find(|line| line.number == layout.data_line);
    if row.is_none_or(|row| split(row.text, layout.delimiter, &mut fields).is_err()) {
        return;
    }
    let is = |at: usize, clock: bool| {
        fields
            .get(at)
            .and_then(|f| moment(f.text, DateOrder::DayFirst).or(moment(f.text, DateOrder::MonthFirst)))
            .is_some_and(|m| m.clock == clock && m.day.is_some() != clock)
    };
    if let Some(at) = (0..names.len()).find(|at| is(*at, false) && is(at + 1, true)) {
        names.insert(at + 1, names[at].clone());
    }
}

/// Sample cells of each column from the first rows.
fn sample_cells<'a>(text: &'a str, layout: &Layout<'_>, columns: usize) -> Vec<Vec<&'a str>> {
    let mut cells: Vec<Vec<&'a str>> = vec![Vec::new(); columns];
    let mut fields: Vec<Field<'a>> = Vec::new();
    let data = Lines::new(text).skip_while(|line| line.number < layout.data_line);
    let rows = data.filter(|line| !line.text.trim().is_empty() && !is_comment(line.text));
    for line in rows.take(SAMPLE_ROWS) {
        if split(line.text, layout.delimiter, &mut fields).is_ok() && fields.len() + 1 >= columns {
            for (column, field) in cells.iter_mut().zip(&fields) {
                column.push(field.text);
            }
        }
    }
    cells
}

/// Reads a wide table.
///
/// # Errors
/// No time, or nothing that can be used.
pub(crate) fn read(
    blocks: &mut Blocks<'_>,
    layout: &Layout<'_>,
    planned: Planned,
    options: &ReadOptions<'_>,
    notes: &mut Notes,
) -> Result<Outcome, Trouble> {
    let Planned { names, mut plans, order, guessed, base_day, .. } = planned;
    let source = plan::time_source(&plans);
    if let TimeSource::Column(at) = source {
        clocks_beside(&mut plans, at);
    }
    let groups = groups::time_columns(&plans, source);
    let wanted = |at: usize, plan: &Plan| match source {
        _ if groups.contains(&at) => true,
        TimeSource::Column(time) if time == at => true,
        TimeSource::DateAndClock(date, clock) if date == at || clock == at => true,
        TimeSource::Unknown if plan.quantity.is_none() => true,
        _ => plan.quantity.is_some_and(|q| !matches!(q, Quantity::Ignored | Quantity::Time)),
    };
    let readers: Vec<Reader> =
        plans.iter().enumerate().map(|(at, plan)| reader(plan, wanted(at, plan))).collect();
    let time = if groups.is_empty() { time_columns(&plans, source) } else { vec![false; plans.len()] };
    let vital = vital(&plans, &time);
    let format = RowFormat {
        delimiter: layout.delimiter,
        style: layout.figures.style,
        readers,
        vital,
        time,
        order,
        base_day,
        names: &names,
        plans: &plans,
        own_header: options.columns.is_none() && layout.names.is_some(),
    };
    let mut rows = Rows::new(names.len());
    if layout.earlier > 3 {
        rows.skipped += layout.earlier;
        notes.caution(
            codes::HEADER_AGAIN,
            format!(
                "found {} rows with another number of columns before line {}, expected {}: they are left out; split the \
                 file there",
                layout.earlier, layout.data_line, layout.width
            ),
        );
    }
    read_blocks(blocks, layout.data_line, &format, &mut rows, notes)?;
    rows.report_missing(&format, notes);
    let style_note = layout.figures.assumed;
    if style_note {
        notes.caution(
            codes::DECIMAL_MARK_ASSUMED,
            "figures such as 1,012 are read as 1.012; if they are thousands, write them without the mark",
        );
    }
    if let Some(events) = groups::events(&plans, &rows, &groups, notes) {
        return Ok(Outcome::Events(events));
    }
    let (mut time_raw, kind) =
        time_choice::raw_time(source, &mut plans, &mut rows.values, rows.lines.len(), options, notes)?;
    if guessed && kind.clock {
        date_order::straighten(&mut time_raw, base_day, notes);
    }
    let table = Table { plans, values: rows.values, lines: rows.lines, skipped: rows.skipped };
    Ok(Outcome::Rows(Timed { table, time_raw, kind }))
}

/// Reads all blocks, clean stretches the quick way and several at a time.
fn read_blocks(
    blocks: &mut Blocks<'_>,
    data_line: u64,
    format: &RowFormat<'_>,
    rows: &mut Rows,
    notes: &mut Notes,
) -> Result<(), Trouble> {
    let fast = Fast::new(format);
    let mut next = blocks.next()?;
    loop {
        let block = match next {
            Next::End => return Ok(()),
            Next::LongLine(line, bytes) => {
                rows.long_line(line, bytes, notes);
                next = blocks.next()?;
                continue;
            }
            Next::Lines(block) => block,
        };
        let (text, first) = from_line(&block.text, block.first_line, data_line);
        let parts = stretches(text, first);
        let read = |part: &(&str, u64)| fast.as_ref().and_then(|fast| fast.read(part.0.as_bytes()));
        // The block to come is read and hashed while this one is taken apart.
        let (found, following) =
            rayon::join(|| parts.par_iter().map(read).collect::<Vec<Option<Stretch>>>(), || blocks.next());
        take(rows, &parts, &found, format, notes);
        if let Some(fast) = &fast {
            fast.take_back(found);
        }
        rows.check_size()?;
        blocks.take_back(block);
        next = following?;
    }
}

/// Takes over what was read the quick way, and reads the rest line by line.
fn take(
    rows: &mut Rows,
    parts: &[(&str, u64)],
    found: &[Option<Stretch>],
    format: &RowFormat<'_>,
    notes: &mut Notes,
) {
    let mut at = 0;
    while at < parts.len() {
        let clean = found[at..].iter().take_while(|stretch| stretch.is_some()).count();
        let stretches: Vec<(&Stretch, u64)> =
            found[at..at + clean].iter().flatten().zip(parts[at..].iter().map(|(_, first)| *first)).collect();
        rows.take(&stretches, format);
        at += clean;
        if let Some((part, first)) = parts.get(at) {
            rows.read_lines(part, *first, format, notes);
            at += 1;
        }
    }
}

/// The part of a block from a line on.
fn from_line(text: &str, first: u64, wanted: u64) -> (&str, u64) {
    if wanted <= first {
        return (text, first);
    }
    let mut lines = Lines::from(text, first);
    while lines.next().is_some_and(|line| line.number + 1 < wanted) {}
    (lines.rest(), wanted.max(first))
}

/// A block in stretches of whole lines, with the number of the first line of each.
fn stretches(text: &str, first: u64) -> Vec<(&str, u64)> {
    let (mut parts, mut rest, mut line) = (Vec::new(), text, first);
    while !rest.is_empty() {
        let aim = rest.len().min(STRETCH);
        let end = memchr::memchr(b'\n', &rest.as_bytes()[aim..]).map_or(rest.len(), |at| aim + at + 1);
        let (part, after) = rest.split_at(end);
        parts.push((part, line));
        line += memchr::memchr_iter(b'\n', part.as_bytes()).count() as u64;
        rest = after;
    }
    parts
}

/// Clocks that are not the time are known, and left out.
fn clocks_beside(plans: &mut [Plan], time: usize) {
    if plans[time].form != Form::Figures || plans[time].ruled {
        return;
    }
    let name = format!("the time is taken from {}", super::error::quoted(&plans[time].header.text));
    let clock = |plan: &&mut Plan| {
        !plan.ruled && matches!(plan.form, Form::Clock | Form::Date) && plan.quantity.is_none()
    };
    for plan in plans.iter_mut().filter(clock) {
        plan.quantity = Some(Quantity::Ignored);
        plan.why = vec![name.clone()];
    }
}

/// Columns that carry the time.
fn time_columns(plans: &[Plan], source: TimeSource) -> Vec<bool> {
    (0..plans.len())
        .map(|at| match source {
            TimeSource::Column(time) => time == at,
            TimeSource::DateAndClock(date, clock) => date == at || clock == at,
            TimeSource::Unknown => false,
        })
        .collect()
}

/// Columns whose bad cells make a row useless.
fn vital(plans: &[Plan], time: &[bool]) -> Vec<bool> {
    let judged = |plan: &Plan| {
        matches!(plan.quantity, Some(Quantity::ManifoldPressure | Quantity::EngineSpeed | Quantity::Lambda))
    };
    plans.iter().zip(time).map(|(plan, time)| *time || judged(plan)).collect()
}
