//! Uncertainty: autocorrelation, shared movement, rounding; and seconds to decide that decide.

use evenpull_core::result::{Review, Undecided, Verdict};

use super::support::*;

/// Autoregressive noise: lag-one correlation `rho`, standard deviation `sd`.
fn wandering(rows: usize, rho: f64, sd: f64, noise: &mut Noise) -> Vec<f64> {
    let mut x = sd * noise.normal();
    (0..rows)
        .map(|_| {
            x = rho * x + sd * (1.0 - rho * rho).sqrt() * noise.normal();
            x
        })
        .collect()
}

#[test]
fn autocorrelated_scatter_is_not_averaged_away() {
    const RHO: f64 = 0.9;
    let (mut naive_inside, mut inside, mut effective) = (0, 0, Vec::new());
    let runs = 60;
    for seed in 0..runs {
        let mut noise = Noise::new(1000 + seed);
        let mut table = Table::even(90.0, 4.0).idling(1100.0);
        let mut own = Vec::new();
        for n in 1..=2 {
            let values: Vec<f64> = wandering(360, RHO, 0.5, &mut noise).iter().map(|x| 40.0 + x).collect();
            own.push(values.clone());
            table = table.column(&format!("Cyl {n} absolute pressure [kPa]"), 3, values);
        }
        // Naive: s / sqrt(n) of the difference, true value 0.
        let d: Vec<f64> = own[1].iter().zip(&own[0]).map(|(b, a)| b - a).collect();
        naive_inside += usize::from(mean(&d).abs() <= 2.0 * sd(&d) / (d.len() as f64).sqrt());
        let review = table.review_for("pressure_is = \"mean\"\nreference = 1\n");
        let found = cylinder(&review, 2).deviation_kpa.unwrap();
        inside += usize::from(found.value.abs() <= found.u);
        effective.push(cylinder(&review, 2).effective_samples.unwrap());
    }
    let share = |n: usize| n as f64 / runs as f64;
    assert!(share(naive_inside) < 0.5, "naive: {:.2}", share(naive_inside));
    // 60 draws: 95 % with a standard deviation of 3 %; a block estimate from 90 s loses a little.
    assert!(share(inside) > 0.85, "{:.2}", share(inside));
    // n (1 - rho) / (1 + rho) = 18.9 of 360 (Bayley and Hammersley 1946); from one second blocks about as many.
    let n_eff = 360.0 * (1.0 - RHO) / (1.0 + RHO);
    let middle = median(&effective);
    assert!(middle > 0.6 * n_eff && middle < 2.0 * n_eff, "{middle:.1} against {n_eff:.1}");
}

#[test]
fn movement_that_all_share_cancels() {
    let mut noise = Noise::new(8);
    let shared = wandering(600, 0.98, 1.5, &mut noise);
    let mut table = Table::even(120.0, 5.0).idling(1100.0);
    for (n, level) in [40.0, 40.3, 40.1].into_iter().enumerate() {
        let values = shared.iter().map(|s| level + s + 0.03 * noise.normal()).collect();
        table = table.column(&format!("Cyl {} absolute pressure [kPa]", n + 1), 3, values);
    }
    let review = table.review_for("pressure_is = \"mean\"\n");
    // Naive: the uncertainty of a difference from those of the two pressures.
    let own = cylinder(&review, 1).pressure_kpa.unwrap().u;
    let d = cylinder(&review, 2).deviation_kpa.unwrap();
    assert!(own * 2.0_f64.sqrt() > 10.0 * d.u, "pressure {own:.3}, deviation {:.4}", d.u);
    assert!((d.value - 0.2).abs() < 0.02 && d.u < 0.03);
    assert!(review.common_mode_kpa.unwrap() > 10.0 * review.differential_kpa.unwrap());
}

#[test]
fn values_on_one_step_are_not_certain() {
    // 40.2 and 40.4 kPa both read 40 in whole kPa, with too little noise to dither.
    let rounded = |level: f64, seed: u64| {
        let mut noise = Noise::new(seed);
        move |_: f64| (level + 0.08 * noise.normal()).round()
    };
    let table = Table::even(60.0, 5.0)
        .idling(1100.0)
        .with("Cyl 1 absolute pressure [kPa]", 0, rounded(40.2, 1))
        .with("Cyl 2 absolute pressure [kPa]", 0, rounded(40.25, 2))
        // One channel shows that the steps are whole kPa.
        .with("Cyl 3 absolute pressure [kPa]", 0, rounded(40.5, 3));
    let toml = |limit: f64| format!("pressure_is = \"mean\"\nlimit_kpa = {limit}\nreference = 1\n");
    let review = table.review_for(&toml(1.3));
    let d = cylinder(&review, 2).deviation_kpa.unwrap();
    // Naive: no scatter, no uncertainty. Each is off by up to half a step: q / sqrt 12 (JCGM 100, F.2.2.1).
    let u_one = 1.0 / 12.0_f64.sqrt();
    assert!(d.u >= 2.0 * u_one && d.u < 2.6 * u_one * 2.0_f64.sqrt(), "{d:?}");
    let tight = table.review_for(&toml(0.9));
    assert_eq!(tight.verdict, Verdict::CannotTell);
    assert_eq!(tight.undecided_because, Some(Undecided::Resolution), "more seconds do not help");
    assert_eq!(tight.seconds_to_decide, None);
    assert!(has(&tight, "coarse-resolution"));
}

