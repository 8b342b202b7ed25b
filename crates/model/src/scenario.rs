//! What is wrong with the engine and what happens while it is recorded.

use serde::{Deserialize, Serialize};

use crate::engine::{Engine, range};
use crate::error::ModelError;

/// How one cylinder differs from the healthy one. The default is healthy.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CylinderFault {
    /// Plate area at idle over the healthy area (0.92 = 8 % closed).
    pub plate: f64,
    /// Opening of the plate by the linkage over the healthy one; acts only at raised throttle.
    pub linkage: f64,
    /// Effective area of a leak behind the plate, mm2.
    pub leak_mm2: f64,
    /// Shift of the intake opening, degrees of crank (positive: later).
    pub intake_open_shift_deg: f64,
    /// Shift of the intake closing, degrees of crank (positive: later).
    pub intake_close_shift_deg: f64,
    /// Effective area of a leak past the closed intake valve, mm2.
    pub valve_leak_mm2: f64,
    /// Released heat over the healthy one (weak burn below 1).
    pub burn: f64,
    /// Runner volume over the healthy one.
    pub runner: f64,
}

impl Default for CylinderFault {
    fn default() -> Self {
        Self {
            plate: 1.0,
            linkage: 1.0,
            leak_mm2: 0.0,
            intake_open_shift_deg: 0.0,
            intake_close_shift_deg: 0.0,
            valve_leak_mm2: 0.0,
            burn: 1.0,
            runner: 1.0,
        }
    }
}

/// Something that happens at a time. Cylinders count from 1; times are seconds of the recording.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "what")]
#[non_exhaustive]
pub enum Event {
    /// A screw is turned: the plate area is multiplied by `factor` from then on.
    Screw {
        /// When, s.
        at_s: f64,
        /// Which cylinder.
        cylinder: usize,
        /// Factor on the plate area.
        factor: f64,
    },
    /// A plate area creeps: it changes by `per_minute` (share of the healthy area) from `from_s` on.
    Drift {
        /// Start, s.
        from_s: f64,
        /// Which cylinder.
        cylinder: usize,
        /// Change per minute as a share of the healthy area.
        per_minute: f64,
    },
    /// A leak appears (a hose slips off) and stays until `to_s`.
    Leak {
        /// Start, s.
        from_s: f64,
        /// End, s.
        to_s: f64,
        /// Which cylinder.
        cylinder: usize,
        /// Effective area, mm2.
        area_mm2: f64,
    },
    /// The throttle is opened and let go: a half sine of the opening.
    Blip {
        /// Start, s.
        at_s: f64,
        /// Length, s.
        length_s: f64,
        /// Largest opening, 0 (idle stop) to 1 (wide open); 0.15 is a lively blip.
        opening: f64,
    },
    /// The throttle is held so that the engine runs at a raised speed.
    Raised {
        /// Start, s (the speed rises during the first two seconds).
        from_s: f64,
        /// End, s.
        to_s: f64,
        /// Speed, rev/min.
        rpm: f64,
    },
    /// An extra load torque (alternator, pump, gear), as a share of the friction torque.
    Load {
        /// Start, s.
        from_s: f64,
        /// End, s.
        to_s: f64,
        /// Share of the friction torque.
        share: f64,
    },
}

/// A small opening that joins two runners.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Crossover {
    /// One cylinder, from 1.
    pub a: usize,
    /// The other.
    pub b: usize,
    /// Effective area, mm2.
    pub area_mm2: f64,
}

/// A damped resonance of the runner or the gauge hose, added to what the sensors feel. Its mean is zero.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Ringing {
    /// Natural frequency, Hz.
    pub hz: f64,
    /// Damping ratio (0.1 rings for a few periods).
    pub damping: f64,
    /// Strength; 0.3 gives a few kPa.
    pub gain: f64,
}

/// Coolant temperature over the recording: `warm_c + (start_c - warm_c) exp(-t / tau_s)` and a slow
/// thermostat swing of 0.3 K. A cold engine has more friction (0.5 % a kelvin below `warm_c`).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Coolant {
    /// At the start, degrees C.
    pub start_c: f64,
    /// Fully warm, degrees C.
    pub warm_c: f64,
    /// Time constant of warming, s.
    pub tau_s: f64,
}

impl Default for Coolant {
    fn default() -> Self {
        Self { start_c: 82.0, warm_c: 82.0, tau_s: 240.0 }
    }
}

/// One run of one engine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Scenario {
    /// The engine.
    pub engine: Engine,
    /// One entry per cylinder; missing ones are healthy.
    pub faults: Vec<CylinderFault>,
    /// Openings between runners.
    pub crossovers: Vec<Crossover>,
    /// Resonance in runner or hose.
    pub ringing: Option<Ringing>,
    /// What happens.
    pub events: Vec<Event>,
    /// Coolant temperature.
    pub coolant: Coolant,
    /// Length of the recording, s.
    pub duration_s: f64,
    /// The engine stands still before this time, then starts; 0 = runs warm from the beginning.
    pub start_s: f64,
    /// The engine is switched off at this time.
    pub stop_s: Option<f64>,
    /// Rate of the fine trace, samples a second.
    pub trace_hz: f64,
    /// Largest step of the integration, degrees of crank.
    pub step_deg: f64,
    /// Seed of everything random.
    pub seed: u64,
}

