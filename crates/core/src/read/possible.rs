//! Figures that a quantity cannot have: fill values of loggers (9999, 65535, -9999), sensors torn off, torn bytes.
//!
//! The bounds are wide on purpose: they only take out what no engine can show, and leave the judgement of sensors to
//! the review. Common practice, no source.

use super::error::{plain, quoted};
use super::notes::Notes;
use crate::codes;
use crate::notice::{Level, Notice};
use crate::recording::{PressureKind, Quantity};

/// Lowest and highest possible value in base units.
fn bounds(quantity: Quantity, kind: Option<PressureKind>) -> (f64, f64) {
    match (quantity, kind) {
        (Quantity::ManifoldPressure, Some(PressureKind::Absolute)) => (-5.0, 1000.0),
        (Quantity::ManifoldPressure, Some(PressureKind::Vacuum)) => (-900.0, 120.0),
        (Quantity::ManifoldPressure, _) => (-120.0, 1000.0),
        (Quantity::EngineSpeed, _) => (-1.0, 30_000.0),
        (Quantity::CoolantTemperature | Quantity::IntakeTemperature, _) => (-60.0, 300.0),
        (Quantity::ExhaustTemperature, _) => (-60.0, 1600.0),
        (Quantity::Throttle, _) => (-50.0, 200.0),
        (Quantity::Lambda, _) => (0.0, 40.0),
        (Quantity::FuelTrim, _) => (-200.0, 200.0),
        (Quantity::Barometer, _) => (30.0, 120.0),
        (Quantity::CrankMark | Quantity::Time | Quantity::Ignored, _) => (f64::NEG_INFINITY, f64::INFINITY),
    }
}

/// Makes impossible values missing and says so once, with the line of the first.
pub(crate) fn clear(
    name: &str,
    quantity: Quantity,
    kind: Option<PressureKind>,
    values: &mut [f64],
    line_of: impl Fn(usize) -> Option<u64>,
    notes: &mut Notes,
) {
    let (low, high) = bounds(quantity, kind);
    let mut first: Option<(usize, f64)> = None;
    let mut count = 0;
    for (row, value) in values.iter_mut().enumerate() {
        if *value < low || *value > high {
            first.get_or_insert((row, *value));
            count += 1;
            *value = f64::NAN;
        }
    }
    let Some((row, value)) = first else { return };
    let text = format!(
        "found {} in {}, expected {low} to {high} {}: such cells count as missing",
        plain(&format!("{value:.1}"), 24),
        quoted(name),
        unit(quantity)
    );
    let mut notice = Notice::new(codes::IMPOSSIBLE_VALUE, Level::Caution, text).counted(count);
    notice.line = line_of(row);
    notes.push(notice);
}

fn unit(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::ManifoldPressure | Quantity::Barometer => "kPa",
        Quantity::EngineSpeed => "rpm",
        Quantity::CoolantTemperature | Quantity::IntakeTemperature | Quantity::ExhaustTemperature => "degC",
        Quantity::Throttle | Quantity::FuelTrim => "%",
        _ => "",
    }
}
