//! Engines of every shape: one to twelve cylinders, two-strokes, no speed, one pressure, columns in any order.

use evenpull_core::result::{Review, Verdict};
use evenpull_model::{Engine, Logger, Scenario};

use super::support::*;

#[test]
fn one_to_twelve_cylinders() {
    for n in 1..=12 {
        let mut scenario = Scenario::new(Engine::even(n), 32.0, 140 + n as u64);
        scenario.cylinder(n).plate = 0.9;
        let engine = run(&scenario);
        let review = judge(&record(&engine, &Logger::momentary(100.0), 3), &format!("cylinders = {n}\n"));
        assert_eq!(review.cylinders.len(), n);
        if n == 1 {
            assert_eq!(review.verdict, Verdict::NotApplicable);
            assert!(review.spread_kpa.is_none());
            continue;
        }
        let truth = engine.truth(0.0, 32.0).unwrap();
        assert_true(&format!("{n} cylinders"), &review, &truth.mean_kpa);
        assert_eq!(review.verdict, Verdict::Outside, "{n} cylinders: {:?}", review.spread_kpa);
        let spread = review.spread_kpa.unwrap();
        assert!((spread.value - truth.spread_kpa).abs() < 2.0 * spread.u + 0.02, "{n}: {spread:?}");
    }
}

#[test]
fn a_two_stroke_pulls_every_turn() {
    let mut scenario = Scenario::new(Engine::two_stroke(3), 45.0, 161);
    scenario.cylinder(2).plate = 0.9;
    let engine = run(&scenario);
    let review = judge(&record(&engine, &Logger::momentary(200.0), 3), "strokes = 2\ncylinders = 3\n");
    let truth = engine.truth(0.0, 45.0).unwrap();
    let rate = review.pulse.clone().unwrap().rate_hz;
    // One pulse a revolution: rpm / 60. Naive: rpm / 120, half of it.
    assert!((rate - truth.rpm / 60.0).abs() < 0.02 * rate, "{rate:.2} at {:.0} rev/min", truth.rpm);
    assert_true("two-stroke", &review, &truth.mean_kpa);
    assert!(deviation(&review, 2) < -0.5);
}

#[test]
fn without_speed_it_is_said() {
    let log = run(&four([1.0, 0.85, 1.0, 1.0], 60.0, 162)).log(
        &Logger {
            extras: evenpull_model::Extras { speed: false, ..Default::default() },
            ..Logger::damped(20.0, 0.3)
        },
        3,
    );
    let review = judge(&recording(&log.unwrap()), "");
    assert!(has(&review, "no-speed"), "{:?}", codes(&review));
    // Idle cannot be told from other running: nothing may be signed off.
    assert_ne!(review.verdict, Verdict::Within);
    assert!(review.pulse.is_none());
}

#[test]
fn one_manifold_pressure_is_not_applicable() {
    let table = Table::even(60.0, 10.0).idling(800.0).with("MAP [kPa]", 1, |t| 35.0 + (t * 3.0).sin());
    let review = table.review_for("cylinders = 4\n");
    assert_eq!(review.verdict, Verdict::NotApplicable);
    assert!(review.spread_kpa.is_none() && review.cylinders.is_empty(), "{:?}", review.cylinders);
    assert!(has(&review, "one-pressure"), "{:?}", codes(&review));
}

/// What does not hang on the order of columns.
fn essence(review: &Review) -> (Verdict, Vec<(u32, f64, f64)>, usize, Option<f64>) {
    let cylinders = review
        .cylinders
        .iter()
        .map(|c| (c.cylinder, c.deviation_kpa.unwrap().value, c.deviation_kpa.unwrap().u))
        .collect();
    (review.verdict, cylinders, review.windows.len(), review.spread_kpa.map(|s| s.value))
}

#[test]
fn columns_in_another_order_give_the_same_result() {
    let engine = run(&four([1.0, 0.96, 1.02, 1.0], 60.0, 163));
    for logger in [Logger::momentary(100.0), Logger::momentary(12.5), Logger::diagnostic_link(8.0)] {
        let log = engine.log(&logger, 3).unwrap();
        let mut turned = log.clone();
        turned.columns.rotate_left(2);
        turned.columns.swap(0, 1);
        let (a, b) = (judge(&recording(&log), ""), judge(&recording(&turned), ""));
        let ((va, ca, wa, sa), (vb, cb, wb, sb)) = (essence(&a), essence(&b));
        assert_eq!((va, wa), (vb, wb));
        assert!((sa.unwrap() - sb.unwrap()).abs() < 1e-9);
        for (x, y) in ca.iter().zip(&cb) {
            assert!(x.0 == y.0 && (x.1 - y.1).abs() < 1e-9 && (x.2 - y.2).abs() < 1e-9, "{x:?} {y:?}");
        }
    }
}
