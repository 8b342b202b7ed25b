//! The model from outside: what a run shows must agree with closed forms and with itself.
#![allow(clippy::unwrap_used)]

mod engine;
mod events;
mod extremes;
mod faults;
mod loggers;
mod samples;
mod text;

use evenpull_model::{Engine, Run, Scenario, Truth, simulate};

/// A four without wander and burn scatter, so that effects show undiluted.
pub(crate) fn quiet_four(duration_s: f64) -> Scenario {
    Scenario::new(quiet(Engine::inline_four()), duration_s, 11)
}

pub(crate) fn quiet(mut engine: Engine) -> Engine {
    engine.wander = 0.0;
    engine.burn.variation = 0.0;
    engine
}

pub(crate) fn run(scenario: &Scenario) -> Run {
    simulate(scenario).unwrap()
}

/// Truth of a run of a scenario, the first two seconds left out.
pub(crate) fn truth(scenario: &Scenario) -> Truth {
    run(scenario).truth(2.0, scenario.duration_s).unwrap()
}

pub(crate) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

pub(crate) fn sd(values: &[f64]) -> f64 {
    let m = mean(values);
    (values.iter().map(|v| (v - m).powi(2)).sum::<f64>() / (values.len() as f64 - 1.0)).sqrt()
}

/// Slope (kPa/s) of cylinder `i` between two angles after its firing dead centre, from the fine trace.
pub(crate) fn slope(run: &Run, i: usize, from_deg: f64, to_deg: f64) -> f64 {
    let phase = |k: usize| (run.crank_deg[k] - run.firing_deg[i]).rem_euclid(run.cycle_deg);
    let (mut rise, mut time) = (0.0, 0.0);
    for k in 4_000..run.crank_deg.len() - 1 {
        let (a, b) = (phase(k), phase(k + 1));
        if a >= from_deg && b <= to_deg && b > a {
            rise += f64::from(run.pressure_kpa[i][k + 1] - run.pressure_kpa[i][k]);
            time += 1.0 / run.hz;
        }
    }
    rise / time
}
