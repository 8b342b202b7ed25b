//! Shown to be equal, rather than not shown to be different: two one-sided t-tests.
//!
//! `t_lower = (d - low)/se`, `t_upper = (d - high)/se`; equivalent at level `alpha` when both one-sided tests reject,
//! which is the same as the `1 - 2 alpha` interval of `d` lying inside `low..high` (Schuirmann, J. Pharmacokinet.
//! Biopharm. 15 (1987) 657-680). The bounds must be fixed before looking at the data. "Not significantly different" is
//! not "equal": a noisy measurement is never significantly different.
//!
//! Missing values are left out before the summaries are made; values must be independent, or `se` and `df` corrected.

use super::dist::{student_quantile, student_sf};
use super::error::StatsError;
use super::moments::Moments;

/// A difference with its standard error and degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// First minus second, in the unit of the data.
    pub d: f64,
    /// Standard error.
    pub se: f64,
    /// Degrees of freedom, not necessarily whole.
    pub df: f64,
}

impl Difference {
    /// Unequal variances: Welch, Biometrika 34 (1947) 28-35.
    ///
    /// # Errors
    /// `TooFew` for fewer than two values in either group.
    pub fn welch(a: &Moments, b: &Moments) -> Result<Self, StatsError> {
        at_least_two(a, b)?;
        let (va, vb) = (a.sd * a.sd / a.n as f64, b.sd * b.sd / b.n as f64);
        let df = (va + vb).powi(2) / (va * va / (a.n as f64 - 1.0) + vb * vb / (b.n as f64 - 1.0));
        Ok(Self { d: a.mean - b.mean, se: (va + vb).sqrt(), df })
    }

    /// Equal variances, pooled.
    ///
    /// # Errors
    /// `TooFew` for fewer than two values in either group.
    pub fn pooled(a: &Moments, b: &Moments) -> Result<Self, StatsError> {
        at_least_two(a, b)?;
        let (na, nb) = (a.n as f64, b.n as f64);
        let df = na + nb - 2.0;
        let variance = ((na - 1.0) * a.sd * a.sd + (nb - 1.0) * b.sd * b.sd) / df;
        Ok(Self { d: a.mean - b.mean, se: (variance * (1.0 / na + 1.0 / nb)).sqrt(), df })
    }

    /// From the moments of paired differences.
    ///
    /// # Errors
    /// `TooFew` for fewer than two differences.
    pub fn paired(differences: &Moments) -> Result<Self, StatsError> {
        at_least_two(differences, differences)?;
        let n = differences.n as f64;
        Ok(Self { d: differences.mean, se: differences.sd / n.sqrt(), df: n - 1.0 })
    }
}

fn at_least_two(a: &Moments, b: &Moments) -> Result<(), StatsError> {
    let found = a.n.min(b.n);
    if found < 2 {
        return Err(StatsError::TooFew { method: "difference of means", needed: 2, found });
    }
    Ok(())
}

/// Result of the two one-sided tests.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Equivalence {
    /// Test against the lower bound and its one-sided p.
    pub lower: (f64, f64),
    /// Test against the upper bound and its one-sided p.
    pub upper: (f64, f64),
    /// The larger of the two p.
    pub p: f64,
    /// Ends of the `1 - 2 alpha` interval of the difference.
    pub interval: (f64, f64),
    /// Shown to be equivalent at `alpha`.
    pub equivalent: bool,
}

