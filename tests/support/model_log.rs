//! From the engine model's log straight to a recording, without a file between: what the reader would return for it.

use evenpull_core::recording::{Channel, Format, Preamble, PressureKind, Quantity, Recording, Source};
use evenpull_model::{Log, Quantity as LoggedQuantity};

/// Turns a log into a recording; pressures are rounded to `step_kpa` as a file would round them.
#[must_use]
pub(crate) fn recording(name: &str, log: &Log, step_kpa: f64) -> Recording {
    let start = log.time_s.first().copied().unwrap_or(0.0);
    let channels = log.columns.iter().map(|c| channel(c.quantity, &c.values, step_kpa)).collect();
    Recording {
        source: Source {
            name: name.to_owned(),
            sha256: String::new(),
            format: Format::Csv,
            rows: log.time_s.len(),
            rows_skipped: 0,
            layout: Vec::new(),
        },
        time_s: log.time_s.iter().map(|t| t - start).collect(),
        channels,
        preamble: Preamble::default(),
        notices: Vec::new(),
        trouble_codes: Vec::new(),
        codes_cleared_s: Vec::new(),
    }
}

fn channel(quantity: LoggedQuantity, values: &[f64], step_kpa: f64) -> Channel {
    let (quantity, cylinder, step) = match quantity {
        LoggedQuantity::Pressure(n) => (Quantity::ManifoldPressure, Some(n), Some(step_kpa)),
        LoggedQuantity::Speed => (Quantity::EngineSpeed, None, None),
        LoggedQuantity::Coolant => (Quantity::CoolantTemperature, None, None),
        LoggedQuantity::Throttle => (Quantity::Throttle, None, None),
        LoggedQuantity::Lambda(n) => (Quantity::Lambda, Some(n), None),
        LoggedQuantity::Barometer => (Quantity::Barometer, None, None),
        LoggedQuantity::Mark(_) => (Quantity::CrankMark, None, None),
        _ => (Quantity::Ignored, None, None),
    };
    let round = |v: f64| match step {
        Some(s) => (v / s).round() * s,
        None => v,
    };
    Channel {
        header: String::new(),
        quantity,
        cylinder: cylinder.map(|n| n as u32),
        unit: "kPa".to_owned(),
        kind: (quantity == Quantity::ManifoldPressure).then_some(PressureKind::Absolute),
        resolution: step,
        why: String::new(),
        values: values.iter().map(|v| round(*v)).collect(),
    }
}
