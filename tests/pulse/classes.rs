//! Each fault alone: no wrong class, and undecided only where the table in `core::mixture` says so.

use evenpull_model::Fuelling;

use super::confusion::{Answer, Fault, answer, judge, layouts, loggers, naive_is_wrong, run};

/// Three engines, five faults, all loggers of the table (`benches/confusion.rs` makes the whole). The naive rule, pressure
/// against the mean, is wrong where breathing is at fault.
#[test]
fn no_wrong_class() {
    let faults = [
        Fault::Healthy,
        Fault::Plate(-0.15),
        Fault::Leak(0.15),
        Fault::LateValve(35.0),
        Fault::WeakBurn(0.7),
    ];
    let mut naive = 0;
    for (e, (name, engine)) in layouts().into_iter().enumerate().filter(|(e, _)| [0, 1, 5].contains(e)) {
        for (f, fault) in faults.into_iter().enumerate() {
            let run = run(&engine, fault, (900 + 10 * f + e) as u64);
            naive += usize::from(naive_is_wrong(&run, fault));
            for (l, (logger_name, logger)) in loggers().iter().enumerate() {
                let review = judge(&engine, &run, fault, logger, 3 + l as u64);
                let told = answer(&run, fault, &review, engine.fuelling == Fuelling::Shared);
                assert!(
                    matches!(told, Answer::Right | Answer::Both),
                    "{name}, {fault:?}, {logger_name}: {told:?}\n{:#?}",
                    review.cylinders
                );
            }
        }
    }
    assert!(naive >= 3, "the naive rule is wrong on {naive} of 15");
}
