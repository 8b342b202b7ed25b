//! Each cause from a review that shows it, and that it can be ruled out.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::adjust::plan::tests::review_of;
use crate::adjust::plan::{PlanOptions, plan};
use crate::adjust::plan_result::Advice;
use crate::machine::Machine;
use crate::notice::Notice;
use crate::recording::TroubleCode;
use crate::result::Measured;

fn outside() -> Review {
    review_of(&[Some(0.1), Some(0.0), Some(2.0), Some(-0.1)], "outside", 2.1, 0.1)
}

fn advice(review: &Review, ruled_out: &[&str]) -> (Advice, Vec<String>) {
    let options = PlanOptions {
        ruled_out: ruled_out.iter().map(|c| (*c).to_owned()).collect(),
        ..PlanOptions::default()
    };
    let p = plan(review, &Machine::default(), None, &options);
    (p.advice, p.because.into_iter().map(|b| b.code).collect())
}

#[test]
fn notices_that_forbid_turning() {
    assert_eq!(advice(&outside(), &[]).0, Advice::TestTurn);
    for code in [
        codes::SWAPPED_SENSORS,
        codes::DUPLICATE_CHANNEL,
        codes::TROUBLE_CODE,
        codes::CODES_CLEARED,
        codes::OVERHEATING,
        codes::LEAK_SUSPECTED,
        codes::DRIFTING_CYLINDER,
    ] {
        let mut review = outside();
        review.notices.push(Notice::new(code, Level::Caution, "").on_cylinder(3));
        assert_eq!(advice(&review, &[]), (Advice::CauseFirst, vec![code.to_owned()]));
        assert_eq!(advice(&review, &[code]).0, Advice::TestTurn, "{code} ruled out by the person");
    }
}

#[test]
fn noted_codes_come_first() {
    let mut review = outside();
    let code = TroubleCode { code: "P0107".to_owned(), status: "noted".to_owned(), time_s: None, text: None };
    review.trouble_codes.push(code);
    assert_eq!(advice(&review, &[]).1, [codes::TROUBLE_CODE]);
}

#[test]
fn linkage_shows_at_raised_speed_only_and_no_idle_screw_mends_it() {
    let mut review = review_of(&[Some(0.1), Some(0.0), Some(0.2), Some(-0.1)], "within", 0.3, 0.1);
    review.notices.push(Notice::new(codes::RAISED_UNEVEN, Level::Caution, ""));
    assert_eq!(advice(&review, &[]), (Advice::CauseFirst, vec![codes::RAISED_UNEVEN.to_owned()]));
}

#[test]
fn a_raised_mean_with_an_even_refill_is_no_matter_of_plates() {
    // +2 kPa at 44 kPa asks for 2 / (0.78 x 44) = 5.8 % more plate. A refill rate within 1 % says no.
    let with = |ratio: f64, u: f64| {
        let mut review = outside();
        review.cylinders[2].refill_ratio = Some(Measured { value: ratio, u });
        advice(&review, &[])
    };
    assert_eq!(with(1.005, 0.01), (Advice::CauseFirst, vec![codes::BREATHING.to_owned()]));
    assert_eq!(with(1.058, 0.01).0, Advice::TestTurn, "the plate shows it too");
    assert_eq!(with(1.005, 0.08).0, Advice::TestTurn, "the refill rate is too uncertain to say");
    // Refill the other way round: conflicting, certainly not the plate alone.
    assert_eq!(with(0.95, 0.01).0, Advice::CauseFirst);
}

#[test]
fn things_to_look_at_do_not_forbid_a_turn() {
    let mut review = review_of(&[Some(0.1), Some(0.0), Some(4.0), None], "outside", 4.0, 0.1);
    review.notices.push(Notice::new(codes::SENSORS_NOT_CHECKED, Level::Note, ""));
    let p = plan(&review, &Machine::default(), None, &PlanOptions::default());
    let codes: Vec<(&str, Option<u32>)> =
        p.look_first.iter().map(|l| (l.code.as_str(), l.cylinder)).collect();
    assert_eq!(
        codes,
        [(codes::FAR_OPEN, Some(3)), ("no-pressure", Some(4)), (codes::SENSORS_NOT_CHECKED, None)]
    );
    assert_eq!(p.advice, Advice::TestTurn);
}

#[test]
fn a_cold_engine_is_no_dead_sensor() {
    // Nothing was judged, so no cylinder has a deviation: the naive reading is four dead sensors.
    let mut review = review_of(&[None, None, None, None], "cannot-tell", 0.0, 0.0);
    review.undecided_because = Some(Undecided::Windows);
    review.notices.push(Notice::new(codes::COLD_ENGINE, Level::Caution, ""));
    let p = plan(&review, &Machine::default(), None, &PlanOptions::default());
    assert_eq!(p.advice, Advice::RecordAgain);
    assert!(p.look_first.iter().all(|l| l.code != "no-pressure"), "{:?}", p.look_first);
    assert!(p.because.iter().any(|b| b.text.contains("get warm")), "{:?}", p.because);
    // A cold engine with a sensor that its notice calls faulty: both are said.
    review.notices.push(Notice::new("sensor-fault", Level::Fault, "").on_cylinder(3));
    let p = plan(&review, &Machine::default(), None, &PlanOptions::default());
    let mend: Vec<_> = p.look_first.iter().filter(|l| l.code == "no-pressure").map(|l| l.cylinder).collect();
    assert_eq!(mend, [Some(3)]);
    // Where something was judged and one has no figure, its sensor is asked for.
    let review = review_of(&[Some(0.1), Some(0.0), None, Some(-0.1)], "cannot-tell", 0.2, 0.1);
    let p = plan(&review, &Machine::default(), None, &PlanOptions::default());
    assert!(
        p.look_first.iter().any(|l| l.code == "no-pressure" && l.cylinder == Some(3)),
        "{:?}",
        p.look_first
    );
}

#[test]
fn a_cylinder_that_gets_the_same_air_is_not_sent_to_its_hoses() {
    let looked = |ratio: f64, u: f64| {
        let mut review = outside();
        review.cylinders[2].class = Class::Imbalanced;
        review.cylinders[2].pressure_kpa = Some(Measured { value: 40.0, u: 0.4 });
        review.cylinders[2].refill_ratio = Some(Measured { value: ratio, u });
        let p = plan(&review, &Machine::default(), None, &PlanOptions::default());
        p.look_first.iter().any(|l| l.code == codes::FAR_OPEN)
    };
    // 2 kPa at 40 kPa ask for 6.4 % more air (the engine model's 0.78).
    assert!(looked(1.06, 0.004), "more air past it: leak or plate");
    assert!(looked(1.033, 0.018), "too uncertain to rule the leak out");
    // By pressure alone it would be a leak.
    assert!(!looked(1.001, 0.004), "the others' air past it: neither");
}
