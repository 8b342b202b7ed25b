//! Coverage study: how often the stated uncertainty covers the truth, and what that costs in width.
//!
//! Engines of the model with random plates idle for five minutes; each is logged by every logger, the reviewed deviations are
//! compared with the whole-cycle truth. `cargo bench -p evenpull --bench coverage` prints the table; with `--test` (or in
//! test mode) it runs three engines only.

#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs)]

#[path = "../tests/support/model_log.rs"]
mod model_log;

use evenpull_core::Analysis;
use evenpull_core::machine::Machine;
use evenpull_core::result::Verdict;
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_model::{Engine, Logger, Run, Scenario, Sensor, simulate};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A logger and a length.
struct Cell {
    name: &'static str,
    logger: fn() -> Logger,
    seconds: f64,
    step_kpa: f64,
    /// Engine-off rows before the start, sensors with random bias.
    zeroed: bool,
    /// Sensors with a random gain too; the pairs are compared, with the gain allowance that the verdict adds to U.
    gain: bool,
}

/// Half-width of the gain errors drawn: the distribution that the settings state (rectangular).
const GAIN_ERROR: f64 = 0.005;
const ENGINE_OFF_S: f64 = 12.0;
const WARM_S: f64 = 25.0;
const LONGEST_S: f64 = 240.0;

fn cells() -> Vec<Cell> {
    let cell = |name, logger, seconds, step_kpa| Cell {
        name,
        logger,
        seconds,
        step_kpa,
        zeroed: false,
        gain: false,
    };
    vec![
        cell("undamped 1 kHz, 20 s", || Logger::momentary(1000.0), 20.0, 0.01),
        cell("undamped 100 Hz, 30 s", || Logger::momentary(100.0), 30.0, 0.01),
        cell("undamped 50 Hz, 60 s", || Logger::momentary(50.0), 60.0, 0.01),
        cell("damped 0.05 s 25 Hz, 60 s", || Logger::damped(25.0, 0.05), 60.0, 0.01),
        cell("damped 0.12 s 20 Hz, 60 s", || Logger::damped(20.0, 0.12), 60.0, 0.01),
        cell("damped 0.3 s 20 Hz, 60 s", || Logger::damped(20.0, 0.3), 60.0, 0.01),
        cell("undamped 12.5 Hz, 1 kPa steps, 120 s", || Logger::momentary(12.5), 120.0, 1.0),
        cell("undamped 10 Hz, 120 s", || Logger::momentary(10.0), 120.0, 0.01),
        cell("undamped 5 Hz, 120 s", || Logger::momentary(5.0), 120.0, 0.1),
        cell("polled averages 4 rows/s, whole hPa, 60 s", || Logger::diagnostic_link(4.0), 60.0, 0.1),
        cell("polled averages 4 rows/s, whole hPa, 240 s", || Logger::diagnostic_link(4.0), 240.0, 0.1),
        cell("averages 4 rows/s, 1 kPa steps, 120 s", averages, 120.0, 1.0),
        Cell {
            zeroed: true,
            ..cell("damped 0.05 s 25 Hz, zeroed, 60 s", || Logger::damped(25.0, 0.05), 60.0, 0.1)
        },
        Cell {
            zeroed: true,
            gain: true,
            ..cell("the same with gain errors, pairs", || Logger::damped(25.0, 0.05), 60.0, 0.1)
        },
        Cell {
            zeroed: true,
            gain: true,
            ..cell("polled averages zeroed, gain, pairs, 60 s", || Logger::diagnostic_link(4.0), 60.0, 0.1)
        },
    ]
}

fn averages() -> Logger {
    Logger { polled: false, ..Logger::diagnostic_link(4.0) }
}

#[derive(Default)]
struct Tally {
    errors: Vec<f64>,
    widths: Vec<f64>,
    inside: usize,
    wrong: usize,
    open: usize,
    verdicts: usize,
    missing: usize,
}

fn main() {
    let few = std::env::args().any(|a| a == "--test")
        || cfg!(debug_assertions) && std::env::args().all(|a| a != "--bench");
    let engines: u64 =
        std::env::var("ENGINES").ok().and_then(|v| v.parse().ok()).unwrap_or(if few { 3 } else { 120 });
    let only = std::env::var("CELL").ok();
    let cells: Vec<Cell> =
        cells().into_iter().filter(|c| only.as_ref().is_none_or(|o| c.name.contains(o.as_str()))).collect();
    let mut tallies: Vec<Tally> = cells.iter().map(|_| Tally::default()).collect();
    for seed in 0..engines {
        let run = engine(seed);
        for (n, (cell, tally)) in cells.iter().zip(&mut tallies).enumerate() {
            one(&run, cell, seed * 1000 + n as u64, tally);
        }
    }
    println!(
        "{:<44} {:>5} {:>8} {:>8} {:>8} {:>7} {:>7} {:>6}",
        "logger and length", "n", "inside %", "med U", "2 sd err", "U/2sd", "wrong", "open"
    );
    for (cell, t) in cells.iter().zip(&tallies) {
        report(cell, t);
    }
}

