//! Phase from a mark, firing order read from the pulses, the speed ripple as a witness.

use evenpull_core::Analysis;
use evenpull_core::machine::Machine;
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_model::{Engine, Logger, MARK_DEG, Mark, Run, Scenario, Strokes, simulate};

use super::model_log;

fn run(engine: Engine, seconds: f64, seed: u64, spoil: impl Fn(&mut Scenario)) -> Run {
    let mut s = Scenario::new(engine, seconds, seed);
    spoil(&mut s);
    simulate(&s).unwrap()
}

fn analyse(run: &Run, logger: &Logger, machine: &Machine) -> Analysis {
    let recording = model_log::recording("crank", &run.log(logger, 5).unwrap(), 0.01);
    review(&recording, machine, &Settings::default(), &ReviewNotes::default())
}

fn machine(engine: &Engine) -> Machine {
    Machine {
        strokes: if engine.strokes == Strokes::Two { 2 } else { 4 },
        barometer_kpa: Some(engine.barometer_kpa),
        ..Machine::default()
    }
}

/// Angle of the model's own lowest runner pressure, degrees after the mark, on average over the cycles.
fn true_dip(run: &Run, i: usize, period: f64) -> f64 {
    let bins = 360usize;
    let mut mean = vec![(0.0f64, 0.0f64); bins];
    for (p, deg) in run.pressure_kpa[i].iter().zip(&run.crank_deg) {
        let x = ((deg - MARK_DEG) / period).rem_euclid(1.0);
        let cell = &mut mean[((x * bins as f64) as usize).min(bins - 1)];
        cell.0 += 1.0;
        cell.1 += f64::from(*p);
    }
    let low = (0..bins).min_by(|&a, &b| (mean[a].1 / mean[a].0).total_cmp(&(mean[b].1 / mean[b].0))).unwrap();
    (low as f64 + 0.5) / bins as f64 * period
}

/// A mark on the cam gives the true crank angle; one on the crank gives it but for a whole turn. Without one, degrees count
/// from the first cylinder's dip (the naive reading of them as crank angle is off by hundreds of degrees).
#[test]
fn a_mark_gives_the_crank_angle() {
    let engine = Engine::inline_four();
    let run = run(engine.clone(), 30.0, 501, |s| s.cylinder(3).plate = 0.93);
    for (mark, turn) in [(Mark::Cam, 720.0), (Mark::Crank, 360.0)] {
        let logger = Logger { mark: Some(mark), ..Logger::momentary(1000.0) };
        let pulse = analyse(&run, &logger, &machine(&engine)).review.pulse.unwrap();
        assert_eq!(pulse.phase_from, "mark");
        for (i, c) in pulse.cylinders.iter().enumerate() {
            let off = (c.dip_deg - true_dip(&run, i, 720.0)).rem_euclid(turn);
            let off = off.min(turn - off);
            assert!(off < 6.0, "{mark:?}, cylinder {}: {} off by {off}", i + 1, c.dip_deg);
        }
    }
    let pulse = analyse(&run, &Logger::momentary(1000.0), &machine(&engine)).review.pulse.unwrap();
    assert_eq!(pulse.phase_from, "pulses");
    assert!(pulse.cylinders[0].dip_deg < 6.0 && true_dip(&run, 0, 720.0) > 100.0);
}

/// The order is read from the pulses on every layout, odd firing and two-strokes among them, and said. Firing angles:
/// crank geometry (the model's own input).
#[test]
fn the_firing_order_is_inferred_and_said() {
    let crossplane = Engine { firing_deg: vec![0.0, 450.0, 270.0, 540.0], ..Engine::inline_four() };
    let vee = Engine { firing_deg: vec![0.0, 405.0], ..Engine::twin_270() };
    let mut engines = vec![Engine::inline_four(), crossplane, Engine::twin_270(), vee, Engine::two_stroke(3)];
    engines.extend([3, 5, 6, 8, 12].map(Engine::even));
    for (k, engine) in engines.into_iter().enumerate() {
        let run = run(engine.clone(), 25.0, 520 + k as u64, |s| s.cylinder(1).plate = 0.97);
        let review = analyse(&run, &Logger::momentary(250.0), &machine(&engine)).review;
        let pulse = review.pulse.clone().unwrap();
        let (got, from) = (pulse.firing_deg.unwrap(), pulse.firing_from.unwrap());
        assert_eq!(from, "inferred");
        for (a, b) in got.iter().zip(&engine.firing_deg) {
            let off = (a - b).rem_euclid(engine.cycle_deg());
            let off = off.min(engine.cycle_deg() - off);
            assert!(off < 8.0, "{:?}: {got:?}", engine.firing_deg);
        }
        let notice = review.notices.iter().find(|n| n.code == "firing-order-inferred").unwrap();
        if k == 0 {
            assert!(notice.text.contains("1-3-4-2") && notice.text.contains("inferred"), "{}", notice.text);
        }
        // With the angles in the machine file it is checked instead.
        let filed = Machine { firing_deg: Some(engine.firing_deg.clone()), ..machine(&engine) };
        let review = analyse(&run, &Logger::momentary(250.0), &filed).review;
        assert_eq!(review.pulse.unwrap().firing_from.as_deref(), Some("machine-file"));
        assert!(!review.notices.iter().any(|n| n.code == "firing-order-inferred"));
    }
}

/// A weak burn hardly shows in the pressures (all cylinders share one crank); the speed ripple names it. Naive: judge by
/// pressure, and nobody is at fault.
#[test]
fn the_ripple_names_a_weak_burn() {
    for (k, (engine, weak)) in [
        (Engine::inline_four(), 3usize),
        (Engine::inline_four(), 2),
        (Engine { fuelling: evenpull_model::Fuelling::Shared, ..Engine::triple() }, 2),
        (Engine::even(6), 5),
    ]
    .into_iter()
    .enumerate()
    {
        let logger = Logger { momentary_speed: true, rpm_step: 0.1, ..Logger::momentary(1000.0) };
        let sick = run(engine.clone(), 40.0, 540 + k as u64, |s| s.cylinder(weak).burn = 0.7);
        let truth = sick.truth(0.0, 40.0).unwrap();
        assert!(truth.spread_kpa < 0.65, "the pressures are even: {}", truth.spread_kpa);
        let review = analyse(&sick, &logger, &machine(&engine)).review;
        let pulse = review.pulse.unwrap();
        let lowest = pulse
            .cylinders
            .iter()
            .min_by(|a, b| a.speed_rise_rpm.unwrap().value.total_cmp(&b.speed_rise_rpm.unwrap().value))
            .unwrap();
        assert_eq!(lowest.cylinder as usize, weak);
        let named: Vec<Option<u32>> =
            review.notices.iter().filter(|n| n.code == "weak-burn").map(|n| n.cylinder).collect();
        assert_eq!(named, [Some(weak as u32)]);
        assert!(review.cylinders[weak - 1].evidence.iter().any(|e| e.contains("weak burn")));

        let well = run(engine.clone(), 40.0, 560 + k as u64, |_| ());
        let review = analyse(&well, &logger, &machine(&engine)).review;
        assert!(!review.notices.iter().any(|n| n.code == "weak-burn"));
        // A closed plate gives less work too: no weak burn is named.
        let closed = run(engine.clone(), 40.0, 580 + k as u64, |s| s.cylinder(weak).plate = 0.85);
        let review = analyse(&closed, &logger, &machine(&engine)).review;
        assert!(!review.notices.iter().any(|n| n.code == "weak-burn"), "{:?}", review.notices);
    }
}
