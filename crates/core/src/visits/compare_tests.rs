//! The whole comparison on told stories: what was done to the machine is known.

#![allow(clippy::unwrap_used)]

use super::*;
use crate::result::Verdict;
use crate::stats::fixtures::ar1;
use crate::visits::comparison::{Place, RepeatabilitySource};
use crate::visits::story::Story;

fn told(n: usize, visits: usize, seed: u64, level: impl Fn(usize, usize) -> f64) -> Comparison {
    let wobble = ar1(n * visits, 0.0, seed);
    let row = |v: usize| (0..n).map(|i| level(v, i) + 0.04 * wobble[v * n + i]).collect::<Vec<_>>();
    let story = (0..visits).fold(Story::new(n), |s, v| s.next(&row(v)));
    compare(&story.visits, &CompareOptions::default())
}

#[test]
fn drift_repair_drift_again() {
    // Cylinder 3 loses 0.35 a visit (50 h), is set right after the fifth and goes on losing.
    let c =
        told(
            4,
            11,
            3,
            |v, i| if i == 2 { -0.35 * if v < 5 { v } else { v - 5 } as f64 } else { 0.1 * i as f64 },
        );
    assert_eq!(c.changes.len(), 1, "{:?}", c.changes);
    assert_eq!((c.changes[0].cylinder, &c.changes[0].visits[1]), (3, &c.visits[5].visit));
    assert!((c.changes[0].step_kpa.value - 1.4).abs() < 0.3);
    let t = &c.trend[2];
    assert!(t.significant && t.visits == 6 && t.since == c.visits[5].date && t.per == "100 h");
    let slope = t.slope_kpa.unwrap();
    assert!(slope.low <= -0.7 && -0.7 <= slope.high, "{slope:?}");
    assert!(c.trend.iter().all(|t| t.significant == (t.cylinder == 3)));
    assert_eq!(c.judged_against, [1, 2, 4]);
    assert_eq!(c.repeatability_kpa.source, RepeatabilitySource::Default);
    // From 600 h on -1.75 of -1.3 + 0.1: the limit is behind.
    assert!(c.forecast.is_none() && c.no_forecast_because.as_ref().unwrap().contains("already"));
}

#[test]
fn forecast_brackets_the_known_crossing() {
    // Others at 0, 0.2, 0.4 around their median 0.2, cylinder 4 starts at their median and loses 0.15 in 50 h from
    // 100 h on. Highest other is 0.2 above the median: the spread is 1.3 when it stands 1.1 below,
    // that is at 100 + 1.1/0.003 = 466.7 h; six visits reach back 250 h from 350 h.
    let level = |v: usize, i: usize| if i == 3 { 0.2 - 0.15 * v as f64 } else { 0.2 * i as f64 };
    let c = told(4, 6, 8, level);
    let f = c.forecast.as_ref().unwrap_or_else(|| panic!("{:?}", c.no_forecast_because));
    let Place::Number(at) = f.at else { panic!("{f:?}") };
    assert!((at - 466.7).abs() < 60.0, "{at}");
    let (Some(Place::Number(low)), Some(Place::Number(high))) = (&f.low, &f.high) else { panic!("{f:?}") };
    assert!((*low..=*high).contains(&466.7) && (f.cylinder, f.unit.as_str()) == (4, "hours"));
    // The naive way, |deviation| reaching the whole limit, would say 533 h.
    assert!((at - 533.3).abs() > 30.0);
}

#[test]
fn a_healthy_machine_has_nothing_to_say() {
    let c = told(4, 8, 21, |_, i| 0.15 * i as f64);
    assert!(c.changes.is_empty() && c.trend.iter().all(|t| !t.significant) && c.forecast.is_none());
    assert!(c.no_forecast_because.unwrap().contains("no cylinder shows a trend"));
    assert_eq!(c.judged_against, [1, 2, 3, 4]);
    assert!(c.control.iter().all(|l| l.visits == 7 && l.provisional));
}