/// A four with random plates: spreads from nearly even to well outside.
fn engine(seed: u64) -> Run {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x5eed);
    let mut s = Scenario::new(Engine::inline_four(), ENGINE_OFF_S + WARM_S + LONGEST_S + 5.0, seed);
    let size: f64 = rng.random_range(0.0..0.04);
    for n in 1..=4 {
        s.cylinder(n).plate = 1.0 + size * rng.random_range(-1.0..1.0);
    }
    s.start_s = ENGINE_OFF_S;
    simulate(&s).unwrap()
}

fn one(run: &Run, cell: &Cell, seed: u64, tally: &mut Tally) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut logger = (cell.logger)();
    if cell.zeroed {
        let base = logger.sensors.first().cloned().unwrap_or_else(Sensor::ideal);
        logger.sensors = (0..4)
            .map(|_| Sensor {
                bias_kpa: rng.random_range(-1.0..1.0),
                gain: if cell.gain { 1.0 + GAIN_ERROR * rng.random_range(-1.0..1.0) } else { 1.0 },
                noise_kpa: 0.1,
                ..base.clone()
            })
            .collect();
    }
    let mut log = run.log(&logger, seed).unwrap();
    let from = ENGINE_OFF_S + WARM_S + rng.random_range(0.0..(LONGEST_S - cell.seconds).max(0.1));
    let keep = |t: f64| (t >= from && t < from + cell.seconds) || (cell.zeroed && t < ENGINE_OFF_S - 1.0);
    let rows: Vec<usize> = (0..log.time_s.len()).filter(|&k| keep(log.time_s[k])).collect();
    log.time_s = rows.iter().map(|&k| log.time_s[k]).collect();
    for c in &mut log.columns {
        c.values = rows.iter().map(|&k| c.values[k]).collect();
    }
    let recording = model_log::recording("coverage", &log, cell.step_kpa);
    let machine = Machine { pressure_is: evenpull_core::machine::PressureIs::Mean, ..Machine::default() };
    let analysis = review(&recording, &machine, &Settings::default(), &ReviewNotes::default());
    let truth = run.truth(ENGINE_OFF_S + WARM_S, ENGINE_OFF_S + WARM_S + LONGEST_S).unwrap().mean_kpa;
    let mut sorted = truth.clone();
    sorted.sort_by(f64::total_cmp);
    if cell.gain {
        compare_pairs(&analysis, &truth, tally);
    } else {
        compare_deviations(&analysis, &truth, 0.5 * (sorted[1] + sorted[2]), tally);
    }
    let outside = sorted[3] - sorted[0] > 1.3;
    tally.verdicts += 1;
    match analysis.review.verdict {
        Verdict::Within if outside => tally.wrong += 1,
        Verdict::Outside if !outside => tally.wrong += 1,
        Verdict::CannotTell | Verdict::NotApplicable => tally.open += 1,
        _ => {}
    }
}

fn compare_deviations(analysis: &Analysis, truth: &[f64], middle: f64, tally: &mut Tally) {
    for (c, truth) in analysis.review.cylinders.iter().zip(truth) {
        match c.deviation_kpa {
            Some(d) => tally.take(d.value - (truth - middle), d.u),
            None => tally.missing += 1,
        }
    }
}

fn compare_pairs(analysis: &Analysis, truth: &[f64], tally: &mut Tally) {
    for p in &analysis.context.pairs {
        let expected = truth[p.first as usize - 1] - truth[p.second as usize - 1];
        tally.take(p.difference_kpa - expected, 2.0 * p.u_kpa.hypot(analysis.context.gain_allowance_kpa));
    }
}

impl Tally {
    fn take(&mut self, error: f64, u: f64) {
        self.errors.push(error);
        self.widths.push(u);
        self.inside += usize::from(error.abs() <= u);
    }
}

fn report(cell: &Cell, t: &Tally) {
    let n = t.errors.len().max(1) as f64;
    let sd = (t.errors.iter().map(|e| e * e).sum::<f64>() / n).sqrt();
    let mut widths = t.widths.clone();
    widths.sort_by(f64::total_cmp);
    let median = widths.get(widths.len() / 2).copied().unwrap_or(f64::NAN);
    println!(
        "{:<44} {:>5} {:>8.1} {:>8.4} {:>8.4} {:>7.2} {:>6.1}% {:>5.1}%{}",
        cell.name,
        t.errors.len(),
        100.0 * t.inside as f64 / n,
        median,
        2.0 * sd,
        median / (2.0 * sd),
        100.0 * t.wrong as f64 / t.verdicts.max(1) as f64,
        100.0 * t.open as f64 / t.verdicts.max(1) as f64,
        if t.missing > 0 { format!("  ({} without a mean)", t.missing) } else { String::new() }
    );
}
