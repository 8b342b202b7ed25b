//! Is a series settled?
//!
//! * R statistic (Cao & Rhinehart, J. Process Control 5 (1995) 363-374): filter `f_i = l1 x_i + (1-l1) f_{i-1}`;
//!   `nu_i = l2 (x_i - f_{i-1})^2 + (1-l2) nu_{i-1}` (old filter value), `d_i = l3 (x_i - x_{i-1})^2 + (1-l3) d_{i-1}`,
//!   `R = (2 - l1) nu / d`: about 1 when settled, larger when moving. Only for values that do not hang together: a
//!   lag-one correlation of 0.3 already raises the false alarms from 5 % to 34 %.
//! * von Neumann ratio (Ann. Math. Stat. 12 (1941) 367-395): `sum (x_{i+1} - x_i)^2 / sum (x_i - mean)^2`, mean 2,
//!   variance `4(n-2)/(n^2-1)` for independent normal values; small for trend or drift;
//! * its rank form (Bartels, JASA 77 (1982) 40-46), for any distribution.
//!
//! R has no scale: a noisy, hunting series also gives 1. It never suffices alone; add limits on slope and scatter.

use super::dist::{beta_cdf, normal_cdf};
use super::linear::{SimpleFit, simple_regression};
use super::moments::moments;

/// Filter factors of the R statistic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RFactors {
    /// Filter of the level.
    pub level: f64,
    /// Filter of the variance about the level.
    pub variance: f64,
    /// Filter of the variance of the differences.
    pub difference: f64,
}

impl Default for RFactors {
    /// The usual factors 0.2, 0.1, 0.1.
    fn default() -> Self {
        Self { level: 0.2, variance: 0.1, difference: 0.1 }
    }
}

/// Value that R exceeds in 5 % of settled samples with the usual factors (1.44 from memory of the 1997 paper by the
/// same authors; Monte Carlo with 1e7 samples gives 1.437).
pub const R_CRITICAL_5_PERCENT: f64 = 1.437;

/// Value that R exceeds in 1 % of settled samples with the usual factors (Monte Carlo, standard error 0.002).
pub const R_CRITICAL_1_PERCENT: f64 = 1.728;

/// R statistic of every sample; NaN at the first usable sample, at missing samples and where the differences are all 0.
///
/// A missing sample is skipped: the next difference is taken from the last usable one. Factors outside 0..1 give NaN
/// throughout. The first `3 / min(factor)` values are start-up and mean nothing.
pub fn r_statistic(x: &[f64], factors: RFactors) -> Vec<f64> {
    let RFactors { level, variance, difference } = factors;
    let allowed = [level, variance, difference].iter().all(|l| *l > 0.0 && *l <= 1.0);
    // Filter value, variance about it, variance of the differences, last sample.
    let mut state: Option<(f64, f64, f64, f64)> = None;
    x.iter()
        .map(|&v| {
            if !allowed || !v.is_finite() {
                return f64::NAN;
            }
            let Some((f, nu, d, before)) = state else {
                state = Some((v, 0.0, 0.0, v));
                return f64::NAN;
            };
            let nu = variance * (v - f).powi(2) + (1.0 - variance) * nu;
            let d = difference * (v - before).powi(2) + (1.0 - difference) * d;
            state = Some((level * v + (1.0 - level) * f, nu, d, v));
            if d > 0.0 { (2.0 - level) * nu / d } else { f64::NAN }
        })
        .collect()
}

/// Regression line over the `window` samples ending at each sample.
///
/// # Shape
/// As long as the shorter of `t` and `x`; `None` where fewer than `window` samples lie behind, or fewer than three of
/// them are usable, or all times are equal.
pub fn rolling_line(t: &[f64], x: &[f64], window: usize) -> Vec<Option<SimpleFit>> {
    (0..t.len().min(x.len()))
        .map(|i| {
            let start = (i + 1).checked_sub(window.max(1))?;
            simple_regression(&t[start..=i], &x[start..=i]).ok()
        })
        .collect()
}

/// Ratio of successive differences with its test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VonNeumann {
    /// Usable values.
    pub n: usize,
    /// The ratio: about 2 without trend, near 0 with.
    pub ratio: f64,
    /// Distance from 2 in standard deviations; negative for trend or positive correlation.
    pub z: f64,
    /// One-sided probability of a ratio this small or smaller in a random series.
    pub p: f64,
}

