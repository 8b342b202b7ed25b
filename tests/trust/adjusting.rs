//! Screws turned while recording: found, never inside a window, and told from ramps and blips.
//! Truth: the times, cylinders and factors of the engine model's events, and its means before and after.

use evenpull_core::result::Review;
use evenpull_model::{Engine, Event, Logger, Run, Scenario};

use super::support::*;

/// Screws: time, cylinder, factor on the plate area.
type Turns = [(f64, usize, f64)];

fn session(engine: Engine, seconds: f64, turns: &Turns, seed: u64) -> Run {
    let mut scenario = Scenario::new(engine, seconds, seed);
    for &(at_s, cylinder, factor) in turns {
        scenario.event(Event::Screw { at_s, cylinder, factor });
    }
    run(&scenario)
}

fn check(name: &str, review: &Review, turns: &Turns) {
    let found: Vec<(f64, u32, f64)> =
        review.adjustments.iter().map(|a| (a.time_s, a.cylinder, a.step_kpa.value)).collect();
    assert_eq!(found.len(), turns.len(), "{name}: {found:?}");
    for (&(at, cylinder, step), &(t, c, factor)) in found.iter().zip(turns) {
        assert!((at - t).abs() <= 2.0, "{name}: {found:?}");
        assert_eq!(cylinder, c as u32, "{name}: {found:?}");
        assert!(step * (factor - 1.0) > 0.0, "{name}: opening raises the pressure: {found:?}");
    }
    for &(t, _, _) in turns {
        // Never a window over the turn, nor before it has settled.
        assert_eq!(judged_s(review, t - 0.5, t + 1.5), 0.0, "{name}: {:?}", review.windows);
    }
    let (first, last) = (turns[0].0, turns[turns.len() - 1].0);
    assert_eq!(judged_s(review, first, last + 1.5), 0.0, "{name}: adjusting is one session");
    assert!(!excluded(review, "adjusting").is_empty());
}

#[test]
fn turns_of_three_four_and_six_cylinders() {
    let three = [(40.0, 2, 1.07), (70.0, 3, 0.93)];
    let four = [(40.0, 1, 0.94), (60.0, 4, 1.08), (85.0, 1, 1.06)];
    let six = [(45.0, 5, 1.1), (80.0, 2, 0.9)];
    let cases: [(&str, Engine, &Turns); 3] = [
        ("triple", Engine::triple(), &three),
        ("four", Engine::inline_four(), &four),
        ("six", Engine::even(6), &six),
    ];
    for (name, engine, turns) in cases {
        let run = session(engine, 140.0, turns, 91);
        for logger in [Logger::momentary(100.0), Logger::damped(20.0, 0.12)] {
            let review = judge(&record(&run, &logger, 5), "");
            check(name, &review, turns);
            let (first, last) = (turns[0].0, turns[turns.len() - 1].0);
            let before = run.truth(3.0, first).unwrap().deviation_kpa();
            let after = run.truth(last + 3.0, 140.0).unwrap().deviation_kpa();
            let state = review.as_found.as_ref().unwrap();
            for (i, c) in state.cylinders.iter().enumerate() {
                let d = c.deviation_kpa.unwrap();
                assert!(
                    (d.value - before[i]).abs() <= 2.0 * d.u + 0.01,
                    "{name} as found: {d:?}, {before:?}"
                );
                let d = review.cylinders[i].deviation_kpa.unwrap();
                assert!((d.value - after[i]).abs() <= 2.0 * d.u + 0.01, "{name} as left: {d:?}, {after:?}");
            }
            // Naive: one mean over the recording is neither.
            let whole = run.truth(3.0, 140.0).unwrap().deviation_kpa();
            let off = |a: &[f64]| (0..a.len()).map(|i| (whole[i] - a[i]).abs()).fold(0.0, f64::max);
            assert!(off(&before) > 0.5 && off(&after) > 0.5, "{name}: {whole:?}");
        }
    }
}

#[test]
fn in_a_twin_the_speed_tells_which_screw() {
    // Naive: the difference between two alone is the same for one opened and the other closed.
    for (turn, seed) in
        [((60.0, 1, 1.12), 92), ((60.0, 2, 0.88), 93), ((60.0, 1, 0.88), 94), ((60.0, 2, 1.12), 95)]
    {
        let run = session(Engine::twin_270(), 120.0, &[turn], seed);
        let review = judge(&record(&run, &Logger::momentary(100.0), 5), "");
        check(&format!("twin, {turn:?}"), &review, &[turn]);
    }
}

