//! Standard error of a mean of values that hang together.
//!
//! With `d_i = x_i - mean`, `n` values and `g_k = (1/n) sum d_i d_{i+k}`:
//!
//! * naive: `s / sqrt(n)`, right only for independent values;
//! * Newey-West: `sqrt(S / n)`, `S = g_0 + 2 sum_{k=1..L} (1 - k/(L+1)) g_k` (Newey & West, Econometrica 55 (1987)
//!   703-708), by default `L = floor(4 (n/100)^(2/9))`;
//! * batch means: standard deviation of `b` batch means over `sqrt(b)` (Law & Kelton, Simulation Modeling and
//!   Analysis);
//! * moving blocks: exact variance of the bootstrap mean of Kunsch, Ann. Stat. 17 (1989) 1217-1241, no random numbers.
//!
//! Positive autocorrelation makes the naive figure too small. Negative autocorrelation makes Newey-West smaller than
//! naive; [`conservative`] takes the largest.
//!
//! Missing values keep their place, add nothing to any sum, and `n` counts usable values (amplitude modulation, Parzen
//! 1963). A drift in the mean defeats every one of these figures.

use super::autocorr::Deviations;
use super::moments::{mean, moments};

/// Which estimator gave the standard error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum MeanBasis {
    /// Independent values assumed.
    Naive,
    /// Newey-West with the default lag count.
    NeweyWest,
    /// Ten batches.
    Batches,
}

/// Mean with its standard error, the largest of three estimates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanUncertainty {
    /// Usable values.
    pub n: usize,
    /// Mean.
    pub mean: f64,
    /// The largest of the estimates, in the unit of the data.
    pub se: f64,
    /// Estimate that was the largest.
    pub basis: MeanBasis,
    /// Naive standard error.
    pub naive: f64,
    /// Newey-West standard error.
    pub newey_west: f64,
    /// Standard error from ten batches; `None` for fewer than 20 places.
    pub batches: Option<f64>,
}

/// Naive standard error; `None` for fewer than two usable values.
pub fn naive_se(x: &[f64]) -> Option<f64> {
    moments(x).filter(|m| m.n > 1).map(|m| m.sd / (m.n as f64).sqrt())
}

/// Default number of lags for `n` values: `floor(4 (n/100)^(2/9))`, at most `n - 1`.
pub fn default_lags(n: usize) -> usize {
    let lags = (4.0 * (n as f64 / 100.0).powf(2.0 / 9.0)).floor() as usize;
    lags.min(n.saturating_sub(1))
}

/// Newey-West standard error of the mean with `lags` lags; `None` for fewer than two usable values.
pub fn newey_west_se(x: &[f64], lags: usize) -> Option<f64> {
    let dev = Deviations::new(x).filter(|d| d.usable > 1)?;
    let n = dev.usable as f64;
    let lags = lags.min(x.len() - 1);
    let weighted: f64 =
        (1..=lags).map(|k| (1.0 - k as f64 / (lags as f64 + 1.0)) * dev.product(k)).sum::<f64>() * 2.0;
    Some(((dev.product(0) + weighted).max(0.0) / n).sqrt() / n.sqrt())
}

/// Standard error from `batches` equal batches of consecutive places (a rest at the end is left out).
///
/// A batch of which fewer than half of the places are usable is left out; `None` with fewer than two batches left or
/// fewer places than batches.
pub fn batch_means_se(x: &[f64], batches: usize) -> Option<f64> {
    if batches < 2 || x.len() < batches {
        return None;
    }
    let length = x.len() / batches;
    let means: Vec<f64> = x
        .chunks_exact(length)
        .take(batches)
        .filter(|c| 2 * c.iter().filter(|v| v.is_finite()).count() >= length)
        .filter_map(mean)
        .collect();
    naive_se(&means)
}

/// Standard error of the moving-block bootstrap mean for blocks of `length`, in closed form.
///
/// `Var* = (l/n) * mean over all overlapping blocks of (block mean - average block mean)^2`. Missing values are left
/// out beforehand. `None` unless `1 <= length < n`.
pub fn moving_block_se(x: &[f64], length: usize) -> Option<f64> {
    let v: Vec<f64> = x.iter().copied().filter(|a| a.is_finite()).collect();
    if length == 0 || length >= v.len() {
        return None;
    }
    let centre = mean(&v)?;
    let l = length as f64;
    let mut sum: f64 = v[..length].iter().map(|a| a - centre).sum();
    let mut blocks = vec![sum / l];
    for (new, old) in v[length..].iter().zip(&v) {
        sum += new - old;
        blocks.push(sum / l);
    }
    let average = mean(&blocks)?;
    let spread = blocks.iter().map(|b| (b - average).powi(2)).sum::<f64>() / blocks.len() as f64;
    Some((spread * l / v.len() as f64).sqrt())
}

