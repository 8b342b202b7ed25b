//! Means over whole cycles against the column mean, whatever the rate, jitter and holes of the rows.
//! Truth: the engine model's whole-cycle means.

use std::sync::LazyLock;

use evenpull_model::{Engine, Logger, Run, Scenario};

use super::support::*;

/// A steady four at 1164 rev/min: 9.7 pulses a second and cylinder (rpm/120).
static AT_9_7_HZ: LazyLock<Run> = LazyLock::new(|| {
    let mut engine = Engine { idle_rpm: 1164.0, ..Engine::inline_four() };
    engine.wander = 0.002;
    let mut scenario = Scenario::new(engine, 130.0, 5);
    scenario.cylinder(2).plate = 0.99;
    run(&scenario)
});

/// Largest error of a difference from the group mean that plain column means of `seconds` make.
fn column_mean_error(log: &evenpull_model::Log, truth_kpa: &[f64], seconds: f64) -> f64 {
    let mut worst = 0.0_f64;
    let last = *log.time_s.last().unwrap();
    for k in 0..((last - seconds) / 1.0) as usize {
        let cut = part(log, k as f64, k as f64 + seconds);
        let means: Vec<f64> = cut.columns[..truth_kpa.len()].iter().map(|c| mean(&c.values)).collect();
        for (m, t) in means.iter().zip(truth_kpa) {
            worst = worst.max(((m - mean(&means)) - (t - mean(truth_kpa))).abs());
        }
    }
    worst
}

#[test]
fn ten_rows_a_second_of_a_9_7_hz_pulse() {
    let log = AT_9_7_HZ.log(&Logger::momentary(10.0), 3).unwrap();
    let truth = AT_9_7_HZ.truth(5.0, 130.0).unwrap().mean_kpa;
    // Naive: the mean of a column over ten seconds. It is off by more than the limit on spread.
    let naive = column_mean_error(&log, &truth, 10.0);
    assert!(naive > 1.3, "the column mean is off by {naive:.2} kPa only");

    let review = judge(&recording(&log), "cylinders = 4\n");
    assert!(has(&review, "aliased"), "{:?}", codes(&review));
    assert_true("10 Hz", &review, &truth);
    for (error, u) in errors(&review, &truth) {
        assert!(error.abs() < 0.2 * naive && u < 0.5 * naive, "error {error:+.3} with U {u:.3}");
    }
    assert!(serde_json::to_value(review.verdict).unwrap() != "outside", "the engine is even");
}

#[test]
fn the_same_engine_through_eight_loggers() {
    let truth = AT_9_7_HZ.truth(5.0, 130.0).unwrap().mean_kpa;
    let jittered = Logger { jitter_s: 0.004, missing_rows: 0.2, ..Logger::momentary(50.0) };
    let loggers = [
        ("2 kHz", Logger::momentary(2000.0), 0.02),
        ("500 Hz", Logger::momentary(500.0), 0.02),
        ("100 Hz", Logger::momentary(100.0), 0.05),
        ("50 Hz, jitter, a fifth of the rows missing", jittered, 0.08),
        ("25 Hz damped 0.05 s", Logger::damped(25.0, 0.05), 0.08),
        ("20 Hz damped 0.3 s", Logger::damped(20.0, 0.3), 0.08),
        ("12.5 Hz", Logger::momentary(12.5), 0.5),
        ("7 Hz", Logger::momentary(7.0), 0.6),
    ];
    for (name, logger, most_u) in loggers {
        let log = AT_9_7_HZ.log(&logger, 11).unwrap();
        let log = if logger.rate_hz > 1000.0 { part(&log, 0.0, 40.0) } else { log };
        let review = judge(&recording(&log), "");
        assert_true(name, &review, &truth);
        let widest = errors(&review, &truth).into_iter().map(|e| e.1).fold(0.0, f64::max);
        assert!(widest <= most_u, "{name}: U {widest:.4}");
    }
}

#[test]
fn a_short_record_ends_inside_a_cycle() {
    // 15 s hold 145 and a half cycles: the half cycle pulls the column mean, seconds and rows may be what they will.
    let log = AT_9_7_HZ.log(&Logger::momentary(500.0), 3).unwrap();
    let mut naive = 0.0_f64;
    let mut ours = 0.0_f64;
    for start in 0..6 {
        let from = 10.0 + 15.37 * f64::from(start);
        let cut = part(&log, from, from + 15.0);
        let truth = AT_9_7_HZ.truth(from, from + 15.0).unwrap().mean_kpa;
        naive = naive.max(column_mean_error(&cut, &truth, 14.9));
        let review = judge(&recording(&cut), "");
        for (error, u) in errors(&review, &truth) {
            assert!(error.abs() <= 2.0 * u, "from {from:.1} s: error {error:+.4} with U {u:.4}");
            ours = ours.max(error.abs());
        }
    }
    assert!(naive > 3.0 * ours, "column mean {naive:.4}, review {ours:.4}");
}
