//! Delimited text with one row per moment and one column per quantity.

use super::ReadOptions;
use super::clock::{DateOrder, moment};
use super::error::{Trouble, plain};
use super::lines::{Field, Lines, split};
use super::notes::Notes;
use super::plan::{self, Form, Plan, TimeSource};
use super::rows::{Reader, RowFormat, Rows, reader};
use super::sniff::{Layout, is_comment};
use super::table::Table;
use super::time_order::TimeKind;
use super::unit_words::Unit;
use super::words;
use crate::recording::Quantity;

/// Rows that columns are judged by.
const SAMPLE_ROWS: usize = 400;

/// A table with its raw times in seconds.
#[derive(Debug, Clone)]
pub(crate) struct Timed {
    pub(crate) table: Table,
    pub(crate) time_raw: Vec<f64>,
    pub(crate) kind: TimeKind,
}

/// Columns planned, before the rows are read.
pub(crate) struct Planned {
    pub(crate) names: Vec<String>,
    pub(crate) plans: Vec<Plan>,
    pub(crate) order: DateOrder,
    pub(crate) base_day: i64,
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
    let names = names(layout, options)?;
    let samples = sample_cells(text, layout, names.len());
    let unit_cell = |at: usize| layout.units.as_ref().and_then(|row| row.get(at)).map(String::as_str);
    let plans: Vec<Plan> = names
        .iter()
        .enumerate()
        .map(|(at, name)| plan::plan(name, unit_cell(at), &samples[at], options.machine))
        .collect();
    let order = date_order(&samples);
    let base_day = samples.iter().flatten().find_map(|cell| moment(cell, order)?.day).unwrap_or(0);
    Ok(Planned { names, plans, order, base_day })
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

/// Day or month first, by the first date that can only be read one way.
fn date_order(samples: &[Vec<&str>]) -> DateOrder {
    for cell in samples.iter().flatten().filter(|cell| cell.contains('/') || cell.contains('-')) {
        let day = moment(cell, DateOrder::DayFirst).is_some();
        let month = moment(cell, DateOrder::MonthFirst).is_some();
        if day != month {
            return if day { DateOrder::DayFirst } else { DateOrder::MonthFirst };
        }
    }
    DateOrder::DayFirst
}

/// Reads a wide table.
///
/// # Errors
/// No time, or nothing that can be used.
pub(crate) fn read(
    text: &str,
    layout: &Layout<'_>,
    planned: Planned,
    options: &ReadOptions<'_>,
    notes: &mut Notes,
) -> Result<Timed, Trouble> {
    let Planned { names, mut plans, order, base_day } = planned;
    let mut source = plan::time_source(&plans);
    let wanted = |at: usize, plan: &Plan| match source {
        TimeSource::Column(time) if time == at => true,
        TimeSource::DateAndClock(date, clock) if date == at || clock == at => true,
        TimeSource::Unknown if plan.quantity.is_none() => true,
        _ => plan.quantity.is_some_and(|q| !matches!(q, Quantity::Ignored | Quantity::Time)),
    };
    let readers: Vec<Reader> =
        plans.iter().enumerate().map(|(at, plan)| reader(plan, wanted(at, plan))).collect();
    let time = time_columns(&plans, source);
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
    };
    let mut rows = Rows::new(names.len());
    let mut fields = Vec::new();
    for line in Lines::new(text).skip_while(|line| line.number < layout.data_line) {
        rows.read(line, &format, &mut fields, notes);
    }
    rows.report_missing(&format, notes);
    let style_note = layout.figures.assumed;
    if style_note {
        notes.caution(
            "decimal-mark-assumed",
            "figures such as 1,012 are read as 1.012; if they are thousands, write them without the mark",
        );
    }
    if let TimeSource::Unknown = source {
        source = guess_time(&plans, &rows, notes);
    }
    let (time_raw, kind) = raw_time(source, &mut plans, &rows, options, notes)?;
    let table = Table { plans, values: rows.values, lines: rows.lines, skipped: rows.skipped };
    Ok(Timed { table, time_raw, kind })
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

/// A column without a known name that only ever rises is taken for the time, and that is said.
fn guess_time(plans: &[Plan], rows: &Rows, notes: &mut Notes) -> TimeSource {
    let rises = |values: &[f64]| {
        let figures: Vec<f64> = values.iter().copied().filter(|v| !v.is_nan()).collect();
        let up = figures.windows(2).filter(|w| w[1] > w[0]).count();
        let down = figures.windows(2).filter(|w| w[1] < w[0]).count();
        figures.len() > 2 && up * 10 > figures.len() && down * 100 <= figures.len()
    };
    let free = |plan: &Plan| plan.quantity.is_none() && !words::is_index(&plan.header);
    let found = (0..plans.len()).find(|at| free(&plans[*at]) && rises(&rows.values[*at]));
    match found {
        Some(at) => {
            let name = plain(&plans[at].header.text, 40);
            notes.caution(
                "time-assumed",
                format!(
                    "no column is named a time; `{name}` is the first that only rises and is read as the time"
                ),
            );
            TimeSource::Column(at)
        }
        None => TimeSource::Unknown,
    }
}

/// The raw times in seconds and how they were written.
fn raw_time(
    source: TimeSource,
    plans: &mut [Plan],
    rows: &Rows,
    options: &ReadOptions<'_>,
    notes: &mut Notes,
) -> Result<(Vec<f64>, TimeKind), Trouble> {
    let clock_kind = TimeKind { clock: true, unit_s: 1.0, equal_ok: false };
    match source {
        TimeSource::DateAndClock(date, clock) => {
            mark(&mut plans[date], "the date");
            mark(&mut plans[clock], "the time of day");
            let sum = rows.values[date].iter().zip(&rows.values[clock]).map(|(d, c)| d + c).collect();
            Ok((sum, clock_kind))
        }
        TimeSource::Column(at) if plans[at].form == Form::Clock => {
            mark(&mut plans[at], "the time, as a clock");
            plans[at].unit = Some(Unit::ClockText);
            Ok((rows.values[at].clone(), clock_kind))
        }
        TimeSource::Column(at) => {
            let unit_s = super::time_unit::size(&plans[at], &rows.values[at], notes);
            mark(&mut plans[at], "the time");
            plans[at].unit = Some(Unit::Time(unit_s));
            let base = rows.values[at].iter().copied().find(|t| t.is_finite()).unwrap_or(0.0);
            let raw = super::time_unit::scaled(&rows.values[at], base, unit_s);
            Ok((raw, TimeKind { clock: false, unit_s, equal_ok: false }))
        }
        TimeSource::Unknown => match options.rate_hz {
            Some(rate) if rate > 0.0 && rate.is_finite() => {
                let raw = (0..rows.lines.len()).map(|row| row as f64 / rate).collect();
                Ok((raw, TimeKind { clock: false, unit_s: 1.0, equal_ok: false }))
            }
            _ => Err(no_time(plans)),
        },
    }
}

fn mark(plan: &mut Plan, why: &str) {
    plan.quantity = Some(Quantity::Time);
    plan.why = vec![why.to_owned()];
}

fn no_time(plans: &[Plan]) -> Trouble {
    let names: Vec<String> =
        plans.iter().take(8).map(|p| format!("`{}`", plain(&p.header.text, 24))).collect();
    Trouble::new(
        format!("the columns {} and no time among them", names.join(", ")),
        "a column with the time of each row",
        "name it in [columns] of the machine file, or give the sample rate with --rate when rows come at an even pace",
    )
}
