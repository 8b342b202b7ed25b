//! Sensor health: bias, dead sensors, what only looks dead, copies.

use evenpull_core::result::Verdict;
use evenpull_model::{Engine, Logger, Run, Scenario, Sensor};
use std::sync::LazyLock;

use super::support::*;

/// An even four with 15 s of standing engine before and after a minute and a half of idle.
static EVEN: LazyLock<Run> = LazyLock::new(|| {
    let mut scenario = Scenario::new(Engine::inline_four(), 125.0, 31);
    scenario.start_s = 15.0;
    scenario.stop_s = Some(108.0);
    run(&scenario)
});

fn biased(bias: [f64; 4]) -> Logger {
    let sensors = bias.map(|bias_kpa| Sensor { bias_kpa, noise_kpa: 0.1, ..Sensor::default() });
    Logger::momentary(50.0).with_sensors(sensors.to_vec())
}

#[test]
fn a_spread_that_is_sensor_bias_is_taken_out() {
    let bias = [0.0, 1.4, -0.8, 0.3];
    let log = EVEN.log(&biased(bias), 7).unwrap();
    // Naive: column means while the engine runs.
    let running = part(&log, 25.0, 105.0);
    let means: Vec<f64> = running.columns[..4].iter().map(|c| mean(&c.values)).collect();
    assert!(range(&means) > 1.3 + 0.5, "the naive spread is {:.2}", range(&means));

    let review = judge(&recording(&log), "cylinders = 4\n");
    assert_eq!(review.verdict, Verdict::Within, "{:?} {:?}", review.spread_kpa, review.undecided_because);
    assert!(has(&review, "sensor-bias"));
    let found: Vec<f64> = review.cylinders.iter().map(|c| c.bias_removed_kpa.unwrap()).collect();
    for (f, b) in found.iter().zip(bias) {
        // Without a barometer of its own only differences of bias are known.
        assert!(((f - mean(&found)) - (b - mean(&bias))).abs() < 0.05, "{found:?}");
    }
    assert_eq!(review.barometer_source.as_deref(), Some("engine-off"));
    assert!(review.recorded.iter().any(|p| p.part == "engine-off" && p.found));
}

#[test]
fn without_engine_off_rows_bias_stays_and_is_said() {
    let log = EVEN.log(&biased([0.0, 1.4, -0.8, 0.3]), 7).unwrap();
    let review = judge(&recording(&part(&log, 25.0, 105.0)), "cylinders = 4\n");
    assert_eq!(review.verdict, Verdict::Outside, "nothing in these rows tells bias from imbalance");
    assert!(has(&review, "sensors-not-checked"));
    assert!(review.cylinders.iter().all(|c| c.bias_removed_kpa.is_none()));
}

#[test]
fn a_gain_error_stays_inside_the_allowance() {
    // The zero is taken near 100 kPa and used near 40: 0.5 % of 60 kPa is 0.3 kPa each way.
    let sensors = [1.005, 0.995, 1.0, 1.0].map(|gain| Sensor { gain, noise_kpa: 0.1, ..Sensor::default() });
    let log = EVEN.log(&Logger::momentary(50.0).with_sensors(sensors.to_vec()), 7).unwrap();
    let truth = EVEN.truth(25.0, 105.0).unwrap().mean_kpa;
    let tight = format!("cylinders = 4\nlimit_kpa = {}\n", range(&truth) + 0.45);
    let review = judge(&recording(&log), &tight);
    // Naive: the spread with its scatter alone would be called outside.
    let spread = review.spread_kpa.unwrap();
    assert!(spread.value - spread.u > range(&truth) + 0.45, "{spread:?}");
    assert_eq!(review.verdict, Verdict::CannotTell);
    assert_eq!(review.undecided_because, Some(evenpull_core::result::Undecided::Bias));
}

/// The even four plainly out of balance in cylinder 1, one sensor of cylinder 3 spoilt.
fn with_fault(plate: f64, spoil: &dyn Fn(&mut Sensor)) -> (evenpull_model::Log, Vec<f64>) {
    let engine = run(&four([plate, 1.0, 1.0, 1.0], 70.0, 41));
    let mut bad = Sensor::default();
    spoil(&mut bad);
    let good = Sensor::default();
    let logger = Logger::momentary(50.0).with_sensors(vec![good.clone(), good.clone(), bad, good]);
    (engine.log(&logger, 2).unwrap(), engine.truth(5.0, 70.0).unwrap().mean_kpa)
}

