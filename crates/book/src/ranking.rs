//! A fleet's ranking as a flat table: one row per machine, for CSV and Parquet.

use evenpull_core::result::Measured;
use evenpull_core::visits::comparison::Place;
use evenpull_core::visits::fleet_result::{Fleet, FleetMachine};
use polars::prelude::{
    Column, CsvWriter, DataFrame, NamedFrom, ParquetCompression, ParquetWriter, SerWriter, Series,
};

use crate::error::BookError;
use crate::frame::word;

/// The ranking as CSV with a header. Text that a spreadsheet would run as a formula gets a leading apostrophe.
///
/// # Errors
/// [`BookError::Table`].
pub fn ranking_csv(fleet: &Fleet) -> Result<Vec<u8>, BookError> {
    let mut bytes = Vec::new();
    let mut frame = table(fleet, true)?;
    CsvWriter::new(&mut bytes).finish(&mut frame).map_err(no_table)?;
    Ok(bytes)
}

/// The ranking as Parquet, same columns.
///
/// # Errors
/// [`BookError::Table`].
pub fn ranking_parquet(fleet: &Fleet) -> Result<Vec<u8>, BookError> {
    let mut bytes = Vec::new();
    let mut frame = table(fleet, false)?;
    let writer = ParquetWriter::new(&mut bytes).with_compression(ParquetCompression::Uncompressed);
    writer.set_parallel(false).finish(&mut frame).map_err(no_table)?;
    Ok(bytes)
}

fn no_table(e: polars::prelude::PolarsError) -> BookError {
    BookError::Table { why: e.to_string() }
}

/// A text cell that no spreadsheet runs.
fn tame(text: String) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{text}") } else { text }
}

fn table(fleet: &Fleet, for_spreadsheet: bool) -> Result<DataFrame, BookError> {
    let m = &fleet.machines;
    let text = |name: &str, of: &dyn Fn(&FleetMachine) -> Option<String>| -> Column {
        let tamed = |t: String| if for_spreadsheet { tame(t) } else { t };
        Series::new(name.into(), m.iter().map(|r| of(r).map(tamed)).collect::<Vec<_>>()).into()
    };
    let number = |name: &str, of: &dyn Fn(&FleetMachine) -> Option<f64>| -> Column {
        Series::new(name.into(), m.iter().map(|r| of(r).filter(|v| v.is_finite())).collect::<Vec<_>>()).into()
    };
    let count = |name: &str, of: &dyn Fn(&FleetMachine) -> Option<usize>| -> Column {
        let values: Vec<Option<i32>> = m.iter().map(|r| of(r).and_then(|n| i32::try_from(n).ok())).collect();
        Series::new(name.into(), values).into()
    };
    let words: Vec<(String, String)> =
        m.iter().map(|r| Ok((word(&r.attention)?, word(&r.verdict)?))).collect::<Result<_, BookError>>()?;
    let value = |v: Option<Measured>| v.map(|v| v.value);
    let u = |v: Option<Measured>| v.map(|v| v.u);
    let place = |p: &Place| match p {
        Place::Number(n) => format!("{n:.1}"),
        Place::Date(d) => d.clone(),
    };
    let columns = vec![
        count("rank", &|r| Some(r.rank)),
        text("machine_id", &|r| Some(r.machine.clone())),
        text("attention", &|r| words.get(r.rank.wrapping_sub(1)).map(|w| w.0.clone())),
        text("why", &|r| Some(r.why.join(" "))),
        count("visits", &|r| Some(r.visits)),
        text("first_date", &|r| r.dates[0].clone()),
        text("last_date", &|r| r.dates[1].clone()),
        text("verdict", &|r| words.get(r.rank.wrapping_sub(1)).map(|w| w.1.clone())),
        number("spread_kpa", &|r| value(r.spread_kpa)),
        number("spread_u_kpa", &|r| u(r.spread_kpa)),
        number("limit_kpa", &|r| Some(r.limit_kpa)),
        number("ratio", &|r| r.ratio),
        number("shrunken_ratio", &|r| r.shrunken_ratio),
        number("p_outside", &|r| r.p_outside),
        number("q_outside", &|r| r.q_outside),
        number("score", &|r| Some(r.score)),
        count("cylinder", &|r| r.cylinder.map(|c| c as usize)),
        number("deviation_kpa", &|r| value(r.deviation_kpa)),
        number("deviation_u_kpa", &|r| u(r.deviation_kpa)),
        count("drift_cylinder", &|r| r.drift.as_ref().map(|d| d.cylinder as usize)),
        text("drift_per", &|r| r.drift.as_ref().map(|d| d.per.clone())),
        number("drift_kpa", &|r| r.drift.as_ref().map(|d| d.slope_kpa.value)),
        number("drift_u_kpa", &|r| r.drift.as_ref().map(|d| d.slope_kpa.u)),
        number("drift_q", &|r| r.drift.as_ref().map(|d| d.q)),
        count("change_cylinder", &|r| r.change.as_ref().map(|c| c.cylinder as usize)),
        number("change_kpa", &|r| r.change.as_ref().map(|c| c.step_kpa.value)),
        text("forecast_unit", &|r| r.forecast.as_ref().map(|f| f.unit.clone())),
        text("forecast_at", &|r| r.forecast.as_ref().map(|f| place(&f.at))),
        text("limit_source", &|r| Some(r.limit_source.clone())),
        text("report", &|r| r.report.clone()),
        text("notices", &|r| Some(r.notices.join(" ")).filter(|t| !t.is_empty())),
    ];
    DataFrame::new(m.len(), columns).map_err(no_table)
}
