//! Does a measured value meet a limit, does it break it, or can it not be told?
//!
//! * conformance probability (JCGM 106:2012, clause 7): `p_c = Phi((upper - y)/u) - Phi((lower - y)/u)`;
//! * guard band (clause 8): accept only up to `limit - w`, `w = r U`, `U = 2u`; for a one-sided probability `p`,
//!   `w = Phi^-1(p) u` (1.645 u for 95 %);
//! * three-way decision for `|d|` against a limit: within if `|d| + k u <= limit`, outside if `|d| - k u > limit`, else
//!   undecided. Comparing `|d|` alone with the limit is wrong half of the time at the limit.
//!
//! A missing value or uncertainty can never be within or outside: the decision is undecided.

use super::dist::{normal_cdf, normal_quantile, normal_sf};
use super::error::StatsError;

/// Coverage factor of a one-sided 95 % decision, `Phi^-1(0.95)`.
pub const ONE_SIDED_95: f64 = 1.644_853_626_951_472_2;

/// Outcome of a comparison with a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decision {
    /// Meets the limit with the wanted confidence.
    Within,
    /// Breaks the limit with the wanted confidence.
    Outside,
    /// The uncertainty straddles the limit.
    Undecided,
}

/// Probability that the true value lies in `lower..upper`, for a normal uncertainty.
///
/// A limit may be infinite (one-sided). With `u = 0` it is 1 or 0, the limits included.
///
/// # Errors
/// `Parameter` for a negative or missing `u`, a missing `y`, or `lower > upper`.
pub fn conformance_probability(y: f64, u: f64, lower: f64, upper: f64) -> Result<f64, StatsError> {
    if !y.is_finite() {
        return Err(StatsError::Parameter { name: "y", value: y, rule: "must be finite" });
    }
    if !(u >= 0.0 && u.is_finite()) {
        return Err(StatsError::Parameter { name: "u", value: u, rule: "must be finite and not negative" });
    }
    if lower.is_nan() || upper.is_nan() || lower > upper {
        return Err(StatsError::Parameter {
            name: "lower",
            value: lower,
            rule: "must not exceed the upper limit",
        });
    }
    if u == 0.0 {
        return Ok(if (lower..=upper).contains(&y) { 1.0 } else { 0.0 });
    }
    let (a, b) = ((lower - y) / u, (upper - y) / u);
    // Work in the nearer tail so that small probabilities keep their digits.
    Ok(if a > 0.0 { normal_sf(a) - normal_sf(b) } else { normal_cdf(b) - normal_cdf(a) })
}

/// Guard band width for a one-sided conformance probability `p` (0.5 to 1, exclusive of 1): `Phi^-1(p) u`.
///
/// # Errors
/// `Parameter` outside these ranges.
pub fn guard_band(u: f64, p: f64) -> Result<f64, StatsError> {
    if !(0.5..1.0).contains(&p) {
        return Err(StatsError::Parameter { name: "p", value: p, rule: "must be at least 0.5 and under 1" });
    }
    if !(u >= 0.0 && u.is_finite()) {
        return Err(StatsError::Parameter { name: "u", value: u, rule: "must be finite and not negative" });
    }
    Ok(normal_quantile(p) * u)
}

/// Three-way decision of `|d| <= limit` with `k` standard uncertainties of guard on either side.
pub fn decide(d: f64, u: f64, limit: f64, k: f64) -> Decision {
    let (size, guard) = (d.abs(), k * u);
    if !(size.is_finite() && guard >= 0.0 && limit.is_finite()) {
        Decision::Undecided
    } else if size + guard <= limit {
        Decision::Within
    } else if size - guard > limit {
        Decision::Outside
    } else {
        Decision::Undecided
    }
}

/// Three-way decision by conformance probability of `-limit..limit`: within at `confidence` or more, outside at
/// `1 - confidence` or less. Differs from [`decide`] only where `u` is of the size of the limit (both tails count).
pub fn decide_by_probability(d: f64, u: f64, limit: f64, confidence: f64) -> Decision {
    match conformance_probability(d, u, -limit, limit) {
        Ok(p) if p >= confidence => Decision::Within,
        Ok(p) if p <= 1.0 - confidence => Decision::Outside,
        _ => Decision::Undecided,
    }
}

