//! Rounds: what was turned, and how far every cylinder moved for it.
//!
//! # Method
//! A round compares two steady levels with known turns between them. Changes are kept against the mean of all cylinders: that
//! is linear, holds for every choice of reference, needs no barometer, and a sensor's bias drops out because the same
//! sensor is read twice. Three sources:
//! * [`Round::between`]: two measured states, for example as found and as left, or two visits;
//! * [`of_recording`]: turns noted with their times, each paired with the step found near it; levels are means of pulse-free
//!   blocks between one step and the next;
//! * [`of_steps`]: the steps of a stored review alone. They tell how far a cylinder moved against the others and nothing
//!   about the others among themselves.
//!
//! Turns count positive when they open the plate.

use serde::{Deserialize, Serialize};

use crate::analysis::{Analysis, Traces};
use crate::result::{Measured, Review, State};
use crate::stats::mean_uncertainty::conservative;
use crate::visits::Turn;

/// Turns between two steady levels, and the change they made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Round {
    /// Cylinders, in order.
    pub cylinders: Vec<u32>,
    /// What was turned: cylinder and turns of opening; each cylinder once.
    pub turns: Vec<(u32, f64)>,
    /// Change of each cylinder's pressure less the mean change of all, kPa; as long as `cylinders`.
    pub change_kpa: Vec<f64>,
    /// Standard uncertainty of one cylinder's change, kPa.
    pub u_kpa: f64,
    /// Change of the engine speed and its standard uncertainty, rev/min.
    pub change_rpm: Option<(f64, f64)>,
    /// Only the turned cylinder's movement against the others was measured.
    pub own_only: bool,
}

/// Furthest that a noted time may lie from the step it belongs to, s.
const NEAR_S: f64 = 20.0;
/// After a step the idle settles; levels begin this much later, s.
const SETTLE_S: f64 = 3.0;
/// Margin around a turn for which no step was found: its time is only noted by hand, s.
const UNSEEN_S: f64 = 6.0;
/// Longest stretch before or after a turn that is averaged, s; a slow drift must not come in.
const LEVEL_S: f64 = 60.0;
/// Fewest blocks of a level.
const LEAST_BLOCKS: usize = 4;

impl Round {
    /// The round between two states of the same cylinders; `None` where the cylinders differ, fewer than two have a
    /// deviation, or nothing was turned.
    #[must_use]
    pub fn between(before: &State, after: &State, turns: &[(u32, f64)]) -> Option<Self> {
        let mut cylinders = Vec::new();
        let (mut change, mut variance) = (Vec::new(), 0.0);
        for (b, a) in before.cylinders.iter().zip(&after.cylinders) {
            if b.cylinder != a.cylinder {
                return None;
            }
            if let (Some(old), Some(new)) = (b.deviation_kpa, a.deviation_kpa) {
                cylinders.push(b.cylinder);
                change.push(new.value - old.value);
                variance += 0.25 * (old.u * old.u + new.u * new.u);
            }
        }
        let n = cylinders.len();
        let turns = summed(turns);
        if n < 2 || turns.is_empty() || turns.iter().any(|t| !cylinders.contains(&t.0)) {
            return None;
        }
        let u_rpm = 0.5 * before.rpm.u.hypot(after.rpm.u);
        let rpm = after.rpm.value - before.rpm.value;
        Some(Self {
            cylinders,
            turns,
            change_kpa: centred(&change),
            u_kpa: (variance / n as f64).sqrt().max(1e-4),
            change_rpm: (rpm.is_finite() && u_rpm.is_finite()).then_some((rpm, u_rpm.max(0.1))),
            own_only: false,
        })
    }
}