#[test]
fn a_dead_sensor_takes_out_its_cylinder_and_nothing_else() {
    let faults: [(&str, &str, &dyn Fn(&mut Sensor)); 4] = [
        ("stuck", "stuck-sensor", &|s| s.stuck_from_s = Some(4.0)),
        ("railed high", "railed-sensor", &|s| s.railed = Some((4.0, 125.0))),
        ("railed low", "railed-sensor", &|s| s.railed = Some((4.0, 0.0))),
        ("silent", "drop-out", &|s| s.dropouts = vec![(0.0, 100.0)]),
    ];
    for (name, code, spoil) in faults {
        for (plate, verdict) in [(1.0, Verdict::CannotTell), (0.85, Verdict::Outside)] {
            let (log, truth) = with_fault(plate, spoil);
            let review = judge(&recording(&log), "cylinders = 4\n");
            // Never signed off: the silent cylinder may be anywhere. Out of balance stays out of balance.
            assert_eq!(review.verdict, verdict, "{name}: {:?}", codes(&review));
            let dead = cylinder(&review, 3);
            assert!(dead.pressure_kpa.is_none() && dead.deviation_kpa.is_none(), "{name}");
            let notice = review.notices.iter().find(|n| n.code == code);
            assert_eq!(notice.and_then(|n| n.cylinder), Some(3), "{name}: {:?}", codes(&review));
            // Naive: the column mean takes the dead sensor at its word, or a hole in one column drops every row.
            let rows_with_all =
                (0..log.time_s.len()).filter(|&k| log.columns[2].values[k].is_finite()).count();
            let naive = mean(&log.columns[2].values) - truth[2];
            assert!(rows_with_all == 0 || naive.abs() > 1.3, "{name}: {naive:.2}");
            for n in [1_u32, 2, 4] {
                let others = [truth[0], truth[1], truth[3]];
                let d = cylinder(&review, n).deviation_kpa.unwrap();
                let want = truth[n as usize - 1] - median(&others);
                assert!((d.value - want).abs() <= 2.0 * d.u, "{name}, cylinder {n}: {d:?}, true {want:.3}");
            }
        }
    }
}

#[test]
fn a_short_fault_takes_out_its_stretch_only() {
    let (log, truth) = with_fault(0.97, &|s| s.dropouts = vec![(30.0, 36.0)]);
    let review = judge(&recording(&log), "cylinders = 4\n");
    assert!(cylinder(&review, 3).deviation_kpa.is_some());
    assert_eq!(judged_s(&review, 30.0, 36.0), 0.0);
    assert!(judged_s(&review, 5.0, 30.0) > 15.0 && judged_s(&review, 36.0, 70.0) > 25.0);
    let cut = excluded(&review, "sensor");
    assert!(cut.iter().any(|e| e.start_s <= 30.1 && e.end_s >= 35.9), "{:?}", review.excluded);
    assert_true("6 s without one sensor", &review, &truth);
}

#[test]
fn an_unplugged_sensor_after_the_start_is_seen_where_it_happened() {
    let (log, _) = with_fault(1.0, &|s| s.railed = Some((50.0, 125.0)));
    let review = judge(&recording(&log), "cylinders = 4\n");
    let notice = review.notices.iter().find(|n| n.code == "railed-sensor").unwrap();
    assert!((notice.start_s.unwrap() - 50.0).abs() < 0.5, "{notice:?}");
    assert!(cylinder(&review, 3).deviation_kpa.is_some(), "good for 50 of 70 s");
}

#[test]
fn repeats_of_a_polled_or_coarse_channel_are_not_stuck() {
    let engine = run(&four([1.0, 0.99, 1.0, 1.0], 130.0, 51));
    let coarse = Sensor { step_kpa: 1.0, noise_kpa: 0.05, ..Sensor::default() };
    let polled = Logger { rate_hz: 1.6, ..Logger::diagnostic_link(1.6) };
    let averaged = Logger { polled: false, sensors: vec![coarse.clone()], ..Logger::diagnostic_link(10.0) };
    let both = Logger { sensors: vec![coarse], ..Logger::diagnostic_link(4.0) };
    for (name, logger) in [("polled", polled), ("coarse", averaged), ("polled and coarse", both)] {
        let log = engine.log(&logger, 3).unwrap();
        // Naive: one value for 3 s while another channel changes.
        let longest = (0..4).map(|i| longest_repeat(&log.time_s, &log.columns[i].values)).fold(0.0, f64::max);
        assert!(longest >= 3.0, "{name}: {longest:.1} s");
        let review = judge(&recording(&log), "");
        assert!(!has(&review, "stuck-sensor"), "{name}: {:?}", codes(&review));
        assert!(review.cylinders.iter().all(|c| c.pressure_kpa.is_some()), "{name}");
        assert!(excluded(&review, "sensor").is_empty(), "{name}");
    }
}

fn longest_repeat(time_s: &[f64], values: &[f64]) -> f64 {
    let (mut longest, mut since) = (0.0_f64, 0);
    for k in 1..values.len() {
        if values[k] != values[since] {
            since = k;
        }
        longest = longest.max(time_s[k] - time_s[since]);
    }
    longest
}

#[test]
fn a_column_that_copies_another_is_named() {
    let mut log = run(&four([1.0, 0.9, 1.0, 1.0], 60.0, 61)).log(&Logger::momentary(50.0), 2).unwrap();
    log.columns[3].values = log.columns[1].values.clone();
    let review = judge(&recording(&log), "");
    let notice = review.notices.iter().find(|n| n.code == "duplicate-channel").unwrap();
    assert!(notice.text.contains("cylinders 2 and 4"), "{}", notice.text);
    // Naive: two low cylinders that agree, and an even-looking rest.
    assert!(review.verdict != Verdict::Within);
}
