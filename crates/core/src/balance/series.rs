//! Pulse-free series of the cylinders in blocks of whole seconds: what scatter, drift and steps are computed from.
//!
//! # Method
//! The fitted waveform is taken off every row; what is left is averaged in blocks of the larger of 1 s, 4 engine cycles and
//! 1.5 rounds of a channel polled in turn. A block of a channel counts when it holds at least half the readings of a usual one.

use crate::prepare::Cylinder;
use crate::pulse::harmonics::Fit;

/// Block means of every cylinder.
///
/// # Shape
/// `time_s` and each inner vector of `kpa` have one value per block; `NaN` = too few readings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Blocks {
    /// Length of a block, s.
    pub length_s: f64,
    /// Centre of each block, s.
    pub time_s: Vec<f64>,
    /// Pulse-free mean of each cylinder in each block, kPa.
    pub kpa: Vec<Vec<f64>>,
    /// Engine speed, rev/min; `NaN` when not logged.
    pub rpm: Vec<f64>,
}

/// What blocks are made from.
#[derive(Debug, Clone, Copy)]
pub struct Rows<'a> {
    /// Seconds.
    pub time_s: &'a [f64],
    /// Phase of each row, engine cycles.
    pub cycles: &'a [f64],
    /// Engine speed.
    pub rpm: Option<&'a [f64]>,
    /// Stretches to use, s, in order.
    pub stretches: &'a [(f64, f64)],
}

/// Cuts blocks inside the stretches; no block spans the end of one.
#[must_use]
pub fn blocks(rows: Rows<'_>, cylinders: &[Cylinder], fits: &[Option<Fit>], length_s: f64) -> Blocks {
    let mut out =
        Blocks { length_s, kpa: vec![Vec::new(); cylinders.len()], ..Blocks::default() };
    for &(start, end) in rows.stretches {
        let count = ((end - start) / length_s).floor() as usize;
        for b in 0..count {
            // Blocks are centred in the stretch, so that both ends lose alike.
            let from = start + 0.5 * (end - start - count as f64 * length_s) + b as f64 * length_s;
            let first = rows.time_s.partition_point(|t| *t < from);
            let last = rows.time_s.partition_point(|t| *t < from + length_s);
            out.time_s.push(from + 0.5 * length_s);
            out.rpm.push(rows.rpm.map_or(f64::NAN, |r| mean(&r[first..last])));
            for (i, (c, fit)) in cylinders.iter().zip(fits).enumerate() {
                out.kpa[i].push(block_mean(c, fit.as_ref(), rows.cycles, first, last, length_s));
            }
        }
    }
    out
}

fn mean(x: &[f64]) -> f64 {
    if x.is_empty() { f64::NAN } else { x.iter().sum::<f64>() / x.len() as f64 }
}

fn block_mean(
    c: &Cylinder,
    fit: Option<&Fit>,
    cycles: &[f64],
    first: usize,
    last: usize,
    length_s: f64,
) -> f64 {
    let Some(fit) = fit else { return f64::NAN };
    let (mut w, mut sum, mut n) = (0.0, 0.0, 0.0);
    for k in first..last {
        if c.weights[k] > 0.0 && c.values[k].is_finite() {
            w += c.weights[k];
            n += 1.0;
            sum += c.weights[k] * (c.values[k] - fit.pulse(cycles[k]));
        }
    }
    let usual = c.update_hz * length_s;
    if n >= 1.0 && n >= 0.5 * usual.floor() { sum / w } else { f64::NAN }
}

/// A linear combination of the cylinders' blocks; blocks with a missing part are left out. Returns times and values.
#[must_use]
pub fn combine(blocks: &Blocks, weights: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let mut t = Vec::with_capacity(blocks.time_s.len());
    let mut y = Vec::with_capacity(blocks.time_s.len());
    for b in 0..blocks.time_s.len() {
        let v: f64 =
            weights.iter().enumerate().filter(|(_, w)| **w != 0.0).map(|(i, w)| w * blocks.kpa[i][b]).sum();
        if v.is_finite() {
            t.push(blocks.time_s[b]);
            y.push(v);
        }
    }
    (t, y)
}
