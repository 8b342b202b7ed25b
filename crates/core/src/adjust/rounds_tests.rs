//! Rounds from states and steps written by hand.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::adjust::plan::tests::review_of;
use crate::result::{Adjustment, Regime, StateCylinder, Verdict};
use crate::stats::fixtures::close;

fn state(deviations: &[Option<f64>], u: f64, rpm: f64) -> State {
    let cylinder = |(i, d): (usize, &Option<f64>)| StateCylinder {
        cylinder: i as u32 + 1,
        pressure_kpa: None,
        deviation_kpa: d.map(|value| Measured { value, u }),
    };
    State {
        regime: Regime::Idle,
        start_s: 0.0,
        end_s: 60.0,
        seconds: 60.0,
        cycles: 500,
        rpm: Measured { value: rpm, u: 4.0 },
        cylinders: deviations.iter().enumerate().map(cylinder).collect(),
        spread_kpa: None,
        verdict: Verdict::Outside,
    }
}

#[test]
fn a_change_does_not_depend_on_the_reference() {
    // Cylinder 2 rises by 2 kPa. Against the median (which stays at cylinder 1) and against cylinder 2 itself (where the other two
    // seem to fall) the change less its mean is -2/3, 4/3, -2/3 alike.
    let by_median = Round::between(
        &state(&[Some(0.0), Some(-2.0), Some(0.1)], 0.2, 1000.0),
        &state(&[Some(0.0), Some(0.0), Some(0.1)], 0.2, 1030.0),
        &[(2, 0.5), (2, 0.5)],
    )
    .unwrap();
    let by_number = Round::between(
        &state(&[Some(2.0), Some(0.0), Some(2.1)], 0.2, 1000.0),
        &state(&[Some(0.0), Some(0.0), Some(0.1)], 0.2, 1030.0),
        &[(2, 1.0)],
    )
    .unwrap();
    for round in [&by_median, &by_number] {
        for (got, want) in round.change_kpa.iter().zip([-2.0 / 3.0, 4.0 / 3.0, -2.0 / 3.0]) {
            close(*got, want, 1e-12);
        }
        assert_eq!(round.turns, [(2, 1.0)]);
        // Two readings of u = 0.1 (half of U): sqrt 2 times 0.1.
        close(round.u_kpa, 0.1 * 2f64.sqrt(), 1e-12);
        assert_eq!(round.change_rpm.unwrap().0, 30.0);
    }
}

#[test]
fn what_is_no_round_is_refused() {
    let (a, b) = (state(&[Some(0.0), Some(1.0)], 0.1, 1000.0), state(&[Some(0.0), None], 0.1, 1000.0));
    assert!(Round::between(&a, &a, &[]).is_none(), "nothing turned");
    assert!(Round::between(&a, &a, &[(1, 0.5), (1, -0.5)]).is_none(), "turned and turned back");
    assert!(Round::between(&a, &b, &[(1, 0.5)]).is_none(), "one cylinder left");
    assert!(Round::between(&a, &a, &[(3, 0.5)]).is_none(), "no such cylinder");
    assert!(Round::between(&a, &state(&[Some(0.0)], 0.1, 1000.0), &[(1, 0.5)]).is_none());
}

#[test]
fn notes_find_the_step_nearest_in_time_of_their_own_cylinder() {
    let mut review = review_of(&[Some(0.0), Some(0.1), Some(0.0)], "within", 0.1, 0.1);
    let step =
        |time_s, cylinder, value| Adjustment { time_s, cylinder, step_kpa: Measured { value, u: 0.2 } };
    review.adjustments =
        vec![step(80.0, 2, 1.5), step(100.0, 3, -1.0), step(118.0, 2, 0.5), step(160.0, 1, 0.7)];
    let turn = |time_s, cylinder, turns| Turn { time_s, cylinder, turns };
    let turns = [
        turn(Some(83.0), 2, 0.75),
        turn(Some(115.0), 2, 0.25),
        // 45 s away: not the step at 100 s. Without a time: before the recording. A blind note of cylinder 1 in time.
        turn(Some(145.0), 3, -0.5),
        turn(None, 3, -0.5),
    ];
    let rounds = of_steps(&review, &turns);
    let found: Vec<(u32, f64)> = rounds.iter().map(|r| r.turns[0]).collect();
    assert_eq!(found, [(2, 0.75), (2, 0.25)]);
    // The step alone: 1.5 kPa of one of three is +1.0 and -0.5 less the mean.
    for (got, want) in rounds[0].change_kpa.iter().zip([-0.5, 1.0, -0.5]) {
        close(*got, want, 1e-12);
    }
    assert!(rounds[0].own_only && rounds[0].u_kpa == 0.1 && rounds[0].change_rpm.is_none());
    // Steps of a stored review are enough to learn from.
    let fit =
        crate::adjust::influence::learn(&rounds, &crate::adjust::influence::LearnOptions::default()).unwrap();
    close(fit.columns[0].kpa_per_turn, 2.0, 0.1);
}
