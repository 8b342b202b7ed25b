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

/// Most harmonics that a fit may carry.
pub const MOST: usize = 8;
const SIZE: usize = 2 * MOST + 1;

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
        let (s1, c1) = (std::f64::consts::TAU * cycles.fract()).sin_cos();
        let (mut s, mut c) = (s1, c1);
        let (mut value, mut slope) = (0.0, 0.0);
        for (m, (a, b)) in self.waves.iter().enumerate() {
            value += a * c + b * s;
            slope += (m + 1) as f64 * (b * c - a * s);
            (c, s) = (c * c1 - s * s1, s * c1 + c * s1);
        }
        (value, slope * std::f64::consts::TAU)
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

/// Weighted sums that the regression needs; one pass over the rows.
struct Sums {
    xx: [[f64; SIZE]; SIZE],
    xy: [f64; SIZE],
    yy: f64,
    w: f64,
    w2: f64,
    rows: usize,
}

/// Fits mean and waveform of one channel over some rows.
///
/// # Shape
/// `cycles`, `values` and `weights` share one length; `rows` are indices into them. Rows with weight 0 or a missing
/// value are passed over.
/// # Errors
/// `None` with fewer than four usable rows or without any weight.
#[must_use]
pub fn fit(
    design: Design,
    cycles: &[f64],
    values: &[f64],
    weights: &[f64],
    rows: &[usize],
    prior_sd: Option<f64>,
) -> Option<Fit> {
    let harmonics = design.harmonics.min(MOST);
    let width = 2 * harmonics + 1;
    let centre = weighted_mean(values, weights, rows)?;
    let sums = gather(harmonics, centre, cycles, values, weights, rows);
    if sums.rows < 4 || sums.w <= 0.0 {
        return None;
    }
    let n = sums.w * sums.w / sums.w2;
    let sd_all = (sums.yy / sums.w).max(0.0).sqrt();
    let prior = prior_sd.unwrap_or(std::f64::consts::SQRT_2 * sd_all).max(1e-9);
    let mut noise = sd_all.max(1e-9);
    // A runner's own pulse swings by tens of kPa; a smaller one went through a lag, which takes a further 1/m.
    let fall = 1.5 + 1.0 / (1.0 + (prior / 5.0).powi(4));
    let mut best = solve(&sums, width, n, noise, (prior, fall))?;
    for _ in 0..3 {
        noise = best.2.max(0.02 * sd_all).max(1e-9);
        best = solve(&sums, width, n, noise, (prior, fall))?;
    }
    let (beta, variance, residual_sd) = best;
    let waves = (0..harmonics).map(|m| (beta[1 + 2 * m], beta[2 + 2 * m])).collect();
    let alias = (variance - noise * noise / n).max(0.0).sqrt();
    Some(Fit {
        mean: centre + beta[0],
        waves,
        residual_sd,
        alias_sd: alias,
        rows: sums.rows,
        effective_rows: n,
    })
}

fn weighted_mean(values: &[f64], weights: &[f64], rows: &[usize]) -> Option<f64> {
    let (mut w, mut sum) = (0.0, 0.0);
    for &k in rows {
        if weights[k] > 0.0 && values[k].is_finite() {
            w += weights[k];
            sum += weights[k] * values[k];
        }
    }
    (w > 0.0).then(|| sum / w)
}

fn gather(
    harmonics: usize,
    centre: f64,
    cycles: &[f64],
    values: &[f64],
    weights: &[f64],
    rows: &[usize],
) -> Sums {
    let width = 2 * harmonics + 1;
    let mut sums = Sums { xx: [[0.0; SIZE]; SIZE], xy: [0.0; SIZE], yy: 0.0, w: 0.0, w2: 0.0, rows: 0 };
    let mut x = [0.0; SIZE];
    x[0] = 1.0;
    for &k in rows {
        let (w, y) = (weights[k], values[k] - centre);
        if w <= 0.0 || !y.is_finite() {
            continue;
        }
        let (s1, c1) = (std::f64::consts::TAU * cycles[k].fract()).sin_cos();
        let (mut s, mut c) = (s1, c1);
        for m in 0..harmonics {
            x[1 + 2 * m] = c;
            x[2 + 2 * m] = s;
            (c, s) = (c * c1 - s * s1, s * c1 + c * s1);
        }
        for i in 0..width {
            let wx = w * x[i];
            sums.xy[i] += wx * y;
            for (cell, other) in sums.xx[i][..=i].iter_mut().zip(&x) {
                *cell += wx * other;
            }
        }
        sums.yy += w * y * y;
        sums.w += w;
        sums.w2 += w * w;
        sums.rows += 1;
    }
    sums
}

/// Posterior mean, posterior variance of the intercept and residual sd for a given noise level.
fn solve(sums: &Sums, width: usize, n: f64, noise: f64, prior: (f64, f64)) -> Option<(Vec<f64>, f64, f64)> {
    // Normalise the weights so that they add up to the effective number of rows.
    let scale = n / sums.w;
    let precision = 1.0 / (noise * noise);
    let mut a = OMatrix::<f64, Dyn, Dyn>::zeros(width, width);
    let mut rhs = OVector::<f64, Dyn>::zeros_generic(Dyn(width), Const::<1>);
    for i in 0..width {
        rhs[i] = sums.xy[i] * scale * precision;
        for j in 0..=i {
            let v = sums.xx[i][j] * scale * precision;
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
            let v = if i >= j { sums.xx[i][j] } else { sums.xx[j][i] };
            fitted += beta[i] * beta[j] * v;
        }
    }
    let rss = (sums.yy - 2.0 * cross + fitted).max(0.0) / sums.w;
    Some((beta.iter().copied().collect(), variance, rss.sqrt()))
}
