//! Windows: what is judged, what is not and why, and that short disturbances do not waste a recording.

use evenpull_core::result::{Regime, Review, Verdict};
use evenpull_model::{Event, Logger};

use super::support::*;

/// Every second inside `from..to` is excluded, with one of the reasons.
fn assert_excluded(name: &str, review: &Review, from_s: f64, to_s: f64, reasons: &[&str]) {
    assert_eq!(judged_s(review, from_s, to_s), 0.0, "{name}: {:?}", review.windows);
    let covered: f64 = review
        .excluded
        .iter()
        .filter(|e| reasons.contains(&e.reason.as_str()))
        .map(|e| (e.end_s.min(to_s) - e.start_s.max(from_s)).max(0.0))
        .sum();
    assert!(covered > 0.95 * (to_s - from_s), "{name}: {:?}", review.excluded);
}

#[test]
fn blips_are_left_out_and_what_lies_between_is_joined() {
    let mut scenario = four([1.0, 1.0, 0.97, 1.0], 120.0, 81);
    for at_s in [30.0, 55.0, 90.0] {
        scenario.event(Event::Blip { at_s, length_s: 1.0, opening: 0.15 });
    }
    let engine = run(&scenario);
    let log = engine.log(&Logger::damped(50.0, 0.05), 3).unwrap();
    let idle = engine.truth(3.0, 29.0).unwrap().mean_kpa;
    // Naive: the column mean over everything.
    let whole: Vec<f64> = log.columns[..4].iter().map(|c| mean(&c.values)).collect();
    assert!((mean(&whole) - mean(&idle)).abs() > 0.3, "{whole:?}");

    let review = judge(&recording(&log), "");
    for at in [30.0, 55.0, 90.0] {
        assert_excluded("blip", &review, at, at + 2.0, &["blip", "speed"]);
    }
    let state = &review.regimes[0];
    assert!(state.start_s < 10.0 && state.end_s > 110.0 && state.seconds > 85.0, "{state:?}");
    assert!((mean(&pressures(&review)) - mean(&idle)).abs() < 0.15);
    let between =
        [(3.0, 29.0), (36.0, 54.0), (61.0, 89.0), (96.0, 120.0)].map(|(a, b)| engine.truth(a, b).unwrap());
    let seconds: f64 = between.iter().map(|t| t.end_s - t.start_s).sum();
    let part =
        |i: usize| between.iter().map(|t| t.mean_kpa[i] * (t.end_s - t.start_s)).sum::<f64>() / seconds;
    assert_true("between blips", &review, &[part(0), part(1), part(2), part(3)]);
    assert!(review.recorded.iter().any(|p| p.part == "after-blip" && p.found));
}

fn pressures(review: &Review) -> Vec<f64> {
    review.cylinders.iter().map(|c| c.pressure_kpa.unwrap().value).collect()
}

#[test]
fn a_load_switched_on_is_another_state() {
    let mut scenario = four([1.0, 1.0, 0.97, 1.0], 120.0, 82);
    scenario.event(Event::Load { from_s: 60.0, to_s: 85.0, share: 0.25 });
    let engine = run(&scenario);
    let review = judge(&record(&engine, &Logger::damped(50.0, 0.05), 3), "");
    assert_excluded("load", &review, 61.0, 85.0, &["blip", "speed", "load", "drifting"]);
    assert!(judged_s(&review, 0.0, 60.0) > 50.0 && judged_s(&review, 88.0, 120.0) > 20.0);
    let off = engine.truth(5.0, 60.0).unwrap().mean_kpa;
    let on = engine.truth(65.0, 85.0).unwrap().mean_kpa;
    // Naive: a pooled level lies between the two.
    assert!((mean(&off) - mean(&on)).abs() > 1.0, "{off:?} {on:?}");
    assert!((mean(&pressures(&review)) - mean(&off)).abs() < 0.2);
}

