//! Is the engine warm? From the machine file's temperature, else from a coolant that no longer rises.
//!
//! # Source
//! Slope under 1 K/min above 45 deg C, or 75 deg C and more whatever the slope (a road engine runs at 75 to 95 and climbs in
//! idle until its fan cuts in): common practice, no source. A temperature that never moves is no proof: a control
//! unit that misses its sensor logs a substitute value.

use super::grid::Grid;
use crate::settings::Settings;

/// A road engine with this coolant runs at its temperature, deg C.
const RUNNING_C: f64 = 75.0;

/// What the coolant says.
#[derive(Debug, Clone, PartialEq)]
pub struct Warmth {
    /// Reason per cell: `None` = warm (or not known), else `cold` or `warming`.
    pub reasons: Vec<Option<&'static str>>,
    /// Warmth was shown by a temperature that moves like one.
    pub shown: bool,
    /// The temperature never moved in at least a minute of running.
    pub flat: bool,
    /// Hottest reading, deg C.
    pub hottest_c: Option<f64>,
    /// Rise over the last three minutes of idle, K/min, where it is long enough.
    pub late_rise_k_per_min: Option<f64>,
}

/// Judges warmth cell by cell.
#[must_use]
pub fn warmth(grid: &Grid, warm_c: Option<f64>, step_c: Option<f64>, settings: &Settings) -> Warmth {
    let n = grid.len();
    let known: Vec<f64> = grid.coolant_c.iter().copied().filter(|c| c.is_finite()).collect();
    if known.is_empty() {
        return Warmth {
            reasons: vec![None; n],
            shown: false,
            flat: false,
            hottest_c: None,
            late_rise_k_per_min: None,
        };
    }
    let running: Vec<usize> = (0..n)
        .filter(|&i| (grid.rpm[i].is_nan() || grid.rpm[i] >= 60.0) && grid.coolant_c[i].is_finite())
        .collect();
    let span = |f: fn(f64, f64) -> f64, start: f64| running.iter().map(|&i| grid.coolant_c[i]).fold(start, f);
    let (low, high) = (span(f64::min, f64::INFINITY), span(f64::max, f64::NEG_INFINITY));
    let flat = high - low < 1e-9 && running.len() >= grid.cells(60.0);
    let reach = grid.cells(30.0);
    // A coolant logged in whole degrees steps by one within the minute that the slope looks at.
    let rounding = 0.5 * step_c.unwrap_or(0.0).min(1.0);
    let slope = |i: usize| {
        let (a, b) = (i.saturating_sub(reach), (i + reach).min(n - 1));
        let (from, to) = (grid.coolant_c[a], grid.coolant_c[b]);
        if b > a { (to - from) / ((b - a) as f64 * grid.cell_s / 60.0) } else { 0.0 }
    };
    let reasons = (0..n)
        .map(|i| {
            let c = grid.coolant_c[i];
            if !c.is_finite() {
                return None;
            }
            if let Some(warm) = warm_c {
                return match c {
                    c if c >= warm => None,
                    c if c >= warm - 15.0 && slope(i) > 0.2 => Some("warming"),
                    _ => Some("cold"),
                };
            }
            if c < settings.warm_floor_c {
                Some("cold")
            } else if c < RUNNING_C && slope(i) > settings.warm_slope_k_per_min + rounding {
                Some("warming")
            } else {
                None
            }
        })
        .collect();
    Warmth {
        reasons,
        shown: !flat,
        flat,
        hottest_c: high.is_finite().then_some(high),
        late_rise_k_per_min: late_rise(grid, &running),
    }
}

fn late_rise(grid: &Grid, running: &[usize]) -> Option<f64> {
    let span = grid.cells(180.0);
    let last = *running.last()?;
    let first = *running.iter().find(|&&i| i + span >= last)?;
    let minutes = (last - first) as f64 * grid.cell_s / 60.0;
    (minutes > 1.5).then(|| (grid.coolant_c[last] - grid.coolant_c[first]) / minutes)
}