/// Mean with the largest of the naive, Newey-West (default lags) and ten-batch standard errors.
///
/// `None` for fewer than two usable values.
pub fn conservative(x: &[f64]) -> Option<MeanUncertainty> {
    let m = moments(x).filter(|m| m.n > 1)?;
    let naive = m.sd / (m.n as f64).sqrt();
    let newey_west = newey_west_se(x, default_lags(m.n))?;
    let batches = if x.len() >= 20 { batch_means_se(x, 10) } else { None };
    let (mut se, mut basis) = (naive, MeanBasis::Naive);
    if newey_west > se {
        (se, basis) = (newey_west, MeanBasis::NeweyWest);
    }
    if let Some(b) = batches.filter(|b| *b > se) {
        (se, basis) = (b, MeanBasis::Batches);
    }
    Some(MeanUncertainty { n: m.n, mean: m.mean, se, basis, naive, newey_west, batches })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{NILE, ar1, close, close_rel};

    #[test]
    fn nile_against_statsmodels_and_closed_forms() {
        // statsmodels 0.15.0 OLS on a constant: nonrobust, and HAC maxlags 4 without correction.
        close(naive_se(&NILE).unwrap(), 16.922_750_063_1, 1e-9);
        assert_eq!(default_lags(100), 4);
        close(newey_west_se(&NILE, 4).unwrap(), 27.238_484_924_8, 1e-9);
        // Batch means and moving blocks: recomputed with numpy 2.4.6 from the formulas.
        close(batch_means_se(&NILE, 5).unwrap(), 46.676_160_939, 1e-8);
        close(batch_means_se(&NILE, 10).unwrap(), 36.555_343_886_6, 1e-8);
        close(moving_block_se(&NILE, 5).unwrap(), 27.063_677_979_9, 1e-9);
        // The same by random resampling, arch 8.0.0 MovingBlockBootstrap(5, seed 1), 20000 draws: 26.9988 (2 %).
        close_rel(moving_block_se(&NILE, 5).unwrap(), 26.9988, 0.02);
        let c = conservative(&NILE).unwrap();
        assert_eq!((c.basis, c.n), (MeanBasis::Batches, 100));
        close(c.se, 36.555_343_886_6, 1e-8);
    }

    #[test]
    fn newey_west_with_no_lags_is_the_naive_figure_with_n() {
        // Closed form: S = g_0, so se = s_n / sqrt(n).
        close_rel(newey_west_se(&NILE, 0).unwrap(), naive_se(&NILE).unwrap() * 0.99f64.sqrt(), 1e-12);
    }

    #[test]
    fn naive_error_is_too_small_for_an_autoregression() {
        // 200 series of 400 values, phi 0.9, unit shocks: the true error of the mean is known in closed form.
        let (n, phi) = (400usize, 0.9f64);
        let sum: f64 = (1..n).map(|k| (1.0 - k as f64 / n as f64) * phi.powi(k as i32)).sum();
        let truth = ((1.0 + 2.0 * sum) / (1.0 - phi * phi) / n as f64).sqrt();
        let (mut naive_hits, mut careful_hits) = (0, 0);
        for seed in 0..200 {
            let c = conservative(&ar1(n, phi, 1000 + seed)).unwrap();
            naive_hits += usize::from(c.mean.abs() <= 2.0 * c.naive);
            careful_hits += usize::from(c.mean.abs() <= 2.0 * c.se);
            assert!(c.naive < 0.5 * truth, "naive {} truth {truth}", c.naive);
        }
        assert!(naive_hits < 100, "naive intervals held {naive_hits} of 200");
        assert!(careful_hits > 150, "careful intervals held {careful_hits} of 200");
    }

    #[test]
    fn negative_correlation_does_not_shrink_the_careful_figure() {
        // Alternating values: Newey-West claims almost no error at all.
        let x: Vec<f64> = (0..100).map(|i| if i % 2 == 0 { 1.0 } else { -1.0 }).collect();
        let c = conservative(&x).unwrap();
        assert!(c.newey_west < 0.5 * c.naive);
        assert_eq!(c.basis, MeanBasis::Naive);
    }

    #[test]
    fn missing_values_keep_their_place() {
        let mut x = ar1(2000, 0.9, 21);
        let whole = conservative(&x).unwrap();
        for i in (0..x.len()).filter(|i| i % 10 == 3) {
            x[i] = f64::NAN;
        }
        let gappy = conservative(&x).unwrap();
        assert_eq!(gappy.n, 1800);
        close_rel(gappy.newey_west, whole.newey_west, 0.05);
        assert_eq!(conservative(&[1.0, f64::NAN]), None);
        assert_eq!(newey_west_se(&[], 3), None);
        assert_eq!(batch_means_se(&NILE, 1), None);
        assert_eq!(batch_means_se(&NILE[..4], 5), None);
        assert_eq!(moving_block_se(&NILE, 100), None);
        assert_eq!(moving_block_se(&NILE, 0), None);
        assert_eq!(conservative(&NILE[..10]).unwrap().batches, None);
    }
}