/// von Neumann ratio of the usable values in their order; p by the normal approximation (fair at 5 %, poor at 1 % for
/// n about 20). `None` for fewer than four values or a constant series.
pub fn von_neumann(x: &[f64]) -> Option<VonNeumann> {
    let v = super::robust::finite(x);
    let n = v.len() as f64;
    let ratio = successive_ratio(&v).filter(|_| v.len() >= 4)?;
    let z = (ratio - 2.0) / (4.0 * (n - 2.0) / (n * n - 1.0)).sqrt();
    Some(VonNeumann { n: v.len(), ratio, z, p: normal_cdf(z) })
}

/// Rank version of the von Neumann ratio (ties share their mean rank); p by the beta approximation on 0..4.
///
/// `None` for fewer than four values or a constant series.
pub fn bartels_rank(x: &[f64]) -> Option<VonNeumann> {
    let v = super::robust::finite(x);
    let ratio = successive_ratio(&mean_ranks(&v)).filter(|_| v.len() >= 4)?;
    let n = v.len() as f64;
    let core = 5.0 * n * (n + 1.0) * (n - 1.0).powi(2);
    let shape = 5.0 * n * n - 2.0 * n - 9.0;
    let z = (ratio - 2.0) / (4.0 * (n - 2.0) * shape / core).sqrt();
    let a = core / (2.0 * (n - 2.0) * shape) - 0.5;
    Some(VonNeumann { n: v.len(), ratio, z, p: beta_cdf(ratio / 4.0, a, a) })
}

fn successive_ratio(v: &[f64]) -> Option<f64> {
    let m = moments(v).filter(|m| m.sd > 0.0)?;
    let steps: f64 = v.windows(2).map(|w| (w[1] - w[0]).powi(2)).sum();
    Some(steps / (m.sd * m.sd * (m.n as f64 - 1.0)))
}

