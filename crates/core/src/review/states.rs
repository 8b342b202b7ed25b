//! One measured state as it stands in the result: means, deviations, spread, verdict.

use crate::balance::measure::{Estimate, StateData};
use crate::balance::reference::deviation;
use crate::balance::verdict::{Decision, Pair, Rule, decide, pairs};
use crate::machine::{Machine, PressureIs};
use crate::result::{Measured as Value, Signal, State, StateCylinder, Undecided, Verdict};
use crate::settings::Settings;

use super::found::{Found, Measured};

/// A state with the pieces that the rest of the review needs.
#[derive(Debug, Clone)]
pub(crate) struct Judged {
    /// As written.
    pub state: State,
    /// Deviation of each cylinder, by index.
    pub deviations: Vec<Option<Estimate>>,
    /// All pairs.
    pub pairs: Vec<Pair>,
    /// Decision.
    pub decision: Decision,
    /// Gain allowance on a pair, kPa.
    pub gain_u_kpa: f64,
}

/// Judges one state.
pub(crate) fn judge(measured: &Measured, machine: &Machine, settings: &Settings, found: &Found) -> Judged {
    let mut data = measured.data.clone();
    let seconds: f64 = measured.stretches.iter().map(|(a, b)| b - a).sum();
    if let Some(s) = found.sampling.filter(|_| found.signal == Signal::Aliased) {
        // A row rate near a half multiple of the pulse folds harmonics onto each other, and the formal aliasing term is
        // too small; elsewhere half of that covers what lies beyond the fitted harmonics (coverage study).
        let twice = 2.0 * s.pulse_hz / (s.per_cycle * s.pulse_hz);
        let apart_hz = (twice - twice.round()).abs() * 0.5 * s.per_cycle * s.pulse_hz;
        let folded = 1.0 / (1.0 + (apart_hz / 0.1).powi(2));
        let extra = 0.25 * (1.0 + folded) * s.b10_kpa * (10.0 / seconds.max(10.0));
        data.terms.iter_mut().for_each(|t| t.alias = t.alias.hypot(extra));
    }
    let pairs = pairs(&data);
    let gain_u_kpa = gain(found, settings, &data);
    let rule = Rule {
        limit_kpa: machine.limit_kpa.unwrap_or(settings.limit_kpa),
        guard: settings.guard,
        gain_u_kpa,
        overstates: overstates(found, machine, settings),
        barred: None,
    };
    let decision = unsigned(decide(&pairs, &rule), &data, machine, found);
    let deviations: Vec<Option<Estimate>> =
        (0..found.numbers.len()).map(|i| deviation(&data, machine.reference, &found.numbers, i)).collect();
    let k = settings.coverage;
    let cylinders = found
        .numbers
        .iter()
        .enumerate()
        .map(|(i, &cylinder)| {
            let mut own = vec![0.0; found.numbers.len()];
            own[i] = 1.0;
            let level = found.ambient.level_u_kpa;
            StateCylinder {
                cylinder,
                pressure_kpa: data
                    .combination(&own)
                    .filter(|_| found.ambient.level_known)
                    .map(|e| Value { value: e.value, u: k * e.u().hypot(level) }),
                deviation_kpa: deviations[i].map(|e| Value { value: e.value, u: k * e.u() }),
            }
        })
        .collect();
    let spread = pairs
        .iter()
        .max_by(|a, b| a.difference.value.abs().total_cmp(&b.difference.value.abs()))
        .map(|p| Value { value: p.difference.value.abs(), u: k * p.difference.u() });
    Judged {
        state: State {
            regime: measured.regime,
            start_s: measured.stretches.first().map_or(0.0, |s| s.0),
            end_s: measured.stretches.last().map_or(0.0, |s| s.1),
            seconds,
            cycles: measured.cycles.max(0.0).round() as u64,
            rpm: Value { value: measured.rpm.0, u: k * measured.rpm.1 },
            cylinders,
            spread_kpa: spread,
            verdict: decision.verdict,
        },
        deviations,
        pairs,
        decision,
        gain_u_kpa,
    }
}

/// A cylinder without a live sensor may be anywhere: the others can be outside, but the machine cannot be signed off as within.
fn unsigned(decision: Decision, data: &StateData, machine: &Machine, found: &Found) -> Decision {
    let all = (machine.cylinders.unwrap_or(0) as usize).max(found.numbers.len());
    if decision.verdict == Verdict::Within && data.live().len() < all {
        return Decision { verdict: Verdict::CannotTell, because: Some(Undecided::Sensor), more_time: None };
    }
    decision
}

/// Gain error left after the zero at the barometer, as it adds to the difference of two sensors: each has a rectangular
/// distribution of half-width `gain_allowance` times the distance to the barometer.
fn gain(found: &Found, settings: &Settings, data: &StateData) -> f64 {
    if found.ambient.bias_kpa.iter().flatten().count() < 2 {
        return 0.0;
    }
    let means: Vec<f64> = data.live().iter().filter_map(|&i| data.mean(i)).collect();
    let level = crate::stats::robust::median(&means).unwrap_or(found.ambient.assumed_kpa);
    let distance = (found.ambient.assumed_kpa - level).abs();
    settings.gain_allowance * distance / 3.0_f64.sqrt() * std::f64::consts::SQRT_2
}

/// One reading a cycle at a fixed crank angle cannot be told from an average: then a spread may be overstated.
fn overstates(found: &Found, machine: &Machine, settings: &Settings) -> f64 {
    let slow = found.sampling.is_some_and(|s| s.per_cycle <= 1.2);
    let open = found.signal == Signal::Averaged && slow;
    match machine.pressure_is {
        PressureIs::Mean => 1.0,
        PressureIs::Minimum => settings.fixed_angle_factor,
        PressureIs::Unknown if open => settings.fixed_angle_factor,
        PressureIs::Unknown => 1.0,
    }
}

/// Seconds of idle that would decide, where more of the same would.
pub(crate) fn seconds_to_decide(judged: &Judged) -> Option<f64> {
    let more = judged.decision.more_time?;
    (judged.decision.because == Some(Undecided::Scatter) && more.is_finite())
        .then(|| (judged.state.seconds * more).ceil())
        .filter(|s| *s <= 3600.0)
}
