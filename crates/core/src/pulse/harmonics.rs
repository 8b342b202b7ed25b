//! Mean and waveform of one channel by regression on the crank phase.
//!
//! # Method
//! `p = mean + sum over m of a_m cos(2 pi m x) + b_m sin(2 pi m x)`, x the phase in cycles, rows weighted by the time they
//! stand for. The intercept is the time mean over whole cycles, whatever the edges, holes and jitter of the sampling.
//! Each harmonic carries a prior of mean 0 and a standard deviation that falls as m^-1.5 (m^-2.5 where the line is damped), so that harmonics which the row
//! rate folds onto each other or onto zero cannot run away; what the prior leaves open in the intercept is the aliasing
//! term of its uncertainty (posterior variance of the intercept beyond that of a pulse-free mean).
//!
//! # Source
//! Bayesian linear regression, any textbook; the fall of m^-1.5 is that of a sawtooth with rounded corners
//! (the engine model's pulses), common practice, no source.

use nalgebra::{Const, Dyn, OMatrix, OVector};
use rayon::prelude::*;

mod sums;
pub(super) mod tile;
pub(super) mod turns;

use super::fold::whole;
use sums::{Reach, SIZE, Sums, gather};

/// Most harmonics that a fit may carry.
pub const MOST: usize = 8;

/// What to fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Design {
    /// Number of harmonics, at most [`MOST`].
    pub harmonics: usize,
}

/// A fitted waveform.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Time mean over whole cycles.
    pub mean: f64,
    /// Cosine and sine amplitude of each harmonic.
    pub waves: Vec<(f64, f64)>,
    /// Standard deviation of what the waveform leaves.
    pub residual_sd: f64,
    /// Standard uncertainty of the mean from harmonics that the sampling cannot separate from it.
    pub alias_sd: f64,
    /// Rows used.
    pub rows: usize,
    /// Effective number of rows after weighting.
    pub effective_rows: f64,
}

impl Fit {
    /// A fit without any pulse: takes nothing off the rows.
    #[must_use]
    pub fn flat() -> Self {
        Self { mean: 0.0, waves: Vec::new(), residual_sd: 0.0, alias_sd: 0.0, rows: 0, effective_rows: 0.0 }
    }

    /// The pulse without its mean, and its slope per cycle, at a phase in cycles.
    #[must_use]
    pub fn pulse_and_slope(&self, cycles: f64) -> (f64, f64) {
        self.at(turned(cycles))
    }

    /// The same at a phase whose sine and cosine are known.
    #[must_use]
    #[inline]
    pub fn at(&self, (s1, c1): (f64, f64)) -> (f64, f64) {
        let (mut s, mut c) = (s1, c1);
        let (mut value, mut slope) = (0.0, 0.0);
        for (m, (a, b)) in self.waves.iter().enumerate() {
            value += a * c + b * s;
            slope += (m + 1) as f64 * (b * c - a * s);
            (c, s) = (c * c1 - s * s1, s * c1 + c * s1);
        }
        (value, slope * std::f64::consts::TAU)
    }

    /// The same without the slope, from the cosines and sines of a phase.
    fn sum(&self, c: &[f64; SIZE], s: &[f64; SIZE]) -> f64 {
        self.waves.iter().zip(c[1..].iter().zip(&s[1..])).map(|((a, b), (c, s))| a * c + b * s).sum()
    }

    /// The pulse without its mean at a phase in cycles.
    #[must_use]
    pub fn pulse(&self, cycles: f64) -> f64 {
        self.pulse_and_slope(cycles).0
    }

    /// Amplitude of harmonic `m`, counted from 1; 0 beyond the fitted ones.
    #[must_use]
    pub fn amplitude(&self, m: usize) -> f64 {
        self.waves.get(m.wrapping_sub(1)).map_or(0.0, |(a, b)| a.hypot(*b))
    }
}

