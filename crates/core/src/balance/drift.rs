//! Drift of each cylinder against the others inside one steady state.
//!
//! # Method
//! Least-squares slope of each cylinder's pulse-free blocks less the mean of all, then less the reference of the slopes (their
//! median, their mean, or the reference cylinder's): one drifting cylinder does not pull the others along. The uncertainty
//! of a slope is widened by `sqrt((1 + r1) / (1 - r1))` for the lag-one correlation of what the line leaves.
//!
//! # Source
//! Ordinary least squares; AR(1) inflation, Bayley and Hammersley (1946).

use crate::result::{GroupReference, Reference};
use crate::stats::autocorr::autocorrelation;
use crate::stats::robust::median;

use super::series::{Blocks, combine};

/// Slope with its standard uncertainty, kPa a minute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// Slope.
    pub per_min: f64,
    /// Standard uncertainty.
    pub u_per_min: f64,
}

/// Shortest span that a drift is taken from, s.
const SHORTEST_S: f64 = 20.0;

/// Drift of every cylinder; `None` where there are under 8 blocks or 20 s.
#[must_use]
pub fn drifts(blocks: &Blocks, live: &[usize], reference: Reference, numbers: &[u32]) -> Vec<Option<Drift>> {
    let n = live.len() as f64;
    let mut out = vec![None; numbers.len()];
    let slopes: Vec<Option<Drift>> = live
        .iter()
        .map(|&i| {
            let mut c = vec![0.0; numbers.len()];
            live.iter().for_each(|&j| c[j] = -1.0 / n);
            c[i] += 1.0;
            let (t, y) = combine(blocks, &c);
            slope(&t, &y)
        })
        .collect();
    if live.len() < 2 || slopes.iter().any(Option::is_none) {
        return out;
    }
    let values: Vec<f64> = slopes.iter().flatten().map(|d| d.per_min).collect();
    let zero = match reference {
        Reference::Cylinder(number) => {
            let Some(k) = live.iter().position(|&i| numbers[i] == number) else { return out };
            values[k]
        }
        Reference::Group(GroupReference::Mean) => 0.0,
        Reference::Group(GroupReference::Median) => median(&values).unwrap_or(0.0),
    };
    for (&i, s) in live.iter().zip(slopes.into_iter().flatten()) {
        let own = matches!(reference, Reference::Cylinder(number) if number == numbers[i]);
        let u = if own { 0.0 } else { s.u_per_min * (n / (n - 1.0)).sqrt() };
        out[i] = Some(Drift { per_min: s.per_min - zero, u_per_min: u });
    }
    out
}

/// Least-squares slope of `y` on `t` (seconds), per minute.
#[must_use]
pub fn slope(t: &[f64], y: &[f64]) -> Option<Drift> {
    let n = t.len() as f64;
    if t.len() < 8 || t[t.len() - 1] - t[0] < SHORTEST_S {
        return None;
    }
    let (mt, my) = (t.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for (a, b) in t.iter().zip(y) {
        sxx += (a - mt) * (a - mt);
        sxy += (a - mt) * (b - my);
    }
    let b = sxy / sxx;
    let rest: Vec<f64> = t.iter().zip(y).map(|(a, v)| v - my - b * (a - mt)).collect();
    let s2 = rest.iter().map(|r| r * r).sum::<f64>() / (n - 2.0);
    let r1 = autocorrelation(&rest, 1).unwrap_or(0.0).clamp(0.0, 0.95);
    let u = (s2 / sxx * (1.0 + r1) / (1.0 - r1)).sqrt();
    Some(Drift { per_min: 60.0 * b, u_per_min: 60.0 * u })
}
