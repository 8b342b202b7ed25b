//! Crank phase of every row: engine cycles counted from the logged speed, then held on the pulses themselves.
//!
//! # Method
//! Cycles a second are `rpm / 120` for a four-stroke and `rpm / 60` for a two-stroke. The speed is first averaged over
//! two cycles, so that the ripple inside a cycle does not bend the phase: a mean over a bent phase would be a mean by
//! crank angle, not by time. The integral drifts, since the logged speed is rounded and late; the pulses of all
//! cylinders together then hold it: blocks of 8 s are turned onto each other by their first harmonic, then blocks of
//! 8, 4 and 2 s are moved by Gauss-Newton steps towards one common waveform, each step held by a prior of 0.05 cycle.
//! Four harmonics need eight rows a cycle; of logs with many more only every so manieth row takes part in the holding, at
//! least 24 a cycle. The phase that comes out is that of every row.
//!
//! # Source
//! Time-synchronous averaging: S. Braun, Acustica 32 (1975) 69; P. D. McFadden, Mech. Syst. Signal Process. 1 (1987) 83.

mod refine;
mod usable;

use std::ops::Range;

use rayon::prelude::*;

use super::harmonics::{Readings, first_harmonics};
use refine::refine;
use usable::{thinned, usable};

/// Cycles a second at a speed.
#[must_use]
pub fn cycle_hz(rpm: f64, strokes: u8) -> f64 {
    if strokes == 2 { rpm / 60.0 } else { rpm / 120.0 }
}

/// Engine cycles since the first row, from the logged speed averaged over two cycles.
///
/// # Shape
/// `time_s` and `rpm` have the same length; `rpm` must be finite (fill holes before).
/// # Units
/// Seconds and rev/min in, engine cycles out.
#[must_use]
pub fn integrate(time_s: &[f64], rpm: &[f64], strokes: u8) -> Vec<f64> {
    let n = time_s.len();
    if n == 0 {
        return Vec::new();
    }
    let mut raw: Vec<f64> = rpm.iter().map(|rpm| cycle_hz(*rpm, strokes)).collect();
    integral(time_s, &mut raw);
    // Speed over one cycle to either side, from the integral itself; near the ends over what there is.
    let smooth = |k: usize, (lo, hi): &mut (usize, usize)| {
        let f = cycle_hz(rpm[k], strokes);
        if f <= 0.5 {
            return f.max(0.0);
        }
        let reach = (1.0 / f).min(time_s[k] - time_s[0]).min(time_s[n - 1] - time_s[k]);
        if reach <= 0.0 {
            return f;
        }
        let a = at(time_s, &raw, time_s[k] - reach, lo);
        let b = at(time_s, &raw, time_s[k] + reach, hi);
        (b - a) / (2.0 * reach)
    };
    // A mean over two cycles does not change inside a small part of one: between two anchors it is laid on a line.
    let per_cycle = n as f64 / raw[n - 1].max(1.0);
    let stride = ((per_cycle / ANCHORS_A_CYCLE) as usize).max(1);
    let turns = |k: usize| cycle_hz(rpm[k], strokes) > 0.5;
    let mut rates = vec![0.0; n];
    rates.par_chunks_mut(PART).enumerate().for_each(|(part, rates)| {
        let first = part * PART;
        let mut cursors = (first, first);
        let mut from = 0;
        rates[0] = smooth(first, &mut cursors);
        while from + 1 < rates.len() {
            let to = (from + stride).min(rates.len() - 1);
            let (a, b) = (first + from, first + to);
            rates[to] = smooth(b, &mut cursors);
            let near = raw[b] - raw[a] < 2.0 / ANCHORS_A_CYCLE && (a..=b).all(turns);
            let rise = (rates[to] - rates[from]) / (to - from) as f64;
            for k in 1..to - from {
                rates[from + k] =
                    if near { rates[from] + rise * k as f64 } else { smooth(a + k, &mut cursors) };
            }
            from = to;
        }
    });
    integral(time_s, &mut rates);
    rates
}

/// Places in a cycle at which the averaged speed is asked for, where there are more rows than that.
const ANCHORS_A_CYCLE: f64 = 16.0;

/// Rows that one thread takes at a time.
const PART: usize = 65_536;

/// Turns rates into their running integral.
fn integral(time_s: &[f64], rates: &mut [f64]) {
    let (mut sum, mut before, mut since) = (0.0, 0.0, time_s.first().copied().unwrap_or(0.0));
    for (rate, &t) in rates.iter_mut().zip(time_s) {
        let now = *rate;
        sum += 0.5 * (before + now) * (t - since);
        (before, since) = (now, t);
        *rate = sum;
    }
}

