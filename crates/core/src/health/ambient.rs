//! Engine-off stretches: every manifold sensor then reads the barometer, so the differences are sensor bias.
//!
//! # Method
//! A stretch counts when the engine speed is under 60 rev/min for at least 2 s; its first second (the run-down) and its
//! last 0.3 s are left out, and each pressure must be flat (standard deviation under 1 kPa) inside it. The bias of a sensor is its mean there minus
//! the barometer, or minus the median of all sensors where no barometer is known: then only the differences are bias, and
//! the common level stays unknown.
//!
//! # Source
//! Common practice, no source. Uncertainty of the zero by JCGM 100: scatter, step of the values, disagreement of stretches.

use crate::prepare::{Prepared, finite};
use crate::recording::PressureKind;
use crate::stats::robust::median;

/// Zero of one sensor at engine off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zero {
    /// Mean reading at engine off, kPa, in the logged kind.
    pub reading_kpa: f64,
    /// Its standard uncertainty, kPa.
    pub u_kpa: f64,
}

/// What the engine-off stretches of a recording say.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EngineOff {
    /// Stretches used, s.
    pub stretches: Vec<(f64, f64)>,
    /// Zero of each cylinder's sensor, in the order of the cylinders; `None` where it was not flat or not there.
    pub zeros: Vec<Option<Zero>>,
}

const OFF_RPM: f64 = 60.0;
const SHORTEST_S: f64 = 2.0;
const RUN_DOWN_S: f64 = 1.0;
const BEFORE_START_S: f64 = 0.3;
const FLAT_KPA: f64 = 1.0;

/// Finds engine-off stretches and each sensor's zero. Empty without an engine speed channel.
#[must_use]
pub fn engine_off(prepared: &Prepared<'_>) -> EngineOff {
    let Some(rpm) = &prepared.rpm else { return EngineOff::default() };
    let t = prepared.time_s;
    let mut found = EngineOff { stretches: Vec::new(), zeros: vec![None; prepared.cylinders.len()] };
    let mut parts: Vec<Vec<Zero>> = vec![Vec::new(); prepared.cylinders.len()];
    let mut k = 0;
    while k < t.len() {
        if rpm[k] >= OFF_RPM {
            k += 1;
            continue;
        }
        let start = k;
        while k < t.len() && rpm[k] < OFF_RPM {
            k += 1;
        }
        let from = if start == 0 { t[0] } else { t[start] + RUN_DOWN_S };
        let to = if k == t.len() { t[k - 1] } else { t[k - 1] - BEFORE_START_S };
        if to - from < SHORTEST_S {
            continue;
        }
        let rows: Vec<usize> = (start..k).filter(|&r| t[r] >= from && t[r] <= to).collect();
        let mut any = false;
        for (cylinder, part) in prepared.cylinders.iter().zip(&mut parts) {
            let inside: Vec<f64> = rows
                .iter()
                .filter(|&&r| cylinder.weights[r] > 0.0)
                .map(|&r| cylinder.values[r])
                .filter(|v| v.is_finite())
                .collect();
            if let Some(zero) = zero(&inside, cylinder.resolution_kpa) {
                part.push(zero);
                any = true;
            }
        }
        if any || prepared.cylinders.is_empty() {
            found.stretches.push((from, to));
        }
    }
    found.zeros = parts.iter().map(|p| combine(p)).collect();
    found
}

fn zero(values: &[f64], step: Option<f64>) -> Option<Zero> {
    if values.len() < 2 {
        return None;
    }
    let n = values.len() as f64;
    let sd = crate::stats::moments::sd(values)?;
    if sd > FLAT_KPA {
        return None;
    }
    let middle = median(values)?;
    let kept: Vec<f64> =
        values.iter().copied().filter(|v| (v - middle).abs() <= 3.0 * sd.max(1e-9)).collect();
    let mean = kept.iter().sum::<f64>() / kept.len() as f64;
    let scatter = crate::stats::mean_uncertainty::conservative(&kept).map_or(sd, |m| m.se);
    let rounding = step.unwrap_or(0.0) / 12.0_f64.sqrt();
    // Rounding averages out only where the scatter spans the step.
    let rounding = if sd > 0.5 * step.unwrap_or(0.0) { rounding / n.sqrt() } else { rounding };
    Some(Zero { reading_kpa: mean, u_kpa: scatter.hypot(rounding) })
}

/// Mean over stretches; stretches that disagree widen the uncertainty by their half range.
fn combine(parts: &[Zero]) -> Option<Zero> {
    let n = parts.len() as f64;
    if parts.is_empty() {
        return None;
    }
    let mean = parts.iter().map(|z| z.reading_kpa).sum::<f64>() / n;
    let u = parts.iter().map(|z| z.u_kpa * z.u_kpa).sum::<f64>().sqrt() / n;
    let low = parts.iter().map(|z| z.reading_kpa).fold(f64::INFINITY, f64::min);
    let high = parts.iter().map(|z| z.reading_kpa).fold(f64::NEG_INFINITY, f64::max);
    Some(Zero { reading_kpa: mean, u_kpa: u.hypot((high - low) / 12.0_f64.sqrt()) })
}

/// What pressures are measured against, as far as engine-off readings tell: near ambient = absolute, near zero = against
/// ambient (then the sign while running tells vacuum from gauge). `None` where they do not tell.
#[must_use]
pub fn kind_from_zeros(off: &EngineOff, running_median: f64) -> Option<PressureKind> {
    let zeros: Vec<f64> = off.zeros.iter().flatten().map(|z| z.reading_kpa).collect();
    let level = median(&finite(&zeros))?;
    if (60.0..=112.0).contains(&level) {
        Some(PressureKind::Absolute)
    } else if level.abs() < 8.0 && running_median > level + 5.0 {
        Some(PressureKind::Vacuum)
    } else if level.abs() < 8.0 && running_median < level - 5.0 {
        Some(PressureKind::Gauge)
    } else {
        None
    }
}
