//! A short closed loop; `benches/closed_loop.rs` runs the long one. The truth is the model's.
#![allow(clippy::unwrap_used)]

use evenpull_core::adjust::plan_result::Advice;

use super::loop_engine::{Case, Outcome, Start, work};

/// Twelve cases: 3, 4 and 6 cylinders, with a figure for a turn that is off by up to 20 % and without one.
fn outcomes() -> Vec<(String, Outcome)> {
    let mut out = Vec::new();
    for start in [Start::Known, Start::Unknown] {
        for cylinders in [3, 4, 6] {
            for number in [50, 51] {
                let mut case = Case::new(number, cylinders, start, (0.08, 0.12));
                out.push((format!("{start:?} {cylinders} {number}"), work(&mut case)));
            }
        }
    }
    out
}

#[test]
fn who_follows_the_plan_is_inside_after_two_rounds_and_never_worse_off() {
    for (name, o) in outcomes() {
        assert!(o.truth_kpa[0] > 1.5, "{name} starts at {:?}", o.truth_kpa);
        assert!(o.inside_after.is_some_and(|n| n <= 2), "{name}: {:?} {:?}", o.truth_kpa, o.advice);
        assert!(o.worst_growth_kpa <= 0.0, "{name}: {:?}", o.truth_kpa);
        assert_eq!(o.tested, name.starts_with("Unknown"), "{name}");
        assert_eq!(o.advice.last(), Some(&Advice::Stop), "{name}: {:?} {:?}", o.advice, o.because);
        assert!(*o.truth_kpa.last().unwrap() <= 1.3, "{name}: told to stop at {:?}", o.truth_kpa);
    }
}
