//! A finished run: the fine trace, every engine cycle, and the truth between two times.

use serde::Serialize;

use crate::error::ModelError;

/// One whole engine cycle, from crank angle 0 of cylinder 1 to the next. All vectors: one per cylinder.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cycle {
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
    /// Time integral of the undisturbed runner pressure, kPa s.
    pub pressure_kpa_s: Vec<f64>,
    /// Fresh air in the cylinder at its last spark, mg.
    pub air_mg: Vec<f64>,
    /// Air over stoichiometric air at the last spark; NaN with the fuel cut.
    pub lambda: Vec<f64>,
    /// Effective inlet area (plate, bleed, leak, raised throttle) at the end of the cycle, mm2.
    pub inlet_mm2: Vec<f64>,
}

/// The healthy engine at warm idle, as calibrated.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Healthy {
    /// Effective inlet area of one cylinder, mm2.
    pub inlet_mm2: f64,
    /// Friction torque of the whole engine, N m.
    pub friction_nm: f64,
    /// Air of one cylinder in one cycle, mg.
    pub air_mg: f64,
}

/// Everything that happened, on a uniform fine time grid; sample k lies at k / `hz` seconds.
#[derive(Debug, Clone)]
pub struct Run {
    /// Samples a second of the trace.
    pub hz: f64,
    /// Firing angles, degrees.
    pub firing_deg: Vec<f64>,
    /// Length of the engine cycle, degrees.
    pub cycle_deg: f64,
    /// Barometer, kPa absolute.
    pub barometer_kpa: f64,
    /// Runner pressure of each cylinder as a perfect sensor feels it, kPa absolute.
    pub pressure_kpa: Vec<Vec<f32>>,
    /// Crank angle since the simulation began, degrees; never falls.
    pub crank_deg: Vec<f64>,
    /// Momentary engine speed, rev/min.
    pub rpm: Vec<f32>,
    /// Coolant temperature, degrees C.
    pub coolant_c: Vec<f32>,
    /// Throttle opening, %.
    pub throttle_pct: Vec<f32>,
    /// Whole engine cycles in order, from at most a second before the recording (negative times) to its end;
    /// none while the engine stands still.
    pub cycles: Vec<Cycle>,
    /// Volume between plate and valve with its hose, cm3, per cylinder.
    pub runner_cc: Vec<f64>,
    /// The calibrated healthy engine.
    pub healthy: Healthy,
}

/// What is true between two times, over whole engine cycles. All vectors: one per cylinder, cylinder 1 first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Truth {
    /// Start of the first cycle counted, s.
    pub start_s: f64,
    /// End of the last cycle counted, s.
    pub end_s: f64,
    /// How many cycles.
    pub cycles: usize,
    /// Time mean of the undisturbed runner pressure, kPa absolute.
    pub mean_kpa: Vec<f64>,
    /// Engine speed (revolutions over time), rev/min.
    pub rpm: f64,
    /// Mean fresh air per cycle, mg.
    pub air_mg: Vec<f64>,
    /// Air over that of the median cylinder.
    pub air_ratio: Vec<f64>,
    /// Mean effective inlet area, mm2.
    pub inlet_mm2: Vec<f64>,
    /// Inlet area over that of the median cylinder.
    pub area_ratio: Vec<f64>,
    /// Inlet area per runner volume over that of the median cylinder: what the refill rate shows.
    pub refill_ratio: Vec<f64>,
    /// Mean air over stoichiometric air.
    pub lambda: Vec<f64>,
    /// Highest minus lowest mean pressure, kPa.
    pub spread_kpa: f64,
}

impl Truth {
    /// Mean pressure minus the median of all cylinders, kPa.
    #[must_use]
    pub fn deviation_kpa(&self) -> Vec<f64> {
        let middle = median(&self.mean_kpa);
        self.mean_kpa.iter().map(|v| v - middle).collect()
    }
}

impl Run {
    /// How many cylinders.
    #[must_use]
    pub fn cylinders(&self) -> usize {
        self.pressure_kpa.len()
    }

    /// The trace's time of its last sample, s.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        self.rpm.len().saturating_sub(1) as f64 / self.hz
    }

    /// Means over the whole engine cycles that lie between two times.
    ///
    /// # Errors
    /// [`ModelError::NoCycle`] if there is none.
    pub fn truth(&self, from_s: f64, to_s: f64) -> Result<Truth, ModelError> {
        let inside: Vec<&Cycle> =
            self.cycles.iter().filter(|c| c.start_s >= from_s && c.end_s <= to_s).collect();
        let (Some(first), Some(last)) = (inside.first(), inside.last()) else {
            return Err(ModelError::NoCycle { from_s, to_s });
        };
        let time: f64 = inside.iter().map(|c| c.end_s - c.start_s).sum();
        let n = inside.len() as f64;
        let each = |f: &dyn Fn(&Cycle, usize) -> f64, by: f64| -> Vec<f64> {
            (0..self.cylinders()).map(|i| inside.iter().map(|c| f(c, i)).sum::<f64>() / by).collect()
        };
        let mean_kpa = each(&|c, i| c.pressure_kpa_s[i], time);
        let air_mg = each(&|c, i| c.air_mg[i], n);
        let inlet_mm2 = each(&|c, i| c.inlet_mm2[i] * (c.end_s - c.start_s), time);
        let refill: Vec<f64> = inlet_mm2.iter().zip(&self.runner_cc).map(|(a, v)| a / v).collect();
        let high = mean_kpa.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let low = mean_kpa.iter().copied().fold(f64::INFINITY, f64::min);
        Ok(Truth {
            start_s: first.start_s,
            end_s: last.end_s,
            cycles: inside.len(),
            spread_kpa: high - low,
            rpm: n * self.cycle_deg / 360.0 * 60.0 / time,
            air_ratio: over_median(&air_mg),
            area_ratio: over_median(&inlet_mm2),
            refill_ratio: over_median(&refill),
            lambda: each(&|c, i| c.lambda[i], n),
            mean_kpa,
            air_mg,
            inlet_mm2,
        })
    }
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    match n {
        0 => f64::NAN,
        _ if n % 2 == 1 => sorted[n / 2],
        _ => 0.5 * (sorted[n / 2 - 1] + sorted[n / 2]),
    }
}

fn over_median(values: &[f64]) -> Vec<f64> {
    let middle = median(values);
    values.iter().map(|v| v / middle).collect()
}