/// The rounds of one recording with its noted turns; turns without a time are passed over.
#[must_use]
pub fn of_recording(analysis: &Analysis, turns: &[Turn]) -> Vec<Round> {
    let marks = marks(&analysis.review, turns);
    let last = analysis.traces.level_time_s.last().copied().unwrap_or(0.0);
    marks
        .iter()
        .enumerate()
        .filter_map(|(k, mark)| {
            let turn = mark.turn?;
            let from = if k == 0 { 0.0 } else { marks[k - 1].time_s + marks[k - 1].settle_s };
            let to = marks.get(k + 1).map_or(last, |m| m.time_s - m.margin_s());
            let before = (from.max(mark.time_s - LEVEL_S), mark.time_s - mark.margin_s());
            let after = (mark.time_s + mark.settle_s, to.min(mark.time_s + LEVEL_S));
            levels(analysis, before, after, turn)
        })
        .collect()
}

/// The rounds that the steps of a stored review give.
#[must_use]
pub fn of_steps(review: &Review, turns: &[Turn]) -> Vec<Round> {
    let cylinders: Vec<u32> =
        review.cylinders.iter().filter(|c| c.deviation_kpa.is_some()).map(|c| c.cylinder).collect();
    marks(review, turns)
        .iter()
        .filter_map(|mark| {
            let (turn, step) = (mark.turn?, mark.step?);
            let own = cylinders.iter().position(|c| *c == turn.0)?;
            let alone: Vec<f64> =
                (0..cylinders.len()).map(|i| if i == own { step.value } else { 0.0 }).collect();
            Some(Round {
                change_kpa: centred(&alone),
                cylinders: cylinders.clone(),
                turns: vec![turn],
                u_kpa: (0.5 * step.u).max(1e-4),
                change_rpm: None,
                own_only: true,
            })
        })
        .collect()
}

/// A moment at which a screw was turned: noted, seen, or both.
#[derive(Debug, Clone, Copy)]
struct Mark {
    time_s: f64,
    settle_s: f64,
    turn: Option<(u32, f64)>,
    step: Option<Measured>,
}

impl Mark {
    fn margin_s(&self) -> f64 {
        if self.step.is_some() { 1.5 } else { UNSEEN_S }
    }
}

/// Steps found and turns noted, paired: same cylinder, nearest in time, each once. What is left on either side stays a mark
/// of its own, so that levels never reach across it.
fn marks(review: &Review, turns: &[Turn]) -> Vec<Mark> {
    let mut noted: Vec<(f64, u32, f64)> =
        turns.iter().filter_map(|t| t.time_s.map(|s| (s, t.cylinder, t.turns))).collect();
    noted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut out: Vec<Mark> = Vec::new();
    for step in &review.adjustments {
        let nearest = (0..noted.len())
            .filter(|&i| noted[i].1 == step.cylinder && (noted[i].0 - step.time_s).abs() <= NEAR_S)
            .min_by(|&a, &b| (noted[a].0 - step.time_s).abs().total_cmp(&(noted[b].0 - step.time_s).abs()));
        let turn = nearest.map(|i| noted.remove(i)).map(|(_, cylinder, turns)| (cylinder, turns));
        out.push(Mark { time_s: step.time_s, settle_s: SETTLE_S, turn, step: Some(step.step_kpa) });
    }
    out.extend(noted.iter().map(|&(time_s, cylinder, turns)| Mark {
        time_s,
        settle_s: UNSEEN_S,
        turn: Some((cylinder, turns)),
        step: None,
    }));
    out.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    out
}

