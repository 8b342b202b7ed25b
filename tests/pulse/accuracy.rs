//! Refill and air ratios against the engine model's areas and air.

use evenpull_core::machine::Machine;
use evenpull_core::result::Review;
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_model::{Engine, Logger, Run, Scenario, Truth, simulate};

use super::model_log;

const PLATES: [f64; 10] = [-0.15, -0.10, -0.05, -0.02, -0.01, 0.01, 0.02, 0.05, 0.10, 0.15];

fn engine(plate: f64, seconds: f64, seed: u64) -> Run {
    let mut s = Scenario::new(Engine::inline_four(), seconds, seed);
    s.cylinder(2).plate = 1.0 + plate;
    simulate(&s).unwrap()
}

fn judge(run: &Run, logger: &Logger, seed: u64, from_s: f64, to_s: f64) -> (Review, Truth) {
    let mut log = run.log(logger, seed).unwrap();
    let rows: Vec<usize> =
        (0..log.time_s.len()).filter(|&k| (from_s..to_s).contains(&log.time_s[k])).collect();
    log.time_s = rows.iter().map(|&k| log.time_s[k]).collect();
    for c in &mut log.columns {
        c.values = rows.iter().map(|&k| c.values[k]).collect();
    }
    let recording = model_log::recording("accuracy", &log, 0.01);
    let machine = Machine { barometer_kpa: Some(101.3), ..Machine::default() };
    let review = review(&recording, &machine, &Settings::default(), &ReviewNotes::default()).review;
    (review, run.truth(from_s, to_s).unwrap())
}

/// Ten plates, four loggers: every ratio within its bound of the model's area and air, and never outside its own U by more
/// than half of it. Naive: the ratio of mean pressures stands for that of the areas; it misses by a quarter of the fault.
#[test]
fn ratios_hold_over_the_grid() {
    let loggers = [
        ("2 kHz, 15 s", Logger::momentary(2000.0), 15.0, 0.01),
        ("1 kHz, 20 s", Logger::momentary(1000.0), 20.0, 0.01),
        ("500 Hz, 30 s", Logger::momentary(500.0), 30.0, 0.01),
        ("50 Hz, lag 6 ms, 60 s", Logger::damped(50.0, 0.006), 60.0, 0.02),
    ];
    let mut failures = Vec::new();
    for (p, plate) in PLATES.into_iter().enumerate() {
        let run = engine(plate, 62.0, 300 + p as u64);
        for (l, (name, logger, seconds, bound)) in loggers.iter().enumerate() {
            let (review, truth) = judge(&run, logger, (10 * p + l) as u64, 1.0, 1.0 + seconds);
            for (i, c) in review.cylinders.iter().enumerate() {
                for (what, got, want) in [
                    ("refill", c.refill_ratio, truth.refill_ratio[i]),
                    ("air", c.air_ratio, truth.air_ratio[i]),
                ] {
                    let Some(got) = got else {
                        failures.push(format!("{name}, plate {plate:+}: no {what} of cylinder {}", i + 1));
                        continue;
                    };
                    let error = got.value - want;
                    if error.abs() > *bound || error.abs() > 1.5 * got.u {
                        failures.push(format!(
                            "{name}, plate {plate:+}, cylinder {}, {what}: {:.4} for {want:.4}, U {:.4}",
                            i + 1,
                            got.value,
                            got.u
                        ));
                    }
                }
            }
            if plate.abs() > 0.09 {
                let naive = truth.mean_kpa[1] / truth.mean_kpa[0] - truth.area_ratio[1];
                assert!(naive.abs() > 0.01, "the ratio of means is off by {naive:.3}");
            }
        }
    }
    assert!(failures.is_empty(), "{} failures:\n{}", failures.len(), failures.join("\n"));
}
