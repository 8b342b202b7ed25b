//! Control charts: does a new value still belong to the ones before?
//!
//! * individuals with moving range: `mean +- 3 MRbar / d2`, `d2 = 1.128` as printed in the tables (exactly 2/sqrt(pi));
//!   range limit `3.267 MRbar` (NIST/SEMATECH e-Handbook 6.3.2.2);
//! * EWMA `z_t = l x_t + (1-l) z_{t-1}`, `z_0 = target`, limits `target +- L s sqrt(l/(2-l) [1 - (1-l)^(2t)])` (6.3.2.4);
//! * tabular CUSUM `H = max(0, H + x - target - k)`, `L = max(0, L + target - k - x)`, signal above `h` (6.3.2.3).
//!
//! Limits made from the same data that are judged hide the shift: make them from a baseline. A missing value breaks the
//! moving range and leaves EWMA and CUSUM where they are.

use super::error::StatsError;
use super::moments::{mean, moments};

/// `d2` of two values as printed in control-chart tables.
pub const D2_PRINTED: f64 = 1.128;

/// `d2` of two values, `2/sqrt(pi)`.
pub const D2_EXACT: f64 = std::f64::consts::FRAC_2_SQRT_PI;

/// Factor from the mean moving range to its upper limit, as printed.
pub const RANGE_FACTOR: f64 = 3.267;

/// Baseline values below which limits are only provisional.
pub const FEWEST_FOR_LIMITS: usize = 8;

/// Limits of an individuals chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Individuals {
    /// Baseline values used.
    pub n: usize,
    /// Centre line.
    pub mean: f64,
    /// Mean moving range.
    pub moving_range: f64,
    /// Standard deviation from the moving range, `MRbar / d2`.
    pub sigma: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Upper limit of a moving range.
    pub range_high: f64,
    /// Fewer than [`FEWEST_FOR_LIMITS`] values: say so beside the limits.
    pub provisional: bool,
}

impl Individuals {
    /// Whether a value lies outside the limits (on the limit is inside); false for a missing value.
    pub fn signals(&self, x: f64) -> bool {
        x > self.high || x < self.low
    }
}

/// Limits from a baseline in time order. Moving ranges across a missing value are not taken.
///
/// # Errors
/// `TooFew` without two neighbouring values.
pub fn individuals(baseline: &[f64], d2: f64) -> Result<Individuals, StatsError> {
    if d2.is_nan() || d2 <= 0.0 {
        return Err(StatsError::Parameter { name: "d2", value: d2, rule: "must be positive" });
    }
    let ranges: Vec<f64> = baseline.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
    let (Some(m), Some(moving_range)) = (moments(baseline), mean(&ranges)) else {
        let found = baseline.iter().filter(|v| v.is_finite()).count();
        return Err(StatsError::TooFew { method: "individuals chart", needed: 2, found });
    };
    let sigma = moving_range / d2;
    Ok(Individuals {
        n: m.n,
        mean: m.mean,
        moving_range,
        sigma,
        low: m.mean - 3.0 * sigma,
        high: m.mean + 3.0 * sigma,
        range_high: RANGE_FACTOR * moving_range,
        provisional: m.n < FEWEST_FOR_LIMITS,
    })
}

/// Settings of an EWMA chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaPlan {
    /// Weight of the newest value, over 0 up to 1; usual 0.2 to 0.3.
    pub lambda: f64,
    /// Level expected.
    pub target: f64,
    /// Standard deviation of a single value.
    pub sigma: f64,
    /// Width in standard deviations; usual 3 (2.7 for small `lambda`).
    pub width: f64,
}

/// One point of an EWMA chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaPoint {
    /// Smoothed value.
    pub z: f64,
    /// Lower limit at this point.
    pub low: f64,
    /// Upper limit at this point.
    pub high: f64,
    /// Outside the limits.
    pub signal: bool,
}

impl EwmaPlan {
    /// Half width of the limits after `t` values; `None` for the limit of many.
    pub fn half_width(&self, t: Option<usize>) -> f64 {
        let growth = t.map_or(1.0, |t| 1.0 - (1.0 - self.lambda).powf(2.0 * t as f64));
        self.width * self.sigma * (self.lambda / (2.0 - self.lambda) * growth).sqrt()
    }
}