impl Scenario {
    /// A healthy engine idling for `duration_s`.
    #[must_use]
    pub fn new(engine: Engine, duration_s: f64, seed: u64) -> Self {
        Self {
            faults: vec![CylinderFault::default(); engine.cylinders()],
            engine,
            crossovers: Vec::new(),
            ringing: None,
            events: Vec::new(),
            coolant: Coolant::default(),
            duration_s,
            start_s: 0.0,
            stop_s: None,
            trace_hz: 2_000.0,
            step_deg: 2.0,
            seed,
        }
    }

    /// The faults of a cylinder (from 1), to be changed. Numbers outside 1..=64 give the nearest of these.
    pub fn cylinder(&mut self, number: usize) -> &mut CylinderFault {
        let index = number.clamp(1, 64) - 1;
        if self.faults.len() <= index {
            self.faults.resize(index + 1, CylinderFault::default());
        }
        &mut self.faults[index]
    }

    /// Adds an event.
    pub fn event(&mut self, event: Event) -> &mut Self {
        self.events.push(event);
        self
    }

    /// Refuses figures that have no meaning.
    ///
    /// # Errors
    /// [`ModelError::OutOfRange`] or [`ModelError::NoSuchCylinder`] for the first one found.
    pub fn check(&self) -> Result<(), ModelError> {
        self.engine.check()?;
        let n = self.engine.cylinders();
        named("faults", self.faults.len().max(1), n)?;
        range("duration_s", self.duration_s, 0.1, 7_200.0, "0.1 to 7200")?;
        range("start_s", self.start_s, 0.0, 7_200.0, "0 to 7200")?;
        range("stop_s", self.stop_s.unwrap_or(0.0), 0.0, 7_200.0, "0 to 7200")?;
        range("trace_hz", self.trace_hz, 200.0, 20_000.0, "200 to 20000")?;
        range("step_deg", self.step_deg, 0.1, 6.0, "0.1 to 6")?;
        let cells = self.duration_s * self.trace_hz * n as f64;
        range("duration_s x trace_hz x cylinders", cells, 1.0, 2e8, "at most 2e8 samples")?;
        range("tau_s", self.coolant.tau_s, 0.1, 1e6, "over 0.1")?;
        for fault in &self.faults {
            range("plate", fault.plate, 0.0, 20.0, "0 to 20")?;
            range("linkage", fault.linkage, 0.0, 20.0, "0 to 20")?;
            range("leak_mm2", fault.leak_mm2, 0.0, 500.0, "0 to 500")?;
            range("intake_open_shift_deg", fault.intake_open_shift_deg, -80.0, 80.0, "-80 to 80")?;
            range("intake_close_shift_deg", fault.intake_close_shift_deg, -80.0, 80.0, "-80 to 80")?;
            range("valve_leak_mm2", fault.valve_leak_mm2, 0.0, 100.0, "0 to 100")?;
            range("burn", fault.burn, 0.0, 2.0, "0 to 2")?;
            range("runner", fault.runner, 0.1, 10.0, "0.1 to 10")?;
        }
        for cross in &self.crossovers {
            named("crossover", cross.a, n)?;
            named("crossover", cross.b, n)?;
            range("crossover area_mm2", cross.area_mm2, 0.0, 500.0, "0 to 500")?;
        }
        if let Some(ring) = self.ringing {
            range("ringing hz", ring.hz, 1.0, 0.1 * self.trace_hz, "1 to a tenth of trace_hz")?;
            range("ringing damping", ring.damping, 0.005, 2.0, "0.005 to 2")?;
            range("ringing gain", ring.gain, 0.0, 5.0, "0 to 5")?;
        }
        self.events.iter().try_for_each(|event| check_event(event, n))
    }
}

fn check_event(event: &Event, n: usize) -> Result<(), ModelError> {
    match *event {
        Event::Screw { cylinder, factor, .. } => {
            named("screw", cylinder, n)?;
            range("factor", factor, 0.01, 50.0, "0.01 to 50")
        }
        Event::Drift { cylinder, per_minute, .. } => {
            named("drift", cylinder, n)?;
            range("per_minute", per_minute, -5.0, 5.0, "-5 to 5")
        }
        Event::Leak { cylinder, area_mm2, .. } => {
            named("leak", cylinder, n)?;
            range("leak area_mm2", area_mm2, 0.0, 500.0, "0 to 500")
        }
        Event::Blip { length_s, opening, .. } => {
            range("length_s", length_s, 0.05, 60.0, "0.05 to 60")?;
            range("opening", opening, 0.0, 1.0, "0 to 1")
        }
        Event::Raised { rpm, .. } => range("raised rpm", rpm, 300.0, 12_000.0, "300 to 12000"),
        Event::Load { share, .. } => range("share", share, -1.0, 3.0, "-1 to 3"),
    }
}

/// Refuses a cylinder number the engine does not have.
pub(crate) fn named(what: &'static str, cylinder: usize, cylinders: usize) -> Result<(), ModelError> {
    if (1..=cylinders).contains(&cylinder) {
        Ok(())
    } else {
        Err(ModelError::NoSuchCylinder { what, cylinder, cylinders })
    }
}