#[test]
fn an_opened_throttle_at_idle_speed_is_not_idle() {
    // In gear: 2.5 % throttle holds the idle speed against the load, the linkage sets the balance, and cylinder 2 differs.
    let held = |t: f64| if (50.0..90.0).contains(&t) { 2.5 } else { 0.0 };
    let mut noise = Noise::new(4);
    let mut table = Table::even(90.0, 10.0).idling(1050.0).with("Throttle [%]", 1, held);
    for n in 1..=3 {
        let off = if n == 2 { 2.0 } else { 0.0 };
        table = table.with(&format!("Cyl {n} absolute pressure [kPa]"), 2, |t| {
            40.0 + f64::from(u8::from(held(t) > 0.0)) * (1.0 + off) + 0.1 * noise.normal()
        });
    }
    let review = table.review_for("pressure_is = \"mean\"\n");
    // Naive: one steady speed, one window; cylinder 2 gets 40/90 of the difference under load.
    let naive = 2.0 * (0..900).filter(|k| held(f64::from(*k) * 0.1) > 0.0).count() as f64 / 900.0;
    assert!(naive > 0.65, "{naive}");
    assert_excluded("throttle", &review, 52.0, 89.0, &["load", "blip", "speed"]);
    assert!(deviation(&review, 2).abs() < 0.1, "{:?}", review.cylinders[1].deviation_kpa);
    assert_eq!(review.verdict, Verdict::Within);
}

#[test]
fn a_gap_is_excluded_where_it_is() {
    let engine = run(&four([1.0, 1.0, 0.97, 1.0], 90.0, 83));
    let mut log = engine.log(&Logger::damped(50.0, 0.05), 3).unwrap();
    let keep: Vec<usize> =
        (0..log.time_s.len()).filter(|&k| !(40.0..47.0).contains(&log.time_s[k])).collect();
    log.time_s = keep.iter().map(|&k| log.time_s[k]).collect();
    log.columns.iter_mut().for_each(|c| c.values = keep.iter().map(|&k| c.values[k]).collect());
    let review = judge(&recording(&log), "");
    assert_excluded("gap", &review, 40.0, 47.0, &["gap"]);
    assert!(has(&review, "gap"), "{:?}", codes(&review));
    assert!(judged_s(&review, 0.0, 40.0) > 35.0 && judged_s(&review, 47.0, 90.0) > 38.0);
    let judged: f64 = review.windows.iter().map(|w| w.end_s - w.start_s).sum();
    assert!((review.regimes[0].seconds - judged).abs() < 0.1);
    assert_true("around a gap", &review, &engine.truth(0.0, 90.0).unwrap().mean_kpa);
}

#[test]
fn a_falling_fast_idle_is_not_idle() {
    let speed = |t: f64| 1060.0 + 460.0 * (-t / 22.0).exp();
    let mut noise = Noise::new(5);
    let mut table = Table::even(150.0, 10.0).with("Engine speed [rpm]", 0, speed);
    for n in 1..=3 {
        // Cylinder 2 hangs at fast idle and is even at idle.
        let hang = if n == 2 { 0.01 } else { 0.0 };
        table = table.with(&format!("Cyl {n} absolute pressure [kPa]"), 2, |t| {
            40.0 + (0.004 + hang) * (speed(t) - 1060.0) + 0.1 * noise.normal()
        });
    }
    let review = table.review_for("pressure_is = \"mean\"\n");
    // Naive: mean of the recording.
    let whole = mean(&table.time_s.iter().map(|t| 0.01 * (speed(*t) - 1060.0)).collect::<Vec<_>>());
    assert!(whole > 0.5, "{whole}");
    assert_excluded("fast idle", &review, 2.0, 30.0, &["drifting", "speed", "blip", "starting"]);
    assert!(judged_s(&review, 80.0, 150.0) > 60.0);
    assert!(deviation(&review, 2).abs() < 0.25, "{:?}", review.cylinders[1].deviation_kpa);
}

#[test]
fn a_speed_that_climbs_is_drifting_and_levels_are_not_pooled() {
    // 40 s at 1000 rev/min, up to 1150 within 20 s, 60 s there; the pressures fall with it.
    let speed = |t: f64| 1000.0 + 150.0 * ((t - 40.0) / 20.0).clamp(0.0, 1.0);
    let mut noise = Noise::new(6);
    let mut table = Table::even(120.0, 10.0).with("Engine speed [rpm]", 0, speed);
    for n in 1..=3 {
        table = table.with(&format!("Cyl {n} absolute pressure [kPa]"), 2, |t| {
            40.0 - 0.025 * (speed(t) - 1150.0) + 0.1 * noise.normal()
        });
    }
    let review = table.review_for("pressure_is = \"mean\"\n");
    // Naive: the mean of it all.
    let whole = mean(&table.time_s.iter().map(|t| 40.0 - 0.025 * (speed(*t) - 1150.0)).collect::<Vec<_>>());
    assert!(whole > 41.5, "{whole}");
    assert_excluded("climb", &review, 44.0, 56.0, &["drifting"]);
    assert_excluded("the shorter level", &review, 2.0, 38.0, &["load"]);
    assert!((mean(&pressures(&review)) - 40.0).abs() < 0.1, "{:?}", pressures(&review));
}

