//! Each fault leaves the mark that physics says, and not the others.

use evenpull_model::{Crossover, Engine, Event, Fuelling, Ringing};

use super::{quiet_four, run, sd, slope, truth};

/// A late-closing, early-opening intake valve blows gas back: the mean rises without more air, and the refill
/// slope in the closed part stays. Judged by the mean alone the plate would be called too open.
#[test]
fn valve_events_raise_the_mean_and_leave_the_refill() {
    let mut s = quiet_four(12.0);
    s.cylinder(2).intake_open_shift_deg = -12.0;
    s.cylinder(2).intake_close_shift_deg = 18.0;
    let run = run(&s);
    let t = run.truth(2.0, 12.0).unwrap();
    let raised = t.mean_kpa[1] - t.mean_kpa[0];
    assert!(raised > 1.3, "{raised}");
    assert!((t.air_ratio[1] - 1.0).abs() < 0.005);
    let ratio = slope(&run, 1, 640.0, 700.0) / slope(&run, 0, 640.0, 700.0);
    assert!((ratio - 1.0).abs() < 0.005, "{ratio}");
    // An opened plate with the same mean shows it in air and slope.
    let mut s = quiet_four(12.0);
    s.cylinder(2).plate = 1.0 + raised / 42.0 / 0.8;
    let run = super::run(&s);
    let t = run.truth(2.0, 12.0).unwrap();
    assert!((t.mean_kpa[1] - t.mean_kpa[0] - raised).abs() < 0.4);
    assert!(t.air_ratio[1] > 1.03);
    assert!(slope(&run, 1, 640.0, 700.0) / slope(&run, 0, 640.0, 700.0) > 1.03);
}

#[test]
fn a_leaking_intake_valve_raises_the_mean_without_fresh_air() {
    let mut s = quiet_four(12.0);
    s.cylinder(4).valve_leak_mm2 = 0.3;
    let t = truth(&s);
    assert!(t.mean_kpa[3] - t.mean_kpa[0] > 1.3, "{:?}", t.mean_kpa);
    assert!(t.air_ratio[3] <= 1.001, "{:?}", t.air_ratio);
}

/// A leak behind the plate looks like an opened plate at idle and fades at raised speed, where its fixed area
/// is a small part of the whole.
#[test]
fn a_leak_is_an_open_plate_at_idle_and_fades_when_raised() {
    let ratios = |leak: bool| {
        let mut s = quiet_four(40.0);
        if leak {
            s.cylinder(2).leak_mm2 = 0.42;
        } else {
            s.cylinder(2).plate = 1.1;
            s.cylinder(2).linkage = 1.1;
        }
        s.event(Event::Raised { from_s: 15.0, to_s: 40.0, rpm: 2_700.0 });
        let run = run(&s);
        let (idle, raised) = (run.truth(2.0, 14.0).unwrap(), run.truth(28.0, 40.0).unwrap());
        assert!((raised.rpm / 2_700.0 - 1.0).abs() < 0.03, "{}", raised.rpm);
        (idle.air_ratio[1], raised.air_ratio[1])
    };
    let (leak, plate) = (ratios(true), ratios(false));
    assert!((leak.0 - plate.0).abs() < 0.01, "{leak:?} {plate:?}");
    assert!(leak.1 - 1.0 < 0.5 * (leak.0 - 1.0));
    assert!(plate.1 - 1.0 > 0.75 * (plate.0 - 1.0));
}

#[test]
fn a_linkage_error_shows_only_when_raised() {
    let mut s = quiet_four(40.0);
    s.cylinder(2).linkage = 1.15;
    s.event(Event::Raised { from_s: 15.0, to_s: 40.0, rpm: 2_700.0 });
    let run = run(&s);
    assert!(run.truth(2.0, 14.0).unwrap().spread_kpa < 0.05);
    assert!(run.truth(28.0, 40.0).unwrap().spread_kpa > 1.3);
}

