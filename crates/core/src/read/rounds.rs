//! Single values with their own times become rows.
//!
//! A logger that asks one quantity after another writes one value at a time. One round of questions becomes one
//! row: a row ends where a signal comes a second time, or when more than one and a quarter of the usual round has
//! passed. The row bears the time of its first value; how far apart its values are is said. Values are not shifted
//! or made up: a signal that was not asked in a round is missing in it.

pub(crate) mod by_signal;

use super::error::Trouble;
use super::plan::Plan;
use super::row_lines::{Keep, RowLines};
use super::rows::{MOST_VALUES, too_many_values};
use super::table::Table;
use super::time_order::{Ordered, TimeKind, seconds, usual_step};
use crate::recording::Quantity;

/// Values in the order of the file.
#[derive(Debug, Clone)]
pub(crate) struct Events {
    pub(crate) plans: Vec<Plan>,
    pub(crate) time_raw: Vec<f64>,
    pub(crate) signal: Vec<u16>,
    pub(crate) value: Vec<f64>,
    pub(crate) lines: RowLines,
    pub(crate) skipped: usize,
    pub(crate) kind: TimeKind,
}

impl Default for Events {
    fn default() -> Self {
        Self {
            plans: Vec::new(),
            time_raw: Vec::new(),
            signal: Vec::new(),
            value: Vec::new(),
            lines: RowLines::default(),
            skipped: 0,
            kind: TimeKind { clock: false, unit_s: 1.0, equal_ok: true },
        }
    }
}

/// Most single values of a recording: with their times and signals they fill about half a gigabyte.
const MOST_EVENTS: usize = 24_000_000;

impl Events {
    /// Refuses recordings that would fill the memory.
    ///
    /// # Errors
    /// More than [`MOST_EVENTS`] values.
    pub(crate) fn check_size(&self) -> Result<(), Trouble> {
        Self::check_count(self.value.len())
    }

    /// The same for so many values that are yet to come.
    ///
    /// # Errors
    /// More than [`MOST_EVENTS`].
    pub(crate) fn check_count(values: usize) -> Result<(), Trouble> {
        if values <= MOST_EVENTS {
            return Ok(());
        }
        Err(Trouble::new(
            format!("more than {} million values, one a line", MOST_EVENTS / 1_000_000),
            "a recording of an idle, minutes and not days long",
            "cut out the part to be judged, or record fewer signals",
        ))
    }

    pub(crate) fn push(&mut self, time_raw: f64, signal: u16, value: f64, line: u64) {
        self.time_raw.push(time_raw);
        self.signal.push(signal);
        self.value.push(value);
        self.lines.push(line);
    }
}

/// A wide table whose rows hold one value each, as events; the table back when its rows hold several.
///
/// Judged by pressures, engine speed and lambda: fewer than one in ten of the rows that hold any of them hold two.
pub(crate) fn scattered(table: Table, time_raw: &[f64], kind: TimeKind) -> Result<Events, Table> {
    let judged = |plan: &Plan| {
        matches!(plan.quantity, Some(Quantity::ManifoldPressure | Quantity::EngineSpeed | Quantity::Lambda))
    };
    let columns: Vec<usize> = (0..table.plans.len()).filter(|at| judged(&table.plans[*at])).collect();
    let rows = time_raw.len();
    let filled = |row: usize| {
        columns.iter().filter(|at| table.values[**at].get(row).is_some_and(|v| v.is_finite())).count()
    };
    let (mut some, mut several) = (0usize, 0usize);
    for row in 0..rows {
        let count = filled(row);
        some += usize::from(count > 0);
        several += usize::from(count > 1);
        // However many of the other rows hold one: these are enough.
        if several * 10 >= rows {
            return Err(table);
        }
    }
    if columns.len() < 2 || some == 0 || several * 10 >= some {
        return Err(table);
    }
    let mut events =
        Events { kind: TimeKind { equal_ok: true, ..kind }, skipped: table.skipped, ..Events::default() };
    for (row, time) in time_raw.iter().enumerate() {
        for (at, values) in table.values.iter().enumerate() {
            let value = values.get(row).copied().unwrap_or(f64::NAN);
            let time_column = table.plans[at].quantity == Some(Quantity::Time);
            if value.is_finite() && !time_column {
                events.push(
                    *time,
                    u16::try_from(at).unwrap_or(u16::MAX),
                    value,
                    table.lines.get(row).unwrap_or(0),
                );
            }
        }
    }
    events.plans = table.plans;
    Ok(events)
}

/// Rows made of rounds, with their times.
pub(crate) struct Rounds {
    pub(crate) table: Table,
    pub(crate) ordered: Ordered,
    pub(crate) remark: Option<String>,
}

/// Merges events, given the order of their times.
///
/// # Errors
/// More rows and columns than are allowed.
pub(crate) fn merge(events: Events, ordered: &Ordered) -> Result<Rounds, Trouble> {
    let used = |signal: u16| {
        let quantity = events.plans[usize::from(signal)].quantity;
        quantity.is_some_and(|q| !matches!(q, Quantity::Ignored | Quantity::Time))
    };
    let round = usual_round(&events, ordered, &used);
    let columns = events.plans.len();
    let mut values: Vec<Vec<f64>> = vec![Vec::new(); columns];
    let mut lines = RowLines::default();
    let mut time_s: Vec<f64> = Vec::new();
    let most_rows = MOST_VALUES / (0..columns).filter(|at| used(*at as u16)).count().max(1);
    // Row in which each signal was seen last.
    let mut seen = vec![usize::MAX; columns];
    let mut widest = 0.0f64;
    for (at, time) in ordered.time_s.iter().enumerate() {
        let row = ordered.keep.get(at);
        let signal = events.signal[row];
        if !used(signal) {
            continue;
        }
        let column = usize::from(signal);
        let current = time_s.len().wrapping_sub(1);
        let late = time_s.last().is_none_or(|start| time - start > 1.25 * round);
        if late || seen[column] == current {
            if time_s.len() >= most_rows {
                return Err(too_many_values());
            }
            time_s.push(*time);
            lines.push(events.lines.get(row).unwrap_or(0));
            for (at, list) in values.iter_mut().enumerate() {
                if used(at as u16) {
                    list.push(f64::NAN);
                }
            }
        }
        let current = time_s.len() - 1;
        seen[column] = current;
        widest = widest.max(time - time_s[current]);
        if let Some(cell) = values[column].last_mut() {
            *cell = events.value[row];
        }
    }
    let keep = Keep::All(time_s.len());
    let remark = (widest > 0.0).then(|| {
        format!(
            "values come one after another: one round makes one row, its values up to {} apart",
            seconds(widest)
        )
    });
    let table = Table { plans: events.plans, values, lines, skipped: events.skipped };
    Ok(Rounds { table, ordered: Ordered { time_s, keep, dropped: ordered.dropped, step_s: round }, remark })
}

/// Usual time between two values of the signal that comes most often.
fn usual_round(events: &Events, ordered: &Ordered, used: &impl Fn(u16) -> bool) -> f64 {
    let mut times: Vec<Vec<f64>> = vec![Vec::new(); events.plans.len()];
    for (at, time) in ordered.time_s.iter().enumerate().take(200_000) {
        let signal = events.signal[ordered.keep.get(at)];
        if used(signal) {
            times[usize::from(signal)].push(*time);
        }
    }
    let shortest = times.iter().filter_map(|list| usual_step(list)).fold(f64::INFINITY, f64::min);
    if shortest.is_finite() { shortest } else { ordered.step_s }
}