/// Linear interpolation with a cursor that only walks as far as it must.
fn at(time_s: &[f64], y: &[f64], t: f64, cursor: &mut usize) -> f64 {
    let last = time_s.len() - 1;
    let mut k = (*cursor).min(last.saturating_sub(1));
    while k > 0 && time_s[k] > t {
        k -= 1;
    }
    while k + 1 < last && time_s[k + 1] < t {
        k += 1;
    }
    *cursor = k;
    if last == 0 {
        return y[0];
    }
    let span = time_s[k + 1] - time_s[k];
    let x = if span > 0.0 { ((t - time_s[k]) / span).clamp(0.0, 1.0) } else { 0.0 };
    y[k] + x * (y[k + 1] - y[k])
}

/// One channel as the lock sees it.
#[derive(Debug, Clone, Copy)]
pub struct Signal<'a> {
    /// Values, one per row, `NaN` = missing.
    pub values: &'a [f64],
    /// Weight of each row for this channel, 0 = not used.
    pub weights: &'a [f64],
}

impl Signal<'_> {
    /// How many readings there are in some rows.
    fn readings(&self, rows: Range<usize>) -> usize {
        let reads = |(w, v): (&f64, &f64)| usize::from(*w > 0.0 && v.is_finite());
        self.weights[rows.clone()].iter().zip(&self.values[rows]).map(reads).sum()
    }

    /// Whether there is a reading in a row.
    fn reads(&self, row: usize) -> bool {
        self.weights[row] > 0.0 && self.values[row].is_finite()
    }
}

/// Phase held on the pulses.
#[derive(Debug, Clone, PartialEq)]
pub struct Lock {
    /// Engine cycles of every row.
    pub cycles: Vec<f64>,
    /// Share of the fast variance that one common waveform explains, 0 to 1.
    pub strength: f64,
    /// Factor on the logged speed that the pulses ask for.
    pub scale: f64,
}

const BLOCKS_S: [f64; 4] = [8.0, 8.0, 4.0, 2.0];
const PRIOR_CYCLE: f64 = 0.05;
const LOCK_HARMONICS: usize = 4;

