//! The fine trace and the whole-cycle integrals, written while the engine runs.

use super::Machine;
use crate::physics::bore::Bore;
use crate::physics::calibrate::Calibration;
use crate::run::{Cycle, Healthy, Run};
use crate::scenario::{Ringing, Scenario};

/// Cycles this long before the recording are kept: a control unit shows the last finished one.
const KEPT_BEFORE_S: f64 = 1.0;

/// Collects the run.
#[derive(Debug)]
pub(crate) struct Recorder {
    hz: f64,
    cycle_deg: f64,
    pressure_kpa: Vec<Vec<f32>>,
    crank_deg: Vec<f64>,
    rpm: Vec<f32>,
    coolant_c: Vec<f32>,
    throttle_pct: Vec<f32>,
    cycles: Vec<Cycle>,
    /// Runner pressures at the start of the step, Pa.
    start_pa: Vec<f64>,
    /// Integrals of the cycle that runs, Pa s.
    integral: Vec<f64>,
    cycle_start_s: f64,
    next_deg: f64,
    /// The cycle that runs was seen from its beginning and never stood still.
    whole: bool,
    ring: Option<Ringing>,
    /// Ringing displacement and velocity per cylinder, and the last pressure.
    ring_state: Vec<[f64; 3]>,
}

impl Recorder {
    pub(crate) fn new(scenario: &Scenario, bores: &[Bore], samples: usize) -> Self {
        let n = bores.len();
        let cycle_deg = scenario.engine.cycle_deg();
        Self {
            hz: scenario.trace_hz,
            cycle_deg,
            pressure_kpa: vec![Vec::with_capacity(samples); n],
            crank_deg: Vec::with_capacity(samples),
            rpm: Vec::with_capacity(samples),
            coolant_c: Vec::with_capacity(samples),
            throttle_pct: Vec::with_capacity(samples),
            cycles: Vec::new(),
            start_pa: vec![0.0; n],
            integral: vec![0.0; n],
            cycle_start_s: f64::NAN,
            next_deg: cycle_deg,
            whole: false,
            ring: scenario.ringing,
            ring_state: bores.iter().map(|b| [0.0, 0.0, b.runner_pa()]).collect(),
        }
    }

    /// One row of the fine trace.
    pub(crate) fn sample(&mut self, machine: &Machine<'_>) {
        for (i, bore) in machine.bores.iter().enumerate() {
            let felt = bore.runner_pa() + self.ring(i, bore.runner_pa());
            self.pressure_kpa[i].push((felt * 1e-3) as f32);
        }
        self.crank_deg.push(machine.crank_deg);
        self.rpm.push((machine.rad_s * 30.0 / std::f64::consts::PI) as f32);
        self.coolant_c.push(machine.controls.coolant_c as f32);
        self.throttle_pct.push(machine.controls.throttle_pct as f32);
    }

    /// Band-pass `y'' + 2 z w y' + w^2 y = 2 gain w p'`: no gain at rest, so the mean stays.
    fn ring(&mut self, i: usize, pa: f64) -> f64 {
        let Some(ring) = self.ring else { return 0.0 };
        let w = 2.0 * std::f64::consts::PI * ring.hz;
        let [y, v, last] = self.ring_state[i];
        let h = 1.0 / self.hz;
        // Semi-implicit: the kick is the pressure change of this sample.
        let kick = 2.0 * ring.gain * w * (pa - last);
        let v = (v + kick - h * w * w * y) / (1.0 + 2.0 * ring.damping * w * h);
        let y = y + h * v;
        self.ring_state[i] = [y, v, pa];
        y
    }

    pub(crate) fn before(&mut self, bores: &[Bore]) {
        for (start, bore) in self.start_pa.iter_mut().zip(bores) {
            *start = bore.runner_pa();
        }
    }

    /// Adds one step to the integrals and closes the cycle when the crank passes its end.
    pub(crate) fn after(&mut self, machine: &Machine<'_>, t: f64, h: f64, d_deg: f64) {
        if d_deg <= 0.0 {
            self.whole = false;
            return;
        }
        let end_deg = machine.crank_deg + d_deg;
        if end_deg < self.next_deg {
            for ((sum, start), bore) in self.integral.iter_mut().zip(&self.start_pa).zip(&machine.bores) {
                *sum += 0.5 * (start + bore.runner_pa()) * h;
            }
            return;
        }
        let f = (self.next_deg - machine.crank_deg) / d_deg;
        let end_s = t + f * h;
        let mut rest = vec![0.0; machine.bores.len()];
        for (i, bore) in machine.bores.iter().enumerate() {
            let (a, b) = (self.start_pa[i], bore.runner_pa());
            let mid = a + (b - a) * f;
            self.integral[i] += 0.5 * (a + mid) * h * f;
            rest[i] = 0.5 * (mid + b) * h * (1.0 - f);
        }
        if self.whole && self.cycle_start_s >= -KEPT_BEFORE_S {
            self.close(machine, end_s);
        }
        self.integral = rest;
        self.cycle_start_s = end_s;
        self.next_deg += self.cycle_deg;
        self.whole = true;
    }

    fn close(&mut self, machine: &Machine<'_>, end_s: f64) {
        self.cycles.push(Cycle {
            start_s: self.cycle_start_s,
            end_s,
            pressure_kpa_s: self.integral.iter().map(|v| v * 1e-3).collect(),
            air_mg: machine.air_kg.iter().map(|v| v * 1e6).collect(),
            lambda: machine.lambda.clone(),
            inlet_mm2: machine.controls.inlet_m2.iter().map(|v| v * 1e6).collect(),
        });
    }

    pub(crate) fn finish(self, scenario: &Scenario, calibration: &Calibration, bores: &[Bore]) -> Run {
        Run {
            hz: self.hz,
            firing_deg: scenario.engine.firing_deg.clone(),
            cycle_deg: self.cycle_deg,
            barometer_kpa: scenario.engine.barometer_kpa,
            pressure_kpa: self.pressure_kpa,
            crank_deg: self.crank_deg,
            rpm: self.rpm,
            coolant_c: self.coolant_c,
            throttle_pct: self.throttle_pct,
            cycles: self.cycles,
            runner_cc: bores.iter().map(|b| b.runner_m3 * 1e6).collect(),
            healthy: Healthy {
                inlet_mm2: calibration.inlet_m2 * 1e6,
                friction_nm: calibration.friction_nm,
                air_mg: calibration.air_kg * 1e6,
            },
        }
    }
}
