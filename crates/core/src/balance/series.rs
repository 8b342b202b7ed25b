//! Pulse-free series of the cylinders in blocks of whole seconds: what scatter, drift and steps are computed from.
//!
//! # Method
//! The fitted waveform is taken off every row; what is left is averaged in blocks of whole engine cycles, about as long as the
//! larger of 1 s, 4 cycles and 1.5 rounds of a channel polled in turn. Whole cycles, because what the waveform leaves of a
//! sharp pulse would else ripple from block to block and pass for scatter. A block of a channel counts when it
//! holds at least half the readings of a usual one.

use std::ops::Range;

use rayon::prelude::*;

use crate::prepare::Cylinder;
use crate::pulse::harmonics::{self, Design, Fit, Gathered, Readings, Regression};

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
    let (mut out, ranges) = lay(&rows, length_s);
    let channels = readings(cylinders, |_| None);
    let means: Vec<Vec<f64>> = ranges
        .par_iter()
        .map(|range| {
            let sums = harmonics::rest(fits, &channels, rows.cycles, range.clone());
            means(cylinders, &sums, length_s)
        })
        .collect();
    out.kpa = (0..cylinders.len()).map(|i| means.iter().map(|block| block[i]).collect()).collect();
    out
}

/// Waveform and mean of every cylinder over all rows of the stretches, and the blocks, in one pass over the rows: what the
/// regression needs of a block is also what its level needs.
///
/// # Shape
/// One fit per cylinder; `prior_sd` is asked with its index. A cylinder that is not alive has none.
pub(crate) fn fitted(
    rows: Rows<'_>,
    cylinders: &[Cylinder<'_>],
    design: Design,
    prior_sd: impl Fn(usize) -> f64,
    length_s: f64,
) -> (Vec<Option<Fit>>, Blocks) {
    let (mut out, mut ranges) = lay(&rows, length_s);
    let blocks = ranges.len();
    let parts = parts(rows.time_s, rows.stretches);
    ranges.extend(beside(&parts, &ranges));
    let channels = readings(cylinders, |i| Some(prior_sd(i)));
    let all = || parts.iter().cloned().flatten();
    let regression = Regression::new(design, rows.cycles, &channels, all);
    let sums: Vec<Gathered> = ranges.par_iter().map(|range| regression.gather(range.clone())).collect();
    let mut fits = regression.fits(&sums);
    fits.iter_mut().zip(cylinders).filter(|(_, c)| !c.alive).for_each(|(fit, _)| *fit = None);
    let level = |part: &Gathered| means(cylinders, &regression.rest(part, &fits), length_s);
    let means: Vec<Vec<f64>> = sums[..blocks].iter().map(level).collect();
    out.kpa = (0..cylinders.len()).map(|i| means.iter().map(|block| block[i]).collect()).collect();
    (fits, out)
}

/// Rows inside some stretches; those that touch are one range.
pub(crate) fn parts(time_s: &[f64], stretches: &[(f64, f64)]) -> Vec<Range<usize>> {
    let place = |at: f64| time_s.partition_point(|t| *t < at);
    let ranges = stretches.iter().map(|&(start, end)| place(start)..place(end));
    let mut out: Vec<Range<usize>> = Vec::new();
    for range in ranges.filter(|range| !range.is_empty()) {
        match out.last_mut() {
            Some(last) if last.end == range.start => last.end = range.end,
            _ => out.push(range),
        }
    }
    out
}

/// Rows of the parts that are in no block, in pieces that one thread takes at a time.
fn beside(parts: &[Range<usize>], blocks: &[Range<usize>]) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let mut blocks = blocks.iter().peekable();
    let mut push = |from: usize, to: usize| {
        out.extend((from..to).step_by(harmonics::PART).map(|at| at..to.min(at + harmonics::PART)));
    };
    for part in parts {
        let mut at = part.start;
        while let Some(block) = blocks.next_if(|block| block.start < part.end) {
            push(at, block.start);
            at = block.end;
        }
        push(at, part.end);
    }
    out
}

/// Places of the blocks, and their rows.
fn lay(rows: &Rows<'_>, length_s: f64) -> (Blocks, Vec<Range<usize>>) {
    let mut out = Blocks { length_s, ..Blocks::default() };
    let mut ranges: Vec<Range<usize>> = Vec::new();
    for &(start, end) in rows.stretches {
        let first = rows.time_s.partition_point(|t| *t < start);
        let last = rows.time_s.partition_point(|t| *t < end);
        for (a, b) in cut(rows, first, last, length_s) {
            out.time_s.push(0.5 * (rows.time_s[a] + rows.time_s[b.min(rows.time_s.len() - 1)]));
            out.rpm.push(rows.rpm.map_or(f64::NAN, |r| mean(&r[a..b])));
            ranges.push(a..b);
        }
    }
    (out, ranges)
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

fn readings<'a>(cylinders: &'a [Cylinder<'_>], prior_sd: impl Fn(usize) -> Option<f64>) -> Vec<Readings<'a>> {
    let one = |(i, c): (usize, &'a Cylinder<'_>)| Readings {
        values: &c.values,
        weights: &c.weights,
        prior_sd: prior_sd(i),
    };
    cylinders.iter().enumerate().map(one).collect()
}

/// Pulse-free mean of every cylinder over one block from its sums; `NaN` = too few readings.
fn means(cylinders: &[Cylinder<'_>], sums: &[(f64, f64, f64)], length_s: f64) -> Vec<f64> {
    let mean = |(c, &(w, sum, n)): (&Cylinder<'_>, &(f64, f64, f64))| {
        let usual = c.update_hz * length_s;
        if n >= 1.0 && n >= 0.5 * usual.floor() { sum / w } else { f64::NAN }
    };
    cylinders.iter().zip(sums).map(mean).collect()
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
