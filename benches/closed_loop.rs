//! The closed-loop table of the planner: a person at the model engine who follows the plan, 200 cases a row.
//!
//! `cargo bench -p evenpull --bench closed_loop` makes it; the environment variable CASES sets how many (default 200). In test
//! mode six cases run, so that it cannot rot.
//!
//! Each case: 3, 4 or 6 cylinders, a start spread of 2 to 8 kPa, a play of 1/16 turn in every screw, screws of one engine unlike
//! by up to 10 %, sensors with a bias of up to 0.3 kPa (zeroed by engine-off rows) and 0.05 kPa of noise; half are recorded by a
//! damped card at 20 rows a second, half over a diagnostic link at 8 rows a second with channels polled in turn. 60 s are
//! recorded after every round. `known`: the machine file has a figure for a turn, off by up to 20 %. `unknown`: it has none, and
//! the test turn, not counted as a round, comes first. `each alone`: the naive way, every screw by its own deviation. `chained`:
//! the plates hang on each other, a screw moves its own and all that follow, and nobody says so.
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs)]

#[path = "../tests/plan/loop_engine.rs"]
mod loop_engine;
#[allow(unreachable_pub)]
#[path = "../tests/support/model_log.rs"]
mod model_log;

use evenpull_core::adjust::plan_result::Advice;
use loop_engine::{Case, Outcome, PerTurn, Start, work, work_each_alone};
use rayon::prelude::*;

type Work = fn(&mut Case) -> Outcome;

const LIMIT_KPA: f64 = 1.3;

fn main() {
    let few = std::env::args().any(|a| a == "--test") || std::env::args().all(|a| a != "--bench");
    let cases: u64 =
        std::env::var("CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(if few { 6 } else { 200 });
    println!(
        "| start | area a turn | cylinders | cases | inside after 2 rounds | at the end | grew | stops that were right | interval kept | rounds | turns | screws |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|");
    let rows: [(&str, Start, PerTurn, bool, Work); 6] = [
        ("known", Start::Known, (0.08, 0.12), false, work),
        ("known", Start::Known, (0.05, 0.07), false, work),
        ("unknown", Start::Unknown, (0.08, 0.12), false, work),
        ("each alone", Start::Known, (0.08, 0.12), false, work_each_alone),
        ("chained", Start::Known, (0.08, 0.12), true, work),
        ("chained, each alone", Start::Known, (0.08, 0.12), true, work_each_alone),
    ];
    let only = std::env::var("ROW").ok();
    for (name, start, per_turn, chained, work) in
        rows.into_iter().filter(|r| only.as_ref().is_none_or(|o| r.0.starts_with(o.as_str())))
    {
        let mut all = Vec::new();
        for (k, cylinders) in [3usize, 4, 6].into_iter().enumerate() {
            let numbers: Vec<u64> =
                (0..cases).filter(|n| n % 3 == k as u64).map(|n| n / 3 + 1_000 * k as u64).collect();
            let one = |&n: &u64| {
                let mut case = Case::new(n, cylinders, start, per_turn);
                case.chained = chained;
                work(&mut case)
            };
            let outcomes: Vec<Outcome> = numbers.par_iter().map(one).collect();
            if std::env::var_os("SHOW").is_some() {
                for (n, o) in numbers.iter().zip(&outcomes) {
                    println!("{n} {cylinders} {name}: {:.2?} {:?} {:?}", o.truth_kpa, o.advice, o.because);
                }
            }
            show(name, per_turn, &cylinders.to_string(), &outcomes);
            all.extend(outcomes);
        }
        show(name, per_turn, "all", &all);
    }
}

/// One row of the table.
fn show(name: &str, per_turn: PerTurn, cylinders: &str, outcomes: &[Outcome]) {
    let n = outcomes.len().max(1) as f64;
    let two = outcomes.iter().filter(|o| o.inside_after.is_some_and(|n| n <= 2)).count();
    let end = outcomes.iter().filter(|o| o.truth_kpa.last().is_some_and(|t| *t <= LIMIT_KPA)).count();
    let grew = outcomes.iter().filter(|o| o.worst_growth_kpa > 0.0).count();
    let stops: Vec<&Outcome> = outcomes.iter().filter(|o| o.advice.last() == Some(&Advice::Stop)).collect();
    let right = stops.iter().filter(|o| o.truth_kpa.last().is_some_and(|t| *t <= LIMIT_KPA)).count();
    let promises: Vec<&(f64, f64, f64, f64)> = outcomes.iter().flat_map(|o| &o.promises).collect();
    let kept = promises.iter().filter(|p| (p.0..=p.2).contains(&p.3)).count();
    let kept = if promises.is_empty() {
        "-".to_owned()
    } else {
        format!("{:.0} %", 100.0 * kept as f64 / promises.len() as f64)
    };
    let mean = |f: &dyn Fn(&Outcome) -> f64| outcomes.iter().map(f).sum::<f64>() / n;
    println!(
        "| {name} | {:.0} to {:.0} % | {cylinders} | {} | {:.1} % | {:.1} % | {grew} | {right} of {} | {kept} | {:.2} | {:.2} | {:.1} |",
        100.0 * per_turn.0,
        100.0 * per_turn.1,
        outcomes.len(),
        100.0 * two as f64 / n,
        100.0 * end as f64 / n,
        stops.len(),
        mean(&|o| o.rounds as f64),
        mean(&|o| o.turned.0),
        mean(&|o| o.turned.1 as f64),
    );
}
