//! What a plan says for reviews written by hand, worked out on paper beside each.
#![allow(clippy::unwrap_used)]

use serde_json::json;

use super::*;
use crate::adjust::effects::Untouched;
use crate::adjust::influence::{Column, Coupling};
use crate::adjust::plan_result::{Direction, Rotation};
use crate::codes;
use crate::machine::Adjuster;
use crate::machine::Opens;
use crate::notice::{Level, Notice};
use crate::result::{Measured, Reference, Undecided};

/// A review with these deviations (u 0.1 each), verdict and idle speed.
pub(crate) fn review_of(deviations: &[Option<f64>], verdict: &str, spread: f64, u: f64) -> Review {
    let cylinders: Vec<_> = deviations
        .iter()
        .enumerate()
        .map(|(i, d)| {
            json!({ "cylinder": i + 1, "pressure_kpa": d.map(|d| json!({"value": 42.0 + d, "u": 0.3})),
                "bias_removed_kpa": null, "deviation_kpa": d.map(|d| json!({"value": d, "u": 0.1})),
                "drift_kpa_per_min": null, "effective_samples": 30.0, "refill_ratio": null, "air_ratio": null,
                "lambda": null, "class": "undecided", "basis": "none", "evidence": [] })
        })
        .collect();
    let idle = json!({ "regime": "idle", "start_s": 10.0, "end_s": 70.0, "seconds": 60.0, "cycles": 500,
        "rpm": {"value": 1000.0, "u": 4.0}, "cylinders": [], "spread_kpa": null, "verdict": verdict });
    serde_json::from_value(json!({
        "schema": "evenpull.review/1", "version": "0",
        "source": { "name": "a.csv", "sha256": "", "format": "csv", "rows": 1, "rows_skipped": 0, "duration_s": 70.0,
            "sample_rate_hz": 20.0 },
        "machine": { "id": "HS-07", "cylinders": deviations.len(), "strokes": 4, "reference": "median", "limit_kpa": 1.3,
            "limit_source": "machine-file", "fuelling": "shared" },
        "channels": [], "notices": [], "recorded": [], "trouble_codes": [], "codes_cleared_s": [], "windows": [],
        "excluded": [], "barometer_kpa": 101.0, "barometer_source": "engine-off", "pulse": null, "regimes": [idle],
        "as_found": null, "cylinders": cylinders, "spread_kpa": {"value": spread, "u": u}, "common_mode_kpa": null,
        "differential_kpa": null, "verdict": verdict, "undecided_because": null, "seconds_to_decide": null,
        "adjustments": [], "further_turning": null
    }))
    .unwrap()
}

fn outside() -> Review {
    review_of(&[Some(0.1), Some(0.0), Some(-2.0), Some(-0.1)], "outside", 2.1, 0.1)
}

fn adjuster(cylinder: u32) -> Adjuster {
    let opens = Opens::Anticlockwise;
    Adjuster { cylinder, opens, range_turns: Some(2.0), kpa_per_turn: Some(2.0), sealed: false }
}

fn machine(cylinders: &[u32]) -> Machine {
    Machine { adjusters: cylinders.iter().map(|c| adjuster(*c)).collect(), ..Machine::default() }
}

fn made(review: &Review, machine: &Machine) -> Plan {
    plan(review, machine, None, &PlanOptions::default())
}

#[test]
fn one_low_cylinder_is_opened_and_nothing_else() {
    let p = made(&outside(), &machine(&[1, 2, 3, 4]));
    assert_eq!((p.advice, p.further_turning), (Advice::Turn, Some(FurtherTurning::Worthwhile)));
    let [t] = p.turns.as_slice() else { panic!("{:?}", p.turns) };
    // By hand: 2.1 kPa apart, 2 kPa a turn: 1/2 turn leaves 1.1, which with its guard is over 1.3 - 0.08; 3/4 turn leaves 0.6;
    // 5/8 leaves 0.85 + 1.645 x sqrt(0.05^2 + (0.625 x 0.24)^2 + (2 x 0.036)^2) = 1.14.
    assert_eq!((t.cylinder, t.turns, t.direction), (3, Some(0.625), Some(Direction::Open)));
    assert_eq!(t.rotation, Some(Rotation::Anticlockwise));
    let e = p.expected.unwrap();
    assert!((e.spread_kpa.value - 0.85).abs() < 1e-9 && e.inside > 0.99, "{e:?}");
    assert!(e.spread_kpa.low < 0.85 && e.spread_kpa.high > 0.85 && e.spread_kpa.high < 1.3);
    assert_eq!(p.left_alone.iter().filter(|l| l.why == Untouched::Even).count(), 3);
    assert_eq!(p.cautions.len(), 13);
}