/// Weak burning brakes the crank and moves all runners together; it is no imbalance of air.
#[test]
fn a_weak_burn_is_common_mode() {
    let healthy = truth(&quiet_four(12.0));
    let mut s = quiet_four(12.0);
    s.cylinder(3).burn = 0.7;
    let weak = truth(&s);
    assert!(weak.rpm < healthy.rpm - 15.0);
    assert!(weak.mean_kpa.iter().zip(&healthy.mean_kpa).all(|(w, h)| w > h));
    assert!(weak.spread_kpa < 0.5);
    assert!(weak.air_ratio.iter().all(|r| (r - 1.0).abs() < 0.002));
}

/// Larger runner: same air, smaller swing, slope down by the volume ratio (ideal gas law).
#[test]
fn runner_volume_changes_the_slope_and_not_the_air() {
    let mut s = quiet_four(12.0);
    s.cylinder(2).runner = 1.25;
    let run = run(&s);
    let t = run.truth(2.0, 12.0).unwrap();
    let want = 248.0 / (240.0 * 1.25 + 8.0);
    let got = slope(&run, 1, 640.0, 700.0) / slope(&run, 0, 640.0, 700.0);
    assert!((got / want - 1.0).abs() < 0.005, "{got} {want}");
    assert!((t.refill_ratio[1] / want - 1.0).abs() < 1e-9);
    assert!((t.air_ratio[1] - 1.0).abs() < 0.003);
}

#[test]
fn a_crossover_pulls_two_runners_together_and_shows_the_other_dip() {
    let mut s = quiet_four(12.0);
    s.cylinder(2).plate = 0.9;
    let apart = truth(&s);
    s.crossovers.push(Crossover { a: 1, b: 2, area_mm2: 6.0 });
    let run = run(&s);
    let joined = run.truth(2.0, 12.0).unwrap();
    let gap = |v: &[f64]| v[0] - v[1];
    assert!(gap(&joined.air_mg) < 0.9 * gap(&apart.air_mg));
    // Cylinder 1 is in its closed part while cylinder 2 (540 degrees later) draws: no straight line there.
    let (early, late) = (slope(&run, 0, 640.0, 670.0), slope(&run, 0, 20.0, 60.0));
    let alone = (slope(&run, 3, 640.0, 670.0), slope(&run, 3, 20.0, 60.0));
    assert!((alone.0 / alone.1 - 1.0).abs() < 0.02, "{alone:?}");
    assert!((early / late - 1.0).abs() > 0.1, "{early} {late}");
}

#[test]
fn ringing_disturbs_the_trace_and_not_the_mean() {
    let mut s = quiet_four(12.0);
    let plain = run(&s);
    s.ringing = Some(Ringing { hz: 90.0, damping: 0.08, gain: 0.3 });
    let ringing = run(&s);
    assert_eq!(plain.truth(1.0, 11.0).unwrap().mean_kpa, ringing.truth(1.0, 11.0).unwrap().mean_kpa);
    let extra: Vec<f64> = ringing.pressure_kpa[0][2_000..]
        .iter()
        .zip(&plain.pressure_kpa[0][2_000..])
        .map(|(a, b)| f64::from(a - b))
        .collect();
    assert!(sd(&extra) > 0.3);
    assert!(super::mean(&extra).abs() < 0.01);
}

/// One shared quantity: the cylinder with less air runs rich by that ratio; a carburettor follows its air.
#[test]
fn lambda_follows_the_fuelling() {
    let lambda = |fuelling| {
        let mut s = quiet_four(12.0);
        s.engine = Engine { fuelling, ..s.engine };
        s.cylinder(3).plate = 0.9;
        let t = truth(&s);
        (t.lambda.clone(), t.air_mg.clone())
    };
    let (shared, air) = lambda(Fuelling::Shared);
    let group: f64 = air.iter().sum::<f64>() / 4.0;
    for (l, a) in shared.iter().zip(&air) {
        assert!((l - a / group).abs() < 0.003, "{l}");
    }
    let (own, _) = lambda(Fuelling::Individual);
    assert!(own.iter().all(|l| (l - 1.0).abs() < 1e-9));
}
