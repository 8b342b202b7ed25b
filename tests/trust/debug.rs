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
fn dbg_ar() {
    for seed in 0..60 {
        let mut noise = Noise::new(1000 + seed);
        let mut table = Table::even(90.0, 4.0).idling(1100.0);
        for n in 1..=2 {
            let values: Vec<f64> =
                super::uncertainty::wandering(360, 0.9, 0.5, &mut noise).iter().map(|x| 40.0 + x).collect();
            table = table.column(&format!("Cyl {n} absolute pressure [kPa]"), 3, values);
        }
        let r = table.review_for("pressure_is = \"mean\"\nreference = 1\n");
        if cylinder(&r, 2).effective_samples.is_none() {
            println!("seed {seed}");
            show(&r);
        }
    }
}
#[test]
fn dbg_wander() {
    let mut all: Vec<(f64, f64, f64)> = Vec::new();
    for (name, engine) in [
        ("four", Engine::inline_four()),
        ("triple", Engine::triple()),
        ("twin", Engine::twin_270()),
        ("six", Engine::even(6)),
        ("eight", Engine::eight()),
    ] {
        let (mut five, mut ten) = (Vec::new(), Vec::new());
        for seed in 0..4 {
            let engine = run(&Scenario::new(engine.clone(), 120.0, 300 + seed));
            let m = |a: f64, b: f64| {
                mean(
                    &engine.rpm[(a * 2000.0) as usize..(b * 2000.0) as usize]
                        .iter()
                        .step_by(50)
                        .map(|v| *v as f64)
                        .collect::<Vec<_>>(),
                )
            };
            let mut worst = (0.0_f64, 0.0_f64);
            for t in (10..110).map(|t| t as f64) {
                let r = m(0.0, 119.0);
                worst.0 = worst.0.max((m(t - 5.0, t) - m(t, t + 5.0)).abs() / r);
                worst.1 = worst.1.max((m(t - 10.0, t) - m(t, t + 10.0)).abs() / r);
                five.push((m(t - 5.0, t) - m(t, t + 5.0)) / r);
                ten.push((m(t - 10.0, t) - m(t, t + 10.0)) / r);
            }
            print!(" {:.3} {:.3};", worst.0, worst.1);
        }
        println!("{name} sd five {:.4} ten {:.4}", sd(&five), sd(&ten));
    }
}
