//! Confusion table: each fault alone at two sizes, six engines, three loggers; and how well refill and air ratios hold.
//!
//! `cargo bench -p evenpull --bench confusion` prints it. In test mode one engine runs. The environment variables ONLY (part of
//! a fault's name), ENGINE (part of an engine's name) and VERBOSE narrow and explain; SEED
//! shifts every seed and SCALE every size, for recordings that no rule was chosen by.

#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs)]

#[path = "../tests/support/confusion.rs"]
mod confusion;
#[path = "../tests/support/model_log.rs"]
mod model_log;

use confusion::{Answer, answer, faults, judge, layouts, loggers, naive_is_wrong, run};
use evenpull_model::Fuelling;

fn main() {
    let all = std::env::args().any(|a| a == "--bench");
    let var = |name: &str| std::env::var(name).ok();
    let (only, engine, verbose) = (var("ONLY"), var("ENGINE"), var("VERBOSE").is_some());
    let wanted =
        |filter: &Option<String>, name: &str| filter.as_ref().is_none_or(|f| name.contains(f.as_str()));
    let engines: Vec<_> = layouts()
        .into_iter()
        .filter(|(name, _)| wanted(&engine, name) && (all || engine.is_some() || *name == "triple"))
        .collect();
    let names: Vec<&str> = engines.iter().map(|(n, _)| *n).collect();
    println!("one letter an engine: {}", names.join(", "));
    println!("+ right, b both causes named, u undecided, X wrong; naive: pressure against the mean alone");
    let heads: Vec<&str> = loggers().iter().map(|(n, _)| *n).collect();
    println!(
        "{:<32} {:>22} {:>22} {:>22} {:>22}",
        "fault of cylinder 2", heads[0], heads[1], heads[2], "naive"
    );
    let number = |name: &str, usual: f64| var(name).and_then(|v| v.parse().ok()).unwrap_or(usual);
    let (shift, scale) = (number("SEED", 0.0) as u64, number("SCALE", 1.0));
    let mut count = [0usize; 4];
    for (f, (name, fault)) in faults().into_iter().enumerate().filter(|(_, (n, _))| wanted(&only, n)) {
        let mut letters = vec![String::new(); heads.len()];
        let (fault, mut naive) = (fault.scaled(scale), String::new());
        for (e, (engine_name, engine)) in engines.iter().enumerate() {
            let run = run(engine, fault, shift + (100 * f + e) as u64);
            naive.push(if naive_is_wrong(&run, fault) { 'X' } else { '+' });
            for (l, (logger_name, logger)) in loggers().iter().enumerate() {
                let review = judge(engine, &run, fault, logger, shift + 7 + l as u64);
                let told = answer(&run, fault, &review, engine.fuelling == Fuelling::Shared);
                count[told as usize] += 1;
                letters[l].push(told.letter());
                if verbose
                    && (told == Answer::Wrong
                        || told == Answer::Undecided
                        || var("VERBOSE").as_deref() == Some("2"))
                {
                    explain(name, engine_name, logger_name, &run, &review, told);
                }
            }
        }
        println!("{name:<32} {:>22} {:>22} {:>22} {naive:>22}", letters[0], letters[1], letters[2]);
    }
    println!("right {}, both named {}, undecided {}, wrong {}", count[0], count[1], count[2], count[3]);
}

fn explain(
    fault: &str,
    engine: &str,
    logger: &str,
    run: &evenpull_model::Run,
    review: &evenpull_core::result::Review,
    told: Answer,
) {
    let truth = run.truth(5.0, confusion::SECONDS).unwrap();
    println!(
        "  {told:?}: {fault}, {engine}, {logger}: {:?} {:?}",
        review.verdict,
        review.pulse.as_ref().map(|p| p.signal)
    );
    for (i, c) in review.cylinders.iter().enumerate() {
        let m = |v: Option<evenpull_core::result::Measured>| {
            v.map_or("-".to_owned(), |v| format!("{:.3}+-{:.3}", v.value, v.u))
        };
        println!(
            "    {} {:?} dev {} ({:+.3}) refill {} ({:.3}) air {} ({:.3}) rise {} {:?}",
            c.cylinder,
            c.class,
            m(c.deviation_kpa),
            truth.deviation_kpa()[i],
            m(c.refill_ratio),
            truth.refill_ratio[i],
            m(c.air_ratio),
            truth.air_ratio[i],
            m(review.pulse.as_ref().and_then(|p| p.cylinders.get(i)).and_then(|p| p.speed_rise_rpm)),
            review.pulse.as_ref().and_then(|p| p.cylinders.get(i)).and_then(|p| p.refill_refused.clone()),
        );
    }
}
