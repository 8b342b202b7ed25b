//! A pressure sensor with its faults.

use serde::{Deserialize, Serialize};

use crate::engine::range;
use crate::error::ModelError;

/// One pressure sensor. Reading = true + bias + (gain - 1) x (true - barometer), then noise and steps: at the
/// barometer (engine off) only the bias shows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sensor {
    /// Error at the barometer, kPa.
    pub bias_kpa: f64,
    /// Slope; 1 is right.
    pub gain: f64,
    /// First-order lag of hose and sensor on top of the logger's own, s.
    pub lag_s: f64,
    /// Standard deviation of white noise per reading, kPa.
    pub noise_kpa: f64,
    /// Resolution, kPa; 0 = as fine as the number format.
    pub step_kpa: f64,
    /// Stretches (from, to) in s without readings.
    pub dropouts: Vec<(f64, f64)>,
    /// From this time on the last reading repeats for ever, s.
    pub stuck_from_s: Option<f64>,
    /// From this time on the sensor reads this value: (s, kPa).
    pub railed: Option<(f64, f64)>,
}

impl Default for Sensor {
    fn default() -> Self {
        Self {
            bias_kpa: 0.0,
            gain: 1.0,
            lag_s: 0.0,
            noise_kpa: 0.03,
            step_kpa: 0.0,
            dropouts: Vec::new(),
            stuck_from_s: None,
            railed: None,
        }
    }
}

impl Sensor {
    /// A perfect sensor: no noise, no steps.
    #[must_use]
    pub fn ideal() -> Self {
        Self { noise_kpa: 0.0, ..Self::default() }
    }

    pub(crate) fn check(&self) -> Result<(), ModelError> {
        range("bias_kpa", self.bias_kpa, -200.0, 200.0, "-200 to 200")?;
        range("gain", self.gain, -2.0, 5.0, "-2 to 5")?;
        range("lag_s", self.lag_s, 0.0, 60.0, "0 to 60")?;
        range("noise_kpa", self.noise_kpa, 0.0, 100.0, "0 to 100")?;
        range("step_kpa", self.step_kpa, 0.0, 50.0, "0 to 50")
    }

    /// The reading of a true pressure with `normal` a standard normal number.
    pub(crate) fn read(&self, true_kpa: f64, barometer_kpa: f64, normal: f64) -> f64 {
        let raw = true_kpa + self.bias_kpa + (self.gain - 1.0) * (true_kpa - barometer_kpa);
        let noisy = raw + self.noise_kpa * normal;
        if self.step_kpa > 0.0 { (noisy / self.step_kpa).round() * self.step_kpa } else { noisy }
    }

    /// Applies stuck, railed and missing stretches to a finished column.
    pub(crate) fn spoil(&self, time_s: &[f64], column: &mut [f64]) {
        let mut held = None;
        for (t, cell) in time_s.iter().zip(column.iter_mut()) {
            if self.stuck_from_s.is_some_and(|from| *t >= from) {
                *cell = *held.get_or_insert(*cell);
            }
            if let Some((from, value)) = self.railed
                && *t >= from
            {
                *cell = value;
            }
            if self.dropouts.iter().any(|(from, to)| t >= from && t < to) {
                *cell = f64::NAN;
            }
        }
    }
}