#[test]
fn the_sign_of_the_rotation_follows_the_machine_file() {
    let mut high = machine(&[1, 2, 3, 4]);
    let close = review_of(&[Some(0.1), Some(0.0), Some(2.0), Some(-0.1)], "outside", 2.1, 0.1);
    for (opens, rotation) in [
        (Opens::Anticlockwise, Some(Rotation::Clockwise)),
        (Opens::Clockwise, Some(Rotation::Anticlockwise)),
        (Opens::Unknown, None),
    ] {
        high.adjusters.iter_mut().for_each(|a| a.opens = opens);
        let p = made(&close, &high);
        assert_eq!((p.turns[0].direction, p.turns[0].rotation), (Some(Direction::Close), rotation));
    }
}

#[test]
fn the_reference_and_sealed_screws_stay() {
    // The reference itself is the one that is low: the others come down to it.
    let mut m = machine(&[1, 2, 4]);
    m.reference = Reference::Cylinder(3);
    m.adjusters[2].sealed = true;
    let review = review_of(&[Some(2.0), Some(2.1), Some(0.0), Some(0.2)], "outside", 2.1, 0.1);
    let p = made(&review, &m);
    let turned: Vec<u32> = p.turns.iter().map(|t| t.cylinder).collect();
    assert!(turned.contains(&1) && turned.contains(&2) && turned.len() == 2);
    assert!(p.turns.iter().all(|t| t.direction == Some(Direction::Close)));
    let why = |c: u32| p.left_alone.iter().find(|l| l.cylinder == c).unwrap().why;
    assert_eq!((why(3), why(4)), (Untouched::Reference, Untouched::Sealed));
    // All sealed: nothing to turn.
    m.adjusters.iter_mut().for_each(|a| a.sealed = true);
    assert_eq!(made(&review, &m).advice, Advice::NothingToTurn);
    // Listed for some: the others have none.
    assert_eq!(made(&outside(), &machine(&[1, 2])).left_alone[0].why, Untouched::NoAdjuster);
}

#[test]
fn a_long_way_is_made_in_rounds_and_healthy_cylinders_do_not_meet_it_half_way() {
    let review = review_of(&[Some(0.0), Some(0.0), Some(-6.0), Some(0.0)], "outside", 6.0, 0.1);
    let mut free = machine(&[1, 2, 3, 4]);
    free.adjusters.iter_mut().for_each(|a| a.range_turns = None);
    let p = made(&review, &free);
    assert_eq!(p.turns.len(), 1, "{:?}", p.turns);
    assert_eq!(p.turns[0].turns, Some(2.0), "known well: two turns in one round");
    // 6 kPa at 2 kPa a turn: 3 turns would meet the others, a little less is enough.
    let whole = 2.0 + p.turns[0].later_turns.unwrap();
    assert!((2.25..=3.0).contains(&whole), "{whole}");
    // Within a range of 2 turns the others have to come down to it, and the plan says what that hints at.
    let p = made(&review, &machine(&[1, 2, 3, 4]));
    assert!(
        p.turns.len() == 4
            && p.look_first.iter().any(|l| (l.code.as_str(), l.cylinder) == ("end-of-range", Some(3)))
    );
    let mut vague = Influence {
        cylinders: vec![1, 2, 3, 4],
        coupling: Coupling::OwnCylinder,
        columns: Vec::new(),
        without_effect: vec![(1, -1.0, 0.2)],
        rounds: 1,
        condition: 1.0,
        misfit: None,
    };
    vague.columns.push(Column {
        cylinder: 3,
        kpa_per_turn: 2.0,
        u_kpa_per_turn: 0.6,
        effect_kpa: vec![-0.5, -0.5, 1.5, -0.5],
        u_effect_kpa: vec![0.0; 4],
        rpm_per_turn: Some((20.0, 5.0)),
    });
    let p = plan(&review, &free, Some(&vague), &PlanOptions::default());
    assert_eq!(p.turns[0].turns, Some(0.5), "not known well: half a turn");
    assert_eq!(p.influence.per_turn[1].source, crate::adjust::effects::EffectSource::Learned);
    // Screw 1 was turned and worked the wrong way: it is left alone, whatever the machine file says.
    assert!(p.left_alone.iter().any(|l| (l.cylinder, l.why) == (1, Untouched::NoEffect)));
}

