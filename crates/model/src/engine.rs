//! The engine as built and adjusted: no faults, no events.

use serde::{Deserialize, Serialize};

use crate::error::ModelError;

/// Length of the engine cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Strokes {
    /// One cycle in 360 degrees of crank; the crankcase draws the air.
    Two,
    /// One cycle in 720 degrees of crank.
    Four,
}

/// Who decides how much fuel a cylinder gets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fuelling {
    /// One injected quantity for all cylinders, following the mean air.
    Shared,
    /// Every cylinder's fuel follows its own air (carburettors).
    Individual,
}

/// A valve or port: opening and closing in degrees of crank after the cylinder's firing dead centre.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Valve {
    /// Opening, degrees; may exceed the cycle (wraps).
    pub open_deg: f64,
    /// Closing, degrees; larger than `open_deg`.
    pub close_deg: f64,
    /// Effective area (discharge coefficient x area) at full lift, mm2.
    pub area_mm2: f64,
}

/// How the charge burns.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Burn {
    /// Start, degrees before the firing dead centre.
    pub advance_deg: f64,
    /// From start to end, degrees.
    pub duration_deg: f64,
    /// Cycle-to-cycle standard deviation of the released heat, as a share.
    pub variation: f64,
}

/// An idle controller: one common bleed past all plates holds the speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct IdleControl {
    /// Share of the healthy idle air that goes through the bleed.
    pub share: f64,
    /// Integral gain: change of the bleed (in idle plate areas) per second and relative speed error.
    pub gain: f64,
}

/// An engine with one plate and one runner per cylinder.
///
/// # Units
/// As in the field names. Pressures are absolute. Plate areas follow from `idle_kpa`, friction from
/// `idle_rpm`: the healthy warm engine idles there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Engine {
    /// Crank angle of each cylinder's firing dead centre, cylinder 1 first, degrees.
    pub firing_deg: Vec<f64>,
    /// Cycle length.
    pub strokes: Strokes,
    /// Swept volume of one cylinder, cm3.
    pub displacement_cc: f64,
    /// Largest over smallest volume (of the crankcase in a two-stroke).
    pub compression_ratio: f64,
    /// Connecting-rod length over crank radius.
    pub rod_ratio: f64,
    /// Volume between plate and intake valve, cm3.
    pub runner_cc: f64,
    /// Volume of gauge hose and sensor, cm3; adds to the runner.
    pub hose_cc: f64,
    /// Intake valve (or crankcase inlet).
    pub intake: Valve,
    /// Exhaust valve (or transfer port).
    pub exhaust: Valve,
    /// Burning.
    pub burn: Burn,
    /// Warm idle speed, rev/min.
    pub idle_rpm: f64,
    /// Time mean of the runner pressure at warm idle, kPa absolute.
    pub idle_kpa: f64,
    /// Inertia of everything that turns, kg m2.
    pub inertia_kg_m2: f64,
    /// Slow wander of the load torque: standard deviation as a share of the friction torque.
    pub wander: f64,
    /// Idle controller, if there is one.
    pub idle_control: Option<IdleControl>,
    /// Who meters the fuel.
    pub fuelling: Fuelling,
    /// Air over stoichiometric air asked for.
    pub lambda_target: f64,
    /// Barometer, kPa absolute.
    pub barometer_kpa: f64,
    /// Temperature of the intake air and the runner gas, degrees C.
    pub air_c: f64,
    /// Speed above which the fuel is cut, rev/min.
    pub rev_limit_rpm: f64,
}

impl Default for Engine {
    fn default() -> Self {
        Self {
            firing_deg: vec![0.0, 540.0, 180.0, 360.0],
            strokes: Strokes::Four,
            displacement_cc: 400.0,
            compression_ratio: 10.0,
            rod_ratio: 3.5,
            runner_cc: 240.0,
            hose_cc: 8.0,
            intake: Valve { open_deg: 348.0, close_deg: 585.0, area_mm2: 450.0 },
            exhaust: Valve { open_deg: 130.0, close_deg: 368.0, area_mm2: 380.0 },
            burn: Burn { advance_deg: 12.0, duration_deg: 60.0, variation: 0.05 },
            idle_rpm: 1050.0,
            idle_kpa: 42.0,
            inertia_kg_m2: 0.14,
            wander: 0.012,
            idle_control: None,
            fuelling: Fuelling::Shared,
            lambda_target: 1.0,
            barometer_kpa: 101.3,
            air_c: 27.0,
            rev_limit_rpm: 5_500.0,
        }
    }
}

impl Engine {
    /// A four-cylinder in line, firing 1-3-4-2 every 180 degrees.
    #[must_use]
    pub fn inline_four() -> Self {
        Self::default()
    }

    /// An evenly firing four-stroke of `cylinders`, firing in their numbered order.
    #[must_use]
    pub fn even(cylinders: usize) -> Self {
        let step = 720.0 / cylinders.max(1) as f64;
        let base = Self::default();
        Self {
            firing_deg: (0..cylinders).map(|i| step * i as f64).collect(),
            inertia_kg_m2: (base.inertia_kg_m2 * cylinders as f64 / 4.0).max(0.08),
            ..base
        }
    }