/// Decision on a set of differences that must all stay within one limit.
///
/// `differences` holds `(d, u)` per pair: within if every pair is, outside if any pair is, else undecided. An empty set
/// is undecided. Judging the largest `|d|` alone would be biased high: the range of noisy means grows with their number.
pub fn decide_all(differences: &[(f64, f64)], limit: f64, k: f64) -> Decision {
    let (mut all_within, mut any_outside) = (!differences.is_empty(), false);
    for (d, u) in differences {
        match decide(*d, *u, limit, k) {
            Decision::Within => {}
            Decision::Outside => any_outside = true,
            Decision::Undecided => all_within = false,
        }
    }
    match (any_outside, all_within) {
        (true, _) => Decision::Outside,
        (false, true) => Decision::Within,
        (false, false) => Decision::Undecided,
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{ar1, close};

    #[test]
    fn worked_examples_of_jcgm_106() {
        // JCGM 106:2012 examples (figures from memory, arithmetic redone): Zener diode -5.47 V, u 0.05 V, at most
        // -5.40 V: 0.92; burst strength 509.7 kPa, u 8.6 kPa, at least 490 kPa: 0.99.
        let zener = conformance_probability(-5.47, 0.05, f64::NEG_INFINITY, -5.40).unwrap();
        close(zener, 0.92, 5e-3);
        close(zener, 0.919_243_340_766, 1e-10);
        let burst = conformance_probability(509.7, 8.6, 490.0, f64::INFINITY).unwrap();
        close(burst, 0.99, 5e-3);
        close(burst, 0.989_009_547_385, 1e-10);
        // Speed limit 100 km/h, relative u 2 %, 99.9 %: threshold 107 km/h.
        close(100.0 / (1.0 - guard_band(0.02, 0.999).unwrap()), 107.0, 0.5);
        // Guard multipliers r = w / 2u.
        for (p, r) in [(0.80, 0.42), (0.90, 0.64), (0.95, 0.82), (0.99, 1.16), (0.999, 1.55)] {
            close(guard_band(0.5, p).unwrap(), r, 5e-3);
        }
    }

    #[test]
    fn two_sided_probabilities() {
        // Differences of the normal integral, limits -2 and 2 (recomputed with scipy 1.17.1).
        for (y, u, want) in [
            (0.0, 0.5, 0.999_936_657_516),
            (1.0, 0.5, 0.977_249_867_065),
            (1.5, 0.5, 0.841_344_746_067),
            (2.0, 0.5, 0.5),
            (2.5, 0.5, 0.158_655_253_931),
            (1.9, 0.1, 0.841_344_746_069),
            (1.2, 1.0, 0.787_457_463_479),
        ] {
            close(conformance_probability(y, u, -2.0, 2.0).unwrap(), want, 1e-10);
        }
        assert_eq!(conformance_probability(2.0, 0.0, -2.0, 2.0), Ok(1.0));
        assert_eq!(conformance_probability(2.1, 0.0, -2.0, 2.0), Ok(0.0));
    }

    #[test]
    fn three_outcomes() {
        assert_eq!(decide(-0.5, 0.1, 1.0, ONE_SIDED_95), Decision::Within);
        assert_eq!(decide(1.5, 0.1, 1.0, ONE_SIDED_95), Decision::Outside);
        assert_eq!(decide(0.95, 0.1, 1.0, ONE_SIDED_95), Decision::Undecided);
        assert_eq!(decide(1.05, 0.1, 1.0, ONE_SIDED_95), Decision::Undecided);
        assert_eq!(decide(1.0, 0.0, 1.0, ONE_SIDED_95), Decision::Within, "the limit itself is allowed");
        assert_eq!(decide_by_probability(0.5, 0.1, 1.0, 0.95), Decision::Within);
        assert_eq!(decide_by_probability(1.5, 0.1, 1.0, 0.95), Decision::Outside);
        assert_eq!(decide_by_probability(1.05, 0.1, 1.0, 0.95), Decision::Undecided);
    }

    #[test]
    fn missing_is_undecided() {
        assert_eq!(decide(f64::NAN, 0.1, 1.0, 2.0), Decision::Undecided);
        assert_eq!(decide(0.0, f64::NAN, 1.0, 2.0), Decision::Undecided);
        assert_eq!(decide(9.0, f64::INFINITY, 1.0, 2.0), Decision::Undecided);
        assert_eq!(decide(0.0, -0.1, 1.0, 2.0), Decision::Undecided);
        assert_eq!(decide_by_probability(f64::NAN, 0.1, 1.0, 0.95), Decision::Undecided);
        assert_eq!(decide_all(&[], 1.0, 2.0), Decision::Undecided);
        assert_eq!(decide_all(&[(0.1, 0.01), (f64::NAN, 0.1)], 1.0, 2.0), Decision::Undecided);
        assert_eq!(decide_all(&[(2.0, 0.01), (f64::NAN, 0.1)], 1.0, 2.0), Decision::Outside);
        assert!(conformance_probability(0.0, -1.0, -2.0, 2.0).is_err());
        assert!(conformance_probability(0.0, 1.0, 2.0, -2.0).is_err());
        assert!(guard_band(1.0, 0.3).is_err() && guard_band(1.0, 1.0).is_err());
    }

    #[test]
    fn at_the_limit_a_bare_comparison_is_a_coin_toss() {
        // True difference exactly on the limit, u 0.1: a bare `|d| <= limit` accepts about half of 2000 measurements
        // as within and calls the rest outside; the guarded decision errs in about 5 % each way.
        let draws = ar1(2000, 0.0, 5);
        let (mut bare, mut within, mut outside) = (0, 0, 0);
        for e in &draws {
            let d = 1.0 + 0.1 * e;
            bare += usize::from(d.abs() <= 1.0);
            within += usize::from(decide(d, 0.1, 1.0, ONE_SIDED_95) == Decision::Within);
            outside += usize::from(decide(d, 0.1, 1.0, ONE_SIDED_95) == Decision::Outside);
        }
        assert!((900..1100).contains(&bare), "bare comparison passed {bare} of 2000");
        assert!(within < 140 && outside < 140, "guarded: {within} within, {outside} outside");
        assert!(within > 60 && outside > 60, "guarded: {within} within, {outside} outside");
    }
}
