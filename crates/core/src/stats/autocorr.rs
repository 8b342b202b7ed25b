//! How much a series resembles itself shifted, and how many independent values it is worth.
//!
//! * lag-k autocorrelation (NIST/SEMATECH e-Handbook 1.3.5.12):
//!   `r_k = sum (x_i - m)(x_{i+k} - m) / sum (x_i - m)^2`;
//! * effective number of independent values for the mean (Bayley & Hammersley, J. R. Stat. Soc. Suppl. 8 (1946)
//!   184-197): `n_eff = n / [1 + 2 sum_k (1 - k/n) rho_k]`.
//!
//! The sum over all sample `r_k` is always -1/2, so it must be cut off: here before the first pair
//! `r_{2k} + r_{2k+1}` that is not positive (Geyer, Stat. Sci. 7 (1992) 473-483).
//!
//! Missing values keep their place: a pair with a missing member does not count and the numerator is scaled up by
//! (pairs expected / pairs found), so that gaps do not make the series look more independent than it is.

use super::moments::moments;

/// Deviations from the mean with missing values as 0, and a flag per place.
pub(crate) struct Deviations {
    pub(crate) d: Vec<f64>,
    pub(crate) present: Vec<bool>,
    pub(crate) usable: usize,
}

impl Deviations {
    pub(crate) fn new(x: &[f64]) -> Option<Self> {
        let m = moments(x)?;
        let present: Vec<bool> = x.iter().map(|v| v.is_finite()).collect();
        let d = x.iter().map(|v| if v.is_finite() { v - m.mean } else { 0.0 }).collect();
        Some(Self { d, present, usable: m.n })
    }

    /// Sum of products at `lag`; places with a missing member add 0.
    pub(crate) fn product(&self, lag: usize) -> f64 {
        let ahead = self.d.get(lag..).unwrap_or(&[]);
        self.d.iter().zip(ahead).map(|(a, b)| a * b).sum()
    }

    /// Numerator scale for missing values; 1 for a complete series.
    fn scale(&self, lag: usize) -> f64 {
        let n = self.d.len();
        if self.usable == n {
            return 1.0;
        }
        let ahead = self.present.get(lag..).unwrap_or(&[]);
        let pairs = self.present.iter().zip(ahead).filter(|(a, b)| **a && **b).count();
        let expected = self.usable as f64 * (n - lag) as f64 / n as f64;
        if pairs == 0 { 0.0 } else { expected / pairs as f64 }
    }

    fn autocorrelation(&self, lag: usize) -> f64 {
        (self.product(lag) * self.scale(lag) / self.product(0)).clamp(-1.0, 1.0)
    }
}

/// Autocorrelation at `lag`. `None` if the series is constant, has fewer than two usable values or is not longer
/// than `lag`.
pub fn autocorrelation(x: &[f64], lag: usize) -> Option<f64> {
    let dev = Deviations::new(x)?;
    let usable = dev.usable > 1 && lag < x.len() && dev.product(0) > 0.0;
    usable.then(|| dev.autocorrelation(lag))
}

/// Autocorrelations at lags `0..=max_lag` (shortened to the length of the series); `None` as for one lag.
pub fn autocorrelations(x: &[f64], max_lag: usize) -> Option<Vec<f64>> {
    let dev = Deviations::new(x)?;
    let usable = dev.usable > 1 && dev.product(0) > 0.0;
    usable.then(|| (0..=max_lag.min(x.len() - 1)).map(|k| dev.autocorrelation(k)).collect())
}

/// Effective number of independent values among `n` for given autocorrelations at lags 1, 2, ...
pub fn effective_n(n: usize, rho: &[f64]) -> f64 {
    let n = n as f64;
    let sum: f64 = rho.iter().enumerate().map(|(i, r)| (1.0 - (i + 1) as f64 / n).max(0.0) * r).sum();
    n / (1.0 + 2.0 * sum)
}

/// Effective number for a first-order autoregression with coefficient `rho`: `n (1 - rho) / (1 + rho)`, good for long
/// series.
pub fn effective_n_ar1(n: usize, rho: f64) -> f64 {
    n as f64 * (1.0 - rho) / (1.0 + rho)
}

