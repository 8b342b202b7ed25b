//! Mean and standard deviation that survive large offsets.
//!
//! * two passes over stored values: mean from a compensated sum (Neumaier, Z. Angew. Math. Mech. 54 (1974) 39-51), then
//!   `s^2 = [sum d^2 - (sum d)^2 / n] / (n - 1)`, `d = x - mean` (Chan, Golub & LeVeque, Am. Stat. 37 (1983) 242-247);
//! * one pass over a stream: Welford, Technometrics 4 (1962) 419-420; parts merged by the rule of Chan et al.
//!
//! The textbook short cut `sum x^2 - (sum x)^2 / n` loses all digits when the mean is large against the scatter and can
//! come out negative: it is not used. Missing values are left out and counted.

/// Count, mean and standard deviation of the usable values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moments {
    /// Usable values.
    pub n: usize,
    /// Missing values left out.
    pub missing: usize,
    /// Mean, in the unit of the data.
    pub mean: f64,
    /// Standard deviation with `n - 1`; NaN for a single value.
    pub sd: f64,
}

/// Sum of the usable values with the rounding errors carried along.
pub fn compensated_sum(x: &[f64]) -> f64 {
    compensated(x.iter().copied().filter(|v| v.is_finite()))
}

fn compensated(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut lost) = (0.0f64, 0.0f64);
    for v in values {
        let next = sum + v;
        lost += if sum.abs() >= v.abs() { (sum - next) + v } else { (v - next) + sum };
        sum = next;
    }
    if lost.is_finite() { sum + lost } else { sum }
}

/// Moments of the usable values in two passes; `None` without usable values.
pub fn moments(x: &[f64]) -> Option<Moments> {
    let n = x.iter().filter(|v| v.is_finite()).count();
    if n == 0 {
        return None;
    }
    let mean = compensated_sum(x) / n as f64;
    let (mut square, mut drift) = (0.0, 0.0);
    for v in x.iter().filter(|v| v.is_finite()) {
        let d = v - mean;
        square += d * d;
        drift += d;
    }
    let variance = (square - drift * drift / n as f64) / (n as f64 - 1.0);
    let sd = if n > 1 { variance.max(0.0).sqrt() } else { f64::NAN };
    Some(Moments { n, missing: x.len() - n, mean, sd })
}

/// Mean of the usable values.
pub fn mean(x: &[f64]) -> Option<f64> {
    moments(x).map(|m| m.mean)
}

/// Standard deviation (`n - 1`) of the usable values; `None` for fewer than two.
pub fn sd(x: &[f64]) -> Option<f64> {
    moments(x).filter(|m| m.n > 1).map(|m| m.sd)
}

/// Weighted mean of the pairs whose value and weight are usable; `None` if the lengths differ, a weight is negative or
/// the weights sum to 0.
pub fn weighted_mean(x: &[f64], weights: &[f64]) -> Option<f64> {
    if x.len() != weights.len() || weights.iter().any(|w| *w < 0.0) {
        return None;
    }
    let usable = || x.iter().zip(weights).filter(|(v, w)| v.is_finite() && w.is_finite());
    let total = compensated(usable().map(|(_, w)| *w));
    (total > 0.0).then(|| compensated(usable().map(|(v, w)| v * w)) / total)
}

/// Moments of a stream, one value at a time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct RunningMoments {
    n: usize,
    missing: usize,
    mean: f64,
    square: f64,
}

impl RunningMoments {
    /// Nothing seen yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes one value in; a missing one is only counted.
    pub fn push(&mut self, v: f64) {
        if !v.is_finite() {
            self.missing += 1;
            return;
        }
        self.n += 1;
        let d = v - self.mean;
        self.mean += d / self.n as f64;
        self.square += d * (v - self.mean);
    }

    /// Joins the moments of another part of the same data.
    pub fn merge(&mut self, other: &Self) {
        self.missing += other.missing;
        if other.n == 0 {
            return;
        }
        let n = (self.n + other.n) as f64;
        let d = other.mean - self.mean;
        self.square += other.square + d * d * (self.n as f64 * other.n as f64 / n);
        self.mean += d * other.n as f64 / n;
        self.n += other.n;
    }