/// EWMA chart, one point per value with the exact limits; a missing value repeats the point before.
///
/// # Errors
/// `Parameter` for a plan out of range.
pub fn ewma(x: &[f64], plan: &EwmaPlan) -> Result<Vec<EwmaPoint>, StatsError> {
    if !(plan.lambda > 0.0 && plan.lambda <= 1.0) {
        return Err(StatsError::Parameter {
            name: "lambda",
            value: plan.lambda,
            rule: "must be over 0, at most 1",
        });
    }
    let numbers_fit = plan.target.is_finite() && plan.sigma >= 0.0 && plan.width >= 0.0;
    if !(numbers_fit && plan.sigma.is_finite() && plan.width.is_finite()) {
        return Err(StatsError::Parameter {
            name: "sigma",
            value: plan.sigma,
            rule: "must be finite, not negative",
        });
    }
    let (mut z, mut t) = (plan.target, 0);
    Ok(x.iter()
        .map(|v| {
            if v.is_finite() {
                z = plan.lambda * v + (1.0 - plan.lambda) * z;
                t += 1;
            }
            let half = plan.half_width(Some(t));
            let (low, high) = (plan.target - half, plan.target + half);
            EwmaPoint { z, low, high, signal: z > high || z < low }
        })
        .collect())
}

/// One point of a tabular CUSUM.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumPoint {
    /// Sum of the excess above `target + k`.
    pub above: f64,
    /// Sum of the excess below `target - k`.
    pub below: f64,
    /// One of the two exceeds `h`.
    pub signal: bool,
}

