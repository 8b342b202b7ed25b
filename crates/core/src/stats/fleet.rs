//! Ranking many units that were measured unequally well.
//!
//! * equal variances: James-Stein toward the mean, `m + c (y - m)`, `c = 1 - (k-3) s2 / sum (y - m)^2`, not under 0
//!   (Efron & Morris, Sci. Am. 236 (1977) no. 5, 119-127);
//! * unequal variances: `m + c_i (y_i - m)`, `c_i = tau2/(tau2 + u_i^2)`, `m` weighted by `1/(tau2 + u_i^2)`; the variance
//!   between units `tau2` is the moment estimator of DerSimonian & Laird, Control. Clin. Trials 7 (1986) 177-188;
//! * many tests: Benjamini & Hochberg, J. R. Stat. Soc. B 57 (1995) 289-300: among the rejected at most a share `q` is
//!   false on average.
//!
//! The raw ranking puts the worst measured unit on top; shrinking takes back what noise alone would do. Units with a
//! missing value or uncertainty keep their place and get NaN.

use super::error::StatsError;

/// Estimates drawn toward their common mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Shrunken {
    /// Units used.
    pub n: usize,
    /// Common mean.
    pub mean: f64,
    /// Variance between units (0 if the scatter is no more than the uncertainties explain).
    pub tau2: f64,
    /// Share of the distance to the mean that each unit keeps (0 to 1), in input order.
    pub factors: Vec<f64>,
    /// Shrunken estimates in input order.
    pub estimates: Vec<f64>,
}

/// James-Stein estimates of `y` with one common variance `s2` of every value.
///
/// `tau2` is `sum (y - m)^2/(k-3) - s2`, not under 0.
///
/// # Errors
/// `TooFew` for fewer than four usable values; `Parameter` for a negative or missing variance.
pub fn james_stein(y: &[f64], s2: f64) -> Result<Shrunken, StatsError> {
    if !(s2 >= 0.0 && s2.is_finite()) {
        return Err(StatsError::Parameter { name: "s2", value: s2, rule: "must be finite, not negative" });
    }
    let m = super::moments::moments(y).filter(|m| m.n >= 4);
    let Some(m) = m else {
        let found = y.iter().filter(|v| v.is_finite()).count();
        return Err(StatsError::TooFew { method: "James-Stein", needed: 4, found });
    };
    let spread = m.sd * m.sd * (m.n as f64 - 1.0) / (m.n as f64 - 3.0);
    let c = if spread > 0.0 { (1.0 - s2 / spread).max(0.0) } else { 0.0 };
    Ok(Shrunken {
        n: m.n,
        mean: m.mean,
        tau2: (spread - s2).max(0.0),
        factors: y.iter().map(|v| if v.is_finite() { c } else { f64::NAN }).collect(),
        estimates: y
            .iter()
            .map(|v| if v.is_finite() { m.mean + c * (v - m.mean) } else { f64::NAN })
            .collect(),
    })
}

/// Shrinks values `y` with their own standard uncertainties `u`, `tau2` by DerSimonian & Laird.
///
/// # Errors
/// `LengthMismatch`; `TooFew` for fewer than three usable units; `Parameter` for an uncertainty that is not positive.
pub fn shrink(y: &[f64], u: &[f64]) -> Result<Shrunken, StatsError> {
    if y.len() != u.len() {
        return Err(StatsError::LengthMismatch {
            what: "values and uncertainties",
            left: y.len(),
            right: u.len(),
        });
    }
    if let Some(bad) = u.iter().find(|v| **v <= 0.0) {
        return Err(StatsError::Parameter { name: "u", value: *bad, rule: "must be positive" });
    }
    let units: Vec<(f64, f64)> =
        y.iter().zip(u).filter(|(a, b)| a.is_finite() && b.is_finite()).map(|(a, b)| (*a, b * b)).collect();
    let n = units.len();
    if n < 3 {
        return Err(StatsError::TooFew { method: "shrinkage", needed: 3, found: n });
    }
    let weighted = |extra: f64| {
        let (sw, swy) =
            units.iter().fold((0.0, 0.0), |(a, b), (v, s2)| (a + 1.0 / (s2 + extra), b + v / (s2 + extra)));
        (sw, swy / sw)
    };
    let (sum, fixed) = weighted(0.0);
    let q: f64 = units.iter().map(|(v, s2)| (v - fixed).powi(2) / s2).sum();
    let squares: f64 = units.iter().map(|(_, s2)| s2.powi(-2)).sum();
    let tau2 = ((q - (n as f64 - 1.0)) / (sum - squares / sum)).max(0.0);
    let (_, mean) = weighted(tau2);
    let factors: Vec<f64> = y
        .iter()
        .zip(u)
        .map(|(v, s)| if v.is_finite() && s.is_finite() { tau2 / (tau2 + s * s) } else { f64::NAN })
        .collect();
    let estimates = y.iter().zip(&factors).map(|(v, c)| mean + c * (v - mean)).collect();
    Ok(Shrunken { n, mean, tau2, factors, estimates })
}

