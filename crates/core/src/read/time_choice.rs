//! Which column is the time when headers alone do not say it, and its figures in seconds.

use super::ReadOptions;
use super::error::{Trouble, plain};
use super::notes::Notes;
use super::plan::{Form, Plan, TimeSource};
use super::time_order::TimeKind;
use super::unit_words::Unit;
use super::words;
use crate::codes;
use crate::recording::Quantity;

/// A column without a known name that only ever rises is taken for the time, and that is said.
fn guess_time(plans: &[Plan], values: &[Vec<f64>], notes: &mut Notes) -> TimeSource {
    let rises = |list: &[f64]| {
        let figures: Vec<f64> = list.iter().copied().filter(|v| !v.is_nan()).collect();
        let up = figures.windows(2).filter(|w| w[1] > w[0]).count();
        let down = figures.windows(2).filter(|w| w[1] < w[0]).count();
        figures.len() > 2 && up * 10 > figures.len() && down * 100 <= figures.len()
    };
    let free = |plan: &Plan| plan.quantity.is_none() && !words::is_index(&plan.header);
    let found = (0..plans.len()).find(|at| free(&plans[*at]) && rises(&values[*at]));
    match found {
        Some(at) => {
            let name = plain(&plans[at].header.text, 40);
            notes.caution(
                codes::TIME_ASSUMED,
                format!(
                    "no column is named a time; `{name}` is the first that only rises and is read as the time"
                ),
            );
            TimeSource::Column(at)
        }
        None => TimeSource::Unknown,
    }
}

/// The raw times in seconds and how they were written; the columns that hold them are marked.
///
/// # Errors
/// No time and no sample rate.
pub(crate) fn raw_time(
    source: TimeSource,
    plans: &mut [Plan],
    values: &mut [Vec<f64>],
    rows: usize,
    options: &ReadOptions<'_>,
    notes: &mut Notes,
) -> Result<(Vec<f64>, TimeKind), Trouble> {
    let source = if source == TimeSource::Unknown { guess_time(plans, values, notes) } else { source };
    let clock_kind = TimeKind { clock: true, unit_s: 1.0, equal_ok: false };
    match source {
        TimeSource::DateAndClock(date, clock) => {
            mark(&mut plans[date], "the date");
            mark(&mut plans[clock], "the time of day");
            // Beside a date a clock of two parts shows hours and minutes.
            let size = if plans[clock].sample.two_parts { 60.0 } else { 1.0 };
            let mut sum = std::mem::take(&mut values[date]);
            sum.iter_mut().zip(&values[clock]).for_each(|(day, time)| *day += size * time);
            values[clock] = Vec::new();
            Ok((sum, clock_kind))
        }
        TimeSource::Column(at) if plans[at].form == Form::Clock => {
            mark(&mut plans[at], "the time, as a clock");
            plans[at].unit = Some(Unit::ClockText);
            let mut raw = std::mem::take(&mut values[at]);
            if plans[at].sample.two_parts && says(&plans[at], "hh:mm") && !says(&plans[at], "mm:s") {
                raw.iter_mut().for_each(|time| *time *= 60.0);
            }
            Ok((raw, clock_kind))
        }
        TimeSource::Column(at) if says(&plans[at], "hhmmss") => {
            mark(&mut plans[at], "the time, as hours, minutes and seconds run together");
            plans[at].unit = Some(Unit::ClockText);
            let mut raw = std::mem::take(&mut values[at]);
            raw.iter_mut().for_each(|time| *time = run_together(*time));
            Ok((raw, clock_kind))
        }
        TimeSource::Column(at) => {
            let unit_s = super::time_unit::size(&plans[at], &values[at], notes);
            mark(&mut plans[at], "the time");
            plans[at].unit = Some(Unit::Time(unit_s));
            let base = values[at].iter().copied().find(|t| t.is_finite()).unwrap_or(0.0);
            let mut raw = std::mem::take(&mut values[at]);
            super::time_unit::scale(&mut raw, base, unit_s);
            Ok((raw, TimeKind { clock: false, unit_s, equal_ok: false }))
        }
        TimeSource::Unknown => match options.rate_hz {
            Some(rate) if rate > 0.0 && rate.is_finite() => {
                notes.note(
                    codes::NO_CLOCK,
                    format!("no column holds a time: rows are laid {rate} to the second, as given"),
                );
                let raw = (0..rows).map(|row| row as f64 / rate).collect();
                Ok((raw, TimeKind { clock: false, unit_s: 1.0, equal_ok: false }))
            }
            _ => Err(no_time(plans)),
        },
    }
}

/// Whether a header holds some letters.
fn says(plan: &Plan, letters: &str) -> bool {
    plan.header.text.to_lowercase().contains(letters)
}

/// Seconds of a figure such as 91244.5 for 09:12:44.5.
fn run_together(figure: f64) -> f64 {
    let (hours, minutes) = ((figure / 1e4).floor(), (figure / 100.0).floor() % 100.0);
    3600.0 * hours + 60.0 * minutes + figure % 100.0
}

fn mark(plan: &mut Plan, why: &str) {
    plan.quantity = Some(Quantity::Time);
    plan.why = vec![why.to_owned()];
}

fn no_time(plans: &[Plan]) -> Trouble {
    let named = plans.iter().find(|plan| words::time_rank(&plan.header) > 1 && plan.form == Form::Text);
    if let Some(plan) = named {
        return Trouble::new(
            format!("text in the column `{}`", plain(&plan.header.text, 24)),
            "figures, clock times or dates",
            "check how the file was written",
        );
    }
    let names: Vec<String> =
        plans.iter().take(8).map(|p| format!("`{}`", plain(&p.header.text, 24))).collect();
    Trouble::new(
        format!("the columns {} and no time among them", names.join(", ")),
        "a column with the time of each row",
        "name it in [columns] of the machine file, or give the sample rate with --rate when rows come at an even pace",
    )
}
