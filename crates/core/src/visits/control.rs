//! Control limits of a cylinder's deviation since its last change: individuals and moving range.
//!
//! The baseline is every visit since the change but the latest, and the latest is judged: limits made from the judged
//! value would hide its shift (NIST/SEMATECH e-Handbook 6.3.2.2, see `stats::control`). With fewer than eight baseline
//! visits they are provisional.

use super::change::Jump;
use super::comparison::ControlLimits;
use super::levels::Levels;
use crate::stats::control::{D2_EXACT, individuals};

/// Fewest baseline visits for any limit at all.
const FEWEST: usize = 3;

/// Limits of each cylinder that has enough visits.
pub(crate) fn limits(levels: &Levels, jumps: &[Jump], steady: &[usize]) -> Vec<ControlLimits> {
    (0..levels.numbers.len()).filter_map(|i| of_one(levels, jumps, steady, i)).collect()
}

fn of_one(levels: &Levels, jumps: &[Jump], steady: &[usize], i: usize) -> Option<ControlLimits> {
    let since = jumps.iter().filter(|j| j.cylinder == i).map(|j| j.to).max().unwrap_or(0);
    let y: Vec<f64> =
        (since..levels.x.len()).map(|v| levels.deviation(v, i, steady).map_or(f64::NAN, |d| d.0)).collect();
    let latest = y.iter().rposition(|d| d.is_finite())?;
    let baseline = &y[..latest];
    let chart = individuals(baseline, D2_EXACT).ok().filter(|c| c.n >= FEWEST)?;
    Some(ControlLimits {
        cylinder: levels.numbers[i],
        visits: chart.n,
        centre_kpa: chart.mean,
        low_kpa: chart.low,
        high_kpa: chart.high,
        provisional: chart.provisional,
        outside: chart.signals(y[latest]),
    })
}