/// Adjusted p-values (in input order) after Benjamini & Hochberg; reject those at most `q`. Missing p stay missing and
/// do not count.
pub fn benjamini_hochberg(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).filter(|&i| p[i].is_finite()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let m = order.len() as f64;
    let mut adjusted = vec![f64::NAN; p.len()];
    let mut least = 1.0f64;
    for (rank, &i) in order.iter().enumerate().rev() {
        least = least.min(p[i] * m / (rank + 1) as f64);
        adjusted[i] = least;
    }
    adjusted
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{ar1, close};

    const BATTING: [f64; 18] = [
        0.400, 0.378, 0.356, 0.333, 0.311, 0.311, 0.289, 0.267, 0.244, 0.244, 0.222, 0.222, 0.222, 0.222,
        0.222, 0.200, 0.178, 0.156,
    ];

    #[test]
    fn efron_morris_batting() {
        // Efron & Morris 1977 (from memory, arithmetic redone): mean .265, c .212, first .294, last .242; binomial
        // variance m(1-m)/45 at the rounded mean .265.
        let m = BATTING.iter().sum::<f64>() / 18.0;
        close(m, 0.265, 5e-4);
        let f = james_stein(&BATTING, m * (1.0 - m) / 45.0).unwrap();
        close(f.factors[0], 0.212, 1e-3);
        close(f.estimates[0], 0.294, 5e-4);
        close(f.estimates[17], 0.242, 5e-4);
    }

    #[test]
    fn shrunken_estimates_lie_nearer_to_the_truth() {
        // 40 units with true scatter 1, uncertainties 0.3 to 3: squared error of raw against shrunken values.
        let truth = ar1(40, 0.0, 17);
        let u: Vec<f64> = (0..40).map(|i| if i % 4 == 0 { 3.0 } else { 0.3 }).collect();
        let y: Vec<f64> = truth.iter().zip(ar1(40, 0.0, 18)).zip(&u).map(|((t, e), s)| t + e * s).collect();
        let f = shrink(&y, &u).unwrap();
        let error = |v: &[f64]| v.iter().zip(&truth).map(|(a, b)| (a - b).powi(2)).sum::<f64>();
        assert!(error(&f.estimates) < 0.4 * error(&y), "{} {}", error(&f.estimates), error(&y));
        // The naive ranking puts a badly measured unit on top.
        let top = |v: &[f64]| (0..40).max_by(|a, b| v[*a].abs().total_cmp(&v[*b].abs())).unwrap();
        assert_eq!(top(&y) % 4, 0);
        assert_ne!(top(&f.estimates) % 4, 0);
    }

    #[test]
    fn equal_uncertainties_follow_the_closed_form() {
        // With equal u, DerSimonian-Laird is the sample variance minus u^2: y = 1..5, variance 2.5, u^2 0.5, tau2 2.
        let f = shrink(&[1.0, 2.0, 3.0, 4.0, 5.0], &[0.5f64.sqrt(); 5]).unwrap();
        close(f.tau2, 2.0, 1e-12);
        close(f.mean, 3.0, 1e-12);
        close(f.estimates[4], 3.0 + 0.8 * 2.0, 1e-12);
        let none = shrink(&[1.0, 1.1, 0.9], &[1.0, 1.0, 1.0]).unwrap();
        assert_eq!((none.tau2, none.estimates[1]), (0.0, 1.0));
    }

    #[test]
    fn benjamini_hochberg_1995_example() {
        // Benjamini & Hochberg 1995, 15 p-values (from memory; statsmodels multipletests agrees): 4 rejections at 5 %,
        // Bonferroni 3, no correction 9.
        let p = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719,
            0.6528, 0.7590, 1.0,
        ];
        let adjusted = benjamini_hochberg(&p);
        assert_eq!(adjusted.iter().filter(|v| **v <= 0.05).count(), 4);
        assert_eq!(p.iter().filter(|v| **v <= 0.05 / 15.0).count(), 3);
        assert_eq!(p.iter().filter(|v| **v <= 0.05).count(), 9);
        close(adjusted[0], 0.0015, 1e-12);
        assert!(adjusted.windows(2).all(|w| w[0] <= w[1]));
    }

    #[test]
    fn missing_units_keep_their_place() {
        let f = shrink(&[1.0, f64::NAN, 3.0, 5.0], &[0.1, 0.1, 0.1, 0.1]).unwrap();
        assert_eq!(f.n, 3);
        assert!(f.estimates[1].is_nan() && f.factors[1].is_nan());
        let p = benjamini_hochberg(&[0.04, f64::NAN, 0.01]);
        assert_eq!((p[0], p[2]), (0.04, 0.02));
        assert!(p[1].is_nan());
        assert!(shrink(&[1.0, 2.0, 3.0], &[0.1, 0.0, 0.1]).is_err());
        assert!(shrink(&[1.0, 2.0], &[0.1, 0.1]).is_err() && shrink(&[1.0], &[]).is_err());
        assert!(james_stein(&[1.0, 2.0, 3.0], 0.1).is_err() && james_stein(&BATTING, f64::NAN).is_err());
        assert_eq!(james_stein(&[2.0; 5], 0.1).unwrap().estimates, vec![2.0; 5]);
    }
}
