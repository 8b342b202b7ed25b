//! Absolute, vacuum or gauge: no direction is given until something settles it, and then all three say the same.

use evenpull_core::recording::PressureKind;
use evenpull_core::result::{Basis, Class, Review};
use evenpull_model::Logger;

use super::support::*;

const LEVELS: [f64; 4] = [52.0, 49.0, 52.1, 51.9];
const BARO: f64 = 101.3;
const MACHINE: &str = "pressure_is = \"mean\"\nfuelling = \"shared\"\n";

/// As each kind would be logged.
const KINDS: [(PressureKind, fn(f64) -> f64); 3] = [
    (PressureKind::Absolute, |p| p),
    (PressureKind::Vacuum, |p| BARO - p),
    (PressureKind::Gauge, |p| p - BARO),
];

/// A slow averaged log without any word on kind: columns `P1 (kPa)`; `rpm` and `at` shape it over time.
fn bare(seconds: f64, rpm: fn(f64) -> f64, at: fn(f64, f64) -> f64, write: fn(f64) -> f64) -> Table {
    let mut noise = Noise::new(7);
    let mut table = Table::even(seconds, 5.0).with("RPM", 0, |t| rpm(t) + 2.0 * (0.9 * t).sin());
    for (i, level) in LEVELS.iter().enumerate() {
        table = table.with(&format!("P{} (kPa)", i + 1), 2, |t| write(at(t, *level) + 0.1 * noise.normal()));
    }
    table
}

fn steady(_: f64) -> f64 {
    1100.0
}

fn level(_: f64, level: f64) -> f64 {
    level
}

/// Cylinder 2 pulls less air than the rest and burns the same fuel.
fn assert_settled(name: &str, review: &Review) {
    assert!(!has(review, "kind-ambiguous"), "{name}: {:?}", codes(review));
    assert!((deviation(review, 2) + 2.95).abs() < 0.1, "{name}: {:?}", cylinder(review, 2).deviation_kpa);
    let classes: Vec<Class> = review.cylinders.iter().map(|c| c.class).collect();
    assert_eq!(classes, [Class::Even, Class::Rich, Class::Even, Class::Even], "{name}");
}

fn assert_open(name: &str, review: &Review) {
    assert!(has(review, "kind-ambiguous"), "{name}: {:?}", codes(review));
    // No class with a direction: neither lean nor rich nor a side.
    for c in &review.cylinders {
        assert!(!matches!(c.class, Class::Lean | Class::Rich | Class::Imbalanced), "{name}: {c:?}");
        assert_ne!((c.class, c.basis), (Class::Undecided, Basis::Inferred), "{name}");
        assert!(c.pressure_kpa.is_none(), "{name}: the level is not known: {:?}", c.pressure_kpa);
    }
    let spread = review.spread_kpa.unwrap();
    assert!((spread.value - 3.1).abs() < 0.15, "{name}: a difference needs no kind: {spread:?}");
}

#[test]
fn nothing_tells_and_nothing_is_guessed() {
    // Around 50 kPa a pressure and its vacuum look alike. Naive: figures below the barometer are absolute; that would
    // call the vacuum of a rich cylinder lean.
    for (kind, write) in &KINDS[..2] {
        let review = bare(60.0, steady, level, *write).review_for(MACHINE);
        assert_open(&format!("{kind:?}"), &review);
    }
}

#[test]
fn the_sign_tells_a_gauge() {
    let review =
        bare(60.0, steady, level, KINDS[2].1).review_for(&format!("{MACHINE}barometer_kpa = {BARO}\n"));
    assert_settled("gauge", &review);
}

#[test]
fn engine_off_rows_settle_it() {
    let rpm = |t: f64| if t < 12.0 { 0.0 } else { 1100.0 };
    let at = |t: f64, level: f64| if t < 12.0 { BARO } else { level };
    for (kind, write) in KINDS {
        let review = bare(75.0, rpm, at, write).review_for(MACHINE);
        assert_settled(&format!("engine off, {kind:?}"), &review);
        let seen = review.channels.iter().find(|c| c.header == "P2 (kPa)").unwrap();
        assert_eq!(seen.pressure_kind, Some(kind), "{}", seen.why);
    }
}

#[test]
fn a_blip_settles_it() {
    // The throttle opens: the pressure jumps towards the barometer and the speed climbs; then it falls back.
    let rpm = |t: f64| match t - 30.0 {
        x if (0.0..1.6).contains(&x) => 1100.0 + 900.0 * x,
        x if (1.6..5.0).contains(&x) => 2540.0 - 420.0 * (x - 1.6),
        _ => 1100.0,
    };
    let at = |t: f64, level: f64| match t - 30.0 {
        x if (0.0..1.6).contains(&x) => 90.0,
        x if (1.6..5.0).contains(&x) => level - 20.0,
        _ => level,
    };
    for (kind, write) in KINDS {
        let review = bare(75.0, rpm, at, write).review_for(MACHINE);
        assert_settled(&format!("blip, {kind:?}"), &review);
    }
}

#[test]
fn the_machine_file_settles_it() {
    for (kind, write) in KINDS {
        let word = format!("{kind:?}").to_lowercase();
        let mut toml = MACHINE.to_owned();
        toml.push_str("[columns]\n");
        for n in 1..=4 {
            toml.push_str(&format!(
                "\"P{n} (kPa)\" = {{ quantity = \"manifold_pressure\", cylinder = {n}, kind = \"{word}\" }}\n"
            ));
        }
        assert_settled(&word, &bare(60.0, steady, level, write).review_for(&toml));
    }
}

#[test]
fn the_shape_of_the_pulse_settles_it() {
    // A runner empties faster than it fills: the steep side of the pulse points down in absolute pressure.
    let engine = run(&four([1.0, 0.9, 1.0, 1.0], 40.0, 111));
    let log = engine.log(&Logger::momentary(200.0), 3).unwrap();
    for (kind, write) in &KINDS[..2] {
        let mut table = Table::at(log.time_s.clone()).column("RPM", 0, log.columns[4].values.clone());
        for i in 0..4 {
            let values = log.columns[i].values.iter().map(|p| write(*p)).collect();
            table = table.column(&format!("P{} (kPa)", i + 1), 2, values);
        }
        let review = table.review_for("fuelling = \"shared\"\n");
        assert!(!has(&review, "kind-ambiguous"), "{kind:?}: {:?}", codes(&review));
        assert_eq!(cylinder(&review, 2).class, Class::Rich, "{kind:?}");
        assert!(deviation(&review, 2) < -2.0);
    }
}

#[test]
fn the_same_engine_in_three_kinds() {
    // Same deviations to the last printed digit, whatever the file was written in.
    let rpm = |t: f64| if t < 12.0 { 0.0 } else { 1100.0 };
    let at = |t: f64, level: f64| if t < 12.0 { BARO } else { level };
    let reviews: Vec<Review> = KINDS.iter().map(|k| bare(75.0, rpm, at, k.1).review_for(MACHINE)).collect();
    for other in &reviews[1..] {
        for (a, b) in reviews[0].cylinders.iter().zip(&other.cylinders) {
            let (a, b) = (a.deviation_kpa.unwrap(), b.deviation_kpa.unwrap());
            assert!((a.value - b.value).abs() < 0.005 && (a.u - b.u).abs() < 0.005, "{a:?} {b:?}");
        }
        assert_eq!(reviews[0].verdict, other.verdict);
    }
}
