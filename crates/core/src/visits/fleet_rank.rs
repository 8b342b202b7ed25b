//! From figures of machines to an order: shrunken estimates and adjusted p (see `stats::fleet`).

use crate::result::Measured;
use crate::stats::dist::normal_sf;
use crate::stats::fleet::{Shrunken, benjamini_hochberg, shrink};
use crate::stats::robust::{mad_sigma, median};

/// Modified z over which a machine is an outlier among its sisters.
///
/// # Source
/// Iglewicz & Hoaglin, How to Detect and Handle Outliers, 1993: 3.5 (there with 0.6745/MAD, which is the same scale).
pub(crate) const OUTLIER_Z: f64 = 3.5;

/// Fewest sisters for a robust z.
const FEWEST_SISTERS: usize = 5;

/// Spread over limit of every machine, shrunken, with p and q of being outside.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ratios {
    /// As measured; `NaN` where a machine has none.
    pub(crate) raw: Vec<f64>,
    /// Shrinkage; `None` with fewer than three machines.
    pub(crate) shrunken: Option<Shrunken>,
    /// One-sided p at the limit.
    pub(crate) p: Vec<f64>,
    /// Adjusted for the number of machines.
    pub(crate) q: Vec<f64>,
}

/// Spreads with expanded uncertainty (k = 2) and limits, one per machine.
pub(crate) fn ratios(spreads: &[Option<Measured>], limits: &[f64], repeatability_kpa: f64) -> Ratios {
    let figure = |(s, limit): (&Option<Measured>, &f64)| match s {
        Some(m) if *limit > 0.0 && m.value.is_finite() => {
            let u = ((m.u / 2.0).powi(2) + 0.5 * repeatability_kpa.powi(2)).sqrt();
            (m.value / limit, u / limit)
        }
        _ => (f64::NAN, f64::NAN),
    };
    let (raw, u): (Vec<f64>, Vec<f64>) = spreads.iter().zip(limits).map(figure).unzip();
    let p: Vec<f64> = raw.iter().zip(&u).map(|(y, u)| normal_sf((y - 1.0) / u)).collect();
    let q = benjamini_hochberg(&p);
    Ratios { shrunken: shrink(&raw, &u).ok(), raw, p, q }
}

/// Robust z of every value within its group (`group[i]` names it); `NaN` in groups that are too small, without spread,
/// or where the value is missing.
pub(crate) fn robust_z(values: &[f64], group: &[usize]) -> Vec<f64> {
    (0..values.len())
        .map(|i| {
            let fellows: Vec<f64> = (0..values.len())
                .filter(|&j| group[j] == group[i] && values[j].is_finite())
                .map(|j| values[j])
                .collect();
            if fellows.len() < FEWEST_SISTERS {
                return f64::NAN;
            }
            match (median(&fellows), mad_sigma(&fellows)) {
                (Some(m), Some(s)) if s > 0.0 => (values[i] - m) / s,
                _ => f64::NAN,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_badly_measured_machine_does_not_lead() {
        let m = |value, u| Some(Measured { value, u });
        let mut spreads: Vec<_> = (0..10).map(|i| m(0.4 + 0.02 * f64::from(i), 0.1)).collect();
        spreads.push(m(1.8, 0.1)); // well measured, off
        spreads.push(m(2.0, 3.0)); // hardly measured
        let r = ratios(&spreads, &[1.3; 12], 0.1);
        let s = r.shrunken.as_ref().map(|s| s.estimates.clone()).unwrap_or_default();
        assert!(r.raw[11] > r.raw[10] && s[11] < s[10]);
        assert!(r.q[10] < 0.05 && r.q[11] > 0.05 && r.q[0] > 0.05);
    }

    #[test]
    fn many_machines_at_the_limit_by_chance_are_not_flagged() {
        // 200 machines whose true spread is at 0.9 of the limit, measured with u = 0.1 of it (standard normal deciles):
        // the naive p < 0.05 flags some, the adjusted one none.
        let spreads: Vec<_> = (0..200)
            .map(|i| {
                let z = crate::stats::dist::normal_quantile((f64::from(i) + 0.5) / 200.0);
                Some(Measured { value: 1.3 * (0.9 + 0.1 * z), u: 2.0 * 0.13 })
            })
            .collect();
        let r = ratios(&spreads, &[1.3; 200], 1e-9);
        assert!(r.p.iter().any(|p| *p < 0.05));
        assert!(r.q.iter().all(|q| *q > 0.05));
    }

    #[test]
    fn outliers_among_sisters_and_small_groups() {
        let values = [1.0, 1.1, 0.9, 1.0, 1.05, 3.0, 9.0];
        let z = robust_z(&values, &[4, 4, 4, 4, 4, 4, 3]);
        assert!(z[5] > OUTLIER_Z && z[0].abs() < OUTLIER_Z && z[6].is_nan());
        assert!(robust_z(&[f64::NAN, 1.0], &[4, 4])[0].is_nan());
    }
}
