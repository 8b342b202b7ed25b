//! Barometer, what the pressures are measured against, sensor bias: from readings as logged to absolute pressures.

use crate::health::ambient::{EngineOff, engine_off, kind_from_zeros};
use crate::machine::Machine;
use crate::prepare::{Prepared, finite};
use crate::recording::PressureKind;
use crate::settings::Settings;
use crate::stats::robust::median;
use crate::units::standard_atmosphere_kpa;

/// What became of the pressures.
#[derive(Debug, Clone, PartialEq)]
pub struct Ambient {
    /// Barometer, kPa, where known.
    pub barometer_kpa: Option<f64>,
    /// Where it came from.
    pub source: Option<&'static str>,
    /// What the pressures are measured against; `None` when nothing tells.
    pub kind: Option<PressureKind>,
    /// How the kind was settled, when the file did not say.
    pub kind_why: Option<String>,
    /// The level of the values is absolute; else only differences mean anything.
    pub level_known: bool,
    /// Engine-off stretches.
    pub off: EngineOff,
    /// Bias taken out of each cylinder, kPa, reading minus truth in the logged kind.
    pub bias_kpa: Vec<Option<f64>>,
    /// Standard uncertainty of each bias, kPa; 0 where none was taken out.
    pub bias_u_kpa: Vec<f64>,
    /// Standard uncertainty of the common level, kPa.
    pub level_u_kpa: f64,
    /// Barometer used for arithmetic where none is known, kPa.
    pub assumed_kpa: f64,
}

/// Settles kind, barometer and bias, and turns every cylinder's values into kPa absolute with the bias removed.
#[must_use]
pub fn settle(prepared: &mut Prepared<'_>, machine: &Machine, settings: &Settings) -> Ambient {
    let off = engine_off(prepared);
    let (kind, kind_why) = kind(prepared, &off);
    let zeros: Vec<f64> = off.zeros.iter().flatten().map(|z| z.reading_kpa).collect();
    let at_rest = (kind == Some(PressureKind::Absolute)).then(|| median(&zeros)).flatten();
    let choice = [
        (prepared.barometer_kpa, "channel"),
        (at_rest, "engine-off"),
        (machine.barometer_kpa, "machine-file"),
        (machine.altitude_m.map(standard_atmosphere_kpa), "altitude"),
    ];
    let found = choice.into_iter().find_map(|(v, s)| v.map(|v| (v, s)));
    let assumed_kpa = found.map_or(101.325, |f| f.0);
    // Against what the zero of a sensor is held: a measured barometer where there is one, else the other sensors.
    let held = match kind {
        Some(PressureKind::Vacuum | PressureKind::Gauge) => Some(0.0),
        _ => match found {
            Some((b, "channel" | "machine-file")) => Some(b),
            _ => median(&zeros),
        },
    };
    let mut bias_kpa = vec![None; prepared.cylinders.len()];
    let mut bias_u_kpa = vec![0.0; prepared.cylinders.len()];
    if let Some(held) = held {
        for (i, zero) in off.zeros.iter().enumerate() {
            if let Some(zero) = zero {
                bias_kpa[i] = Some(zero.reading_kpa - held);
                bias_u_kpa[i] = zero.u_kpa;
            }
        }
    }
    convert(prepared, kind, assumed_kpa, &bias_kpa);
    let level_known = kind == Some(PressureKind::Absolute)
        || (matches!(kind, Some(PressureKind::Vacuum | PressureKind::Gauge)) && found.is_some());
    Ambient {
        barometer_kpa: found.map(|f| f.0),
        source: found.map(|f| f.1),
        kind,
        kind_why,
        level_known,
        level_u_kpa: level_u(&zeros, found.map(|f| f.1), settings),
        off,
        bias_kpa,
        bias_u_kpa,
        assumed_kpa,
    }
}