#[test]
fn two_visits_say_then_and_now() {
    let c = told(4, 2, 4, |v, i| if i == 1 && v == 0 { 1.6 } else { 0.0 });
    let latest = c.latest.unwrap();
    assert_eq!(latest.verdict, [Verdict::Outside, Verdict::Within]);
    assert!(latest.cylinders.iter().all(|l| l.significant == (l.cylinder == 2)));
    let change = latest.cylinders[1].change_kpa.unwrap();
    assert!((change.value + 1.6).abs() < 0.2 && change.u > 0.5);
    assert!((latest.spread_change_kpa.unwrap().value + 1.6).abs() < 0.2);
    assert!(c.no_forecast_because.unwrap().contains("too few visits"));
    assert!(c.trend.iter().all(|t| t.slope_kpa.is_none() && t.p.is_none() && t.why.is_some()));
}

#[test]
fn weather_and_altitude_are_no_drift() {
    // The same plate error at a barometer that falls visit by visit: deviations shrink with the pressure.
    let mut story = (0..6).fold(Story::new(4), |s, _| s.next(&[0.0; 4]));
    for (v, visit) in story.visits.iter_mut().enumerate() {
        let pressure = 44.0 - 2.0 * v as f64;
        visit.barometer_kpa = Some(104.0 - 3.0 * v as f64);
        for c in &mut visit.cylinders {
            let off = if c.cylinder == 2 { 0.09 } else { 0.0 };
            c.pressure_kpa.as_mut().unwrap().value = pressure * (1.0 + off);
            c.deviation_kpa.as_mut().unwrap().value = pressure * off;
        }
    }
    let raw: Vec<f64> =
        story.visits.iter().map(|v| v.cylinder(2).unwrap().deviation_kpa.unwrap().value).collect();
    let c = compare(&story.visits, &CompareOptions::default());
    assert!(c.trend.iter().all(|t| !t.significant));
    assert_eq!(c.unlike.iter().filter(|u| u.what == "barometer").count(), 1);
    // The naive way: raw deviations fall strictly, by 0.9 kPa, p = 2/6!.
    let naive = crate::stats::trend::mann_kendall(&raw).unwrap();
    assert!(naive.p() < 0.01 && raw[0] - raw[5] > 0.8);
}

#[test]
fn another_idle_speed_is_named_and_not_judged() {
    let mut story = (0..3).fold(Story::new(4), |s, _| s.next(&[0.0; 4]));
    let odd = &mut story.visits[2];
    odd.rpm.as_mut().unwrap().value = 2400.0;
    odd.cylinders[1].deviation_kpa.as_mut().unwrap().value = 3.0;
    let c = compare(&story.visits, &CompareOptions::default());
    assert!(c.changes.is_empty() && !c.visits[2].judged && c.unlike.iter().any(|u| u.what == "idle-speed"));
    assert!(
        c.visits[2].cylinders[1].reviewed_kpa.is_some() && c.visits[2].cylinders[1].deviation_kpa.is_none()
    );
}

#[test]
fn order_of_the_visits_does_not_matter() {
    let story = (0..6).fold(Story::new(3), |s, v| s.next(&[0.0, -0.2 * v as f64, 0.0]));
    let mut turned = story.visits.clone();
    turned.reverse();
    let [a, b] = [&story.visits, &turned].map(|v| compare(v, &CompareOptions::default()));
    assert_eq!(a, b);
}

#[test]
fn no_visit_and_empty_visits_do_not_panic() {
    let none = compare(&[], &CompareOptions::default());
    assert!(none.visits.is_empty() && none.latest.is_none() && none.machine.is_none());
    let mut story = Story::new(2).next(&[0.0, 0.1]).next(&[0.0, 0.2]);
    story.visits[1].cylinders.clear();
    story.visits[1].rpm = None;
    let c = compare(&story.visits, &CompareOptions::default());
    assert!(c.changes.is_empty() && c.visits[1].cylinders.is_empty());
}
