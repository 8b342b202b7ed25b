//! Figures that a quantity cannot have: fill values of loggers (9999, 65535, -9999), sensors torn off, torn bytes.
//!
//! The bounds are wide on purpose: they only take out what no engine can show, and leave the judgement of sensors to
//! the review. Common practice, no source.

use super::error::{plain, quoted};
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

/// Impossible values of a column: the row and value of the first, and how many there are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Impossible {
    pub(crate) row: usize,
    value: f64,
    count: u64,
}

/// Makes impossible values missing; `None` where there are none.
pub(crate) fn clear(
    quantity: Quantity,
    kind: Option<PressureKind>,
    values: &mut [f64],
) -> Option<Impossible> {
    let (low, high) = bounds(quantity, kind);
    let out = |value: f64| value < low || value > high;
    let count = values.iter().filter(|value| out(**value)).count() as u64;
    let row = if count > 0 { values.iter().position(|value| out(*value))? } else { return None };
    let value = values[row];
    values.iter_mut().filter(|value| out(**value)).for_each(|value| *value = f64::NAN);
    Some(Impossible { row, value, count })
}

impl Impossible {
    /// Says so once, with the line of the first.
    pub(crate) fn notice(
        self,
        name: &str,
        quantity: Quantity,
        kind: Option<PressureKind>,
        line: Option<u64>,
    ) -> Notice {
        let (low, high) = bounds(quantity, kind);
        let text = format!(
            "found {} in {}, expected {low} to {high} {}: such cells count as missing",
            plain(&format!("{:.1}", self.value), 24),
            quoted(name),
            unit(quantity)
        );
        let mut notice = Notice::new(codes::IMPOSSIBLE_VALUE, Level::Caution, text).counted(self.count);
        notice.line = line;
        notice
    }
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