#[test]
fn without_a_figure_for_a_turn_there_is_a_test_turn_and_an_order() {
    let review = review_of(&[Some(1.5), Some(0.0), Some(-2.0), Some(0.0)], "outside", 3.5, 0.1);
    let p = made(&review, &Machine::default());
    assert_eq!(p.advice, Advice::TestTurn);
    let first = &p.turns[0];
    // sqrt((sqrt(2) 0.05 / 2)^2 + (1/16 / sqrt(3))^2) / 0.2 = 0.2525: the next eighth.
    assert_eq!((first.cylinder, first.turns, first.test), (3, Some(0.375), true));
    assert_eq!(first.direction, Some(Direction::Open));
    let second = &p.turns[1];
    assert_eq!((second.cylinder, second.turns, second.direction), (1, None, Some(Direction::Close)));
    assert!(p.expected.is_none() && p.turns.len() == 2);
    assert!(p.steps.iter().any(|s| s.code == "wait") && p.steps.iter().any(|s| s.code == "record"));
}

#[test]
fn screws_seen_to_act_on_each_other_are_tried_one_by_one() {
    // The machine file's figure holds for a screw that moves its own cylinder alone; it was refuted.
    let seen = InfluenceError::TooFewRounds { found: 1, screws: 3, alone: vec![3] };
    let options = PlanOptions { not_learned: Some(seen), ..PlanOptions::default() };
    let p = plan(&outside(), &machine(&[1, 2, 3, 4]), None, &options);
    assert_eq!((p.advice, p.because[0].code.as_str()), (Advice::TestTurn, "screws-chained"));
    assert!(p.turns[0].test && p.turns[0].cylinder != 3 && p.turns[1..].iter().all(|t| t.turns.is_none()));
}

#[test]
fn in_a_twin_the_idle_speed_says_which_screw_is_tried() {
    let review = review_of(&[Some(1.0), Some(-1.0)], "outside", 2.0, 0.1);
    for (band, cylinder, direction) in
        [((900.0, 950.0), 1, Direction::Close), ((1_050.0, 1_200.0), 2, Direction::Open)]
    {
        let m = Machine { idle_rpm: Some(band), ..Machine::default() };
        let p = made(&review, &m);
        assert_eq!(
            (p.turns[0].cylinder, p.turns[0].direction),
            (cylinder, Some(direction)),
            "idle 1000, {band:?}"
        );
        assert_eq!(p.look_first[0].code, codes::EITHER_OF_TWO);
    }
    // With a figure for a turn both share it, so that the speed stays.
    let p = made(&review, &machine(&[1, 2]));
    let turns: Vec<f64> = p.turns.iter().filter_map(|t| t.turns).collect();
    assert!(turns.len() == 2 && turns.iter().sum::<f64>().abs() <= 0.125, "{turns:?}");
    // With a reference there is no doubt.
    let m = Machine { reference: Reference::Cylinder(1), ..machine(&[2]) };
    let p = made(&review, &m);
    assert!(p.turns.len() == 1 && p.look_first.iter().all(|l| l.code != codes::EITHER_OF_TWO));
}

#[test]
fn no_direction_without_the_kind_of_pressure() {
    let mut review = outside();
    review.notices.push(Notice::new(codes::KIND_AMBIGUOUS, Level::Caution, ""));
    let p = made(&review, &machine(&[1, 2, 3, 4]));
    assert_eq!(p.advice, Advice::RecordAgain);
    assert!(p.turns.iter().all(|t| t.direction.is_none() && t.turns.is_none() && t.rotation.is_none()));
    assert_eq!(p.turns[0].cylinder, 3, "the order does not need a direction");
}