    /// What was seen so far; `None` without usable values.
    pub fn moments(&self) -> Option<Moments> {
        let sd = if self.n > 1 { (self.square / (self.n as f64 - 1.0)).max(0.0).sqrt() } else { f64::NAN };
        (self.n > 0).then_some(Moments { n: self.n, missing: self.missing, mean: self.mean, sd })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{NILE, close, close_rel, nist_pi_digits, noise, num_acc};

    /// The short cut this module avoids.
    fn one_pass_variance(x: &[f64]) -> f64 {
        let n = x.len() as f64;
        let (s, q) = x.iter().fold((0.0, 0.0), |(s, q), v| (s + v, q + v * v));
        (q - s * s / n) / (n - 1.0)
    }

    fn streamed(x: &[f64]) -> Moments {
        let mut r = RunningMoments::new();
        x.iter().for_each(|v| r.push(*v));
        r.moments().unwrap()
    }

    #[test]
    fn nist_numacc_certified() {
        // NIST StRD univariate, certified values: mean base + 0.2, s 0.1 (NumAcc1: 10000002 and 1).
        let m = moments(&[10_000_001.0, 10_000_003.0, 10_000_002.0]).unwrap();
        assert_eq!((m.n, m.mean, m.sd), (3, 10_000_002.0, 1.0));
        for (base, tol) in [(1.0, 1e-12), (1e6, 1e-9), (1e7, 1e-8)] {
            let x = num_acc(base);
            for m in [moments(&x).unwrap(), streamed(&x)] {
                close_rel(m.mean, base + 0.2, 1e-14);
                close_rel(m.sd, 0.1, tol);
            }
        }
    }

    #[test]
    fn nist_pidigits_certified() {
        // NIST StRD univariate PiDigits: mean 4.53480000000000, s 2.86733906028871.
        let m = moments(&nist_pi_digits()).unwrap();
        assert_eq!(m.n, 5000);
        close_rel(m.mean, 4.5348, 1e-14);
        close_rel(m.sd, 2.867_339_060_288_71, 1e-13);
    }

    #[test]
    fn one_pass_variance_fails_where_this_holds() {
        // True variance 0.01 in both sets.
        assert!((one_pass_variance(&num_acc(1e6)) / 0.01 - 1.0).abs() > 0.005);
        assert!(one_pass_variance(&num_acc(1e7)) < 0.0, "the short cut gives a negative variance");
    }

    #[test]
    fn nile_mean_and_standard_error() {
        // statsmodels 0.15.0 on datasets.nile: standard error 16.9227500631; sum of the column 91935.
        let m = moments(&NILE).unwrap();
        close(m.mean, 919.35, 1e-12);
        close(m.sd / 10.0, 16.922_750_063_1, 1e-9);
    }

    #[test]
    fn merging_parts_equals_the_whole() {
        let mut x: Vec<f64> = noise(301, 5).iter().map(|v| v + 1e6).collect();
        x[7] = f64::NAN;
        let (mut a, mut b) = (RunningMoments::new(), RunningMoments::new());
        x[..100].iter().for_each(|v| a.push(*v));
        x[100..].iter().for_each(|v| b.push(*v));
        a.merge(&b);
        a.merge(&RunningMoments::new());
        let (joined, whole) = (a.moments().unwrap(), moments(&x).unwrap());
        assert_eq!((joined.n, joined.missing), (300, 1));
        close_rel(joined.mean, whole.mean, 1e-15);
        close_rel(joined.sd, whole.sd, 1e-10);
    }

    #[test]
    fn empty_missing_and_single() {
        assert_eq!(moments(&[]), None);
        assert_eq!(mean(&[f64::NAN]), None);
        assert_eq!(sd(&[3.0, f64::NAN]), None);
        assert!(moments(&[3.0]).unwrap().sd.is_nan());
        assert_eq!(mean(&[f64::NAN, 2.0, 4.0]), Some(3.0));
        assert_eq!(RunningMoments::new().moments(), None);
        assert_eq!(weighted_mean(&[1.0, 3.0, f64::NAN], &[1.0, 3.0, 9.0]), Some(2.5));
        assert_eq!(weighted_mean(&[1.0], &[1.0, 2.0]), None);
        assert_eq!(weighted_mean(&[1.0], &[0.0]), None);
        assert_eq!(weighted_mean(&[1.0], &[-1.0]), None);
    }
}
