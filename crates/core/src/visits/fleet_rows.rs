//! What one machine of a fleet says for itself, from its comparison.

use super::calendar::day_number;
use super::comparison::{ComparedVisit, Comparison};
use crate::result::Measured;
use crate::stats::dist::normal_two_sided;
use crate::stats::robust::median;

/// Gaussian consistency of the median of absolute values.
const TO_SIGMA: f64 = 1.4826;

/// Fewest pairs of neighbouring visits from which the fleet's own repeatability is taken.
const FEWEST_PAIRS: usize = 30;

/// Deviation of a cylinder at a visit.
pub(crate) fn deviation(v: &ComparedVisit, cylinder: u32) -> Option<Measured> {
    v.cylinders.iter().find(|c| c.cylinder == cylinder).and_then(|c| c.deviation_kpa)
}

/// First visit after the last change of a cylinder.
fn start(c: &Comparison, cylinder: u32) -> usize {
    let last = c.changes.iter().rfind(|j| j.cylinder == cylinder).map(|j| &j.visits[1]);
    last.and_then(|id| c.visits.iter().rposition(|v| v.visit == *id)).unwrap_or(0)
}

/// Moves of every cylinder between neighbouring visits, pairs across a change left out.
fn moves(c: &Comparison) -> Vec<f64> {
    let mut found = Vec::new();
    for t in &c.trend {
        for pair in c.visits.windows(2) {
            let changed = c.changes.iter().any(|j| j.cylinder == t.cylinder && j.visits[1] == pair[1].visit);
            let both = deviation(&pair[0], t.cylinder).zip(deviation(&pair[1], t.cylinder));
            if let (false, Some((a, b))) = (changed, both) {
                found.push(b.value - a.value);
            }
        }
    }
    found
}

/// Repeatability of the fleet: median of the absolute moves, made consistent with a standard deviation. Most machines
/// have nothing done to them between two visits, so that repairs and drifts of a few do not count.
///
/// Returns the value and the number of pairs; the value is `None` with too few of them.
pub(crate) fn fleet_repeatability(comparisons: &[Comparison]) -> (Option<f64>, usize) {
    let all: Vec<f64> = comparisons.iter().flat_map(moves).map(f64::abs).collect();
    let value = (all.len() >= FEWEST_PAIRS).then(|| median(&all)).flatten().map(|m| TO_SIGMA * m);
    (value.filter(|v| *v > 0.0), all.len())
}

/// Drift of one cylinder since its last change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Drift {
    /// Cylinder.
    pub(crate) cylinder: u32,
    /// Slope per axis unit.
    pub(crate) slope: f64,
    /// Its standard uncertainty.
    pub(crate) u: f64,
    /// Slope times span.
    pub(crate) way: f64,
    /// Mean step of the axis from visit to visit.
    pub(crate) interval: f64,
    /// Two-sided p.
    pub(crate) p: f64,
    /// Away from the others at the end.
    pub(crate) outward: bool,
}

/// Weighted least-squares slopes with the scatter known: variance of a figure = its own + half the square of the
/// repeatability (which is that of a difference). With the scatter taken from the whole fleet five visits of one machine can
/// say more than their ranks, whose smallest p is 2/5!.
pub(crate) fn drifts(c: &Comparison, repeatability_kpa: f64) -> Vec<Drift> {
    c.trend.iter().filter_map(|t| drift(c, t.cylinder, repeatability_kpa)).collect()
}

fn drift(c: &Comparison, cylinder: u32, repeatability_kpa: f64) -> Option<Drift> {
    let place = |v: &ComparedVisit| match c.axis.as_str() {
        "hours" => v.hours,
        "km" => v.distance_km,
        "date" => v.date.as_deref().and_then(day_number).map(f64::from),
        _ => None,
    };
    let points: Vec<(f64, f64, f64)> = c
        .visits
        .iter()
        .skip(start(c, cylinder))
        .filter_map(|v| {
            let m = deviation(v, cylinder)?;
            let variance = (m.u / 2.0).powi(2) + 0.5 * repeatability_kpa.powi(2);
            Some((place(v)?, m.value, 1.0 / variance))
        })
        .collect();
    if points.len() < 3 {
        return None;
    }
    let total: f64 = points.iter().map(|p| p.2).sum();
    let mean = |of: &dyn Fn(&(f64, f64, f64)) -> f64| points.iter().map(|p| p.2 * of(p)).sum::<f64>() / total;
    let (t0, y0) = (mean(&|p| p.0), mean(&|p| p.1));
    let sxx: f64 = points.iter().map(|p| p.2 * (p.0 - t0).powi(2)).sum();
    let sxy: f64 = points.iter().map(|p| p.2 * (p.0 - t0) * (p.1 - y0)).sum();
    let (first, last) = (points[0].0, points[points.len() - 1].0);
    if sxx <= 0.0 || last <= first {
        return None;
    }
    let (slope, u) = (sxy / sxx, 1.0 / sxx.sqrt());
    let at_end = y0 + slope * (last - t0);
    Some(Drift {
        cylinder,
        slope,
        u,
        way: slope * (last - first),
        interval: (last - first) / (points.len() - 1) as f64,
        p: normal_two_sided(slope / u),
        outward: slope * at_end > 0.0,
    })
}

/// Idle pressure over barometer of the last visit of a machine.
pub(crate) fn level(last: &super::types::Visit) -> Option<f64> {
    let pressures: Vec<f64> = last.cylinders.iter().filter_map(|c| c.pressure_kpa.map(|p| p.value)).collect();
    Some(median(&pressures)? / last.barometer_kpa.filter(|b| *b > 0.0)?)
}