/// The round between the levels of two stretches.
fn levels(analysis: &Analysis, before: (f64, f64), after: (f64, f64), turn: (u32, f64)) -> Option<Round> {
    let traces = &analysis.traces;
    let dead =
        |n: u32| analysis.review.cylinders.iter().any(|c| c.cylinder == n && c.deviation_kpa.is_none());
    let live: Vec<usize> = (0..traces.level_kpa.len()).filter(|&i| !dead(traces.level_kpa[i].0)).collect();
    let cylinders: Vec<u32> = live.iter().map(|&i| traces.level_kpa[i].0).collect();
    if live.len() < 2 || !cylinders.contains(&turn.0) {
        return None;
    }
    let (old, new) = (blocks(analysis, &live, before), blocks(analysis, &live, after));
    let mut change = Vec::with_capacity(live.len());
    let mut variance = 0.0;
    for i in 0..live.len() {
        let (a, b) = (conservative(&old[i])?, conservative(&new[i])?);
        change.push(b.mean - a.mean);
        variance += a.se * a.se + b.se * b.se;
    }
    let rpm = |stretch: (f64, f64)| conservative(&speeds(traces, stretch));
    let change_rpm = match (rpm(before), rpm(after)) {
        (Some(a), Some(b)) => Some((b.mean - a.mean, a.se.hypot(b.se).max(0.1))),
        _ => None,
    };
    // Taking the mean away took its share of the scatter; give it back.
    let n = live.len() as f64;
    let u_kpa = (variance / n * n / (n - 1.0)).sqrt().max(1e-4);
    Some(Round {
        cylinders,
        turns: vec![turn],
        change_kpa: centred(&change),
        u_kpa,
        change_rpm,
        own_only: false,
    })
}

/// Blocks of every live cylinder against their mean, inside a stretch and outside blips, gaps and the like; empty where too
/// few are left.
fn blocks(analysis: &Analysis, live: &[usize], stretch: (f64, f64)) -> Vec<Vec<f64>> {
    let traces = &analysis.traces;
    let bad = |t: f64| {
        let out = &analysis.review.excluded;
        out.iter().any(|e| e.reason != crate::codes::EXCLUDED_ADJUSTING && e.start_s <= t && t <= e.end_s)
    };
    let whole =
        |k: &usize| live.iter().all(|&i| traces.level_kpa[i].1.get(*k).is_some_and(|v| v.is_finite()));
    let inside: Vec<usize> = (0..traces.level_time_s.len())
        .filter(|&k| {
            (stretch.0..=stretch.1).contains(&traces.level_time_s[k]) && !bad(traces.level_time_s[k])
        })
        .filter(whole)
        .collect();
    if inside.len() < LEAST_BLOCKS {
        return vec![Vec::new(); live.len()];
    }
    let n = live.len() as f64;
    let middle = |k: usize| live.iter().map(|&i| traces.level_kpa[i].1[k]).sum::<f64>() / n;
    live.iter().map(|&i| inside.iter().map(|&k| traces.level_kpa[i].1[k] - middle(k)).collect()).collect()
}

/// Means of the speed over about one second each inside a stretch.
fn speeds(traces: &Traces, (from, to): (f64, f64)) -> Vec<f64> {
    if traces.rpm.len() != traces.time_s.len() {
        return Vec::new();
    }
    let rows = traces.time_s.partition_point(|t| *t < from)..traces.time_s.partition_point(|t| *t <= to);
    let mut sums: Vec<(f64, f64)> = Vec::new();
    for k in rows {
        let cell = (traces.time_s[k] - from).max(0.0) as usize;
        if cell >= sums.len() {
            sums.resize(cell + 1, (0.0, 0.0));
        }
        if traces.rpm[k].is_finite() {
            sums[cell] = (sums[cell].0 + traces.rpm[k], sums[cell].1 + 1.0);
        }
    }
    sums.into_iter().filter(|s| s.1 > 0.0).map(|s| s.0 / s.1).collect()
}

/// Values less their mean.
pub(crate) fn centred(values: &[f64]) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    values.iter().map(|v| v - mean).collect()
}

/// Turns of the same cylinder added up, zeros left out, in cylinder order.
#[must_use]
pub fn summed(turns: &[(u32, f64)]) -> Vec<(u32, f64)> {
    let mut sums = std::collections::BTreeMap::new();
    for (cylinder, turns) in turns {
        *sums.entry(*cylinder).or_insert(0.0) += turns;
    }
    sums.into_iter().filter(|(_, t)| t.is_finite() && *t != 0.0).collect()
}

#[cfg(test)]
#[path = "rounds_tests.rs"]
mod tests;
