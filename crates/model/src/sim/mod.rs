//! The whole engine in time: all cylinders on one crank.

mod controls;
mod recording;

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use crate::engine::Fuelling;
use crate::error::ModelError;
use crate::physics::block::Block;
use crate::physics::bore::{Bore, STOICHIOMETRIC, cross};
use crate::physics::calibrate::{Calibration, calibrate};
use crate::run::Run;
use crate::scenario::Scenario;
use controls::Controls;
use recording::Recorder;

/// Seconds simulated before the recording begins, so that it starts in steady idle.
const PREROLL_S: f64 = 6.0;
const STARTER_RAD_S: f64 = 26.0;
const STARTER_OFF_RAD_S: f64 = 60.0;

/// Runs a scenario.
///
/// # Errors
/// [`ModelError`] if the scenario has figures without meaning or the engine cannot idle as asked.
pub fn simulate(scenario: &Scenario) -> Result<Run, ModelError> {
    scenario.check()?;
    let block = Block::new(&scenario.engine);
    let per_sample = scenario.engine.idle_rpm * 6.0 / scenario.trace_hz;
    let step_deg = per_sample / (per_sample / scenario.step_deg).ceil();
    let calibration = calibrate(&scenario.engine, &block, step_deg)?;
    let mut machine = Machine::new(scenario, &block, calibration);
    let dt = 1.0 / scenario.trace_hz;
    let samples = (scenario.duration_s * scenario.trace_hz).floor() as i64;
    let first = if scenario.start_s > 0.0 { 0 } else { -(PREROLL_S * scenario.trace_hz) as i64 };
    let mut recorder = Recorder::new(scenario, &machine.bores, samples as usize + 1);
    for k in first..=samples {
        let t = k as f64 * dt;
        machine.controls.update(t, machine.rad_s);
        if k >= 0 {
            recorder.sample(&machine);
        }
        if k < samples {
            machine.advance(t, dt, &mut recorder);
        }
    }
    Ok(recorder.finish(scenario, &calibration, &machine.bores))
}

/// Everything that moves.
struct Machine<'a> {
    scenario: &'a Scenario,
    block: &'a Block,
    bores: Vec<Bore>,
    controls: Controls<'a>,
    calibration: Calibration,
    rad_s: f64,
    crank_deg: f64,
    /// Air estimate of the shared injection, kg per cylinder and cycle.
    air_estimate_kg: f64,
    /// Air and lambda of each cylinder at its last spark.
    air_kg: Vec<f64>,
    lambda: Vec<f64>,
    burn_noise: ChaCha8Rng,
}

impl<'a> Machine<'a> {
    fn new(scenario: &'a Scenario, block: &'a Block, calibration: Calibration) -> Self {
        let engine = &scenario.engine;
        let running = scenario.start_s <= 0.0;
        let start_pa = if running { engine.idle_kpa * 1e3 } else { block.baro_pa };
        let bores: Vec<Bore> = engine
            .firing_deg
            .iter()
            .enumerate()
            .map(|(i, &deg)| {
                let fault = scenario.faults.get(i).copied().unwrap_or_default();
                Bore::new(engine, block, &fault, deg, start_pa)
            })
            .collect();
        let mut burn_noise = ChaCha8Rng::seed_from_u64(scenario.seed);
        burn_noise.set_stream(1);
        Self {
            scenario,
            block,
            controls: Controls::new(scenario, &calibration),
            rad_s: if running { engine.idle_rpm * std::f64::consts::PI / 30.0 } else { 0.0 },
            crank_deg: 0.0,
            air_estimate_kg: calibration.air_kg,
            air_kg: vec![calibration.air_kg; bores.len()],
            lambda: vec![engine.lambda_target; bores.len()],
            bores,
            calibration,
            burn_noise,
        }
    }

    /// One sample interval, in as many equal steps as the crank speed asks for.
    fn advance(&mut self, t: f64, dt: f64, recorder: &mut Recorder) {
        let turned = (self.rad_s * dt).to_degrees();
        let steps = (turned / self.scenario.step_deg).ceil().max(1.0);
        let h = dt / steps;
        for step in 0..steps as usize {
            self.step(t + h * step as f64, h, recorder);
        }
    }

    fn step(&mut self, t: f64, h: f64, recorder: &mut Recorder) {
        let radians = self.rad_s * h;
        let d_deg = radians.to_degrees();
        let mut work = 0.0;
        recorder.before(&self.bores);
        for i in 0..self.bores.len() {
            if self.bores[i].turn(self.block, d_deg, &mut work) {
                self.spark(i);
            }
            self.bores[i].flow(self.block, self.controls.inlet_m2[i], h);
        }
        for crossover in &self.scenario.crossovers {
            let (low, high) = (crossover.a.min(crossover.b) - 1, crossover.a.max(crossover.b) - 1);
            if low != high {
                let (left, right) = self.bores.split_at_mut(high);
                cross(self.block, &mut left[low], &mut right[0], crossover.area_mm2 * 1e-6, h);
            }
        }
        recorder.after(self, t, h, d_deg);
        self.crank_deg += d_deg;
        let friction = self.calibration.friction_nm * self.controls.load(self.rad_s);
        let squared =
            self.rad_s.powi(2) + 2.0 * (work - friction * radians) / self.scenario.engine.inertia_kg_m2;
        self.rad_s = squared.max(0.0).sqrt();
        if self.controls.cranking {
            self.rad_s = self.rad_s.max(STARTER_RAD_S);
            if self.rad_s > STARTER_OFF_RAD_S {
                self.controls.cranking = false;
            }
        } else if self.rad_s < 3.0 {
            self.rad_s = 0.0;
        }
    }

    /// Meters fuel and lights the charge of cylinder `i`.
    fn spark(&mut self, i: usize) {
        let engine = &self.scenario.engine;
        let air = self.bores[i].fresh_kg(self.block);
        self.air_kg[i] = air;
        let n = self.bores.len() as f64;
        self.air_estimate_kg += (self.air_kg.iter().sum::<f64>() / n - self.air_estimate_kg) / (3.0 * n);
        let metered = match engine.fuelling {
            Fuelling::Shared => self.air_estimate_kg,
            Fuelling::Individual => air,
        };
        let fuel =
            if self.controls.fuel_on { metered / (STOICHIOMETRIC * engine.lambda_target) } else { 0.0 };
        let scatter: f64 = self.burn_noise.sample(StandardNormal);
        let fault = self.scenario.faults.get(i).map_or(1.0, |f| f.burn);
        let factor = fault * (1.0 + engine.burn.variation * scatter).clamp(0.1, 1.6);
        self.bores[i].ignite(air, fuel, factor);
        self.lambda[i] = if fuel > 0.0 { air / (STOICHIOMETRIC * fuel) } else { f64::NAN };
    }
}
