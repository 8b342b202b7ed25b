//! A lesson being made: the engine as the seed gives it, and the words for what a case does to it.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use super::sensors;
use crate::engine::Engine;
use crate::recorder::logger::{Extras, Logger};
use crate::recorder::sensor::Sensor;
use crate::scenario::{Coolant, Event, Scenario};

/// Scatter of the healthy plates, one standard deviation.
const PLATES: f64 = 0.001;

/// A lesson being made.
pub(super) struct Draft {
    pub(super) scenario: Scenario,
    pub(super) logger: Logger,
    pub(super) codes: Vec<&'static str>,
    pub(super) at_fault: Option<usize>,
    pub(super) set: Vec<String>,
    pub(super) told: Vec<String>,
    random: ChaCha8Rng,
    /// Share of the easy size of a fault.
    size: f64,
    chosen: usize,
}

impl Draft {
    pub(super) fn new(engine: Engine, logger: Logger, seconds: f64, seed: u64, hard: bool) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let n = engine.cylinders();
        let mut normal = || -> f64 { random.sample(StandardNormal) };
        let engine = Engine {
            idle_rpm: engine.idle_rpm + 20.0 * normal(),
            barometer_kpa: engine.barometer_kpa + 0.8 * normal(),
            ..engine
        };
        let mut scenario = Scenario::new(engine, seconds, seed);
        // A thermostat between two whole degrees: a warm engine whose coolant does move in the file.
        scenario.coolant = Coolant { start_c: 82.4, warm_c: 82.4, ..Coolant::default() };
        for cylinder in 1..=n {
            scenario.cylinder(cylinder).plate = 1.0 + PLATES * normal().clamp(-2.0, 2.0);
        }
        let chosen = random.random_range(1..=n);
        let (size, noise) = if hard { (0.6, 3.0) } else { (1.0, 1.0) };
        let base = logger.sensors.first().cloned().unwrap_or_default();
        let logger = Logger {
            extras: Extras { coolant: true, ..Extras::default() },
            ..logger.with_sensors(sensors(n, &base, noise))
        };
        let (codes, set, told) = (Vec::new(), Vec::new(), Vec::new());
        Self { scenario, logger, codes, at_fault: None, set, told, random, size, chosen }
    }

    /// The cylinder that the seed chose, and from here on the one at fault.
    pub(super) fn blame(&mut self) -> usize {
        self.at_fault = Some(self.chosen);
        self.chosen
    }

    /// The cylinder that the seed chose, without fault of its own.
    pub(super) fn chosen(&self) -> usize {
        self.chosen
    }

    /// A size between two ends as the seed gives it; the hard lesson takes a part of it.
    pub(super) fn size(&mut self, low: f64, high: f64) -> f64 {
        self.size * self.random.random_range(low..high)
    }

    pub(super) fn say(&mut self, line: String) {
        self.set.push(line);
    }

    pub(super) fn tell(&mut self, line: &str) {
        self.told.push(line.to_owned());
    }

    pub(super) fn sensor(&mut self, cylinder: usize) -> &mut Sensor {
        let at = cylinder.min(self.logger.sensors.len()) - 1;
        &mut self.logger.sensors[at]
    }

    /// Sets the plate of the chosen cylinder off by a share of its area.
    pub(super) fn plate(&mut self, share: f64) {
        let cylinder = self.blame();
        self.scenario.cylinder(cylinder).plate = 1.0 + share;
        let way = if share > 0.0 { "too far open" } else { "too far closed" };
        self.say(format!("The throttle plate of cylinder {cylinder} is {:.1} % {way}.", 100.0 * share.abs()));
    }

    /// The engine stands for the first seconds.
    pub(super) fn engine_off(&mut self, seconds: f64) {
        self.scenario.start_s = seconds;
    }

    /// The engine is held at a raised speed from a share of the recording on, to its end.
    pub(super) fn raised(&mut self, from: f64, rpm: f64) {
        let end = self.scenario.duration_s;
        self.scenario.event(Event::Raised { from_s: from * end, to_s: end, rpm });
    }

    pub(super) fn coolant(&mut self, start_c: f64, tau_s: f64) {
        self.scenario.coolant = Coolant { start_c, warm_c: 82.0, tau_s };
    }
}
