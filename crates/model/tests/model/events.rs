//! What happens during a recording.

use evenpull_model::{Coolant, Event};

use super::{mean, quiet_four, run};

#[test]
fn with_the_engine_off_every_runner_stands_at_the_barometer() {
    let mut s = quiet_four(40.0);
    s.start_s = 10.0;
    s.stop_s = Some(30.0);
    let run = run(&s);
    for trace in &run.pressure_kpa {
        for k in (0..19_000).chain(65_000..80_000) {
            assert!((f64::from(trace[k]) - s.engine.barometer_kpa).abs() < 0.05, "sample {k}: {}", trace[k]);
        }
    }
    assert_eq!(run.speed_rpm(5.0), 0.0);
    assert_eq!(run.speed_rpm(35.0), 0.0);
    let idle = run.truth(18.0, 29.0).unwrap();
    assert!((idle.rpm / s.engine.idle_rpm - 1.0).abs() < 0.02);
    assert!(run.truth(0.0, 9.9).is_err(), "no cycles while it stands");
    assert!(run.cycles.windows(2).all(|w| w[1].start_s >= w[0].end_s - 1e-9));
}

#[test]
fn a_screw_moves_its_own_cylinder() {
    let mut s = quiet_four(40.0);
    s.event(Event::Screw { at_s: 20.0, cylinder: 4, factor: 0.9 });
    let run = run(&s);
    let (before, after) = (run.truth(5.0, 19.0).unwrap(), run.truth(25.0, 40.0).unwrap());
    assert!(before.spread_kpa < 0.05);
    let deviation = after.deviation_kpa();
    assert!(deviation[3] < -2.5, "{deviation:?}");
    assert!(deviation[..3].iter().all(|d| d.abs() < 0.1));
}

/// A ramp of the area gives a ramp of the deviation: the first half moves as far as the second.
#[test]
fn a_drift_is_a_ramp() {
    let mut s = quiet_four(90.0);
    s.event(Event::Drift { from_s: 0.0, cylinder: 2, per_minute: 0.08 });
    let run = run(&s);
    let at = |t: f64| run.truth(t, t + 10.0).unwrap().deviation_kpa()[1];
    let (a, b, c) = (at(0.0), at(40.0), at(80.0));
    assert!(c - a > 2.0);
    assert!(((b - a) / (c - b) - 1.0).abs() < 0.1, "{a} {b} {c}");
}

#[test]
fn a_blip_revs_the_engine_and_is_over_soon() {
    let mut s = quiet_four(40.0);
    s.event(Event::Blip { at_s: 20.0, length_s: 0.8, opening: 0.15 });
    let run = run(&s);
    let top = run.rpm[40_000..44_000].iter().copied().fold(0.0, f32::max);
    assert!(top > 1_700.0, "{top}");
    assert!(run.throttle_pct[40_800] > 10.0);
    let (before, after) = (run.truth(5.0, 19.0).unwrap(), run.truth(28.0, 40.0).unwrap());
    assert!((before.rpm - after.rpm).abs() < 5.0);
    assert!((before.mean_kpa[0] - after.mean_kpa[0]).abs() < 0.1);
}

#[test]
fn a_load_lowers_the_speed_and_fills_all_runners() {
    let mut s = quiet_four(40.0);
    s.event(Event::Load { from_s: 20.0, to_s: 40.0, share: 0.15 });
    let run = run(&s);
    let (before, after) = (run.truth(5.0, 19.0).unwrap(), run.truth(28.0, 40.0).unwrap());
    assert!(after.rpm < before.rpm - 40.0);
    assert!((0..4).all(|i| after.mean_kpa[i] > before.mean_kpa[i] + 1.0));
    assert!(after.spread_kpa < 0.1);
}

#[test]
fn a_hose_off_is_a_leak_while_it_lasts() {
    let mut s = quiet_four(45.0);
    s.event(Event::Leak { from_s: 15.0, to_s: 30.0, cylinder: 1, area_mm2: 1.0 });
    let run = run(&s);
    let d = |a, b| run.truth(a, b).unwrap().deviation_kpa()[0];
    assert!(d(5.0, 14.0).abs() < 0.05 && d(20.0, 29.0) > 4.0 && d(35.0, 45.0).abs() < 0.05);
}

#[test]
fn warming_up_raises_the_speed() {
    let mut s = quiet_four(240.0);
    s.coolant = Coolant { start_c: 20.0, warm_c: 80.0, tau_s: 60.0 };
    let run = run(&s);
    let (cold, warm) = (run.truth(1.0, 15.0).unwrap(), run.truth(225.0, 240.0).unwrap());
    assert!(warm.rpm > cold.rpm + 60.0, "{} {}", cold.rpm, warm.rpm);
    // Closed form: 1 - exp(-1) of the way after one time constant (and 0.3 K of thermostat swing).
    let at_tau = f64::from(run.coolant_c[120_000]);
    assert!((at_tau - (80.0 - 60.0 * (-1.0f64).exp())).abs() < 0.31);
}

/// Wander and burn scatter move all cylinders together far more than against each other.
#[test]
fn idle_wander_is_common_mode() {
    let mut s = quiet_four(60.0);
    s.engine.wander = 0.02;
    s.engine.burn.variation = 0.06;
    let run = run(&s);
    let blocks: Vec<Vec<f64>> =
        (0..29).map(|k| run.truth(2.0 * f64::from(k), 2.0 * f64::from(k) + 2.0).unwrap().mean_kpa).collect();
    let group: Vec<f64> = blocks.iter().map(|b| mean(b)).collect();
    let apart: Vec<f64> = blocks.iter().map(|b| b[0] - b[1]).collect();
    assert!(super::sd(&group) > 3.0 * super::sd(&apart), "{} {}", super::sd(&group), super::sd(&apart));
}