/// Sine and cosine of a phase in cycles.
#[must_use]
pub fn turned(cycles: f64) -> (f64, f64) {
    (std::f64::consts::TAU * (cycles - whole(cycles))).sin_cos()
}

/// Sums of what the waveforms leave of each channel over some rows. A waveform is a sum of waves, so the waves are summed
/// once for all channels that share their rows, and each waveform is taken off at the end.
///
/// # Shape
/// One fit and one triple per channel: weight, weighted sum of the rest, number of readings; all 0 without a fit.
pub(crate) fn rest(
    fits: &[Option<Fit>],
    channels: &[Readings<'_>],
    cycles: &[f64],
    rows: impl Iterator<Item = usize>,
) -> Vec<(f64, f64, f64)> {
    let most = fits.iter().flatten().map(|f| f.waves.len()).max().unwrap_or(0);
    let reach = Reach { waves: most, readings: 0 };
    let live: Vec<(Readings<'_>, f64)> =
        channels.iter().zip(fits).filter(|(_, fit)| fit.is_some()).map(|(c, _)| (*c, 0.0)).collect();
    let mut sums = gather(reach, cycles, &live, rows).into_iter();
    let mut one = |fit: &Fit| {
        let of = |sum: Sums| (sum.w, sum.xy[0] - fit.sum(&sum.cos, &sum.sin), sum.rows as f64);
        sums.next().map_or((0.0, 0.0, 0.0), of)
    };
    fits.iter().map(|fit| fit.as_ref().map_or((0.0, 0.0, 0.0), &mut one)).collect()
}

/// Complex first harmonic of every channel over some rows, its mean over them taken off; 0 without readings.
///
/// # Shape
/// As [`fit`].
pub(super) fn first_harmonics(channels: &[Readings<'_>], cycles: &[f64], rows: &[usize]) -> Vec<(f64, f64)> {
    let levels: Vec<(Readings<'_>, f64)> =
        channels.iter().map(|c| (*c, level(c, rows.iter().copied()).unwrap_or(0.0))).collect();
    let sums = gather(Reach { waves: 1, readings: 1 }, cycles, &levels, rows.iter().copied());
    let one = |s: &Sums| {
        if s.w <= 0.0 {
            return (0.0, 0.0);
        }
        let mean = s.xy[0] / s.w;
        ((s.xy[1] - mean * s.cos[1]) / s.w, -(s.xy[2] - mean * s.sin[1]) / s.w)
    };
    sums.iter().map(one).collect()
}

/// One channel of a fit.
#[derive(Debug, Clone, Copy)]
pub struct Readings<'a> {
    /// One value per row, `NaN` = missing.
    pub values: &'a [f64],
    /// Weight of each row, 0 = passed over.
    pub weights: &'a [f64],
    /// Prior standard deviation of the first harmonic's parts; `None` takes it from the scatter of all values.
    pub prior_sd: Option<f64>,
}

/// Rows that are summed together; the parts are added in their order, whatever the number of threads.
pub(crate) const PART: usize = 16_384;

/// Fits mean and waveform of several channels over the same rows, one sine and cosine a row for all of them.
///
/// # Shape
/// `cycles` and the values and weights of each channel share one length; `rows` are rising indices into them. Rows with
/// weight 0 or a missing value are passed over. One fit per channel, in their order.
/// # Errors
/// `None` for a channel with fewer than four usable rows or without any weight.
#[must_use]
pub fn fit(design: Design, cycles: &[f64], channels: &[Readings<'_>], rows: &[usize]) -> Vec<Option<Fit>> {
    let regression = Regression::new(design, cycles, channels, || rows.iter().copied());
    let parts: Vec<Gathered> =
        rows.par_chunks(PART).map(|part| regression.gather(part.iter().copied())).collect();
    regression.fits(&parts)
}

/// What a regression needs of some rows.
#[derive(Debug)]
pub(crate) struct Gathered(Vec<Sums>);

/// A regression whose rows come part by part.
#[derive(Debug)]
pub(crate) struct Regression<'a> {
    harmonics: usize,
    cycles: &'a [f64],
    /// Channels with a reading, and the level that their sums are taken from: those without stay out, so that they do not
    /// keep the others from sharing their sums.
    heard: Vec<(Readings<'a>, f64)>,
    /// Whether each channel is among them.
    among: Vec<bool>,
}

impl<'a> Regression<'a> {
    /// A regression over some rows of the channels.
    pub(crate) fn new<R: Iterator<Item = usize>>(
        design: Design,
        cycles: &'a [f64],
        channels: &[Readings<'a>],
        rows: impl Fn() -> R,
    ) -> Self {
        let levels: Vec<Option<f64>> = channels.iter().map(|c| level(c, rows())).collect();
        Self {
            harmonics: design.harmonics.min(MOST),
            cycles,
            heard: channels
                .iter()
                .zip(&levels)
                .filter_map(|(c, level)| level.map(|level| (*c, level)))
                .collect(),
            among: levels.iter().map(Option::is_some).collect(),
        }
    }

    /// Sums over one part of the rows.
    pub(crate) fn gather(&self, rows: impl Iterator<Item = usize>) -> Gathered {
        let reach = Reach { waves: 2 * self.harmonics, readings: self.harmonics };
        Gathered(gather(reach, self.cycles, &self.heard, rows))
    }

    /// The fits over all parts together; as [`fit`].
    pub(crate) fn fits(&self, parts: &[Gathered]) -> Vec<Option<Fit>> {
        let mut sums = vec![Sums::NONE; self.heard.len()];
        for part in parts {
            sums.iter_mut().zip(&part.0).for_each(|(sum, part)| sum.add(part));
        }
        let mut fits =
            self.heard.iter().zip(&sums).map(|((c, level), sums)| settle(self.harmonics, *level, c, sums));
        self.among.iter().map(|heard| if *heard { fits.next()? } else { None }).collect()
    }

    /// What the waveforms leave of each channel in one part; as [`rest`].
    pub(crate) fn rest(&self, part: &Gathered, fits: &[Option<Fit>]) -> Vec<(f64, f64, f64)> {
        let mut sums = self.heard.iter().zip(&part.0);
        let mut one = |(fit, heard): (&Option<Fit>, &bool)| {
            let ((_, level), sum) = if *heard { sums.next()? } else { return None };
            let left = sum.xy[0] + level * sum.w - fit.as_ref()?.sum(&sum.cos, &sum.sin);
            Some((sum.w, left, sum.rows as f64))
        };
        fits.iter().zip(&self.among).map(|pair| one(pair).unwrap_or((0.0, 0.0, 0.0))).collect()
    }
}

/// A reading of the channel, from which its sums are taken so that they stay small; `None` without one.
fn level(channel: &Readings<'_>, mut rows: impl Iterator<Item = usize>) -> Option<f64> {
    rows.find(|k| channel.weights[*k] > 0.0 && channel.values[*k].is_finite()).map(|k| channel.values[k])
}

/// The fit that some sums ask for.
fn settle(harmonics: usize, level: f64, channel: &Readings<'_>, sums: &Sums) -> Option<Fit> {
    if sums.rows < 4 || sums.w <= 0.0 {
        return None;
    }
    let width = 2 * harmonics + 1;
    let n = sums.w * sums.w / sums.w2;
    let middle = sums.xy[0] / sums.w;
    let sd_all = (sums.yy / sums.w - middle * middle).max(0.0).sqrt();
    let prior = channel.prior_sd.unwrap_or(std::f64::consts::SQRT_2 * sd_all).max(1e-9);
    let mut noise = sd_all.max(1e-9);
    // A runner's own pulse swings by tens of kPa; a smaller one went through a lag, which takes a further 1/m.
    let fall = 1.5 + 1.0 / (1.0 + (prior / 5.0).powi(4));
    let normal = Normal::new(sums, width);
    let mut best = normal.solve(n, noise, (prior, fall))?;
    for _ in 0..3 {
        noise = best.2.max(0.02 * sd_all).max(1e-9);
        best = normal.solve(n, noise, (prior, fall))?;
    }
    let (beta, variance, residual_sd) = best;
    let waves = (0..harmonics).map(|m| (beta[1 + 2 * m], beta[2 + 2 * m])).collect();
    let alias = (variance - noise * noise / n).max(0.0).sqrt();
    Some(Fit {
        mean: level + beta[0],
        waves,
        residual_sd,
        alias_sd: alias,
        rows: sums.rows,
        effective_rows: n,
    })
}

/// The normal equations of one channel, before noise and prior.
struct Normal<'a> {
    sums: &'a Sums,
    xx: [[f64; SIZE]; SIZE],
    width: usize,
}

/// Sum of the products of two columns of the design, the later one first, from the sums of single waves.
fn product(i: usize, j: usize, cos: &[f64; SIZE], sin: &[f64; SIZE]) -> f64 {
    let (a, b) = (i.div_ceil(2), j.div_ceil(2));
    // Column 0 is the constant, odd ones are cosines, even ones sines.
    match (i == 0 || i % 2 == 1, j == 0 || j % 2 == 1) {
        (true, true) => 0.5 * (cos[a - b] + cos[a + b]),
        (false, false) => 0.5 * (cos[a - b] - cos[a + b]),
        (false, true) => 0.5 * (sin[a + b] + sin[a - b]),
        (true, false) => 0.5 * (sin[a + b] - sin[a - b]),
    }
}

impl<'a> Normal<'a> {
    fn new(sums: &'a Sums, width: usize) -> Self {
        let mut xx = [[0.0; SIZE]; SIZE];
        for (i, row) in xx.iter_mut().enumerate().take(width) {
            for (j, cell) in row.iter_mut().enumerate().take(i + 1) {
                *cell = product(i, j, &sums.cos, &sums.sin);
            }
        }
        Self { sums, xx, width }
    }

    /// Posterior mean, posterior variance of the intercept and residual sd for a given noise level.
    fn solve(&self, n: f64, noise: f64, prior: (f64, f64)) -> Option<(Vec<f64>, f64, f64)> {
        let Self { sums, xx, width } = self;
        let width = *width;
        // Normalise the weights so that they add up to the effective number of rows.
        let scale = n / sums.w;
        let precision = 1.0 / (noise * noise);
        let mut a = OMatrix::<f64, Dyn, Dyn>::zeros(width, width);
        let mut rhs = OVector::<f64, Dyn>::zeros_generic(Dyn(width), Const::<1>);
        for i in 0..width {
            rhs[i] = sums.xy[i] * scale * precision;
            for j in 0..=i {
                let v = xx[i][j] * scale * precision;
                a[(i, j)] = v;
                a[(j, i)] = v;
            }
        }
        for i in 1..width {
            let m = i.div_ceil(2) as f64;
            let sd = prior.0 * m.powf(-prior.1);
            a[(i, i)] += 1.0 / (sd * sd);
        }
        let factor = a.cholesky()?;
        let beta = factor.solve(&rhs);
        let mut unit = OVector::<f64, Dyn>::zeros_generic(Dyn(width), Const::<1>);
        unit[0] = 1.0;
        let variance = factor.solve(&unit)[0];
        let (mut fitted, mut cross) = (0.0, 0.0);
        for i in 0..width {
            cross += beta[i] * sums.xy[i];
            for j in 0..width {
                let v = if i >= j { xx[i][j] } else { xx[j][i] };
                fitted += beta[i] * beta[j] * v;
            }
        }
        let rss = (sums.yy - 2.0 * cross + fitted).max(0.0) / sums.w;
        Some((beta.iter().copied().collect(), variance, rss.sqrt()))
    }
}

#[cfg(test)]
#[path = "harmonics_tests.rs"]
mod tests;
