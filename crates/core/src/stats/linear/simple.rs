//! Straight line through points by least squares.
//!
//! `b = Sxy/Sxx`, `a = my - b mx`, `s^2 = RSS/(n-2)`, `se(b) = s/sqrt(Sxx)`, `se(a) = s sqrt(1/n + mx^2/Sxx)`, sums about
//! the means (any regression text; certified values NIST StRD). Points with a missing coordinate are left out.
//!
//! A slope that is not significant does not show that the series is level: use the interval against a drift limit.

use super::design::same_length;
use crate::stats::dist::{student_quantile, student_two_sided};
use crate::stats::error::StatsError;

/// Least-squares line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimpleFit {
    /// Points used.
    pub n: usize,
    /// Value at `x = 0`.
    pub intercept: f64,
    /// Standard error of the intercept.
    pub intercept_se: f64,
    /// Change of `y` per unit of `x`.
    pub slope: f64,
    /// Standard error of the slope, for independent residuals.
    pub slope_se: f64,
    /// Residual standard deviation with `n - 2`.
    pub residual_sd: f64,
    /// Share of the variance explained; NaN if `y` is constant.
    pub r2: f64,
    /// `slope / slope_se`.
    pub t: f64,
    /// Two-sided p of `t` with `n - 2` degrees of freedom.
    pub p: f64,
}

impl SimpleFit {
    /// Value of the line at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// Two-sided interval of the slope at `confidence` (0 to 1).
    pub fn slope_interval(&self, confidence: f64) -> (f64, f64) {
        let half = student_quantile(0.5 + confidence / 2.0, self.n as f64 - 2.0) * self.slope_se;
        (self.slope - half, self.slope + half)
    }

    /// Whether the change over `span` is shown to stay within `+-limit` (two one-sided tests at level `alpha`).
    ///
    /// `n_effective` replaces `n` when the residuals hang together (then the standard error grows by
    /// `sqrt((n-2)/(n_eff-2))`).
    pub fn level_within(&self, span: f64, limit: f64, alpha: f64, n_effective: Option<f64>) -> bool {
        let df = n_effective.unwrap_or(self.n as f64).min(self.n as f64) - 2.0;
        if !(df > 0.0 && limit >= 0.0) {
            return false;
        }
        let se = self.slope_se * ((self.n as f64 - 2.0) / df).sqrt();
        let half = student_quantile(1.0 - alpha, df) * se;
        (self.slope.abs() + half) * span.abs() <= limit
    }
}

