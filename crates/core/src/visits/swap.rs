//! Sensor or cylinder? Two recordings with the sensors of two cylinders exchanged in between.
//!
//! With `D` = reading at cylinder i minus reading at cylinder j, before and after the exchange:
//! cylinder difference = (D before + D after)/2, sensor difference = (D before - D after)/2, each with
//! u = sqrt(u before^2 + u after^2)/2. The sensors' errors, zero and gain alike, change sign with the exchange and the
//! cylinders do not. Needs equal speed and load in both recordings; they are compared at one idle pressure (see
//! [`super::levels`]).
//!
//! In the second recording the column of cylinder i holds the sensor of i, which then sits on cylinder j.

use serde::{Deserialize, Serialize};

use super::levels::Levels;
use super::types::Visit;
use crate::result::Measured;

/// Sensor told from cylinder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SwapResult {
    /// The two cylinders whose sensors were exchanged.
    pub cylinders: [u32; 2],
    /// First minus second cylinder, kPa.
    pub cylinder_difference_kpa: Measured,
    /// Error of the first cylinder's sensor minus that of the second's, kPa.
    pub sensor_difference_kpa: Measured,
    /// The cylinders differ by more than the uncertainty.
    pub cylinders_differ: bool,
    /// The sensors differ by more than the uncertainty.
    pub sensors_differ: bool,
}

/// Why two recordings cannot tell sensor from cylinder.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SwapError {
    /// Not two different cylinders.
    #[error("cylinders {first} and {second}: two different ones are needed")]
    SameCylinder {
        /// First.
        first: u32,
        /// Second.
        second: u32,
    },
    /// A cylinder has no figure in one of the recordings.
    #[error("cylinder {cylinder} has no deviation in {recording}")]
    Missing {
        /// Cylinder.
        cylinder: u32,
        /// Name of the recording.
        recording: String,
    },
}

/// Tells sensor from cylinder; `coverage` is the coverage factor of stored and returned uncertainties.
///
/// # Errors
/// [`SwapError`] if the cylinders are the same or one of them has no figure.
pub fn swapped(
    before: &Visit,
    after: &Visit,
    pair: [u32; 2],
    coverage: f64,
) -> Result<SwapResult, SwapError> {
    let [first, second] = pair;
    if first == second {
        return Err(SwapError::SameCylinder { first, second });
    }
    let both = [before.clone(), after.clone()];
    let levels = Levels::new(&both, coverage);
    let reading = |v: usize, cylinder: u32| -> Result<(f64, f64), SwapError> {
        let missing = || SwapError::Missing { cylinder, recording: both[v].source.clone() };
        let i = levels.numbers.iter().position(|n| *n == cylinder).ok_or_else(missing)?;
        let (x, u) = (levels.x[v][i], levels.u[v][i]);
        if x.is_finite() { Ok((x, u)) } else { Err(missing()) }
    };
    let ((a1, ua1), (a2, ua2)) = (reading(0, first)?, reading(0, second)?);
    let ((b1, ub1), (b2, ub2)) = (reading(1, first)?, reading(1, second)?);
    // After the exchange the first cylinder is read by the column of the second.
    let (d_before, d_after) = (a1 - a2, b2 - b1);
    let u = (ua1.powi(2) + ua2.powi(2) + ub1.powi(2) + ub2.powi(2)).sqrt() / 2.0;
    let m = |value: f64| Measured { value, u: coverage * u };
    let (cylinder, sensor) = (m((d_before + d_after) / 2.0), m((d_before - d_after) / 2.0));
    Ok(SwapResult {
        cylinders: pair,
        cylinders_differ: cylinder.value.abs() > cylinder.u,
        sensors_differ: sensor.value.abs() > sensor.u,
        cylinder_difference_kpa: cylinder,
        sensor_difference_kpa: sensor,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::visits::story::{U, visit};

    /// Readings of four sensors with the given errors on cylinders with the given levels.
    fn recording(levels: [f64; 4], sensor_on: [usize; 4], errors: [f64; 4]) -> Visit {
        let mut columns = [0.0; 4];
        for (cylinder, sensor) in sensor_on.iter().enumerate() {
            columns[*sensor] = levels[cylinder] + errors[*sensor];
        }
        visit("2025-05-01", None, &columns)
    }

    #[test]
    fn sensor_and_cylinder_come_apart() {
        let (levels, errors) = ([0.0, 0.9, 0.0, 0.1], [0.1, -0.6, 0.0, 0.0]);
        let before = recording(levels, [0, 1, 2, 3], errors);
        let after = recording(levels, [1, 0, 2, 3], errors);
        let r = swapped(&before, &after, [1, 2], 2.0).unwrap();
        assert!((r.cylinder_difference_kpa.value - -0.9).abs() < 0.02, "{r:?}");
        assert!((r.sensor_difference_kpa.value - 0.7).abs() < 0.02, "{r:?}");
        assert!(r.cylinders_differ && r.sensors_differ);
        // u = sqrt(4 u^2)/2 = u of one reading.
        assert!((r.cylinder_difference_kpa.u - U).abs() < 1e-3);
        // The naive way, one recording, would read -0.2 for a true -0.9.
        let d = |c: u32| before.cylinder(c).and_then(|c| c.deviation_kpa).unwrap().value;
        assert!((d(1) - d(2) - -0.2).abs() < 1e-9);
    }

    #[test]
    fn refusals() {
        let v = visit("2025-05-01", None, &[0.0, 0.1]);
        assert!(matches!(swapped(&v, &v, [1, 1], 2.0), Err(SwapError::SameCylinder { .. })));
        assert!(matches!(swapped(&v, &v, [1, 3], 2.0), Err(SwapError::Missing { cylinder: 3, .. })));
    }
}
