//! Screws, throttle, idle controller, load, starter and switch at every sample of the trace.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use crate::physics::calibrate::Calibration;
use crate::scenario::{Event, Scenario};

/// Wide-open plate area over the area at idle; the opening acts by its square (a plate turns).
const WIDE_OPEN: f64 = 250.0;
const WANDER_TAU_S: f64 = 2.5;
const FRICTION_CONSTANT: f64 = 0.75;
const COLD_PER_KELVIN: f64 = 0.005;
const STARTER_S: f64 = 3.0;

/// What the driver, the mechanic and the control unit do to the engine at one instant.
#[derive(Debug)]
pub(crate) struct Controls<'a> {
    scenario: &'a Scenario,
    idle_m2: f64,
    idle_rad_s: f64,
    /// Inlet area of each cylinder: plate, bleed, leak, raised throttle, m2.
    pub(crate) inlet_m2: Vec<f64>,
    /// Throttle opening, %.
    pub(crate) throttle_pct: f64,
    pub(crate) coolant_c: f64,
    pub(crate) fuel_on: bool,
    pub(crate) cranking: bool,
    started: bool,
    smooth_rad_s: f64,
    bleed: f64,
    raised: f64,
    blip: f64,
    raised_integral: f64,
    extra_load: f64,
    wander: f64,
    wander_noise: ChaCha8Rng,
}

impl<'a> Controls<'a> {
    pub(crate) fn new(scenario: &'a Scenario, calibration: &Calibration) -> Self {
        let mut wander_noise = ChaCha8Rng::seed_from_u64(scenario.seed);
        wander_noise.set_stream(2);
        let idle_rad_s = scenario.engine.idle_rpm * std::f64::consts::PI / 30.0;
        let running = scenario.start_s <= 0.0;
        Self {
            scenario,
            idle_m2: calibration.inlet_m2,
            idle_rad_s,
            inlet_m2: vec![calibration.inlet_m2; scenario.engine.cylinders()],
            throttle_pct: 0.0,
            coolant_c: scenario.coolant.start_c,
            fuel_on: running,
            cranking: false,
            started: running,
            smooth_rad_s: if running { idle_rad_s } else { 0.0 },
            bleed: scenario.engine.idle_control.map_or(0.0, |c| c.share),
            raised: 0.0,
            blip: 0.0,
            raised_integral: 0.0,
            extra_load: 0.0,
            wander: 0.0,
            wander_noise,
        }
    }

    /// Torque that brakes the crank, over the warm friction torque at idle speed.
    #[inline]
    pub(crate) fn load(&self, rad_s: f64) -> f64 {
        let cold = 1.0 + COLD_PER_KELVIN * (self.scenario.coolant.warm_c - self.coolant_c).max(0.0);
        let speed = FRICTION_CONSTANT + (1.0 - FRICTION_CONSTANT) * rad_s / self.idle_rad_s;
        speed * cold * (1.0 + self.wander) + self.extra_load
    }

    /// Brings everything to time `t`.
    pub(crate) fn update(&mut self, t: f64, rad_s: f64) {
        let dt = 1.0 / self.scenario.trace_hz;
        self.smooth_rad_s += (rad_s - self.smooth_rad_s) * (dt / 0.15).min(1.0);
        self.switch(t, rad_s);
        self.warm_up(t);
        let noise: f64 = self.wander_noise.sample(StandardNormal);
        let kick = self.scenario.engine.wander * (2.0 * dt / WANDER_TAU_S).sqrt();
        self.wander += -self.wander * dt / WANDER_TAU_S + kick * noise;
        self.throttle(t, dt);
        self.idle_controller(dt);
        self.inlets(t);
    }

    fn switch(&mut self, t: f64, rad_s: f64) {
        let scenario = self.scenario;
        if !self.started && t >= scenario.start_s {
            self.started = true;
            self.cranking = true;
        }
        if self.cranking && t > scenario.start_s + STARTER_S {
            self.cranking = false;
        }
        let off = scenario.stop_s.is_some_and(|stop| t >= stop);
        if off {
            self.cranking = false;
        }
        let limit = scenario.engine.rev_limit_rpm * std::f64::consts::PI / 30.0;
        self.fuel_on = self.started && !off && rad_s < limit;
    }