/// Holds the integrated phase on the pulses of all channels together, in the rows that are `fit` for it.
///
/// # Shape
/// `cycles` and each signal have one value per row of `time_s`; `fit` are ranges of rows in their order.
#[must_use]
pub fn lock(time_s: &[f64], cycles: Vec<f64>, signals: &[Signal<'_>], fit: &[Range<usize>]) -> Lock {
    let rows = thinned(fit, &cycles, signals);
    let mut held = Lock { cycles, strength: 0.0, scale: 1.0 };
    if rows.len() < 32 {
        return held;
    }
    let blocks = cut(time_s, &rows, BLOCKS_S[0]);
    held.scale = best_scale(&held.cycles, signals, &rows, &blocks);
    if held.scale != 1.0 {
        held.cycles.iter_mut().for_each(|c| *c *= held.scale);
    }
    chain(time_s, &mut held.cycles, signals, &rows, &blocks);
    settle(time_s, held, signals, &rows)
}

/// Holds a phase that came from a mark: the marks already turned the blocks onto each other, the pulses only take out
/// what the width of the rows leaves.
///
/// # Shape
/// As [`lock`].
#[must_use]
pub fn lock_marked(time_s: &[f64], cycles: Vec<f64>, signals: &[Signal<'_>], fit: &[Range<usize>]) -> Lock {
    let rows = usable(fit, signals, 1);
    let held = Lock { cycles, strength: 0.0, scale: 1.0 };
    if rows.len() < 32 { held } else { settle(time_s, held, signals, &rows) }
}

/// Gauss-Newton passes over ever shorter blocks, as long as they see pulses.
fn settle(time_s: &[f64], mut held: Lock, signals: &[Signal<'_>], rows: &[usize]) -> Lock {
    for length in BLOCKS_S {
        let blocks = cut(time_s, rows, length);
        let Some((knots, strength)) = refine(time_s, &held.cycles, signals, rows, &blocks) else { break };
        shift(time_s, &mut held.cycles, &knots);
        held.strength = strength;
    }
    held
}

/// Half-open ranges into `rows`, each at most `length` seconds long and never across a gap of more than a second.
fn cut(time_s: &[f64], rows: &[usize], length: f64) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    let mut start = 0;
    for i in 1..=rows.len() {
        let ends = i == rows.len()
            || time_s[rows[i]] - time_s[rows[start]] > length
            || time_s[rows[i]] - time_s[rows[i - 1]] > 1.0_f64.max(length / 4.0);
        if ends {
            if i - start >= 8 {
                out.push((start, i));
            }
            start = i;
        }
    }
    out
}

/// Complex first harmonic of one channel over some rows, local mean removed.
fn first_harmonic(cycles: &[f64], signal: &Signal<'_>, rows: &[usize], scale: f64) -> (f64, f64) {
    let (mut w, mut mean) = (0.0, 0.0);
    for &k in rows {
        if signal.values[k].is_finite() {
            w += signal.weights[k];
            mean += signal.weights[k] * signal.values[k];
        }
    }
    if w <= 0.0 {
        return (0.0, 0.0);
    }
    mean /= w;
    let (mut re, mut im) = (0.0, 0.0);
    for &k in rows {
        if signal.values[k].is_finite() {
            let (s, c) = (std::f64::consts::TAU * (cycles[k] * scale).fract()).sin_cos();
            let y = signal.weights[k] * (signal.values[k] - mean);
            re += y * c;
            im -= y * s;
        }
    }
    (re / w, im / w)
}

/// Speed scale with the most first-harmonic power, kept only where it adds more than 2 %.
fn best_scale(cycles: &[f64], signals: &[Signal<'_>], rows: &[usize], blocks: &[(usize, usize)]) -> f64 {
    // A few blocks tell the scale; more only cost time.
    let stride = blocks.len().div_ceil(6).max(1);
    let power = |scale: f64| -> f64 {
        let mut sum = 0.0;
        for &(a, b) in blocks.iter().step_by(stride) {
            let thin = ((b - a) / 2000).max(1);
            let some: Vec<usize> = rows[a..b].iter().copied().step_by(thin).collect();
            for s in signals {
                let (re, im) = first_harmonic(cycles, s, &some, scale);
                sum += re * re + im * im;
            }
        }
        sum
    };
    let plain = power(1.0);
    let mut best = (1.0, plain);
    let scales: Vec<f64> = (-16i32..=16).map(|step| 1.0 + f64::from(step) * 0.00125).collect();
    let powers: Vec<f64> = scales.par_iter().map(|scale| power(*scale)).collect();
    for (scale, p) in scales.into_iter().zip(powers) {
        if p > best.1 {
            best = (scale, p);
        }
    }
    if best.1 > 1.02 * plain { best.0 } else { 1.0 }
}

/// Turns each block onto the one before by the phase of the first harmonic, all channels together.
fn chain(
    time_s: &[f64],
    cycles: &mut [f64],
    signals: &[Signal<'_>],
    rows: &[usize],
    blocks: &[(usize, usize)],
) {
    let mut template: Vec<(f64, f64)> = vec![(0.0, 0.0); signals.len()];
    let mut knots: Vec<(f64, f64)> = Vec::with_capacity(blocks.len());
    let mut offset = 0.0_f64;
    let channels: Vec<Readings<'_>> =
        signals.iter().map(|s| Readings { values: s.values, weights: s.weights, prior_sd: None }).collect();
    let harmonics: Vec<Vec<(f64, f64)>> =
        blocks.par_iter().map(|&(a, b)| first_harmonics(&channels, cycles, &rows[a..b])).collect();
    for (n, (&(a, b), here)) in blocks.iter().zip(&harmonics).enumerate() {
        if n > 0 {
            // Turn by the offset so far, then ask how much is left to reach the template.
            let (mut re, mut im) = (0.0, 0.0);
            let (so, co) = (std::f64::consts::TAU * offset).sin_cos();
            for (h, t) in here.iter().zip(&template) {
                let turned = (h.0 * co + h.1 * so, h.1 * co - h.0 * so);
                re += turned.0 * t.0 + turned.1 * t.1;
                im += turned.1 * t.0 - turned.0 * t.1;
            }
            if re != 0.0 || im != 0.0 {
                offset += im.atan2(re) / std::f64::consts::TAU;
            }
        }
        let (so, co) = (std::f64::consts::TAU * offset).sin_cos();
        for (h, t) in here.iter().zip(&mut template) {
            let turned = (h.0 * co + h.1 * so, h.1 * co - h.0 * so);
            // A slowly forgetting template follows a waveform that changes a little.
            let keep = if n == 0 { 0.0 } else { 0.7 };
            *t = (keep * t.0 + (1.0 - keep) * turned.0, keep * t.1 + (1.0 - keep) * turned.1);
        }
        knots.push((0.5 * (time_s[rows[a]] + time_s[rows[b - 1]]), offset));
    }
    shift(time_s, cycles, &knots);
}

/// Adds a piecewise linear offset, flat outside the knots.
pub(super) fn shift(time_s: &[f64], cycles: &mut [f64], knots: &[(f64, f64)]) {
    if knots.is_empty() {
        return;
    }
    let mut k = 0;
    for (t, c) in time_s.iter().zip(cycles.iter_mut()) {
        while k + 1 < knots.len() && knots[k + 1].0 < *t {
            k += 1;
        }
        let (a, b) = (knots[k], knots[(k + 1).min(knots.len() - 1)]);
        let x = if b.0 > a.0 { ((t - a.0) / (b.0 - a.0)).clamp(0.0, 1.0) } else { 0.0 };
        *c += a.1 + x * (b.1 - a.1);
    }
}

#[cfg(test)]
mod tests;
