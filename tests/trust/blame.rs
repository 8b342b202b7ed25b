//! Who is off: a mean accuses the healthy cylinders when one plate is far off.

use evenpull_core::result::{Class, Verdict};
use evenpull_model::Logger;

use super::support::*;

/// Cylinders that a rule on departures from one centre accuses.
fn accused(means: &[f64], centre: f64, half: f64) -> Vec<usize> {
    (0..means.len()).filter(|&i| (means[i] - centre).abs() > half).map(|i| i + 1).collect()
}

#[test]
fn one_closed_plate_accuses_nobody_else() {
    let scenario = four([1.0, 1.0, 0.85, 1.0], 60.0, 21);
    let engine = run(&scenario);
    let truth = engine.truth(5.0, 60.0).unwrap().mean_kpa;
    // Naive: departure from the mean against half the limit blames all four.
    assert_eq!(accused(&truth, mean(&truth), 0.65), [1, 2, 3, 4]);

    for logger in [Logger::momentary(100.0), Logger::damped(20.0, 0.3)] {
        let review = judge(&record(&engine, &logger, 1), "cylinders = 4\nfuelling = \"shared\"\n");
        assert_eq!(review.verdict, Verdict::Outside);
        assert_eq!(cylinder(&review, 3).class, Class::Rich, "less air, the same fuel");
        for n in [1, 2, 4] {
            assert_eq!(cylinder(&review, n).class, Class::Even, "{:?}", cylinder(&review, n).evidence);
        }
    }
}

#[test]
fn two_pairs_apart_accuse_no_single_cylinder_by_the_median_alone() {
    // Two high, two low: the median lies between, and departures from it are as large as those from the mean.
    let table = Table::even(60.0, 4.0).idling(1100.0).pressures(&[40.0, 40.0, 43.0, 43.0], 0.1, 3);
    let review = table.review_for("pressure_is = \"mean\"\nfuelling = \"shared\"\n");
    assert_eq!(review.verdict, Verdict::Outside);
    let off: Vec<Class> = review.cylinders.iter().map(|c| c.class).collect();
    assert_eq!(off, [Class::Rich, Class::Rich, Class::Lean, Class::Lean]);
}

#[test]
fn a_majority_is_healthy_even_where_the_median_says_otherwise() {
    // Three of four within 1 kPa, the fourth 4 kPa up. Departure from the mean accuses cylinder 1 as well (-1.3 kPa).
    let levels = [39.7, 40.0, 40.3, 44.0];
    assert!(accused(&levels, mean(&levels), 0.65).len() > 1);
    let table = Table::even(60.0, 4.0).idling(1100.0).pressures(&levels, 0.1, 3);
    let review = table.review_for("pressure_is = \"mean\"\n");
    assert_eq!(review.verdict, Verdict::Outside);
    let off: Vec<u32> =
        review.cylinders.iter().filter(|c| c.class != Class::Even).map(|c| c.cylinder).collect();
    assert_eq!(off, [4]);
}

#[test]
fn the_reference_cylinder_is_not_turned_to_the_others() {
    let table = Table::even(60.0, 4.0).idling(1100.0).pressures(&[42.0, 40.0, 40.0, 40.0], 0.1, 3);
    let review = table.review_for("pressure_is = \"mean\"\nreference = 1\n");
    let reference = cylinder(&review, 1);
    assert_eq!(reference.deviation_kpa.map(|d| (d.value, d.u)), Some((0.0, 0.0)));
    for n in 2..=4 {
        assert!((deviation(&review, n) + 2.0).abs() < 0.1);
        assert_eq!(cylinder(&review, n).class, Class::Imbalanced, "matched to the one without an adjuster");
    }
    assert_eq!(reference.class, Class::Even);
}

#[test]
fn in_a_twin_nobody_can_be_named() {
    let table = Table::even(60.0, 4.0).idling(1100.0).pressures(&[40.0, 43.0], 0.1, 3);
    let review = table.review_for("pressure_is = \"mean\"\n");
    assert_eq!(review.verdict, Verdict::Outside);
    assert!((deviation(&review, 1) + deviation(&review, 2)).abs() < 1e-9, "both are off by the same");
    assert_ne!(cylinder(&review, 1).class, Class::Even);
    assert_ne!(cylinder(&review, 2).class, Class::Even);
    let words = format!("{:?}{:?}", cylinder(&review, 1).evidence, cylinder(&review, 2).evidence);
    assert!(words.contains("cannot tell which of them"), "{words}");
}
