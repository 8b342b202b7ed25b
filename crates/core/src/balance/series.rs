//! Pulse-free series of the cylinders in blocks of whole seconds: what scatter, drift and steps are computed from.
//!
//! # Method
//! The fitted waveform is taken off every row; what is left is averaged in blocks of whole engine cycles, about as long as the
//! larger of 1 s, 4 cycles and 1.5 rounds of a channel polled in turn. Whole cycles, because what the waveform leaves of a
//! sharp pulse would else ripple from block to block and pass for scatter. A block of a channel counts when it
//! holds at least half the readings of a usual one.

use rayon::prelude::*;

use crate::prepare::Cylinder;
use crate::pulse::harmonics::{self, Fit, Readings};

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
    cut_blocks(rows, cylinders, fits, length_s, 1)
}

/// Rows a cycle that suffice for a level on a picture: twice what eight harmonics need.
const ENOUGH_FOR_A_PICTURE: f64 = 34.0;

/// As [`blocks`], from every so manieth row where there are many more than enough and each channel reads in nearly all.
#[must_use]
pub fn picture(rows: Rows<'_>, cylinders: &[Cylinder], fits: &[Option<Fit>], length_s: f64) -> Blocks {
    let ends = |list: &[f64]| list.last().copied().unwrap_or(0.0) - list.first().copied().unwrap_or(0.0);
    let row_hz = rows.time_s.len() as f64 / ends(rows.time_s).max(1e-9);
    let full = cylinders.iter().filter(|c| c.alive).all(|c| c.update_hz > 0.9 * row_hz);
    let per_cycle = rows.time_s.len() as f64 / ends(rows.cycles).max(1.0);
    let stride = if full { (per_cycle / ENOUGH_FOR_A_PICTURE) as usize } else { 1 };
    cut_blocks(rows, cylinders, fits, length_s, stride.max(1))
}

fn cut_blocks(
    rows: Rows<'_>,
    cylinders: &[Cylinder],
    fits: &[Option<Fit>],
    length_s: f64,
    stride: usize,
) -> Blocks {
    let mut out = Blocks { length_s, ..Blocks::default() };
    let mut ranges: Vec<(usize, usize)> = Vec::new();
    for &(start, end) in rows.stretches {
        let first = rows.time_s.partition_point(|t| *t < start);
        let last = rows.time_s.partition_point(|t| *t < end);
        for (a, b) in cut(&rows, first, last, length_s) {
            out.time_s.push(0.5 * (rows.time_s[a] + rows.time_s[b.min(rows.time_s.len() - 1)]));
            out.rpm.push(rows.rpm.map_or(f64::NAN, |r| mean(&r[a..b])));
            ranges.push((a, b));
        }
    }
    let means: Vec<Vec<f64>> = ranges
        .par_iter()
        .map(|&(a, b)| block_means(cylinders, fits, rows.cycles, (a, b, stride), length_s))
        .collect();
    out.kpa = (0..cylinders.len()).map(|i| means.iter().map(|block| block[i]).collect()).collect();
    out
}

/// Half-open row ranges of about `length_s` inside `first..last`: whole cycles while the engine turns, plain time else.
fn cut(rows: &Rows<'_>, first: usize, last: usize, length_s: f64) -> Vec<(usize, usize)> {
    if last <= first + 1 {
        return Vec::new();
    }
    let span_s = rows.time_s[last - 1] - rows.time_s[first];
    let span = rows.cycles[last - 1] - rows.cycles[first];
    let hz = span / span_s.max(1e-9);
    let turns = (length_s * hz).ceil();
    let (axis, step): (&[f64], f64) =
        if hz > 0.5 && turns >= 1.0 { (rows.cycles, turns) } else { (rows.time_s, length_s) };
    let part = &axis[first..last];
    // Blocks are centred in the stretch, so that both ends lose alike.
    let count = ((part[part.len() - 1] - part[0]) / step).floor();
    let from = part[0] + 0.5 * (part[part.len() - 1] - part[0] - count * step);
    let edge = |b: f64| first + part.partition_point(|x| *x < from + b * step);
    // From row to row, not from block to block: between two rows there may be years.
    let mut out = Vec::new();
    let mut row = edge(0.0);
    while row < last {
        let mut block = ((axis[row] - from) / step).floor();
        // As the edges have it, to the last bit.
        if axis[row] < from + block * step {
            block -= 1.0;
        } else if axis[row] >= from + (block + 1.0) * step {
            block += 1.0;
        }
        if block >= count {
            break;
        }
        let end = edge(block + 1.0);
        if end > row {
            out.push((row, end));
        }
        row = end.max(row + 1);
    }
    out
}

fn mean(x: &[f64]) -> f64 {
    if x.is_empty() { f64::NAN } else { x.iter().sum::<f64>() / x.len() as f64 }
}

/// Pulse-free mean of every cylinder over one block; `NaN` = too few readings.
fn block_means(
    cylinders: &[Cylinder<'_>],
    fits: &[Option<Fit>],
    cycles: &[f64],
    (first, last, stride): (usize, usize, usize),
    length_s: f64,
) -> Vec<f64> {
    let channels: Vec<Readings<'_>> = cylinders
        .iter()
        .map(|c| Readings { values: &c.values, weights: &c.weights, prior_sd: None })
        .collect();
    let sums = harmonics::rest(fits, &channels, cycles, (first..last).step_by(stride));
    let mean = |(c, &(w, sum, n)): (&Cylinder<'_>, &(f64, f64, f64))| {
        let usual = c.update_hz * length_s / stride as f64;
        if n >= 1.0 && n >= 0.5 * usual.floor() { sum / w } else { f64::NAN }
    };
    cylinders.iter().zip(&sums).map(mean).collect()
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
