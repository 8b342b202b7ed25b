//! A mechanic at the model engine: records, plans, turns screws that have play, records again. Shared by the closed-loop test
//! and the closed-loop table; nothing here asks the planner for a truth or tells it one.
#![allow(clippy::unwrap_used)]

use evenpull_core::adjust::influence::{Influence, LearnOptions, learn};
use evenpull_core::adjust::plan::{PlanOptions, plan};
use evenpull_core::adjust::plan_result::{Advice, Plan};
use evenpull_core::adjust::rounds::Round;
use evenpull_core::codes::LEAK_SUSPECTED;
use evenpull_core::machine::{Adjuster, Machine, Opens, PressureIs};
use evenpull_core::result::{Reference, Regime, Review, State, Verdict};
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_model::{Engine, Logger, Scenario, Sensor, simulate};

use super::model_log::recording;

/// Numbers between 0 and 1 in a fixed order.
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0xD134_2543_DE82_EF95).wrapping_add(77))
    }

    pub(crate) fn roll(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mut z = self.0 ^ (self.0 >> 33);
        z = z.wrapping_mul(0xff51_afd7_ed55_8ccd);
        z ^= z >> 33;
        (z >> 11) as f64 / (1u64 << 53) as f64
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.roll()
    }
}

/// A screw with play: the plate follows once the play is taken up.
#[derive(Debug, Clone)]
pub(crate) struct PlayScrew {
    pub(crate) head: f64,
    pub(crate) tip: f64,
    pub(crate) play: f64,
    pub(crate) area_per_turn: f64,
}

impl PlayScrew {
    pub(crate) fn turn(&mut self, by: f64) {
        self.head += by;
        self.tip = self.tip.clamp(self.head - 0.5 * self.play, self.head + 0.5 * self.play);
    }
}

/// How the person starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Start {
    /// The machine file has a figure for a turn, off by up to 20 %.
    Known,
    /// It has none: the test turn comes first.
    Unknown,
}

/// One case.
pub(crate) struct Case {
    pub(crate) scenario: Scenario,
    pub(crate) logger: Logger,
    pub(crate) machine: Machine,
    pub(crate) screws: Vec<PlayScrew>,
    /// The plates hang on each other: a screw moves its own and all that follow.
    pub(crate) chained: bool,
    base: Vec<f64>,
    step_kpa: f64,
}

/// Share of the plate area per turn of opening, lowest and highest.
pub(crate) type PerTurn = (f64, f64);

impl Case {
    /// Case `number` with `cylinders`; start spread 2 to 8 kPa, play of 1/16 turn.
    pub(crate) fn new(number: u64, cylinders: usize, start: Start, per_turn: PerTurn) -> Self {
        let mut dice = Dice::new(number);
        let mut engine = if cylinders == 4 { Engine::inline_four() } else { Engine::even(cylinders) };
        engine.idle_kpa = dice.between(40.0, 45.0);
        engine.idle_rpm = dice.between(950.0, 1_100.0);
        let mut scenario = Scenario::new(engine, 78.0, 9_000 + number);
        scenario.start_s = 8.0;
        scenario.trace_hz = 1_000.0;
        let wanted = dice.between(2.0, 8.0);
        let mut off: Vec<f64> = (0..cylinders).map(|_| dice.between(-1.0, 1.0).powi(3)).collect();
        let range = |v: &[f64]| {
            v.iter().copied().fold(f64::MIN, f64::max) - v.iter().copied().fold(f64::MAX, f64::min)
        };
        let scale = wanted / (0.78 * scenario.engine.idle_kpa) / range(&off);
        off.iter_mut().for_each(|v| *v *= scale);
        let mean = off.iter().sum::<f64>() / cylinders as f64;
        let base: Vec<f64> = off.iter().map(|v| 1.0 + v - mean).collect();
        let own = dice.between(per_turn.0, per_turn.1);
        let play = 1.0 / 16.0;
        let screws: Vec<PlayScrew> = (0..cylinders)
            .map(|_| PlayScrew {
                head: 0.0,
                tip: dice.between(-0.5, 0.5) * play,
                play,
                area_per_turn: own * dice.between(0.9, 1.1),
            })
            .collect();
        let base = base.iter().zip(&screws).map(|(b, s)| b - s.area_per_turn * s.tip).collect();
        let bias = |dice: &mut Dice| Sensor {
            bias_kpa: dice.between(-0.3, 0.3),
            noise_kpa: 0.05,
            ..Sensor::default()
        };
        let sensors: Vec<Sensor> = (0..cylinders).map(|_| bias(&mut dice)).collect();
        let logger = if number.is_multiple_of(2) {
            Logger::damped(20.0, 0.15).with_sensors(sensors)
        } else {
            let stepped = sensors.into_iter().map(|s| Sensor { step_kpa: 0.1, ..s }).collect();
            Logger::diagnostic_link(8.0).with_sensors(stepped)
        };
        let told = 0.78 * scenario.engine.idle_kpa * own * dice.between(0.8, 1.2);
        let numbered = number % 3 == 0;
        let adjuster = |c: u32| Adjuster {
            cylinder: c,
            opens: Opens::Anticlockwise,
            range_turns: None,
            kpa_per_turn: (start == Start::Known).then_some(told),
            sealed: false,
        };
        let machine = Machine {
            cylinders: Some(cylinders as u32),
            reference: if numbered { Reference::Cylinder(1) } else { Machine::default().reference },
            limit_kpa: Some(1.3),
            pressure_is: PressureIs::Mean,
            adjusters: (1..=cylinders as u32).filter(|c| !(numbered && *c == 1)).map(adjuster).collect(),
            ..Machine::default()
        };
        let step_kpa = if number.is_multiple_of(2) { 0.01 } else { 0.1 };
        Self { scenario, logger, machine, screws, chained: false, base, step_kpa }
    }