    fn warm_up(&mut self, t: f64) {
        let c = &self.scenario.coolant;
        let swing = 0.3 * (0.11 * t).sin();
        self.coolant_c = c.warm_c + (c.start_c - c.warm_c) * (-t.max(0.0) / c.tau_s).exp() + swing;
    }

    /// Extra plate area of a raised throttle, in idle areas.
    fn throttle(&mut self, t: f64, dt: f64) {
        let (mut wanted, mut blip, mut held) = (0.0, 0.0f64, false);
        self.extra_load = 0.0;
        for event in &self.scenario.events {
            match *event {
                Event::Blip { at_s, length_s, opening } if t >= at_s && t < at_s + length_s => {
                    let u = opening * (std::f64::consts::PI * (t - at_s) / length_s).sin();
                    blip = blip.max(WIDE_OPEN * u * u);
                }
                Event::Load { from_s, to_s, share } if t >= from_s && t < to_s => self.extra_load += share,
                Event::Raised { from_s, to_s, rpm } if t >= from_s && t < to_s => {
                    let idle = self.scenario.engine.idle_rpm;
                    let ramp = ((t - from_s) / 2.0).min(1.0);
                    let speed = (idle + (rpm - idle) * ramp) / idle;
                    let error = speed - self.smooth_rad_s / self.idle_rad_s;
                    self.raised_integral += 0.9 * error * dt;
                    let feed = 0.8 * (speed * (FRICTION_CONSTANT + (1.0 - FRICTION_CONSTANT) * speed) - 1.0);
                    wanted = (feed + self.raised_integral + 1.5 * error).clamp(0.0, WIDE_OPEN);
                    held = true;
                }
                _ => {}
            }
        }
        if !held {
            self.raised_integral = 0.0;
        }
        self.raised += (wanted - self.raised) * (dt / 0.1).min(1.0);
        if !held && self.raised < 1e-6 {
            self.raised = 0.0;
        }
        self.blip = blip;
        self.throttle_pct = 100.0 * ((self.raised + blip) / WIDE_OPEN).sqrt();
    }

    fn idle_controller(&mut self, dt: f64) {
        let Some(control) = self.scenario.engine.idle_control else { return };
        if self.fuel_on && self.throttle_pct < 0.5 && !self.cranking {
            let error = 1.0 - self.smooth_rad_s / self.idle_rad_s;
            self.bleed = (self.bleed + control.gain * error * dt).clamp(0.0, 3.0 * control.share);
        }
    }

    fn inlets(&mut self, t: f64) {
        let share = self.scenario.engine.idle_control.map_or(0.0, |c| c.share);
        for i in 0..self.inlet_m2.len() {
            let fault = self.scenario.faults.get(i).copied().unwrap_or_default();
            let (mut plate, mut leak_mm2) = (fault.plate, fault.leak_mm2);
            for event in &self.scenario.events {
                match *event {
                    Event::Screw { at_s, cylinder, factor } if cylinder == i + 1 && t >= at_s => {
                        plate *= factor;
                    }
                    Event::Drift { from_s, cylinder, per_minute } if cylinder == i + 1 && t > from_s => {
                        plate += per_minute * (t - from_s) / 60.0;
                    }
                    Event::Leak { from_s, to_s, cylinder, area_mm2 }
                        if cylinder == i + 1 && t >= from_s && t < to_s =>
                    {
                        leak_mm2 += area_mm2;
                    }
                    _ => {}
                }
            }
            let raised = (self.raised + self.blip) * fault.linkage;
            let areas = plate.max(0.0) * (1.0 - share) + self.bleed + raised;
            self.inlet_m2[i] = self.idle_m2 * areas + leak_mm2 * 1e-6;
        }
    }
}
