//! Whatever is allowed must run to finite figures, and nothing panics.

use evenpull_model::{Crossover, CsvStyle, Engine, Event, Extras, Logger, Scenario, simulate};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

fn odd_scenario(rng: &mut ChaCha8Rng) -> Scenario {
    let n = rng.random_range(1..=12);
    let mut engine = if rng.random::<f64>() < 0.2 { Engine::two_stroke(n) } else { Engine::even(n) };
    engine.displacement_cc = rng.random_range(50.0..1_500.0);
    engine.runner_cc = rng.random_range(20.0..2_000.0);
    engine.idle_rpm = rng.random_range(400.0..2_000.0);
    engine.inertia_kg_m2 = rng.random_range(0.01..1.0);
    engine.burn.variation = rng.random_range(0.0..0.4);
    for deg in &mut engine.firing_deg {
        *deg = rng.random_range(0.0..360.0);
    }
    let mut s = Scenario::new(engine, 2.0, rng.random());
    s.step_deg = rng.random_range(0.5..6.0);
    s.start_s = if rng.random() { 0.5 } else { 0.0 };
    for cylinder in 1..=n {
        let fault = s.cylinder(cylinder);
        fault.plate = rng.random_range(0.0..6.0);
        fault.leak_mm2 = rng.random_range(0.0..100.0);
        fault.valve_leak_mm2 = rng.random_range(0.0..50.0);
        fault.intake_open_shift_deg = rng.random_range(-80.0..80.0);
        fault.intake_close_shift_deg = rng.random_range(-80.0..80.0);
        fault.burn = rng.random_range(0.0..2.0);
        fault.runner = rng.random_range(0.1..5.0);
    }
    s.crossovers.push(Crossover { a: 1, b: n, area_mm2: rng.random_range(0.0..400.0) });
    s.event(Event::Blip { at_s: 1.0, length_s: 0.5, opening: rng.random() });
    s.event(Event::Raised { from_s: 0.2, to_s: 0.9, rpm: rng.random_range(300.0..9_000.0) });
    s
}

#[test]
fn odd_engines_give_finite_figures() {
    let mut rng = ChaCha8Rng::seed_from_u64(77);
    let mut ran = 0;
    for _ in 0..80 {
        let scenario = odd_scenario(&mut rng);
        let Ok(run) = simulate(&scenario) else { continue };
        ran += 1;
        for trace in &run.pressure_kpa {
            assert!(trace.iter().all(|p| p.is_finite() && *p >= 0.0 && *p < 2_000.0));
        }
        assert!(run.rpm.iter().all(|v| v.is_finite() && *v >= 0.0 && *v < 30_000.0));
        let extras = Extras { speed: true, coolant: true, throttle: true, lambda: true, barometer: true };
        for logger in
            [Logger::momentary(100.0), Logger::diagnostic_link(4.0), Logger::crank_angle(10.0, 500.0)]
        {
            let text = run.log(&Logger { extras, ..logger }, 1).unwrap().to_csv(&CsvStyle::default());
            assert!(!text.contains("NaN") && !text.contains("inf"));
        }
    }
    assert!(ran > 40, "most of them run: {ran}");
}

#[test]
fn events_at_senseless_times_do_nothing() {
    let mut s = super::quiet_four(3.0);
    for at_s in [f64::NAN, f64::INFINITY, -1e300, 1e300] {
        s.event(Event::Blip { at_s, length_s: 0.5, opening: 0.2 });
        s.event(Event::Load { from_s: at_s, to_s: at_s, share: 0.2 });
    }
    let t = super::run(&s).truth(0.0, 3.0).unwrap();
    assert!(t.spread_kpa < 0.05);
}