/// Effective number of independent values of a series, between 1 and the number of usable values.
///
/// Negative autocorrelation would give more than the usable count; the result is then that count, because an estimate
/// of it is too unsure to lean on. `None` for a constant series or fewer than two usable values.
pub fn effective_sample_size(x: &[f64]) -> Option<f64> {
    let dev = Deviations::new(x)?;
    if dev.usable < 2 || dev.product(0) <= 0.0 {
        return None;
    }
    let (n, mut sum, mut k) = (x.len() as f64, 0.0, 0);
    while 2 * k + 1 < x.len() {
        let (even, odd) = (dev.autocorrelation(2 * k), dev.autocorrelation(2 * k + 1));
        if even + odd <= 0.0 {
            break;
        }
        let weigh = |lag: usize, r: f64| (1.0 - lag as f64 / n) * r;
        sum += if k == 0 { 0.0 } else { weigh(2 * k, even) } + weigh(2 * k + 1, odd);
        k += 1;
    }
    Some((dev.usable as f64 / (1.0 + 2.0 * sum)).clamp(1.0, dev.usable as f64))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{NILE, ar1, close, nist_pi_digits, num_acc};

    #[test]
    fn nist_certified_lag_one() {
        // NIST StRD univariate, certified r1: PiDigits -0.00355099287237972, NumAcc1 -0.5, NumAcc2-4 -0.999.
        close(autocorrelation(&nist_pi_digits(), 1).unwrap(), -0.003_550_992_872_379_72, 1e-13);
        close(autocorrelation(&[10_000_001.0, 10_000_003.0, 10_000_002.0], 1).unwrap(), -0.5, 1e-15);
        close(autocorrelation(&num_acc(1.0), 1).unwrap(), -0.999, 1e-12);
        close(autocorrelation(&num_acc(1e6), 1).unwrap(), -0.999, 1e-9);
        close(autocorrelation(&num_acc(1e7), 1).unwrap(), -0.999, 1e-8);
    }

    #[test]
    fn sum_over_all_lags_is_minus_one_half() {
        // Identity: (sum d)^2 = 0 = sum d^2 (1 + 2 sum r_k). A sum over all lags says nothing.
        let r = autocorrelations(&NILE, 99).unwrap();
        assert_eq!(r[0], 1.0);
        close(r[1..].iter().sum::<f64>(), -0.5, 1e-12);
    }

    #[test]
    fn effective_number_of_a_known_autoregression() {
        // Closed form (exact sum with rho^k, asymptotic), recomputed by hand formula.
        for (n, rho, exact, long) in [
            (100, 0.5, 33.783_783_783_8, 33.333_333_333_3),
            (100, 0.9, 5.813_937_327_48, 5.263_157_894_74),
            (1000, 0.9, 53.134_962_805_5, 52.631_578_947_4),
            (50, -0.3, 91.648_590_021_7, 92.857_142_857_1),
        ] {
            let rhos: Vec<f64> = (1..n).map(|k| f64::powi(rho, k)).collect();
            close(effective_n(n as usize, &rhos), exact, 1e-9);
            close(effective_n_ar1(n as usize, rho), long, 1e-9);
        }
    }

    #[test]
    fn effective_number_from_data_finds_the_correlation_the_count_ignores() {
        // AR(1) with phi 0.8: the truth is n/9 for long series (closed form); the naive count is n.
        let x = ar1(20_000, 0.8, 11);
        let n = effective_sample_size(&x).unwrap();
        assert!((n / (20_000.0 / 9.0) - 1.0).abs() < 0.15, "got {n}");
        let white = effective_sample_size(&ar1(20_000, 0.0, 12)).unwrap();
        assert!(white > 0.9 * 20_000.0, "got {white}");
    }

    #[test]
    fn gaps_do_not_hide_the_correlation() {
        let mut x = ar1(20_000, 0.8, 13);
        let whole = autocorrelation(&x, 1).unwrap();
        for i in (0..x.len()).filter(|i| i % 7 < 3) {
            x[i] = f64::NAN;
        }
        close(autocorrelation(&x, 1).unwrap(), whole, 0.02);
        let kept: Vec<f64> = x.iter().copied().filter(|v| v.is_finite()).collect();
        // Dropping the gaps and closing up joins strangers: the correlation comes out too small.
        assert!(autocorrelation(&kept, 1).unwrap() < whole - 0.05);
    }

    #[test]
    fn too_little_to_say() {
        assert_eq!(autocorrelation(&[], 0), None);
        assert_eq!(autocorrelation(&[1.0, 1.0, 1.0], 1), None);
        assert_eq!(autocorrelation(&[1.0, 2.0], 2), None);
        assert_eq!(autocorrelations(&[f64::NAN, 1.0], 1), None);
        assert_eq!(effective_sample_size(&[4.0]), None);
        assert!(autocorrelation(&[1.0, f64::NAN, 2.0], 1).unwrap() == 0.0);
    }
}
