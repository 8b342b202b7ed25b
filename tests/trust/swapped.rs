//! Exchanged sensors show as pulses at another cylinder's crank angle; every pair that explains it is named.
//! Truth: crank geometry; a common turn cannot be seen without a mark, so several pairs may explain one recording.

use evenpull_core::result::Review;
use evenpull_model::{Engine, Logger, Scenario};

use super::support::*;

fn reviewed(engine: &Engine, swapped: &[(usize, usize)], plate_of_2: f64) -> Review {
    let mut scenario = Scenario::new(engine.clone(), 30.0, 121);
    scenario.cylinder(2).plate = plate_of_2;
    let logger = Logger { swapped: swapped.to_vec(), ..Logger::momentary(200.0) };
    let firing: Vec<String> = engine.firing_deg.iter().map(|d| format!("{d}")).collect();
    let toml = format!("cylinders = {}\nfiring_deg = [{}]\n", firing.len(), firing.join(", "));
    judge(&record(&run(&scenario), &logger, 3), &toml)
}

fn named(review: &Review) -> Option<&str> {
    review.notices.iter().find(|n| n.code == "swapped-sensors").map(|n| n.text.as_str())
}

#[test]
fn a_four_names_both_pairs() {
    let four = Engine::inline_four();
    // 2 and 3 exchanged; turned by 360 degrees it is 1 and 4 that look exchanged.
    let review = reviewed(&four, &[(2, 3)], 0.9);
    let text = named(&review).unwrap_or_else(|| panic!("{:?}", codes(&review)));
    assert!(text.contains("2 and 3") && text.contains("1 and 4"), "{text}");
    // Naive: the columns are taken at their word, and the healthy cylinder 3 is blamed for cylinder 2.
    assert!(deviation(&review, 3) < -1.0 && deviation(&review, 2).abs() < 0.5);

    let neighbours = reviewed(&four, &[(1, 2)], 1.0);
    let text = named(&neighbours).unwrap_or_else(|| panic!("{:?}", codes(&neighbours)));
    assert!(text.contains("1 and 2"), "{text}");
    assert_eq!(named(&reviewed(&four, &[], 0.9)), None);
}

#[test]
fn a_triple_names_all_three_pairs() {
    let review = reviewed(&Engine::triple(), &[(1, 2)], 1.0);
    let text = named(&review).unwrap_or_else(|| panic!("{:?}", codes(&review)));
    assert!(["1 and 2", "1 and 3", "2 and 3"].iter().all(|pair| text.contains(pair)), "{text}");
    assert_eq!(named(&reviewed(&Engine::triple(), &[], 1.0)), None);
}

#[test]
fn a_twin_shows_it_only_where_it_fires_unevenly() {
    let review = reviewed(&Engine::twin_270(), &[(1, 2)], 1.0);
    assert!(named(&review).is_some_and(|t| t.contains("1 and 2")), "{:?}", codes(&review));
    assert_eq!(named(&reviewed(&Engine::twin_270(), &[], 1.0)), None);
    // 360-degree twin: both orders look the same, nothing may be claimed.
    assert_eq!(named(&reviewed(&Engine::even(2), &[(1, 2)], 1.0)), None);
}

#[test]
fn nothing_is_claimed_without_firing_angles_or_pulses() {
    let engine = run(&four([1.0; 4], 30.0, 122));
    let swapped = Logger { swapped: vec![(2, 3)], ..Logger::momentary(200.0) };
    let review = judge(&record(&engine, &swapped, 3), "");
    assert_eq!(named(&review), None, "no firing angles are known");
    let averaged = Logger { swapped: vec![(2, 3)], polled: false, ..Logger::diagnostic_link(10.0) };
    let review = judge(&record(&engine, &averaged, 3), "firing_deg = [0, 540, 180, 360]\n");
    assert_eq!(named(&review), None, "averages have no crank angle");
}
