//! The visits as a table of numbers: one row per visit, one column per cylinder, at one idle pressure.
//!
//! Within a visit only differences count, so any common reference serves. A plate that is wrong by a given share of
//! its area shifts its cylinder by a given share of the runner's pressure (`d ln p / d ln area` is constant at idle,
//! see `Settings::pressure_per_area`), and the runner's pressure moves with barometer and idle speed. Deviations are
//! therefore scaled by (usual idle pressure)/(idle pressure of the visit), which takes weather, altitude and idle
//! speed out to first order.

use super::types::Visit;
use crate::stats::robust::median;

/// A visit whose idle speed differs from the median by more than this share is shown and not judged.
const SPEED_ALIKE: f64 = 0.25;

/// Variance of the median of `n` independent standard normal values, `n` from 1.
///
/// # Source
/// Order statistics of the normal distribution (Sarhan & Greenberg 1962, tables from memory, checked by simulation
/// in the tests); from 13 on the limit `pi / (2 n)`, high by up to a tenth.
#[must_use]
pub fn median_variance(n: usize) -> f64 {
    const SMALL: [f64; 13] = [
        f64::INFINITY,
        1.0,
        0.5,
        0.4487,
        0.2982,
        0.2868,
        0.2147,
        0.2104,
        0.1682,
        0.1661,
        0.1383,
        0.1372,
        0.1175,
    ];
    SMALL.get(n).copied().unwrap_or(std::f64::consts::FRAC_PI_2 / n as f64)
}

/// Visits by cylinders.
///
/// # Shape
/// `x[v][i]` is the level of cylinder `numbers[i]` at visit `v` against a reference common to that visit, kPa; `NaN`
/// where it is missing or not judged. `u[v][i]` is its own standard uncertainty, kPa.
#[derive(Debug, Clone, PartialEq)]
pub struct Levels {
    /// Cylinder numbers, rising.
    pub numbers: Vec<u32>,
    /// Levels.
    pub x: Vec<Vec<f64>>,
    /// Standard uncertainties.
    pub u: Vec<Vec<f64>>,
    /// Factor applied to each visit.
    pub scale: Vec<f64>,
    /// Whether the visit is judged.
    pub judged: Vec<bool>,
}

impl Levels {
    /// Builds the table from visits in order; `coverage` takes stored uncertainties back to standard ones.
    #[must_use]
    pub fn new(visits: &[Visit], coverage: f64) -> Self {
        let mut numbers: Vec<u32> =
            visits.iter().flat_map(|v| v.cylinders.iter().map(|c| c.cylinder)).collect();
        numbers.sort_unstable();
        numbers.dedup();
        let judged = alike(visits);
        let pressures: Vec<f64> = visits.iter().map(pressure).collect();
        let usual = median(&pressures);
        let scale: Vec<f64> = pressures
            .iter()
            .map(|p| usual.map_or(1.0, |m| if *p > 0.0 && m > 0.0 { m / p } else { 1.0 }))
            .collect();
        let cell = |v: usize, i: usize| -> (f64, f64) {
            let found = visits[v].cylinder(numbers[i]).and_then(|c| c.deviation_kpa);
            match found.filter(|_| judged[v]) {
                Some(m) if m.value.is_finite() => (m.value * scale[v], (m.u / coverage).abs() * scale[v]),
                _ => (f64::NAN, f64::NAN),
            }
        };
        let table: Vec<Vec<(f64, f64)>> =
            (0..visits.len()).map(|v| (0..numbers.len()).map(|i| cell(v, i)).collect()).collect();
        let x = table.iter().map(|r| r.iter().map(|c| c.0).collect()).collect();
        let u = table.iter().map(|r| without_zero(&r.iter().map(|c| c.1).collect::<Vec<_>>())).collect();
        Self { numbers, x, u, scale, judged }
    }

    /// Deviation of cylinder `i` at visit `v` from the median of those `others` that are live, and its standard
    /// uncertainty; `None` if it or all others are missing.
    #[must_use]
    pub fn deviation(&self, v: usize, i: usize, others: &[usize]) -> Option<(f64, f64)> {
        let live: Vec<usize> =
            others.iter().copied().filter(|&j| j != i && self.x[v][j].is_finite()).collect();
        let values: Vec<f64> = live.iter().map(|&j| self.x[v][j]).collect();
        let middle = median(&values)?;
        let mean_square = live.iter().map(|&j| self.u[v][j].powi(2)).sum::<f64>() / live.len() as f64;
        let own = self.u[v][i].powi(2);
        let value = self.x[v][i] - middle;
        // Others that stand apart: their median is one of them, or the mean of two.
        let share = if live.len() % 2 == 1 { 1.0 } else { 0.5 };
        value.is_finite().then(|| (value, (own + share * mean_square).sqrt()))
    }
}

/// A numbered reference has uncertainty 0 because the others carry it; it gets the median of theirs.
fn without_zero(u: &[f64]) -> Vec<f64> {
    let positive: Vec<f64> = u.iter().copied().filter(|v| *v > 0.0).collect();
    let usual = median(&positive).unwrap_or(0.0);
    u.iter().map(|v| if *v == 0.0 { usual } else { *v }).collect()
}

/// Median pressure of the live cylinders, kPa; `NaN` if none is known.
fn pressure(visit: &Visit) -> f64 {
    let all: Vec<f64> = visit.cylinders.iter().filter_map(|c| c.pressure_kpa.map(|p| p.value)).collect();
    median(&all).unwrap_or(f64::NAN)
}

/// Which visits ran at a speed that can be compared with the others.
fn alike(visits: &[Visit]) -> Vec<bool> {
    let speeds: Vec<f64> = visits.iter().map(|v| v.rpm.map_or(f64::NAN, |r| r.value)).collect();
    let usual = median(&speeds);
    speeds.iter().map(|s| usual.is_none_or(|m| s.is_nan() || (s / m - 1.0).abs() <= SPEED_ALIKE)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::ar1;

    #[test]
    fn variance_of_the_median_by_simulation() {
        for n in 1..=12usize {
            let draws = ar1(n * 20_000, 0.0, 40 + n as u64);
            let squares: f64 =
                draws.chunks(n).map(|c| median(c).unwrap_or(f64::NAN).powi(2)).sum::<f64>() / 20_000.0;
            let unit = draws.iter().map(|v| v * v).sum::<f64>() / draws.len() as f64;
            let ratio = squares / unit / median_variance(n);
            assert!((0.93..1.05).contains(&ratio), "median of {n}: {ratio}");
        }
    }
}