    /// A triple, firing every 240 degrees, with a carburettor per cylinder.
    #[must_use]
    pub fn triple() -> Self {
        Self { fuelling: Fuelling::Individual, inertia_kg_m2: 0.12, idle_rpm: 1_100.0, ..Self::even(3) }
    }

    /// A parallel twin with crank pins 270 degrees apart: fires after 270 and 450 degrees.
    #[must_use]
    pub fn twin_270() -> Self {
        Self {
            firing_deg: vec![0.0, 270.0],
            displacement_cc: 450.0,
            runner_cc: 280.0,
            inertia_kg_m2: 0.12,
            idle_rpm: 1_200.0,
            ..Self::default()
        }
    }

    /// A flat-plane V8 or two fours side by side: eight cylinders every 90 degrees.
    #[must_use]
    pub fn eight() -> Self {
        Self { idle_rpm: 900.0, ..Self::even(8) }
    }

    /// A two-stroke with `cylinders`, evenly firing within 360 degrees.
    #[must_use]
    pub fn two_stroke(cylinders: usize) -> Self {
        let step = 360.0 / cylinders.max(1) as f64;
        Self {
            firing_deg: (0..cylinders).map(|i| step * i as f64).collect(),
            strokes: Strokes::Two,
            displacement_cc: 350.0,
            compression_ratio: 1.6,
            runner_cc: 140.0,
            intake: Valve { open_deg: 245.0, close_deg: 400.0, area_mm2: 350.0 },
            exhaust: Valve { open_deg: 118.0, close_deg: 242.0, area_mm2: 500.0 },
            idle_rpm: 1_150.0,
            idle_kpa: 70.0,
            inertia_kg_m2: (0.03 * cylinders as f64).max(0.06),
            fuelling: Fuelling::Individual,
            ..Self::default()
        }
    }

    /// How many cylinders the engine has.
    #[must_use]
    pub fn cylinders(&self) -> usize {
        self.firing_deg.len()
    }

    /// Length of the engine cycle, degrees of crank.
    #[must_use]
    pub fn cycle_deg(&self) -> f64 {
        match self.strokes {
            Strokes::Two => 360.0,
            Strokes::Four => 720.0,
        }
    }

    /// Refuses figures that have no meaning.
    ///
    /// # Errors
    /// [`ModelError::OutOfRange`] with the first field found wrong.
    pub fn check(&self) -> Result<(), ModelError> {
        let n = self.cylinders() as f64;
        range("cylinders", n, 1.0, 12.0, "1 to 12")?;
        for &deg in &self.firing_deg {
            range("firing_deg", deg, 0.0, self.cycle_deg(), "within one engine cycle")?;
        }
        range("displacement_cc", self.displacement_cc, 20.0, 3_000.0, "20 to 3000")?;
        range("compression_ratio", self.compression_ratio, 1.2, 20.0, "1.2 to 20")?;
        range("rod_ratio", self.rod_ratio, 2.0, 10.0, "2 to 10")?;
        range("runner_cc", self.runner_cc, 5.0, 10_000.0, "5 to 10000")?;
        range("hose_cc", self.hose_cc, 0.0, 1_000.0, "0 to 1000")?;
        for valve in [self.intake, self.exhaust] {
            range("open_deg", valve.open_deg, 0.0, 720.0, "0 to 720")?;
            let span = valve.close_deg - valve.open_deg;
            range("valve duration", span, 10.0, self.cycle_deg(), "10 degrees to one cycle")?;
            range("area_mm2", valve.area_mm2, 1.0, 5_000.0, "1 to 5000")?;
        }
        range("advance_deg", self.burn.advance_deg, -40.0, 60.0, "-40 to 60")?;
        range("duration_deg", self.burn.duration_deg, 10.0, 120.0, "10 to 120")?;
        range("variation", self.burn.variation, 0.0, 0.5, "0 to 0.5")?;
        range("idle_rpm", self.idle_rpm, 300.0, 3_000.0, "300 to 3000")?;
        range("barometer_kpa", self.barometer_kpa, 50.0, 115.0, "50 to 115")?;
        range("idle_kpa", self.idle_kpa, 15.0, 0.98 * self.barometer_kpa, "15 to 98 % of the barometer")?;
        range("inertia_kg_m2", self.inertia_kg_m2, 0.005, 20.0, "0.005 to 20")?;
        range("wander", self.wander, 0.0, 0.5, "0 to 0.5")?;
        range("lambda_target", self.lambda_target, 0.6, 1.6, "0.6 to 1.6")?;
        range("air_c", self.air_c, -40.0, 120.0, "-40 to 120")?;
        range("rev_limit_rpm", self.rev_limit_rpm, self.idle_rpm, 15_000.0, "idle_rpm to 15000")?;
        if let Some(control) = self.idle_control {
            range("share", control.share, 0.0, 0.9, "0 to 0.9")?;
            range("gain", control.gain, 0.0, 10.0, "0 to 10")?;
        }
        Ok(())
    }
}

/// Refuses a figure outside `low..=high`, and NaN.
pub(crate) fn range(
    name: &'static str,
    value: f64,
    low: f64,
    high: f64,
    must: &'static str,
) -> Result<(), ModelError> {
    if value >= low && value <= high { Ok(()) } else { Err(ModelError::OutOfRange { name, value, must }) }
}
