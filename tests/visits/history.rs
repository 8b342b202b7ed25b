//! Machines with a known history, compared. Truth: the engine model's own means.

use evenpull_core::visits::comparison::Place;
use evenpull_core::visits::{CompareOptions, Comparison, Visit, compare};
use evenpull_model::Truth;

use super::support::{Call, Desk, valid};

/// Visits of one machine and their truth.
fn told(calls: Vec<Call>) -> (Comparison, Vec<Truth>) {
    let (visits, truths): (Vec<Visit>, Vec<Truth>) = calls.iter().map(Call::visit).unzip();
    let comparison = compare(&visits, &CompareOptions::default());
    valid(evenpull_core::schema::COMPARE, &serde_json::to_value(&comparison).expect("JSON"));
    (comparison, truths)
}

/// True deviation of a cylinder from the median of the others named.
fn truly(t: &Truth, cylinder: usize, others: &[u32]) -> f64 {
    let mut rest: Vec<f64> =
        others.iter().filter(|o| **o as usize != cylinder).map(|o| t.mean_kpa[*o as usize - 1]).collect();
    rest.sort_by(f64::total_cmp);
    let n = rest.len();
    t.mean_kpa[cylinder - 1] - 0.5 * (rest[(n - 1) / 2] + rest[n / 2])
}

#[test]
fn a_drift_a_repair_and_the_drift_again() {
    // Cylinder 3 closes by 0.9 % a visit, is set right after the fifth visit and goes on closing.
    let close = |n: usize| 1.0 - 0.009 * if n < 5 { n } else { n - 5 } as f64;
    let (c, truths) =
        told((0..11).map(|n| Call::new("HS-07", 4, n, 100 + n as u64).plate(3, close(n))).collect());
    for (v, truth) in c.visits.iter().zip(&truths) {
        for k in &v.cylinders {
            let d = k.deviation_kpa.expect("a deviation");
            let want = truly(truth, k.cylinder as usize, &c.judged_against) * v.scale;
            assert!(
                (d.value - want).abs() < d.u.max(0.06),
                "{} cylinder {}: {d:?}, {want}",
                v.visit,
                k.cylinder
            );
        }
    }
    assert_eq!(c.changes.len(), 1, "{:?}", c.changes);
    let step = truly(&truths[5], 3, &[1, 2, 4]) - truly(&truths[4], 3, &[1, 2, 4]);
    assert_eq!((c.changes[0].cylinder, &c.changes[0].visits[1]), (3, &c.visits[5].visit));
    assert!((c.changes[0].step_kpa.value - step).abs() < 0.15, "{:?}, {step}", c.changes[0]);
    assert!(c.trend.iter().all(|t| t.significant == (t.cylinder == 3)), "{:?}", c.trend);
    let slope = c.trend[2].slope_kpa.expect("a slope");
    // Ends of the true drift over 300 hours.
    let way = truly(&truths[10], 3, &[1, 2, 4]) - truly(&truths[5], 3, &[1, 2, 4]);
    assert!(slope.low <= way / 3.0 && way / 3.0 <= slope.high, "{slope:?}, {}", way / 3.0);
    assert_eq!(c.axis, "hours");
}

#[test]
fn a_three_blames_the_one_that_drifts_and_says_when() {
    // In a three the median of the two others is their mean: the naive deviation of a healthy cylinder drifts by half.
    let (c, truths) = told(
        (0..6).map(|n| Call::new("HS-02", 3, n, 300 + n as u64).plate(1, 1.0 + 0.005 * n as f64)).collect(),
    );
    assert!(c.changes.is_empty());
    assert!(c.trend.iter().all(|t| t.significant == (t.cylinder == 1)), "{:?}", c.trend);
    assert_eq!(c.judged_against, [2, 3]);
    let f = c.forecast.as_ref().unwrap_or_else(|| panic!("{:?}", c.no_forecast_because));
    // The true deviation carried on to the limit: spread = deviation + what the others differ by, about 0.
    let (first, last) = (truly(&truths[0], 1, &[2, 3]), truly(&truths[5], 1, &[2, 3]));
    let at = 400.0 + (1.3 - last) / ((last - first) / 300.0);
    let place = |p: &Option<Place>| match p {
        Some(Place::Number(n)) => *n,
        _ => f64::INFINITY,
    };
    let Place::Number(found) = f.at else { panic!("{f:?}") };
    assert!(place(&f.low) <= at && at <= place(&f.high), "{f:?}, {at}");
    assert!((found - at).abs() < 60.0, "{found}, {at}");
}

#[test]
fn healthy_machines_in_any_weather_have_nothing_to_say() {
    let mut alarms = 0;
    for machine in 0..6u64 {
        let id = format!("HS-{machine:02}");
        let (c, _) = told((0..6).map(|n| Call::new(&id, 4, n, 7_000 + 100 * machine + n as u64)).collect());
        assert!(c.changes.is_empty(), "{:?}", c.changes);
        alarms += c.trend.iter().filter(|t| t.significant).count();
    }
    // 24 cylinders at an exact level of 1.7 % (six visits), less what is too small to count.
    assert!(alarms <= 1, "{alarms} false trends");
}

#[test]
fn exchanged_sensors_come_apart_from_cylinders() {
    let desk = Desk::new();
    let biases = vec![0.55, -0.25, 0.0, 0.0];
    let mut before = Call::new("HS-05", 4, 0, 41).plate(2, 0.97);
    before.biases.clone_from(&biases);
    // The sensors of 1 and 2 change places: column 1 then reads cylinder 2.
    let mut after = before.clone();
    after.plates.swap(0, 1);
    after.seed = 42;
    let ((a, truth), (b, _)) = (before.record(), after.record());
    desk.file("a.csv", a);
    desk.file("b.csv", b);
    let left = desk.run(&["compare", "a.csv", "b.csv", "--swapped", "1,2", "--json", "-"]);
    assert_eq!((left.code, left.err.as_str()), (0, ""));
    let c: Comparison = serde_json::from_str(&left.out).expect("a comparison");
    let s = c.swapped.expect("told apart");
    let want = truth.mean_kpa[0] - truth.mean_kpa[1];
    assert!((s.cylinder_difference_kpa.value - want).abs() < 0.1, "{s:?}, {want}");
    assert!((s.sensor_difference_kpa.value - 0.8).abs() < 0.1, "{s:?}");
    assert!(s.cylinders_differ && s.sensors_differ);
    // The naive way, the first recording alone, is off by the sensors' 0.8.
    let naive = |k: usize| c.visits[0].cylinders[k].reviewed_kpa.expect("a deviation").value;
    assert!((naive(0) - naive(1) - want).abs() > 0.6);
}