/// Without a barometer of its own the common level hangs on the sensors themselves.
fn level_u(zeros: &[f64], source: Option<&str>, settings: &Settings) -> f64 {
    let n = zeros.len() as f64;
    match source {
        Some("engine-off") if zeros.len() > 1 => {
            let mean = zeros.iter().sum::<f64>() / n;
            (zeros.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt().max(0.2)
        }
        // A station pressure strays from the standard one by about 1 kPa.
        Some("altitude") => 1.0,
        _ => settings.gain_allowance * 60.0 / 3.0_f64.sqrt(),
    }
}

fn convert(prepared: &mut Prepared<'_>, kind: Option<PressureKind>, barometer: f64, bias: &[Option<f64>]) {
    for (c, bias) in prepared.cylinders.iter_mut().zip(bias) {
        let own = c.kind.or(kind);
        let bias = bias.unwrap_or(0.0);
        let turned = matches!(own, Some(PressureKind::Vacuum | PressureKind::Gauge));
        if !turned && bias == 0.0 {
            continue;
        }
        for v in c.values.to_mut() {
            *v = match own {
                Some(PressureKind::Vacuum) => barometer - (*v - bias),
                Some(PressureKind::Gauge) => barometer + (*v - bias),
                _ => *v - bias,
            };
        }
    }
}

fn kind(prepared: &Prepared<'_>, off: &EngineOff) -> (Option<PressureKind>, Option<String>) {
    let named: Vec<PressureKind> = prepared.cylinders.iter().filter_map(|c| c.kind).collect();
    if named.len() == prepared.cylinders.len() && named.windows(2).all(|w| w[0] == w[1]) {
        return (named.first().copied(), None);
    }
    let running: Vec<f64> =
        prepared.cylinders.iter().filter_map(|c| median(&running_values(prepared, &c.values))).collect();
    let Some(level) = median(&finite(&running)) else { return (named.first().copied(), None) };
    if let Some(kind) = kind_from_zeros(off, level) {
        return (Some(kind), Some(format!("{} by the readings with the engine off", word(kind))));
    }
    if level < 0.0 {
        return (Some(PressureKind::Gauge), Some("gauge: the values are negative".to_owned()));
    }
    if let Some(kind) = from_blip(prepared) {
        return (Some(kind), Some(format!("{} by the way the throttle blip moves it", word(kind))));
    }
    if let Some(kind) = from_pulse(prepared) {
        return (
            Some(kind),
            Some(format!("{} by the shape of the pulse: a runner empties faster than it fills", word(kind))),
        );
    }
    (named.first().copied(), None)
}

/// Word for a kind.
#[must_use]
pub fn word(kind: PressureKind) -> &'static str {
    match kind {
        PressureKind::Absolute => "absolute",
        PressureKind::Vacuum => "vacuum",
        PressureKind::Gauge => "gauge",
    }
}

fn running_values(prepared: &Prepared<'_>, values: &[f64]) -> Vec<f64> {
    let turning = |k: usize| prepared.rpm.as_ref().is_none_or(|r| r[k] > 300.0);
    (0..values.len()).filter(|&k| values[k].is_finite() && turning(k)).map(|k| values[k]).collect()
}

/// While the speed climbs steeply the throttle is open: an absolute pressure rises then, a vacuum falls.
fn from_blip(prepared: &Prepared<'_>) -> Option<PressureKind> {
    let grid = crate::windows::grid::grid(prepared);
    let running: Vec<usize> =
        (0..grid.len()).filter(|&i| grid.rpm[i] > 300.0 && grid.group_kpa[i].is_finite()).collect();
    let idle = median(&running.iter().map(|&i| grid.rpm[i]).collect::<Vec<_>>())?;
    let level = median(&running.iter().map(|&i| grid.group_kpa[i]).collect::<Vec<_>>())?;
    let reach = grid.cells(0.75);
    let climbing: Vec<f64> = running
        .iter()
        .filter(|&&i| i >= reach && i + reach < grid.len() && grid.rpm[i - reach] > 0.7 * idle)
        .filter(|&&i| grid.rpm[i + reach] - grid.rpm[i - reach] > 0.25 * idle)
        .map(|&i| grid.group_kpa[i] - level)
        .collect();
    let pull = median(&climbing).filter(|p| climbing.len() >= 2 && p.abs() > 4.0)?;
    Some(if pull > 0.0 { PressureKind::Absolute } else { PressureKind::Vacuum })
}

/// The skewness of the differences between successive readings tells which way the fast part of the pulse goes.
fn from_pulse(prepared: &Prepared<'_>) -> Option<PressureKind> {
    let rpm = median(&running_values(prepared, prepared.rpm.as_ref()?))?;
    let pulse_hz = crate::pulse::phase::cycle_hz(rpm, prepared.strokes);
    let mut sign = 0.0;
    for c in &prepared.cylinders {
        if c.update_hz < 6.0 * pulse_hz {
            return None;
        }
        let v = running_values(prepared, &c.values);
        let d: Vec<f64> = v.windows(2).map(|w| w[1] - w[0]).collect();
        let n = d.len().max(1) as f64;
        let mean = d.iter().sum::<f64>() / n;
        let m2 = d.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n;
        let m3 = d.iter().map(|x| (x - mean).powi(3)).sum::<f64>() / n;
        let skew = if m2 > 0.0 { m3 / m2.powf(1.5) } else { 0.0 };
        if skew.abs() < 0.3 || (sign != 0.0 && skew.signum() != sign) {
            return None;
        }
        sign = skew.signum();
    }
    match sign {
        s if s < 0.0 => Some(PressureKind::Absolute),
        s if s > 0.0 => Some(PressureKind::Vacuum),
        _ => None,
    }
}
