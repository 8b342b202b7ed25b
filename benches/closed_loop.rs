//! The closed-loop table of the planner: 200 cases at the model engine, each with a person who follows the plan.
//!
//! `cargo bench -p evenpull --bench closed_loop` makes it; a number after `--` sets how many cases (default 200).
#![allow(clippy::unwrap_used, clippy::print_stdout)]

#[path = "../tests/support/model_log.rs"]
mod model_log;
#[path = "../tests/plan/loop_engine.rs"]
mod loop_engine;

use evenpull_core::adjust::plan_result::Advice;
use loop_engine::{Case, Outcome, PerTurn, Start, work};
use rayon::prelude::*;

struct Row {
    cases: usize,
    two: usize,
    three: usize,
    worse: usize,
    worst: f64,
    stops: usize,
    right: usize,
    kept: usize,
    promises: usize,
    rounds: f64,
}

fn row(outcomes: &[Outcome], limit: f64) -> Row {
    let mut r = Row { cases: outcomes.len(), two: 0, three: 0, worse: 0, worst: 0.0, stops: 0, right: 0, kept: 0, promises: 0, rounds: 0.0 };
    for o in outcomes {
        r.two += usize::from(o.inside_after.is_some_and(|n| n <= 2));
        r.three += usize::from(o.inside_after.is_some_and(|n| n <= 3));
        r.worse += usize::from(o.worst_growth_kpa > 0.0);
        r.worst = r.worst.max(o.worst_growth_kpa);
        r.rounds += o.rounds as f64 / outcomes.len() as f64;
        let last = o.truth_kpa.last().copied().unwrap_or(f64::NAN);
        if o.advice.last() == Some(&Advice::Stop) {
            r.stops += 1;
            r.right += usize::from(last <= limit);
        }
        r.promises += o.promises.len();
        r.kept += o.promises.iter().filter(|p| (p.0 - 0.02..=p.2 + 0.02).contains(&p.3)).count();
    }
    r
}

fn main() {
    let cases: u64 = std::env::args().skip(1).find_map(|a| a.parse().ok()).unwrap_or(200);
    if std::env::args().any(|a| a == "--test") {
        return;
    }
    println!("start    area/turn  cyl  cases  <=2 rounds  <=3  grew (worst kPa)  stops right  interval kept  rounds");
    let kinds: [(&str, Start, PerTurn); 3] = [
        ("known", Start::Known, (0.08, 0.12)),
        ("known", Start::Known, (0.05, 0.07)),
        ("unknown", Start::Unknown, (0.08, 0.12)),
    ];
    for (name, start, per_turn) in kinds {
        let mut all = Vec::new();
        for (k, cylinders) in [3usize, 4, 6].into_iter().enumerate() {
            let numbers: Vec<u64> = (0..cases).filter(|n| n % 3 == k as u64).map(|n| n / 3 + 1_000 * k as u64).collect();
            let outcomes: Vec<Outcome> =
                numbers.par_iter().map(|&n| work(&mut Case::new(n, cylinders, start, per_turn))).collect();
            show(name, per_turn, &cylinders.to_string(), &row(&outcomes, 1.3));
            for (n, o) in numbers.iter().zip(&outcomes).filter(|(_, o)| !o.inside_after.is_some_and(|n| n <= 2) || o.worst_growth_kpa > 0.0) {
                println!("    case {n}: {:?} {:?} {:?}", o.truth_kpa.iter().map(|v| (v * 100.0).round() / 100.0).collect::<Vec<_>>(), o.advice, o.because);
            }
            all.extend(outcomes);
        }
        show(name, per_turn, "all", &row(&all, 1.3));
    }
}

fn show(name: &str, per_turn: PerTurn, cylinders: &str, r: &Row) {
    let percent = |a: usize, b: usize| 100.0 * a as f64 / b.max(1) as f64;
    println!(
        "{name:8} {:2.0} to {:2.0} %  {cylinders:>3}  {:5}  {:8.1} %  {:.1} %  {} ({:.2})  {}/{}  {:.1} %  {:.2}",
        100.0 * per_turn.0,
        100.0 * per_turn.1,
        r.cases,
        percent(r.two, r.cases),
        percent(r.three, r.cases),
        r.worse,
        r.worst,
        r.right,
        r.stops,
        percent(r.kept, r.promises),
        r.rounds
    );
}