/// Ranks from 1; equal values share the mean of their ranks. All values must be finite.
pub(crate) fn mean_ranks(v: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..v.len()).collect();
    order.sort_by(|&a, &b| v[a].total_cmp(&v[b]));
    let mut ranks = vec![0.0; v.len()];
    let mut start = 0;
    while start < order.len() {
        let end = (start..order.len()).find(|&k| v[order[k]] != v[order[start]]).unwrap_or(order.len());
        for &i in &order[start..end] {
            ranks[i] = (start + end + 1) as f64 / 2.0;
        }
        start = end;
    }
    ranks
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{NILE, ar1, close};

    const X: [f64; 12] = [30.0, 30.4, 29.7, 30.1, 30.6, 29.9, 31.0, 31.9, 33.2, 34.1, 35.0, 35.2];

    #[test]
    fn r_statistic_by_hand() {
        // The recursion evaluated step by step with numpy 2.4.6; the second value, 1.8 = (2 - l1) l2/l3, by hand.
        let want = [
            1.8,
            0.818_801_261_83,
            0.662_191_075_828,
            1.139_645_582_56,
            0.790_707_988_362,
            1.013_265_690_7,
            2.347_492_337_71,
            4.235_958_811_17,
            6.895_293_414_18,
            9.628_603_176_33,
            12.676_340_397_6,
        ];
        let r = r_statistic(&X, RFactors::default());
        assert!(r[0].is_nan());
        r[1..].iter().zip(want).for_each(|(g, w)| close(*g, w, 1e-9));
    }

    fn share_above(x: &[f64]) -> f64 {
        let r = r_statistic(x, RFactors::default());
        r[60..].iter().filter(|v| **v > R_CRITICAL_5_PERCENT).count() as f64 / (r.len() - 60) as f64
    }

    #[test]
    fn critical_value_holds_for_independent_values_only() {
        // Cao & Rhinehart: 1.44 at 5 % (from memory). Correlated noise: 67 % above for phi 0.5 (Monte Carlo).
        let white = share_above(&ar1(40_000, 0.0, 31));
        assert!((0.04..0.06).contains(&white), "{white}");
        let correlated = share_above(&ar1(40_000, 0.5, 32));
        assert!((correlated - 0.67).abs() < 0.03, "raw correlated samples: {correlated}");
    }

    #[test]
    fn r_is_blind_to_a_loud_but_level_series() {
        let loud: Vec<f64> = ar1(500, 0.0, 6).iter().map(|e| 30.0 + 20.0 * e).collect();
        let r = r_statistic(&loud, RFactors::default());
        let mean = r[60..].iter().sum::<f64>() / 440.0;
        assert!((0.9..1.2).contains(&mean), "R {mean} although the series swings by 20");
        assert!(moments(&loud).unwrap().sd > 15.0);
    }

    #[test]
    fn von_neumann_values() {
        // numpy 2.4.6 from the definition: Nile 0.97763765619, the rising series 0.146519629466.
        close(von_neumann(&NILE).unwrap().ratio, 0.977_637_656_19, 1e-10);
        close(von_neumann(&X).unwrap().ratio, 0.146_519_629_466, 1e-11);
        // Lower 5 % point of the ratio, n = 100, as tabled in the R package climtrends: 1.67.
        let n = 100f64;
        let five_percent = 2.0 - 1.645 * (4.0 * (n - 2.0) / (n * n - 1.0)).sqrt();
        close(five_percent, 1.67, 5e-3);
        assert!(von_neumann(&NILE).unwrap().p < 1e-6);
    }

    #[test]
    fn bartels_published() {
        // Gibbons & Chakraborti 2003, example 5.1 (tourists), as documented in the R package DescTools: z -3.6453,
        // p 1.21e-08.
        let tourists = [
            12362., 12739., 13057., 13955., 14123., 15698., 17523., 18610., 19842., 20310., 22500., 23080.,
            21916.,
        ];
        let b = bartels_rank(&tourists).unwrap();
        close(b.z, -3.6453, 5e-5);
        close(b.p, 1.21e-8, 5e-11);
        // Stock data of Bartels 1982 (from memory), recomputed with scipy 1.17.1.
        let stock = [528., 348., 264., -20., -167., 575., 410., -4., 430., -122.];
        let b = bartels_rank(&stock).unwrap();
        close(b.ratio, 2.048_484_848_48, 1e-10);
        close(b.z, 0.083_357_456_458_3, 1e-10);
    }

    #[test]
    fn one_wild_value_fools_the_plain_ratio() {
        // A steady climb with one wild value: the plain ratio sees its two large steps, the ranks see the climb.
        let mut x: Vec<f64> = (0..30).map(f64::from).collect();
        x[14] = 2000.0;
        assert!(von_neumann(&x).unwrap().p > 0.3);
        assert!(bartels_rank(&x).unwrap().p < 1e-6);
    }

    #[test]
    fn rolling_lines() {
        let t: Vec<f64> = (0..12).map(f64::from).collect();
        let lines = rolling_line(&t, &X, 6);
        assert!(lines[..5].iter().all(Option::is_none));
        // scipy 1.17.1 linregress of the first six, times 0 to 5: slope 0.0142857142857.
        close(lines[5].unwrap().slope, 0.014_285_714_285_7, 1e-12);
        assert!(lines[11].unwrap().slope > 0.8);
        assert!(rolling_line(&t, &X, 2).iter().all(Option::is_none));
    }

    #[test]
    fn ties_gaps_and_edges() {
        assert_eq!(mean_ranks(&[3.0, 1.0, 3.0, 2.0]), vec![3.5, 1.0, 3.5, 2.0]);
        assert_eq!(von_neumann(&[1.0, 2.0, f64::NAN, 3.0]), None);
        assert_eq!(bartels_rank(&[2.0; 9]), None);
        let mut gappy = X.to_vec();
        gappy.insert(3, f64::NAN);
        let (with, without) =
            (r_statistic(&gappy, RFactors::default()), r_statistic(&X, RFactors::default()));
        assert!(with[3].is_nan());
        assert_eq!(with[12], without[11]);
        let wrong = RFactors { level: 0.0, ..RFactors::default() };
        assert!(r_statistic(&X, wrong).iter().all(|v| v.is_nan()));
        assert!(r_statistic(&[5.0; 4], RFactors::default()).iter().all(|v| v.is_nan()));
    }
}
