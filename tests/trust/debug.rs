//! scratch
use super::support::*;
use evenpull_model::*;

pub(super) fn show(review: &evenpull_core::result::Review) {
    println!(
        "verdict {:?} {:?} spread {:?} std {:?}",
        review.verdict, review.undecided_because, review.spread_kpa, review.seconds_to_decide
    );
    println!("pulse {:?} baro {:?} {:?}", review.pulse, review.barometer_kpa, review.barometer_source);
    for w in &review.windows {
        println!("  win {:.2}..{:.2} {:.0} {:?}", w.start_s, w.end_s, w.rpm, w.regime);
    }
    for w in &review.excluded {
        println!("  out {:.2}..{:.2} {}", w.start_s, w.end_s, w.reason);
    }
    for c in &review.cylinders {
        println!(
            "  c{} p {:?} d {:?} drift {:?} eff {:?} {:?} {:?} r {:?} b {:?}",
            c.cylinder,
            c.pressure_kpa,
            c.deviation_kpa,
            c.drift_kpa_per_min,
            c.effective_samples,
            c.class,
            c.basis,
            c.refill_ratio,
            c.bias_removed_kpa
        );
    }
    for n in review.notices.iter().filter(|n| n.code != "missing-value") {
        println!("  {} {}", n.code, n.text);
    }
    println!("adj {:?}", review.adjustments);
}

#[test]
fn dbg_main() {
    for seed in 0..6 {
        let engine = run(&four([0.97, 1.0, 1.0, 1.0], 70.0, 41 + seed));
        let truth = engine.truth(0.0, 70.0).unwrap();
        let truth2 = engine.truth(0.0, 29.75).unwrap();
        println!("truth {:.4?}  {:.4?}", truth.deviation_kpa(), truth2.deviation_kpa());
        for logger in [Logger::momentary(2000.0), Logger::momentary(50.0), Logger::damped(25.0, 0.05)] {
            let r = judge(&record(&engine, &logger, 2), "");
            print!("{} ", logger.rate_hz);
            for (e, u) in errors(&r, &truth.mean_kpa) {
                print!(" {e:+.4}/{u:.4} ");
            }
            println!(
                " {:?} {:?}",
                r.pulse.as_ref().unwrap().signal,
                r.pulse.as_ref().unwrap().samples_per_cycle
            );
        }
    }
}
