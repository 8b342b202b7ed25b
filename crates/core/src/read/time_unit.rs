//! The unit of a time column that holds plain figures.
//!
//! Where the header does not say it: Unix times by their size; fractions are seconds; whole figures that step by
//! five or more are milliseconds (a log with five seconds between rows is no idle log) or, from 20 000 on,
//! microseconds; other whole figures are seconds. Days since 1900 as spreadsheets count them are known by their
//! size and their tiny steps. Everything that is not certain is said.

use super::notes::Notes;
use super::plan::Plan;
use super::time_order::usual_step;
use super::unit_words::Unit;
use crate::codes;

/// Size of one count of a time column in seconds.
pub(crate) fn size(plan: &Plan, values: &[f64], notes: &mut Notes) -> f64 {
    if let Some(Unit::Time(size)) = plan.unit {
        return size;
    }
    if let Some(size) = by_name(plan) {
        return size;
    }
    let first = values.iter().copied().find(|v| v.is_finite()).unwrap_or(0.0);
    if let Some(size) = unix(first) {
        return size;
    }
    let step = usual_step(values).unwrap_or(1.0);
    if (32_874.0..73_050.0).contains(&first) && (5e-9..2e-4).contains(&step) {
        // 1990 to 2100, and steps of 0.4 ms to 17 s.
        return 86_400.0;
    }
    let last = values.iter().rev().copied().find(|v| v.is_finite()).unwrap_or(0.0);
    if (0.0..1.0).contains(&first) && (0.0..1.0).contains(&last) && (5e-9..1.2e-5).contains(&step) {
        // Nobody logs 80,000 rows a second: parts of a day, as spreadsheets keep a time of day.
        let header = super::error::plain(&plan.header.text, 40);
        let text = format!("`{header}` names no unit of time; by its steps it is read as parts of a day");
        notes.caution(codes::TIME_UNIT_ASSUMED, text);
        return 86_400.0;
    }
    let whole = values.iter().filter(|v| v.is_finite()).take(2000).all(|v| v.fract() == 0.0);
    let (size, name) = match (whole, step) {
        (false, _) => (1.0, "seconds"),
        (true, step) if step >= 20_000.0 => (1e-6, "microseconds"),
        (true, step) if step >= 5.0 => (1e-3, "milliseconds"),
        (true, _) => (1.0, "seconds"),
    };
    let header = super::error::plain(&plan.header.text, 40);
    let text = format!("`{header}` names no unit of time; by its steps it is read as {name}");
    if whole {
        notes.caution(codes::TIME_UNIT_ASSUMED, text)
    } else {
        notes.note(codes::TIME_UNIT_ASSUMED, text)
    }
    size
}

/// A name that is itself a unit: `ms`, `seconds`.
fn by_name(plan: &Plan) -> Option<f64> {
    plan.header.words.iter().find_map(|word| match super::unit_words::parse(word) {
        Some((Unit::Time(size), _)) if word.len() > 1 || plan.header.words.len() == 1 => Some(size),
        _ => None,
    })
}

/// Unix time by its size: between 1990 and 2100 in s, ms, us or ns.
fn unix(value: f64) -> Option<f64> {
    [1.0, 1e-3, 1e-6, 1e-9].into_iter().find(|size| (631e6..4.2e9).contains(&(value * size)))
}

/// Times made relative to `base`, in seconds; exact for whole counts.
pub(crate) fn scale(values: &mut [f64], base: f64, size: f64) {
    // Dividing by a whole number rounds once where multiplying by 0.001 rounds twice.
    let per_second = (1.0 / size).round();
    let exact = size < 1.0 && (per_second * size - 1.0).abs() < 1e-12;
    values.iter_mut().for_each(|v| *v = if exact { (*v - base) / per_second } else { (*v - base) * size });
}
