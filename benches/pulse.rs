//! Samples a second and core of the averaged pulse: phase given, readings folded with rejection, refill rate measured.
//!
//! `cargo bench -p evenpull --bench pulse` prints it; one thread does the work. In test mode a small recording runs once.

#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs)]

use std::hint::black_box;
use std::time::Instant;

use evenpull_core::pulse::fold::{bins, fold};
use evenpull_core::pulse::refill::{Readings, refill};

fn main() {
    let all = std::env::args().any(|a| a == "--bench");
    let rows = if all { 12_000_000usize } else { 60_000 };
    // A saw-tooth with a dip, 220 readings a cycle.
    let cycles: Vec<f64> = (0..rows).map(|k| k as f64 / 220.3).collect();
    let value = |x: f64| if x < 0.25 { 50.0 - 120.0 * x } else { 20.0 + 40.0 * (x - 0.25) };
    let values: Vec<f64> = cycles
        .iter()
        .enumerate()
        .map(|(k, c)| value(c - c.floor()) + 0.1 * ((k * 7919) % 13) as f64)
        .collect();
    let weights = vec![0.002; rows];
    let order: Vec<usize> = (0..rows).collect();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let repeats = if all { 5 } else { 1 };
    let mut best = [f64::INFINITY; 2];
    for _ in 0..repeats {
        let start = Instant::now();
        let folded = pool.install(|| fold(black_box(&cycles), &values, &weights, &order, bins(220.0)));
        best[0] = best[0].min(start.elapsed().as_secs_f64());
        let start = Instant::now();
        let readings = Readings { cycles: &cycles, values: &values, weights: &weights, rows: &order };
        assert!(black_box(refill(readings, &folded, 101.3)).is_ok());
        best[1] = best[1].min(start.elapsed().as_secs_f64());
    }
    let rate = |s: f64| rows as f64 / s / 1e6;
    println!("fold      {:>7.1} million samples/s and core", rate(best[0]));
    println!("refill    {:>7.1} million samples/s and core", rate(best[1]));
    println!("together  {:>7.1} million samples/s and core", rate(best[0] + best[1]));
}