#[test]
fn short_holes_drop_rows_not_windows() {
    let engine = run(&four([1.0, 1.0, 0.97, 1.0], 70.0, 84));
    let mut log = engine.log(&Logger::momentary(100.0), 3).unwrap();
    // 0.3 s missing every three seconds. Naive: a window may hold no hole, and none is left that is 10 s long.
    let keep: Vec<usize> = (0..log.time_s.len()).filter(|&k| log.time_s[k] % 3.0 > 0.3).collect();
    log.time_s = keep.iter().map(|&k| log.time_s[k]).collect();
    log.columns.iter_mut().for_each(|c| c.values = keep.iter().map(|&k| c.values[k]).collect());
    let review = judge(&recording(&log), "");
    assert!(judged_s(&review, 0.0, 70.0) > 60.0, "{:?} {:?}", review.windows, review.excluded);
    assert_eq!(review.windows.len(), 1);
    assert_true("short holes", &review, &engine.truth(0.0, 70.0).unwrap().mean_kpa);
}

#[test]
fn the_shortest_window_counts_cycles_too() {
    // Sixty cycles last 120/rpm x 60 s: 12 s at 600 rev/min. Naive: ten seconds are enough at any speed.
    for (rpm, seconds, judged) in
        [(600.0, 11.3, false), (600.0, 13.5, true), (1500.0, 11.3, true), (1500.0, 9.0, false)]
    {
        let table = Table::even(seconds, 20.0).idling(rpm).pressures(&[40.0, 40.3, 40.1], 0.1, 6);
        let review = table.review_for("pressure_is = \"mean\"\n");
        let found = !review.windows.is_empty();
        assert_eq!(found, judged, "{seconds} s at {rpm} rev/min: {:?}", review.excluded);
        if !judged {
            assert_eq!(review.verdict, Verdict::CannotTell);
            assert!(has(&review, "too-short") && !excluded(&review, "too-short").is_empty());
        }
    }
}

#[test]
fn raised_speed_has_its_own_result() {
    let mut scenario = four([1.0; 4], 130.0, 85);
    scenario.cylinder(3).linkage = 0.85;
    scenario.event(Event::Raised { from_s: 60.0, to_s: 100.0, rpm: 2600.0 });
    let engine = run(&scenario);
    let review = judge(&record(&engine, &Logger::momentary(200.0), 3), "cylinders = 4\n");
    let raised = review.regimes.iter().find(|s| s.regime == Regime::Raised).unwrap();
    let truth = engine.truth(65.0, 99.0).unwrap();
    assert!((raised.rpm.value - truth.rpm).abs() < 0.03 * truth.rpm);
    let want = truth.deviation_kpa();
    for (c, w) in raised.cylinders.iter().zip(&want) {
        let d = c.deviation_kpa.unwrap();
        assert!((d.value - w).abs() < 2.0 * d.u + 0.05, "{d:?}, true {w:.3}");
    }
    assert!(want[2] < -1.3, "{want:?}");
    assert_eq!((review.verdict, raised.verdict), (Verdict::Within, Verdict::Outside));
    assert!(has(&review, "raised-uneven"));
    // Naive: one mean over the recording blames idle screws for the linkage.
    let idle = engine.truth(5.0, 58.0).unwrap().mean_kpa;
    let pooled: Vec<f64> = (0..4).map(|i| (90.0 * idle[i] + 40.0 * truth.mean_kpa[i]) / 130.0).collect();
    assert!((pooled[2] - median(&pooled)).abs() > 0.3, "{pooled:?}");
    assert!(deviation(&review, 3).abs() < 0.1);
    assert!(review.regimes.iter().all(|s| s.seconds > 20.0));
}