/// Fits `y = a + b x`.
///
/// # Errors
/// `LengthMismatch`; `TooFew` for fewer than three complete points; `NoSpread` if all `x` are equal.
pub fn simple_regression(x: &[f64], y: &[f64]) -> Result<SimpleFit, StatsError> {
    same_length("x and y", x.len(), y.len())?;
    let points = || x.iter().zip(y).filter(|(a, b)| a.is_finite() && b.is_finite());
    let count = points().count();
    if count < 3 {
        return Err(StatsError::TooFew { method: "regression line", needed: 3, found: count });
    }
    let n = count as f64;
    let (sx, sy) = points().fold((0.0, 0.0), |(p, q), (a, b)| (p + a, q + b));
    let (mx, my) = (sx / n, sy / n);
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    let (mut rx, mut ry) = (0.0, 0.0);
    for (a, b) in points() {
        let (dx, dy) = (a - mx, b - my);
        sxx += dx * dx;
        sxy += dx * dy;
        syy += dy * dy;
        rx += dx;
        ry += dy;
    }
    // Rounding left in the means.
    sxx -= rx * rx / n;
    sxy -= rx * ry / n;
    syy -= ry * ry / n;
    let (mx, my) = (mx + rx / n, my + ry / n);
    if sxx <= 0.0 || !sxx.is_finite() {
        return Err(StatsError::NoSpread { what: "x" });
    }
    let slope = sxy / sxx;
    let rss: f64 = points().map(|(a, b)| ((b - my) - slope * (a - mx)).powi(2)).sum();
    let residual_sd = (rss / (n - 2.0)).sqrt();
    let slope_se = residual_sd / sxx.sqrt();
    let t = slope / slope_se;
    Ok(SimpleFit {
        n: count,
        intercept: my - slope * mx,
        intercept_se: residual_sd * (1.0 / n + mx * mx / sxx).sqrt(),
        slope,
        slope_se,
        residual_sd,
        r2: if syy > 0.0 { 1.0 - rss / syy } else { f64::NAN },
        t,
        p: student_two_sided(t, n - 2.0),
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{ar1, close, close_rel};

    const X: [f64; 12] = [30.0, 30.4, 29.7, 30.1, 30.6, 29.9, 31.0, 31.9, 33.2, 34.1, 35.0, 35.2];

    #[test]
    fn against_scipy_linregress() {
        // scipy 1.17.1 stats.linregress, t = 0, 0.5 .. 5.5.
        let t: Vec<f64> = (0..12).map(|i| 0.5 * f64::from(i)).collect();
        let f = simple_regression(&t, &X).unwrap();
        close_rel(f.slope, 1.048_251_748_25, 1e-11);
        close_rel(f.slope_se, 0.149_085_158_008, 1e-11);
        close_rel(f.t, 7.031_228_072_99, 1e-11);
        close_rel(f.p, 3.578_457_23e-5, 1e-8);
        let f = simple_regression(&t[..6], &X[..6]).unwrap();
        close_rel(f.slope, 0.028_571_428_571_4, 1e-10);
        close_rel(f.slope_se, 0.176_434_836_981, 1e-11);
        close_rel(f.p, 0.879_205_821, 1e-8);
    }

    #[test]
    fn an_insignificant_slope_is_not_a_level_series() {
        // First six points: p 0.88, but the slope could be half a unit per second either way.
        let t: Vec<f64> = (0..6).map(|i| 0.5 * f64::from(i)).collect();
        let f = simple_regression(&t, &X[..6]).unwrap();
        assert!(f.p > 0.8 && !f.level_within(2.5, 0.5, 0.05, None));
        assert!(f.level_within(2.5, 5.0, 0.05, None));
        assert!(!f.level_within(2.5, 5.0, 0.05, Some(2.0)), "nothing left to judge with");
    }

    #[test]
    fn an_outlier_pulls_the_line() {
        // Helsel & Hirsch, chapter 10: 1 2 3 4 5 16 7 against 1..7; robust slope 1, least squares 1.714286 (from memory,
        // arithmetic redone: 48/28).
        let x: Vec<f64> = (1..8).map(f64::from).collect();
        let f = simple_regression(&x, &[1.0, 2.0, 3.0, 4.0, 5.0, 16.0, 7.0]).unwrap();
        close(f.slope, 48.0 / 28.0, 1e-12);
    }

    #[test]
    fn a_far_offset_keeps_its_digits() {
        // Exact line with x near 1e9: sums of squares about 0 would lose the slope altogether.
        let x: Vec<f64> = (0..50).map(|i| 1e9 + f64::from(i)).collect();
        let y: Vec<f64> = x.iter().map(|v| 3.0 + 0.5 * (v - 1e9)).collect();
        let f = simple_regression(&x, &y).unwrap();
        close(f.slope, 0.5, 1e-12);
        let n = 50.0;
        let (sx, sxx) = x.iter().fold((0.0, 0.0), |(s, q), v| (s + v, q + v * v));
        let naive_sxx = sxx - sx * sx / n;
        assert!(
            (naive_sxx / (n * (n * n - 1.0) / 12.0) - 1.0).abs() > 0.01,
            "naive sum of squares {naive_sxx}"
        );
    }

    #[test]
    fn slope_interval_holds_as_often_as_it_says() {
        let t: Vec<f64> = (0..30).map(f64::from).collect();
        let hits = (0..400)
            .filter(|s| {
                let y: Vec<f64> = ar1(30, 0.0, 500 + s).iter().zip(&t).map(|(e, x)| e + 0.2 * x).collect();
                let (low, high) = simple_regression(&t, &y).unwrap().slope_interval(0.9);
                (low..=high).contains(&0.2)
            })
            .count();
        assert!((330..390).contains(&hits), "90 % interval held {hits} of 400");
    }

    #[test]
    fn gaps_and_refusals() {
        let f = simple_regression(&[0.0, 1.0, f64::NAN, 2.0, 3.0], &[0.0, 1.0, 9.0, 2.0, f64::NAN]).unwrap();
        assert_eq!((f.n, f.slope), (3, 1.0));
        assert!(simple_regression(&[1.0, 1.0, 1.0], &[1.0, 2.0, 3.0]).is_err());
        assert!(simple_regression(&[1.0, 2.0], &[1.0, 2.0]).is_err());
        assert!(simple_regression(&[1.0], &[1.0, 2.0]).is_err());
        let flat = simple_regression(&[1.0, 2.0, 3.0], &[5.0, 5.0, 5.0]).unwrap();
        assert!(flat.slope == 0.0 && flat.r2.is_nan());
    }
}
