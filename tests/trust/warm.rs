//! A cold engine is not judged, a flat temperature proves nothing, a rising one in a long idle warns.

use evenpull_core::result::{Undecided, Verdict};
use evenpull_model::{Coolant, Engine, Extras, Logger, Scenario};

use super::support::*;

fn warming(start_c: f64, tau_s: f64, seconds: f64) -> evenpull_core::recording::Recording {
    let mut scenario = Scenario::new(Engine::inline_four(), seconds, 101);
    scenario.coolant = Coolant { start_c, warm_c: 82.0, tau_s };
    let logger =
        Logger { extras: Extras { coolant: true, ..Extras::default() }, ..Logger::damped(20.0, 0.12) };
    record(&run(&scenario), &logger, 3)
}

#[test]
fn a_cold_engine_gets_no_verdict() {
    // 82 - 62 exp(-t / 150): 58 degrees after 140 s, still rising by 10 K a minute.
    let recording = warming(20.0, 150.0, 140.0);
    // Naive: the pressures alone give a tight spread, and a threshold of 45 degrees opens after 80 s.
    let means: Vec<f64> = recording.cylinder_pressures().iter().map(|c| mean(&c.values)).collect();
    assert!(range(&means) < 1.3);
    let review = judge(&recording, "");
    assert_eq!(review.verdict, Verdict::CannotTell);
    assert_eq!(review.undecided_because, Some(Undecided::Windows));
    assert!(review.windows.is_empty(), "{:?}", review.windows);
    assert!(has(&review, "cold-engine"));
    assert!(!excluded(&review, "cold").is_empty() && !excluded(&review, "warming").is_empty());
    let warm = review.recorded.iter().find(|p| p.part == "warm").unwrap();
    assert!(!warm.found, "{warm:?}");
    assert!(review.cylinders.iter().all(|c| c.deviation_kpa.is_none()));
}

#[test]
fn the_warm_rest_is_judged() {
    // 82 - 62 exp(-t / 40): 75 degrees after 87 s.
    let review = judge(&warming(20.0, 40.0, 200.0), "");
    assert_eq!(judged_s(&review, 0.0, 80.0), 0.0, "{:?}", review.windows);
    assert!(judged_s(&review, 110.0, 200.0) > 70.0, "{:?}", review.excluded);
    assert_eq!(review.verdict, Verdict::Within);
    assert!(has(&review, "cold-engine"), "the cold part is mentioned");
    assert!(review.recorded.iter().any(|p| p.part == "warm" && p.found));
}

#[test]
fn the_machine_file_says_what_warm_is() {
    // 70 degrees after 66 s; 79.5, which the log rounds to 80, after 128 s less a slow swing of 0.3 K (4 s).
    let early = judge(&warming(20.0, 40.0, 200.0), "warm_c = 70\n");
    assert_eq!(judged_s(&early, 0.0, 60.0), 0.0);
    assert!(judged_s(&early, 70.0, 137.0) > 50.0, "{:?}", early.windows);
    let late = judge(&warming(20.0, 40.0, 200.0), "warm_c = 80\n");
    assert_eq!(judged_s(&late, 0.0, 122.0), 0.0, "{:?}", late.windows);
}

#[test]
fn a_marine_engine_is_warm_at_fifty_five() {
    let swing = |t: f64| (55.0 + 0.8 * (t / 60.0).sin()).round();
    let table = Table::even(120.0, 10.0).idling(900.0).pressures(&[40.0, 40.2], 0.1, 4);
    let review = table.with("Coolant temperature [degC]", 0, swing).review_for("pressure_is = \"mean\"\n");
    // Naive: a road engine's 70 degrees would never judge a raw-water-cooled one.
    assert_eq!(review.verdict, Verdict::Within);
    assert!(!has(&review, "cold-engine") && !has(&review, "flat-temperature"));
}

#[test]
fn a_temperature_that_never_moves_is_no_proof() {
    let table = Table::even(120.0, 10.0).idling(1100.0).pressures(&[40.0, 40.2, 40.1], 0.1, 4);
    let flat = table.clone().with("Coolant temperature [degC]", 0, |_| 80.0);
    let review = flat.review_for("pressure_is = \"mean\"\n");
    // Naive: 80 is above every threshold.
    assert!(has(&review, "flat-temperature"), "{:?}", codes(&review));
    assert!(review.recorded.iter().any(|p| p.part == "warm" && !p.found));
    let moving = table.with("Coolant temperature [degC]", 0, |t| (80.0 + 1.2 * (t / 15.0).sin()).round());
    let review = moving.review_for("pressure_is = \"mean\"\n");
    assert!(!has(&review, "flat-temperature"));
    assert!(review.recorded.iter().any(|p| p.part == "warm" && p.found));
}

#[test]
fn a_long_idle_that_overheats_warns() {
    let table = Table::even(300.0, 4.0).idling(1100.0).pressures(&[40.0, 40.2, 40.1], 0.1, 4);
    let rising = |from: f64, k_per_min: f64| move |t: f64| (from + k_per_min * t / 60.0).round();
    let review = table.clone().with("Coolant temperature [degC]", 0, rising(92.0, 2.5)).review();
    // Naive: anything above the warm threshold is fine.
    let notice = review.notices.iter().find(|n| n.code == "overheating");
    assert!(notice.is_some(), "{:?}", codes(&review));
    for (from, k_per_min) in [(84.0, 0.3), (76.0, 2.0), (95.0, 0.0)] {
        let quiet = table.clone().with("Coolant temperature [degC]", 0, rising(from, k_per_min)).review();
        assert!(!has(&quiet, "overheating"), "from {from} by {k_per_min} K/min");
    }
}