#[test]
fn channels_that_never_move_are_not_certain_either() {
    // Whole kPa, every sensor on one step: the difference of two is off by up to a step, triangular, q / sqrt 6.
    let table = Table::even(60.0, 5.0)
        .idling(1100.0)
        .with("Cyl 1 absolute pressure [kPa]", 0, |_| 40.0)
        .with("Cyl 2 absolute pressure [kPa]", 0, |_| 40.0);
    let toml = |limit: f64| format!("pressure_is = \"mean\"\nlimit_kpa = {limit}\nreference = 1\n");
    let review = table.review_for(&toml(0.6));
    if let Some(d) = cylinder(&review, 2).deviation_kpa {
        // Naive: no scatter seen, so U = 0 and the verdict is within.
        assert!((d.u - 2.0 / 6.0_f64.sqrt()).abs() < 0.02, "{d:?}");
    }
    assert_ne!(review.verdict, Verdict::Within);
}

#[test]
fn a_pulse_that_spans_the_steps_dithers_them() {
    let engine = run(&four([1.0, 0.97, 1.0, 1.0], 60.0, 131));
    let mut log = engine.log(&evenpull_model::Logger::momentary(50.0), 3).unwrap();
    for c in log.columns.iter_mut().take(4) {
        c.values.iter_mut().for_each(|v| *v = v.round());
        c.decimals = 0;
    }
    let review = judge(&recording(&log), "");
    assert!(review.channels[1].resolution.is_some_and(|r| (r - 1.0).abs() < 1e-9));
    assert_true("whole kPa", &review, &engine.truth(0.0, 60.0).unwrap().mean_kpa);
    // Naive: 0.29 kPa each whatever the values do, 0.82 kPa on a pair (k = 2).
    let u = review.cylinders[0].deviation_kpa.unwrap().u;
    assert!(u < 0.15, "{u}");
}

/// Twin difference of 1.05 kPa against a limit of 1.3 with slow scatter.
fn undecided(seed: u64, seconds: usize) -> (Vec<f64>, Vec<f64>) {
    let mut noise = Noise::new(seed);
    let own = |level: f64, noise: &mut Noise| -> Vec<f64> {
        let w = wandering(seconds * 5, 0.8, 0.8, noise);
        let m = mean(&w);
        w.iter().map(|x| level + x - m).collect()
    };
    let a = own(40.0, &mut noise);
    (a, own(41.05, &mut noise))
}

fn reviewed(a: &[f64], b: &[f64]) -> Review {
    Table::even(a.len() as f64 / 5.0, 5.0)
        .idling(1100.0)
        .column("Cyl 1 absolute pressure [kPa]", 3, a.to_vec())
        .column("Cyl 2 absolute pressure [kPa]", 3, b.to_vec())
        .review_for("pressure_is = \"mean\"\n")
}

#[test]
fn the_seconds_asked_for_decide() {
    let (mut asked, mut decided, mut naive) = (0, 0, 0);
    for seed in 0..24 {
        let (a, b) = undecided(seed, 30);
        let review = reviewed(&a, &b);
        if review.verdict != Verdict::CannotTell {
            continue;
        }
        assert_eq!(review.undecided_because, Some(Undecided::Scatter));
        let (seconds, had) = (review.seconds_to_decide.unwrap(), review.regimes[0].seconds);
        assert!(seconds > had, "asks for more than there is: {seconds}");
        asked += 1;
        // More of the same, so that the difference stays what it is.
        let more = |seconds: f64| {
            let rows = (seconds * 5.0).ceil() as usize;
            let long = |x: &[f64]| x.iter().cycle().take(rows).copied().collect::<Vec<f64>>();
            reviewed(&long(&a), &long(&b)).verdict == Verdict::Within
        };
        decided += usize::from(more(seconds));
        // Naive: the standard error taken as exact and falling with the root of the time.
        let spread = review.spread_kpa.unwrap();
        let exact = had * (0.5 * spread.u * 1.645 / (1.3 - spread.value)).powi(2);
        naive += usize::from(more(exact));
    }
    assert!(asked >= 12, "{asked} undecided recordings");
    assert!(decided * 10 >= asked * 9, "{decided} of {asked}");
    assert!(naive < decided, "naive: {naive} of {asked}");
}