#[test]
fn a_slow_drift_is_no_staircase() {
    let mut scenario = four([1.0; 4], 200.0, 96);
    scenario.event(Event::Drift { from_s: 0.0, cylinder: 2, per_minute: 0.03 });
    let engine = run(&scenario);
    let log = engine.log(&Logger::damped(20.0, 0.12), 5).unwrap();
    // Naive: halves that differ by more than a fifth of the limit hold a step.
    let half = |from: f64, to: f64| {
        let cut = part(&log, from, to);
        mean(&cut.columns[1].values) - mean(&cut.columns[0].values)
    };
    assert!((half(100.0, 200.0) - half(0.0, 100.0)).abs() > 1.3, "no drift to speak of");
    let review = judge(&recording(&log), "");
    assert!(review.adjustments.is_empty(), "{:?}", review.adjustments);
    assert!(review.as_found.is_none());
    assert!(has(&review, "drifting-cylinder"), "{:?}", codes(&review));
    let (early, late) = (engine.truth(2.0, 40.0).unwrap(), engine.truth(160.0, 198.0).unwrap());
    for i in 0..4 {
        let want = (late.deviation_kpa()[i] - early.deviation_kpa()[i]) / ((179.0 - 21.0) / 60.0);
        let d = review.cylinders[i].drift_kpa_per_min.unwrap();
        assert!((d.value - want).abs() < 2.0 * d.u + 0.05, "cylinder {}: {d:?}, true {want:.3}", i + 1);
    }
}

#[test]
fn blips_and_loads_are_no_steps() {
    let mut scenario = four([1.0, 0.97, 1.0, 1.02], 150.0, 97);
    for at_s in [30.0, 60.0, 90.0] {
        scenario.event(Event::Blip { at_s, length_s: 0.8, opening: 0.15 });
    }
    scenario.event(Event::Load { from_s: 110.0, to_s: 130.0, share: 0.2 });
    let review = judge(&record(&run(&scenario), &Logger::momentary(50.0), 5), "");
    assert!(review.adjustments.is_empty(), "{:?}", review.adjustments);
}

#[test]
fn an_idle_that_only_wanders_holds_no_steps() {
    for seed in 0..6 {
        let engine = Engine { wander: 0.03, ..Engine::inline_four() };
        let run = run(&Scenario::new(engine, 150.0, 980 + seed));
        for logger in [Logger::momentary(12.5), Logger::diagnostic_link(8.0)] {
            let review = judge(&record(&run, &logger, seed), "");
            assert!(review.adjustments.is_empty(), "seed {seed}: {:?}", review.adjustments);
        }
    }
}

/// What the adjusting figure draws: as found, after each turn, as left. Truth: the model's deviations between the turns.
#[test]
fn the_course_between_turns_is_the_engines() {
    // Three of four are closed alike: the middle of the group goes with them.
    let turns = [(50.0, 1, 0.93), (80.0, 4, 0.93), (110.0, 2, 0.93), (140.0, 1, 1.03)];
    let run = session(Engine::inline_four(), 190.0, &turns, 99);
    let review = judge(&record(&run, &Logger::damped(20.0, 0.12), 5), "");
    check("course", &review, &turns);
    let found = review.as_found.as_ref().unwrap();
    let mut here: Vec<f64> = found.cylinders.iter().map(|c| c.deviation_kpa.unwrap().value).collect();
    let mut naive = here.clone();
    let (mut worst, mut worst_naive) = (0.0_f64, 0.0_f64);
    let mut u = found.cylinders.iter().map(|c| c.deviation_kpa.unwrap().u).fold(0.0, f64::max);
    for (k, a) in review.adjustments.iter().enumerate() {
        let own = a.cylinder as usize - 1;
        here[own] += a.step_kpa.value;
        naive[own] += a.step_kpa.value;
        u = u.hypot(a.step_kpa.u);
        // The turn also moved what deviations are counted from: the median of the four.
        let mut sorted = here.clone();
        sorted.sort_by(f64::total_cmp);
        let middle = 0.5 * (sorted[1] + sorted[2]);
        here.iter_mut().for_each(|v| *v -= middle);
        let to = turns.get(k + 1).map_or(190.0, |t| t.0 - 1.0);
        let truth = run.truth(turns[k].0 + 3.0, to).unwrap().deviation_kpa();
        for i in 0..4 {
            worst = worst.max((here[i] - truth[i]).abs() / u);
            worst_naive = worst_naive.max((naive[i] - truth[i]).abs() / u);
        }
    }
    assert!(worst <= 1.5, "{worst} of the uncertainty");
    assert!(
        worst_naive > 2.0 * worst,
        "adding steps without looking at the median again would do: {worst_naive}"
    );
    // The last column is measured: as left.
    let truth = run.truth(145.0, 190.0).unwrap().deviation_kpa();
    for (c, t) in review.cylinders.iter().zip(&truth) {
        let d = c.deviation_kpa.unwrap();
        assert!((d.value - t).abs() <= 2.0 * d.u + 0.01, "as left: {d:?}, {t}");
    }
}