#[test]
fn when_to_stop() {
    let m = machine(&[1, 2, 3, 4]);
    let inside = review_of(&[Some(0.3), Some(0.0), Some(-0.2), Some(0.0)], "within", 0.5, 0.1);
    assert_eq!(made(&inside, &m).advice, Advice::Stop);
    // One eighth at 30 kPa a turn is 3.75 kPa: what is left is under the smallest turn.
    let mut coarse = machine(&[1, 2, 3, 4]);
    coarse.adjusters.iter_mut().for_each(|a| a.kpa_per_turn = Some(30.0));
    let p = made(&review_of(&[Some(1.4), Some(0.0), Some(0.0), Some(0.0)], "outside", 1.5, 0.1), &coarse);
    assert_eq!((p.advice, p.because[0].code.as_str()), (Advice::Stop, "smallest-turn"));
    // Over its limit by less than repeats scatter.
    let options = PlanOptions { repeat_kpa: Some(0.3), ..PlanOptions::default() };
    let near = review_of(&[Some(1.5), Some(0.0), Some(0.0), Some(0.0)], "outside", 1.5, 0.1);
    assert_eq!(plan(&near, &m, None, &options).because[0].code, "repeats");
    assert_eq!(made(&near, &m).advice, Advice::Turn);
}

#[test]
fn undecided_asks_for_the_recording_that_decides() {
    let mut open = review_of(&[Some(0.6), Some(0.0), Some(-0.6), Some(0.0)], "cannot-tell", 1.2, 0.3);
    open.undecided_because = Some(Undecided::Scatter);
    open.seconds_to_decide = Some(150.0);
    let m = machine(&[1, 2, 3, 4]);
    let p = made(&open, &m);
    assert_eq!((p.advice, p.turns.len(), p.further_turning), (Advice::RecordAgain, 0, None));
    assert!(p.because[0].text.contains("150 s"));
    // No sensible length would decide and the spread itself is well measured: a small turn does.
    open.seconds_to_decide = None;
    let p = made(&open, &m);
    assert_eq!((p.advice, p.because[0].code.as_str()), (Advice::Turn, "at-the-limit"));
    // The gain of zeroed sensors stands in the way: no recording shows that, a turn does.
    open.undecided_because = Some(Undecided::Bias);
    assert_eq!(made(&open, &m).advice, Advice::RecordAgain);
    open.cylinders.iter_mut().for_each(|c| c.bias_removed_kpa = Some(0.0));
    assert_eq!(made(&open, &m).advice, Advice::Turn);
}

#[test]
fn the_idle_speed_is_told_where_it_is_known() {
    let effect = |c: usize| (0..4).map(|i| if i == c { 1.5 } else { -0.5 }).collect::<Vec<f64>>();
    let known = Influence {
        cylinders: vec![1, 2, 3, 4],
        coupling: Coupling::OwnCylinder,
        columns: (1..=4u32)
            .map(|c| Column {
                cylinder: c,
                kpa_per_turn: 2.0,
                u_kpa_per_turn: 0.1,
                effect_kpa: effect(c as usize - 1),
                u_effect_kpa: vec![0.0; 4],
                rpm_per_turn: Some((40.0, 5.0)),
            })
            .collect(),
        without_effect: Vec::new(),
        rounds: 4,
        condition: 1.0,
        misfit: Some(1.0),
    };
    let mut m = machine(&[1, 2, 3, 4]);
    m.idle_rpm = Some((900.0, 1_010.0));
    let p = plan(&outside(), &m, Some(&known), &PlanOptions::default());
    let rpm = p.expected.unwrap().rpm.unwrap();
    assert!(rpm.value <= 1_010.0 && rpm.u > 4.0, "{rpm:?}");
    // Without a band the one low cylinder is opened and the speed rises with it: 1000 + 40 x 5/8.
    m.idle_rpm = None;
    let free = plan(&outside(), &m, Some(&known), &PlanOptions::default());
    assert!(free.expected.unwrap().rpm.unwrap().value > 1_015.0);
}

#[test]
fn odd_reviews_do_not_panic() {
    let m = machine(&[1, 2]);
    let mut holey = review_of(&[Some(0.0), Some(1.0), Some(-1.0)], "outside", 2.0, 0.1);
    holey.cylinders[0].deviation_kpa = Some(Measured { value: f64::NAN, u: f64::NAN });
    holey.spread_kpa = Some(Measured { value: f64::NAN, u: f64::NAN });
    for review in [
        review_of(&[], "not-applicable", 0.0, 0.0),
        review_of(&[None, Some(1.0)], "not-applicable", 0.0, 0.0),
        review_of(&[Some(1e9), Some(-1e9)], "outside", 2e9, 0.0),
        holey,
    ] {
        let p = made(&review, &m);
        assert!(serde_json::to_string(&p).is_ok());
    }
}
