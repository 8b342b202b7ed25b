//! Cells of a columnar file: figures, moments in seconds, and the text that stands for them.

use std::fmt::Write as _;

use polars::prelude::{AnyValue, Column, DataFrame, DataType, PolarsError, TimeUnit};

use super::super::error::{Trouble, plain};
use super::super::plan::Form;
use super::damaged;

const NANOSECONDS_A_DAY: i128 = 86_400_000_000_000;

fn failed(error: PolarsError) -> Trouble {
    damaged(&plain(&error.to_string(), 120))
}

fn nanoseconds(unit: &TimeUnit) -> i64 {
    match unit {
        TimeUnit::Nanoseconds => 1,
        TimeUnit::Microseconds => 1000,
        TimeUnit::Milliseconds => 1_000_000,
    }
}

/// How a column of moments is to be taken as a time; `None` for any other.
pub(super) fn time_form(kind: &DataType) -> Option<Form> {
    match kind {
        DataType::Datetime(..) | DataType::Time | DataType::Duration(_) => Some(Form::Clock),
        DataType::Date => Some(Form::Date),
        _ => None,
    }
}

/// The type of a column of moments in words.
pub(super) fn type_name(kind: &DataType) -> &'static str {
    match kind {
        DataType::Datetime(_, Some(_)) => "dates with a time of day and a time zone",
        DataType::Datetime(..) => "dates with a time of day",
        DataType::Date => "dates",
        DataType::Time => "times of day",
        DataType::Duration(_) => "durations",
        _ => "figures",
    }
}

/// A column as figures; dates and times as seconds from their first value.
///
/// # Errors
/// A type that does not convert.
pub(super) fn seconds_or_figures(column: &Column) -> Result<Vec<f64>, Trouble> {
    let per_count = match column.dtype() {
        DataType::Datetime(unit, _) | DataType::Duration(unit) => 1e9 / nanoseconds(unit) as f64,
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
    let seconds = |count: i64| (i128::from(count) - i128::from(base)) as f64 / per_count;
    Ok(counts.iter().map(|count| count.map_or(f64::NAN, seconds)).collect())
}

/// The day of a column's first value, ISO 8601; `None` where the column holds no days, or its zone leaves them open.
pub(super) fn first_day(column: &Column) -> Option<String> {
    let count = |column: &Column| column.to_physical_repr().cast(&DataType::Int64).ok();
    let first = |column: &Column| count(column)?.i64().ok()?.iter().flatten().next();
    match column.dtype() {
        DataType::Date => iso_day(i128::from(first(column)?)),
        // A moment with a zone is stored in universal time: which day it was there is not said.
        DataType::Datetime(unit, zone) if zone.as_ref().is_none_or(|zone| zone.as_str() == "UTC") => {
            let moment = i128::from(first(column)?) * i128::from(nanoseconds(unit));
            iso_day(moment.div_euclid(NANOSECONDS_A_DAY))
        }
        _ => None,
    }
}

/// `2026-03-21` for days from 1970-01-01; `None` beyond the years -9999 to 9999.
fn iso_day(days: i128) -> Option<String> {
    let days = jiff::Span::new().try_days(i64::try_from(days).ok()?).ok()?;
    jiff::civil::date(1970, 1, 1).checked_add(days).ok().map(|date| date.to_string())
}

/// Cells that are moments in ISO 8601, durations in seconds; `None` for any other value.
fn moment(value: &AnyValue<'_>) -> Option<String> {
    let of_day = |ns: i128| {
        let (s, ns) = (ns / 1_000_000_000, ns % 1_000_000_000);
        format!("{:02}:{:02}:{:02}.{ns:09}", s / 3600, s / 60 % 60, s % 60)
    };
    let both = |count: i64, unit: &TimeUnit| {
        let ns = i128::from(count) * i128::from(nanoseconds(unit));
        let day = iso_day(ns.div_euclid(NANOSECONDS_A_DAY));
        day.map_or(String::new(), |day| format!("{day}T{}", of_day(ns.rem_euclid(NANOSECONDS_A_DAY))))
    };
    match value {
        AnyValue::Date(days) => Some(iso_day(i128::from(*days)).unwrap_or_default()),
        AnyValue::Time(ns) => Some(of_day(i128::from(*ns))),
        AnyValue::Datetime(count, unit, _) => Some(both(*count, unit)),
        AnyValue::DatetimeOwned(count, unit, _) => Some(both(*count, unit)),
        AnyValue::Duration(count, unit) => {
            Some((i128::from(*count) as f64 / (1e9 / nanoseconds(unit) as f64)).to_string())
        }
        _ => None,
    }
}

/// The frame as text parted by tabs.
///
/// # Errors
/// More text than is held.
pub(super) fn as_text(frame: &DataFrame) -> Result<String, Trouble> {
    let tidy = |text: &str| text.replace(['\t', '\n', '\r', '"'], " ");
    let names = frame.columns().iter().map(|column| match column.dtype() {
        DataType::Duration(_) => format!("{} [s]", tidy(column.name())),
        _ => tidy(column.name()),
    });
    let mut out = names.collect::<Vec<_>>().join("\t");
    out.push('\n');
    for row in 0..frame.height() {
        for (at, column) in frame.columns().iter().enumerate() {
            if at > 0 {
                out.push('\t');
            }
            match column.get(row) {
                Ok(AnyValue::Null) | Err(_) => {}
                Ok(AnyValue::String(text)) => out.push_str(&tidy(text)),
                Ok(value) => match (moment(&value), value.extract::<f64>()) {
                    (Some(text), _) => out.push_str(&text),
                    (None, Some(figure)) => {
                        let _ = write!(out, "{figure}");
                    }
                    (None, None) => out.push_str(&tidy(&value.to_string())),
                },
            }
        }
        out.push('\n');
        if out.len() as u64 > super::MOST_HELD {
            return Err(super::too_much());
        }
    }
    Ok(out)
}