/// Tests whether a difference lies inside `low..high` at level `alpha` (0 to 0.5).
///
/// # Errors
/// `Parameter` for bounds out of order, a level out of range or a missing number; `NoSpread` for a zero standard error.
pub fn two_one_sided(x: Difference, low: f64, high: f64, alpha: f64) -> Result<Equivalence, StatsError> {
    if !(low < high && low.is_finite() && high.is_finite()) {
        return Err(StatsError::Parameter { name: "low", value: low, rule: "must be below the upper bound" });
    }
    if !(alpha > 0.0 && alpha < 0.5) {
        return Err(StatsError::Parameter {
            name: "alpha",
            value: alpha,
            rule: "must lie between 0 and 0.5",
        });
    }
    if !(x.d.is_finite() && x.se.is_finite() && x.df > 0.0) {
        return Err(StatsError::Parameter {
            name: "d",
            value: x.d,
            rule: "difference, error and df must be known",
        });
    }
    if x.se <= 0.0 {
        return Err(StatsError::NoSpread { what: "the difference" });
    }
    let (t_low, t_high) = ((x.d - low) / x.se, (x.d - high) / x.se);
    let (p_low, p_high) = (student_sf(t_low, x.df), student_sf(-t_high, x.df));
    let half = student_quantile(1.0 - alpha, x.df) * x.se;
    let p = p_low.max(p_high);
    Ok(Equivalence {
        lower: (t_low, p_low),
        upper: (t_high, p_high),
        p,
        interval: (x.d - half, x.d + half),
        equivalent: p <= alpha,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::dist::student_two_sided;
    use crate::stats::fixtures::{close, close_rel};
    use crate::stats::moments::moments;

    fn summary(n: usize, mean: f64, sd: f64) -> Moments {
        Moments { n, missing: 0, mean, sd }
    }

    #[test]
    fn summary_data_of_the_toster_tests() {
        // Published in the tests of the R package TOSTER (as kept on CRAN): bounds +-0.384, Welch.
        let (a, b) = (summary(95, 5.25, 0.95), summary(89, 5.22, 0.83));
        let d = Difference::welch(&a, &b).unwrap();
        close_rel(d.df, 181.1344, 1e-6);
        let e = two_one_sided(d, -0.384, 0.384, 0.05).unwrap();
        close_rel(e.lower.0, 3.153_015, 1e-6);
        close_rel(e.lower.1, 0.000_945_874_5, 1e-6);
        close_rel(e.upper.0, -2.696_056, 1e-6);
        close_rel(e.upper.1, 0.003_838_994, 1e-6);
        close(e.interval.0, -0.187_084_3, 1e-6);
        close(e.interval.1, 0.247_084_3, 1e-6);
        assert!(e.equivalent);
        // Same data, pooled, bounds +-0.429, as in the package vignette: t(182) = -3.03, p = .001.
        let d = Difference::pooled(&a, &b).unwrap();
        assert_eq!(d.df, 182.0);
        let e = two_one_sided(d, -0.429, 0.429, 0.05).unwrap();
        close(e.upper.0, -3.03, 5e-3);
        close(e.upper.1, 0.001, 5e-4);
    }

    #[test]
    fn example_of_the_ncss_manual() {
        let a = [452., 874., 554., 447., 356., 754., 558., 574., 664., 682., 547., 435., 245.];
        let b =
            [546., 547., 774., 465., 459., 665., 467., 365., 589., 534., 456., 651., 654., 665., 546., 537.];
        let (a, b) = (moments(&a).unwrap(), moments(&b).unwrap());
        let e = two_one_sided(Difference::pooled(&a, &b).unwrap(), -110.0, 110.0, 0.05).unwrap();
        close(e.lower.1.max(e.upper.1), 0.028_21, 5e-6);
        close(e.lower.1.min(e.upper.1), 0.014_36, 5e-6);
        let d = Difference::welch(&a, &b).unwrap();
        close(d.df, 19.169, 5e-4);
        let e = two_one_sided(d, -110.0, 110.0, 0.05).unwrap();
        close(e.p, 0.036_28, 5e-6);
        close(e.lower.1.min(e.upper.1), 0.020_02, 5e-6);
    }

    #[test]
    #[allow(clippy::approx_constant)] // 3.14 is a reading
    fn clinic_data_of_the_statsmodels_tests() {
        // statsmodels test_tost.py (values from R equivalence::tost), margin 0.6.
        let v1 = [2.84, 2.51, 2.41, 2.95, 3.14, 3.79, 4.14, 3.85, 3.02, 3.45, 5.37, 3.81, 4.19, 3.16, 3.84];
        let v2 = [2.60, 2.82, 2.18, 3.46, 4.01, 3.04, 3.47, 4.06, 2.91, 3.59, 4.51, 3.16, 3.86, 3.31, 3.02];
        let d: Vec<f64> = v1.iter().zip(&v2).map(|(a, b)| a - b).collect();
        let paired = Difference::paired(&moments(&d).unwrap()).unwrap();
        close_rel(two_one_sided(paired, -0.6, 0.6, 0.05).unwrap().p, 0.003_166_881_489_265_175, 1e-9);
        let welch = Difference::welch(&moments(&v1).unwrap(), &moments(&v2).unwrap()).unwrap();
        close_rel(two_one_sided(welch, -0.6, 0.6, 0.05).unwrap().p, 0.048_530_839_762_369_74, 1e-9);
    }

    #[test]
    fn not_different_is_not_equal() {
        // A noisy difference: the usual t-test finds nothing (p 0.78), yet equality within 1 is far from shown.
        let noisy = Difference { d: 0.9, se: 3.0, df: 8.0 };
        assert!(student_two_sided(noisy.d / noisy.se, noisy.df) > 0.5);
        assert!(!two_one_sided(noisy, -1.0, 1.0, 0.05).unwrap().equivalent);
        // A precise tiny difference: significantly different from 0, and equal for the purpose.
        let precise = Difference { d: 0.1, se: 0.02, df: 30.0 };
        assert!(student_two_sided(precise.d / precise.se, precise.df) < 0.001);
        assert!(two_one_sided(precise, -1.0, 1.0, 0.05).unwrap().equivalent);
    }

    #[test]
    fn refusals() {
        let d = Difference { d: 0.0, se: 0.0, df: 3.0 };
        assert_eq!(two_one_sided(d, -1.0, 1.0, 0.05), Err(StatsError::NoSpread { what: "the difference" }));
        let d = Difference { d: f64::NAN, se: 1.0, df: 3.0 };
        assert!(two_one_sided(d, -1.0, 1.0, 0.05).is_err());
        let d = Difference { d: 0.0, se: 1.0, df: 3.0 };
        assert!(two_one_sided(d, 1.0, -1.0, 0.05).is_err() && two_one_sided(d, -1.0, 1.0, 0.6).is_err());
        assert!(Difference::welch(&summary(1, 0.0, f64::NAN), &summary(5, 0.0, 1.0)).is_err());
    }
}