    fn limit(&self) -> f64 {
        self.machine.limit_kpa.unwrap_or(1.3)
    }

    /// Runs the engine as the screws stand: the review of the recording and the true spread.
    pub(crate) fn record(&self, seconds: f64, seed: u64) -> (Review, f64) {
        let mut scenario = self.scenario.clone();
        scenario.duration_s = scenario.start_s + 10.0 + seconds;
        scenario.seed = self.scenario.seed.wrapping_mul(1_000).wrapping_add(seed);
        for (i, (b, s)) in self.base.iter().zip(&self.screws).enumerate() {
            let chain = if self.chained {
                self.screws[..i].iter().map(|s| s.area_per_turn * s.tip).sum()
            } else {
                0.0
            };
            scenario.cylinder(i + 1).plate = (b + s.area_per_turn * s.tip + chain).max(0.05);
        }
        let run = simulate(&scenario).unwrap();
        let log = run.log(&self.logger, scenario.seed).unwrap();
        // An engine that was closed too far stalls: there is no spread to be inside of.
        let truth =
            run.truth(scenario.start_s + 10.0, scenario.duration_s).map_or(f64::INFINITY, |t| t.spread_kpa);
        let analysis = review(
            &recording("loop.csv", &log, self.step_kpa),
            &self.machine,
            &Settings::default(),
            &ReviewNotes::default(),
        );
        (analysis.review, truth)
    }

    pub(crate) fn turn(&mut self, made: &[(u32, f64)]) {
        for (cylinder, by) in made {
            self.screws[*cylinder as usize - 1].turn(*by);
        }
    }

    /// The naive way: each screw alone by its own deviation from the mean of all, to the nearest eighth, no uncertainty asked.
    fn each_alone(&self, review: &Review) -> Vec<(u32, f64)> {
        let known: Vec<(u32, f64)> =
            review.cylinders.iter().filter_map(|c| c.deviation_kpa.map(|d| (c.cylinder, d.value))).collect();
        let target = match self.machine.reference {
            Reference::Cylinder(_) => 0.0,
            Reference::Group(_) => known.iter().map(|k| k.1).sum::<f64>() / known.len() as f64,
        };
        let figure =
            |c: u32| self.machine.adjusters.iter().find(|a| a.cylinder == c).and_then(|a| a.kpa_per_turn);
        known
            .iter()
            .filter_map(|(c, d)| figure(*c).map(|k| (*c, ((target - d) / k * 8.0).round() / 8.0)))
            .filter(|t| t.1 != 0.0)
            .collect()
    }
}

pub(crate) fn idle(review: &Review) -> Option<&State> {
    review.regimes.iter().find(|s| s.regime == Regime::Idle)
}

/// What became of a case.
#[derive(Debug, Clone, Default)]
pub(crate) struct Outcome {
    /// True spread before the first turn and after each round.
    pub(crate) truth_kpa: Vec<f64>,
    /// The advice each time it was asked for.
    pub(crate) advice: Vec<Advice>,
    /// Rounds in which something was turned, the test turn not counted.
    pub(crate) rounds: usize,
    /// Round after which the true spread was first inside the limit; the test turn is round 0.
    pub(crate) inside_after: Option<usize>,
    /// Reasons of the last plan.
    pub(crate) because: Vec<String>,
    /// A test turn was made.
    pub(crate) tested: bool,
    /// Turns made in all, and screws turned.
    pub(crate) turned: (f64, usize),
    /// Largest growth of the true spread in one round, kPa.
    pub(crate) worst_growth_kpa: f64,
    /// Spread promised against spread reached, by round: (low, value, high, truth).
    pub(crate) promises: Vec<(f64, f64, f64, f64)>,
}

