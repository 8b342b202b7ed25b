//! How often the comparison is right and how often it cries wolf, on told machines with known scatter.

use super::compare::{CompareOptions, compare};
use super::levels::median_variance;
use super::story::Story;
use crate::stats::fixtures::ar1;

const VISITS: usize = 6;
const RUNS: u64 = 200;

/// Shares of runs, %: the change of cylinder 2 into the fourth visit found; any other change; a trend of cylinder 2; a
/// trend of another. `scatter` is the standard deviation of the change of a deviation with nothing done, kPa.
fn rates(n: usize, scatter: f64, level: impl Fn(usize) -> f64) -> [f64; 4] {
    let private = scatter / (2.0 * (1.0 + median_variance(n - 1))).sqrt();
    let mut seen = [0.0; 4];
    for seed in 0..RUNS {
        let w = ar1(n * VISITS, 0.0, 90_000 + seed * 7 + n as u64);
        let at = |v: usize, i: usize| {
            0.1 * i as f64 + private * w[v * n + i] + if i == 1 { level(v) } else { 0.0 }
        };
        let story =
            (0..VISITS).fold(Story::new(n), |s, v| s.next(&(0..n).map(|i| at(v, i)).collect::<Vec<_>>()));
        let c = compare(&story.visits, &CompareOptions::default());
        let right = |k: &super::comparison::Change| k.cylinder == 2 && k.visits[1] == c.visits[3].visit;
        let hits = [
            c.changes.iter().any(right),
            c.changes.iter().any(|k| !right(k)),
            c.trend[1].significant,
            c.trend.iter().any(|t| t.significant && t.cylinder != 2),
        ];
        seen.iter_mut().zip(hits).for_each(|(s, h)| *s += 100.0 * f64::from(u8::from(h)) / RUNS as f64);
    }
    seen
}

#[test]
fn healthy_machines_are_left_alone_even_where_visits_scatter_as_much_as_the_rule_of_thumb_says() {
    for n in [3, 4, 6] {
        for scatter in [0.1, 0.3] {
            let [right, wrong, own, other] = rates(n, scatter, |_| 0.0);
            // Family-wise 5 % for changes; 1.7 % a cylinder (exact level of six ranks) for trends.
            assert!(right + wrong <= 6.0, "{n} cylinders, {scatter}: {right} + {wrong} % changes");
            assert!(own + other <= 2.0 * n as f64, "{n} cylinders, {scatter}: {own} + {other} % trends");
        }
    }
}

#[test]
fn repairs_are_found_and_named_alone() {
    for n in [3, 4, 6] {
        for (step, scatter, least) in [(0.8, 0.1, 90.0), (1.3, 0.1, 98.0), (1.3, 0.2, 90.0)] {
            let [right, wrong, _, other] = rates(n, scatter, |v| if v < 3 { -step } else { 0.0 });
            assert!(right >= least, "{n} cylinders, {step} at {scatter}: {right} %");
            assert!(
                wrong <= 4.0 && other <= 5.0,
                "{n} cylinders, {step} at {scatter}: {wrong} and {other} % wrong"
            );
        }
    }
}

#[test]
fn drifts_are_found_and_not_cut_into_repairs() {
    for n in [3, 4, 6] {
        for (slope, scatter, least) in [(0.2, 0.1, 95.0), (0.5, 0.2, 95.0), (0.5, 0.3, 90.0)] {
            let [right, wrong, own, other] = rates(n, scatter, |v| -slope * v as f64);
            assert!(own >= least, "{n} cylinders, {slope} at {scatter}: {own} %");
            assert!(
                right + wrong <= 6.0 && other <= 5.0,
                "{n} cylinders: {right} + {wrong}, {other} % wrong"
            );
        }
    }
}