/// Tabular CUSUM, one point per value; a missing value repeats the point before.
///
/// # Errors
/// `Parameter` for a slack `k` or limit `h` that is negative or missing, or a missing target.
pub fn cusum(x: &[f64], target: f64, k: f64, h: f64) -> Result<Vec<CusumPoint>, StatsError> {
    for (name, value) in [("k", k), ("h", h)] {
        if !(value >= 0.0 && value.is_finite()) {
            return Err(StatsError::Parameter { name, value, rule: "must be finite, not negative" });
        }
    }
    if !target.is_finite() {
        return Err(StatsError::Parameter { name: "target", value: target, rule: "must be finite" });
    }
    let (mut above, mut below) = (0.0f64, 0.0f64);
    Ok(x.iter()
        .map(|v| {
            if v.is_finite() {
                above = (above + v - target - k).max(0.0);
                below = (below + target - k - v).max(0.0);
            }
            CusumPoint { above, below, signal: above > h || below > h }
        })
        .collect())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::close;

    const FLOW: [f64; 10] = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    const EWMA_X: [f64; 20] = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6,
        52.4, 53.6, 52.1,
    ];
    const CUSUM_X: [f64; 20] = [
        324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625,
        325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
    ];

    #[test]
    fn nist_individuals() {
        // NIST e-Handbook 6.3.2.2: 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159.
        let c = individuals(&FLOW, D2_PRINTED).unwrap();
        close(c.mean, 50.81, 1e-9);
        close(c.moving_range, 1.8778, 5e-5);
        close(c.high, 55.8041, 5e-5);
        close(c.low, 45.8159, 5e-5);
        assert!(!c.provisional && !c.signals(55.8) && c.signals(55.9) && !c.signals(f64::NAN));
        close(3.0 / D2_EXACT, 2.658_680_776_36, 1e-10);
    }

    #[test]
    fn montgomery_moving_range() {
        // Montgomery & Runger, table 16-3: mean 99.095, mean moving range 2.58947 (49.2/19).
        let x = [
            102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0,
            96.7, 100.3, 101.4, 97.2, 101.0,
        ];
        let c = individuals(&x, D2_PRINTED).unwrap();
        close(c.mean, 99.095, 1e-9);
        close(c.moving_range, 2.589_47, 5e-6);
    }

    #[test]
    fn nist_ewma() {
        // NIST e-Handbook 6.3.2.4; the limits there come from a rounded factor, hence 1.1e-4.
        let want = [
            50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
            49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
        ];
        let plan = EwmaPlan { lambda: 0.3, target: 50.0, sigma: 2.0539, width: 3.0 };
        let points = ewma(&EWMA_X, &plan).unwrap();
        points.iter().zip(want).for_each(|(p, w)| close(p.z, w, 5.1e-3));
        close(50.0 + plan.half_width(None), 52.5884, 1.1e-4);
        close(50.0 - plan.half_width(None), 47.4115, 1.1e-4);
        assert!(points.iter().all(|p| !p.signal));
        // Exact limits of the first points: 0.3 * 3 * 2.0539 by hand; then recomputed.
        for (p, w) in points.iter().zip([51.848_51, 52.256_394_012_1, 52.431_405_570_8]) {
            close(p.high, w, 1e-9);
        }
    }

    #[test]
    fn nist_cusum() {
        // NIST e-Handbook 6.3.2.3: T 325, k 0.3175, h 4.1959, first signal at group 14, last sum 19.04.
        let above = [
            0.0, 0.0, 0.0, 0.0, 0.03, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 3.01, 4.94, 7.45, 10.63, 11.99,
            14.44, 16.00, 19.04,
        ];
        let below = [0.0, 0.01, 0.0, 0.33, 0.0, 0.0, 0.56, 0.72, 0.17, 0.25, 0.31, 0.0];
        let points = cusum(&CUSUM_X, 325.0, 0.3175, 4.1959).unwrap();
        points.iter().zip(above).for_each(|(p, w)| close(p.above, w, 6e-3));
        points.iter().zip(below).for_each(|(p, w)| close(p.below, w, 6e-3));
        assert_eq!(points.iter().position(|p| p.signal), Some(13));
    }

    #[test]
    fn small_shift_seen_by_the_sums_not_by_the_single_values() {
        // A lasting shift of one standard deviation: no single value leaves +-3 s, both sums signal.
        let base = [0.6, -1.1, 0.2, 1.3, -0.7, -0.4, 0.9, -1.2, 0.5, -0.1];
        let sd = super::super::moments::sd(&base).unwrap();
        let shifted: Vec<f64> = base.iter().chain(&base).map(|v| v / sd + 1.0).collect();
        assert!(shifted.iter().all(|v| v.abs() < 3.0));
        let plan = EwmaPlan { lambda: 0.2, target: 0.0, sigma: 1.0, width: 2.7 };
        assert!(ewma(&shifted, &plan).unwrap().iter().any(|p| p.signal));
        assert!(cusum(&shifted, 0.0, 0.5, 5.0).unwrap().iter().any(|p| p.signal));
    }

    #[test]
    fn limits_from_the_judged_data_hide_the_shift() {
        // Standard deviation over both levels swallows a jump that the moving range shows.
        let x: Vec<f64> = (0..20)
            .map(|i| if i < 10 { 0.1 * f64::from(i % 2) } else { 1.0 + 0.1 * f64::from(i % 2) })
            .collect();
        let m = moments(&x).unwrap();
        assert!(x.iter().all(|v| (v - m.mean).abs() < 3.0 * m.sd));
        let c = individuals(&x[..10], D2_EXACT).unwrap();
        assert!(x[10..].iter().all(|v| c.signals(*v)));
    }

    #[test]
    fn gaps_and_refusals() {
        let c = individuals(&[1.0, f64::NAN, 5.0, 6.0], D2_EXACT).unwrap();
        assert_eq!((c.moving_range, c.n, c.provisional), (1.0, 3, true));
        assert!(individuals(&[1.0, f64::NAN, 5.0], D2_EXACT).is_err());
        assert!(individuals(&FLOW, 0.0).is_err());
        let plan = EwmaPlan { lambda: 0.3, target: 0.0, sigma: 1.0, width: 3.0 };
        let p = ewma(&[1.0, f64::NAN], &plan).unwrap();
        assert_eq!(p[0], p[1]);
        assert!(ewma(&[1.0], &EwmaPlan { lambda: 0.0, ..plan }).is_err());
        assert!(ewma(&[1.0], &EwmaPlan { sigma: f64::NAN, ..plan }).is_err());
        assert!(cusum(&[1.0], 0.0, -0.1, 1.0).is_err() && cusum(&[1.0], f64::NAN, 0.1, 1.0).is_err());
        assert_eq!(cusum(&[2.0, f64::NAN], 0.0, 0.5, 5.0).unwrap()[1].above, 1.5);
    }
}
