//! Five hundred recordings, each of a machine of its own: a few dozen engines of the model, each logged by ten gauges that
//! are wrong in their own ways, which costs a tenth of the runs.

use std::path::{Path, PathBuf};

use evenpull_model::{CsvStyle, Engine, Logger, Scenario, Sensor, simulate};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Engines that are run.
const ENGINES: u64 = 50;

/// Recordings of each.
const GAUGES: u64 = 10;

/// Recordings in all.
pub(super) const LOGS: usize = (ENGINES * GAUGES) as usize;

/// Length of a recording, s.
const SECONDS: f64 = 30.0;

/// Standard normal by Box and Muller.
fn normal(random: &mut ChaCha8Rng) -> f64 {
    let (a, b): (f64, f64) = (random.random(), random.random());
    (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

/// Writes them; paths in order.
pub(super) fn write_logs(folder: &Path) -> Vec<PathBuf> {
    std::fs::create_dir_all(folder).expect("a folder");
    let mut paths = Vec::new();
    for number in 0..ENGINES {
        let mut random = ChaCha8Rng::seed_from_u64(7_000 + number);
        let base = if number % 5 == 0 { Engine::triple() } else { Engine::inline_four() };
        let cylinders = if number % 5 == 0 { 3 } else { 4 };
        let engine = Engine { idle_rpm: 1_050.0 + 15.0 * normal(&mut random), idle_kpa: 41.0, ..base };
        let mut scenario = Scenario::new(engine, SECONDS, number);
        for cylinder in 1..=cylinders {
            scenario.cylinder(cylinder).plate = 1.0 + 0.01 * normal(&mut random);
        }
        let run = simulate(&scenario).expect("the engine runs");
        for gauge in 0..GAUGES {
            // Errors of 0.1 to 1 kPa (1 s.d.): some gauges make an even engine look uneven.
            let scale = 0.1 * (gauge + 1) as f64;
            let sensors = (0..cylinders)
                .map(|_| Sensor { bias_kpa: scale * normal(&mut random), ..Sensor::default() })
                .collect();
            let logger = Logger::damped(20.0, 0.1).with_sensors(sensors);
            let log = run.log(&logger, 100 * number + gauge).expect("a log");
            let id = format!("HS-{number:02}{gauge}");
            let preamble = vec![format!("machine: {id}"), "date: 2025-03-04".to_owned()];
            let path = folder.join(format!("{id}.csv"));
            std::fs::write(&path, log.to_csv(&CsvStyle { preamble, ..CsvStyle::default() })).expect("a log");
            paths.push(path);
        }
    }
    paths
}
