//! Rounds of visits written by hand. Changes are worked out beside each.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::adjust::influence::{LearnOptions, learn};
use crate::stats::fixtures::close;
use crate::visits::basis::PlanBasis;
use crate::visits::story::{U, visit};

/// Standard deviation of a change between visits, kPa.
const REPEAT: f64 = 0.3;

fn basis() -> PlanBasis {
    serde_json::from_value(serde_json::json!({
        "cylinders": 3, "strokes": 4, "fuelling": "shared", "format": "csv", "rows": 1, "rows_skipped": 0,
        "duration_s": 60.0, "sample_rate_hz": 20.0, "pressure_unit": "kPa", "pressure_kind": "absolute",
        "undecided_because": null, "seconds_to_decide": null, "further_turning": null, "notices": [],
        "drift_kpa_per_min": [], "found": null, "rounds": []
    }))
    .unwrap()
}

fn kept(date: &str, levels: &[f64], turns: &[(Option<f64>, u32, f64)]) -> Visit {
    let mut v = visit(date, None, levels);
    v.plan = Some(basis());
    v.facts.turns = turns.iter().map(|&(time_s, cylinder, turns)| Turn { time_s, cylinder, turns }).collect();
    v
}

#[test]
fn turns_without_a_time_are_one_round_from_the_visit_before() {
    // Cylinder 2 was opened by a quarter and another quarter and rose by 1 kPa: -1/3, 2/3, -1/3 from the mean.
    let turned = [(None, 2, 0.25), (None, 2, 0.25)];
    let visits = [kept("2025-01-01", &[0.0, -2.0, 0.0], &[]), kept("2025-02-01", &[0.0, -1.0, 0.0], &turned)];
    let h = History::of_visits(&visits, REPEAT);
    assert_eq!((h.rounds.len(), h.sessions, h.passed_over.len()), (1, 1, 0), "{h:?}");
    for (got, want) in h.rounds[0].change_kpa.iter().zip([-1.0 / 3.0, 2.0 / 3.0, -1.0 / 3.0]) {
        close(*got, want, 1e-12);
    }
    // Two readings of half of U, and what changes between visits with nothing done; the naive figure leaves the latter out
    // and is a tenth of this.
    close(h.rounds[0].u_kpa, (2f64.sqrt() * 0.5 * U).hypot(REPEAT), 1e-12);
    let influence = learn(&h.rounds, &LearnOptions::default()).unwrap();
    close(influence.columns[0].kpa_per_turn, 2.0, 1e-9);
}

#[test]
fn several_sessions_are_learned_from_together() {
    // Screw 1: half a turn brings 1 kPa; screw 3: a turn of closing takes 3 kPa. The sums of both sessions: 2 and 3 kPa a turn.
    let visits = [
        kept("2025-01-01", &[-1.0, 0.0, 3.0], &[]),
        kept("2025-02-01", &[0.0, 0.0, 3.0], &[(None, 1, 0.5)]),
        kept("2025-03-01", &[0.0, 0.0, 0.0], &[(None, 3, -1.0)]),
    ];
    let h = History::of_visits(&visits, REPEAT);
    assert_eq!((h.rounds.len(), h.sessions), (2, 2));
    let influence = learn(&h.rounds, &LearnOptions::default()).unwrap();
    let k: Vec<(u32, f64)> = influence.columns.iter().map(|c| (c.cylinder, c.kpa_per_turn)).collect();
    assert_eq!(k.iter().map(|k| k.0).collect::<Vec<_>>(), [1, 3]);
    close(k[0].1, 2.0, 0.05);
    close(k[1].1, 3.0, 0.05);
    // Two visits lie between naive first and last: they would blame both turns for both changes.
    assert!(
        influence.columns[0].u_kpa_per_turn > influence.columns[1].u_kpa_per_turn,
        "half a turn teaches less"
    );
}

#[test]
fn turns_inside_the_recording_are_not_held_against_the_visit_before() {
    // At the second visit cylinder 2 was found 2 kPa low (it had been even) and left even after one turn.
    let mut second = kept("2025-02-01", &[0.0, 0.0, 0.0], &[(None, 2, 1.0)]);
    let found = state_of(&visit("2025-02-01", None, &[0.0, -2.0, 0.0]));
    let round = Round::between(&found, &state_of(&second), &[(2, 1.0)]).unwrap();
    let b = second.plan.as_mut().unwrap();
    (b.found, b.rounds) = (Some(found), vec![round]);
    let visits = [kept("2025-01-01", &[0.0, 0.0, 0.0], &[]), second];
    let h = History::of_visits(&visits, REPEAT);
    assert_eq!(h.rounds.len(), 1);
    close(h.rounds[0].change_kpa[1], 4.0 / 3.0, 1e-12);
    // Naive, visit before to visit after: no change at all for a whole turn.
    let naive = Round::between(&state_of(&visits[0]), &state_of(&visits[1]), &[(2, 1.0)]).unwrap();
    assert!(naive.change_kpa[1].abs() < 1e-12);
}

#[test]
fn turns_before_a_recording_with_noted_times_end_at_its_state_as_found() {
    let mut second = kept("2025-02-01", &[0.0, 1.0, 0.0], &[(None, 2, 0.5), (Some(80.0), 2, 0.5)]);
    let b = second.plan.as_mut().unwrap();
    b.found = Some(state_of(&visit("2025-02-01", None, &[0.0, 0.0, 0.0])));
    let first = kept("2025-01-01", &[0.0, -1.0, 0.0], &[]);
    let h = History::of_visits(&[first, second], REPEAT);
    // 1 kPa for the half turn made before, not 2 kPa for it; the timed one had no steady idle around it here.
    close(h.rounds[0].change_kpa[1], 2.0 / 3.0, 1e-12);
    assert_eq!(h.rounds[0].turns, [(2, 0.5)]);
    assert!(h.passed_over[0].contains("no steady idle"), "{h:?}");
}

#[test]
fn what_teaches_nothing_is_said() {
    let turned = [(None, 2, 0.5)];
    let mut worked = kept("2025-02-01", &[0.0, 1.0, 0.0], &turned);
    worked.facts.work = Some("new boot".to_owned());
    let mut old = kept("2025-03-01", &[0.0, 1.0, 0.0], &turned);
    old.plan = None;
    let four = kept("2025-04-01", &[0.0, 1.0, 0.0, 0.0], &turned);
    let visits = [kept("2025-01-01", &[0.0, 0.0, 0.0], &turned), worked, old, four];
    let h = History::of_visits(&visits, REPEAT);
    let words = ["2025-01-01: no visit before", "2025-02-01: other work", "2025-03-01: kept by an older"];
    for (line, start) in h.passed_over.iter().zip(words) {
        assert!(line.starts_with(start), "{line}");
    }
    assert_eq!((h.rounds.len(), h.sessions), (1, 1), "{h:?}");
    // The fourth compares the three cylinders that both visits have.
    assert_eq!(h.rounds[0].cylinders, [1, 2, 3]);
    let mut today = h.clone();
    today.keep(&[1, 2, 3, 4]);
    assert!(today.rounds.is_empty() && today.passed_over.last().unwrap().starts_with("1 round with"));
}
