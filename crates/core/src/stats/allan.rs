//! Does averaging longer still help? Overlapping Allan deviation of equally spaced values.
//!
//! With means over `m` neighbours, `sigma^2(m) = mean of (mean_{i+m} - mean_i)^2 / 2` over every start `i` (NIST SP 1065,
//! Riley 2008). It falls as `1/sqrt(m)` for white noise and rises again where drift takes over; the minimum is the
//! longest useful average. The plain standard deviation mixes both.
//!
//! Missing values cannot be left out without shifting time: a series with one is refused.

use super::error::StatsError;

/// Overlapping Allan deviation for averages over `m` values.
///
/// # Errors
/// `Parameter` for `m = 0`; `TooFew` for fewer than `2 m` values; `Missing`.
pub fn allan_deviation(x: &[f64], m: usize) -> Result<f64, StatsError> {
    if m == 0 {
        return Err(StatsError::Parameter { name: "m", value: 0.0, rule: "must be at least 1" });
    }
    if x.len() / 2 < m {
        return Err(StatsError::TooFew { method: "Allan deviation", needed: 2 * m, found: x.len() });
    }
    if let Some(position) = x.iter().position(|v| !v.is_finite()) {
        return Err(StatsError::Missing { what: "the series", position });
    }
    let mut difference: f64 = (0..m).map(|i| x[i + m] - x[i]).sum();
    let mut sum = difference * difference;
    for i in 0..x.len() - 2 * m {
        difference += x[i + 2 * m] - 2.0 * x[i + m] + x[i];
        sum += difference * difference;
    }
    let starts = (x.len() - 2 * m + 1) as f64;
    Ok((0.5 * sum / starts).sqrt() / m as f64)
}

/// Allan deviations at `m = 1, 2, 4, ...` up to a quarter of the series, as `(m, deviation)`.
///
/// # Errors
/// As [`allan_deviation`].
pub fn allan_curve(x: &[f64]) -> Result<Vec<(usize, f64)>, StatsError> {
    let mut out = vec![(1, allan_deviation(x, 1)?)];
    let mut m = 2;
    while m <= x.len() / 4 {
        out.push((m, allan_deviation(x, m)?));
        m *= 2;
    }
    Ok(out)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{ar1, close, close_rel};

    const NBS14: [f64; 9] = [892.0, 809.0, 823.0, 798.0, 671.0, 644.0, 883.0, 903.0, 677.0];

    #[test]
    fn nbs14_frequencies() {
        // NIST SP 1065 (figures from memory; allantools 2024.6 gives the same): 91.22945 and 85.95287.
        close(allan_deviation(&NBS14, 1).unwrap(), 91.229_45, 5e-6);
        close(allan_deviation(&NBS14, 2).unwrap(), 85.952_87, 5e-6);
    }

    #[test]
    fn white_noise_falls_drift_rises() {
        // Closed forms: white noise s/sqrt(m); a ramp of slope b per sample gives b m / sqrt 2.
        let white = ar1(20_000, 0.0, 2);
        for m in [1usize, 16] {
            close_rel(allan_deviation(&white, m).unwrap(), 1.0 / (m as f64).sqrt(), 0.05);
        }
        let ramp: Vec<f64> = (0..200).map(|i| 0.3 * f64::from(i)).collect();
        close_rel(allan_deviation(&ramp, 10).unwrap(), 3.0 / 2f64.sqrt(), 1e-9);
    }

    #[test]
    fn standard_error_promises_what_drift_takes_away() {
        let x: Vec<f64> = ar1(4000, 0.0, 9).iter().enumerate().map(|(i, e)| e + 0.002 * i as f64).collect();
        let naive = super::super::moments::sd(&x).unwrap() / 1000f64.sqrt();
        let m1000 = allan_deviation(&x, 1000).unwrap();
        assert!(m1000 > 10.0 * naive, "naive {naive}, Allan {m1000}");
        let curve = allan_curve(&x).unwrap();
        let best = curve.iter().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap().0;
        assert!((16..=256).contains(&best), "longest useful average {best}");
        assert_eq!(curve.last().unwrap().0, 512);
    }

    #[test]
    fn refusals() {
        assert!(allan_deviation(&NBS14, 0).is_err() && allan_deviation(&NBS14, 5).is_err());
        assert!(matches!(allan_deviation(&[1.0, f64::NAN], 1), Err(StatsError::Missing { position: 1, .. })));
        assert!(allan_curve(&[]).is_err());
        assert_eq!(allan_deviation(&[1.0, 1.0], 1), Ok(0.0));
    }
}