impl Outcome {
    fn count(&mut self, turns: &[(u32, f64)]) {
        self.turned.0 += turns.iter().map(|t| t.1.abs()).sum::<f64>();
        self.turned.1 += turns.len();
    }

    fn reached(&mut self, truth: f64, before: f64, limit: f64) {
        self.truth_kpa.push(truth);
        self.worst_growth_kpa = self.worst_growth_kpa.max(truth - before);
        if truth <= limit {
            self.inside_after.get_or_insert(self.rounds);
        }
    }
}

/// The turns of a plan.
fn turns_of(plan: &Plan) -> Vec<(u32, f64)> {
    plan.turns.iter().filter_map(|t| t.turns.map(|w| (t.cylinder, w))).collect()
}

/// Works on a case the naive way until the verdict is within, or four rounds are over.
#[allow(dead_code)] // The table shows it beside the plan; the short test does not need it.
pub(crate) fn work_each_alone(case: &mut Case) -> Outcome {
    let mut out = Outcome::default();
    let (mut seen, mut truth) = case.record(60.0, 1);
    out.truth_kpa.push(truth);
    while out.rounds < 4 && seen.verdict != Verdict::Within {
        let (turns, before) = (case.each_alone(&seen), truth);
        if turns.is_empty() {
            break;
        }
        case.turn(&turns);
        out.rounds += 1;
        out.count(&turns);
        (seen, truth) = case.record(60.0, 1 + out.rounds as u64);
        out.reached(truth, before, case.limit());
    }
    if seen.verdict == Verdict::Within {
        out.advice.push(Advice::Stop);
    }
    out
}

/// Works on a case until the plan says stop, or four rounds are over.
pub(crate) fn work(case: &mut Case) -> Outcome {
    let mut out = Outcome::default();
    let (mut rounds, mut ruled_out): (Vec<Round>, Vec<String>) = (Vec::new(), Vec::new());
    let mut seed = 1;
    let (mut seen, mut truth) = case.record(60.0, seed);
    out.truth_kpa.push(truth);
    while out.rounds < 4 && out.advice.len() < 16 {
        let (learned, not_learned): (Option<Influence>, _) = match learn(&rounds, &LearnOptions::default()) {
            Ok(influence) => (Some(influence), None),
            Err(why) => (None, Some(why).filter(|_| !rounds.is_empty())),
        };
        let options = PlanOptions { not_learned, ruled_out: ruled_out.clone(), ..PlanOptions::default() };
        let made = plan(&seen, &case.machine, learned.as_ref(), &options);
        out.advice.push(made.advice);
        out.because = made.because.iter().map(|b| b.code.clone()).collect();
        match made.advice {
            Advice::Turn | Advice::TestTurn => {}
            Advice::RecordAgain
                if out.advice.len() < 2 || out.advice[out.advice.len() - 2] != Advice::RecordAgain =>
            {
                seed += 1;
                let wanted = seen.seconds_to_decide.unwrap_or(180.0).clamp(120.0, 300.0);
                (seen, truth) = case.record(wanted, seed);
                continue;
            }
            // The person looks for a leak, finds none (there is none in these engines) and says so.
            Advice::CauseFirst
                if made.because.iter().all(|b| b.code == LEAK_SUSPECTED) && ruled_out.is_empty() =>
            {
                ruled_out.push(LEAK_SUSPECTED.to_owned());
                continue;
            }
            _ => break,
        }
        let (before, turns) = ((idle(&seen).cloned(), truth), turns_of(&made));
        case.turn(&turns);
        out.count(&turns);
        seed += 1;
        (seen, truth) = case.record(60.0, seed);
        if made.advice == Advice::TestTurn {
            out.tested = true;
        } else {
            out.rounds += 1;
        }
        out.reached(truth, before.1, case.limit());
        if let Some(e) = &made.expected {
            out.promises.push((e.spread_kpa.low, e.spread_kpa.value, e.spread_kpa.high, truth));
        }
        if let (Some(b), Some(a)) = (&before.0, idle(&seen)) {
            rounds.extend(Round::between(b, a, &turns));
        }
    }
    out
}
