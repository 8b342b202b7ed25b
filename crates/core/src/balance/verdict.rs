//! The spread against its limit, decided on all pairs.
//!
//! # Method
//! *Within*: every pair has `|d| + 1.645 u <= limit`. *Outside*: some pair has `|d| - 1.645 u > limit`. Else the data cannot
//! tell, and the largest term of the pair that stands in the way is named. A range of noisy means is biased upwards, so the point
//! spread alone is never compared with the limit.
//!
//! # Source
//! JCGM 106:2012, clause 8 (guarded acceptance and guarded rejection), one-sided 95 %.

use crate::result::{Undecided, Verdict};

use super::measure::{Estimate, StateData};

/// A pair of cylinders (indices) with its difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Index of the first cylinder.
    pub first: usize,
    /// Index of the second.
    pub second: usize,
    /// First minus second.
    pub difference: Estimate,
}

/// All pairs of live cylinders.
#[must_use]
pub fn pairs(state: &StateData) -> Vec<Pair> {
    let live = state.live();
    let mut out = Vec::new();
    for (n, &first) in live.iter().enumerate() {
        for &second in &live[n + 1..] {
            if let Some(difference) = state.pair(first, second) {
                out.push(Pair { first, second, difference });
            }
        }
    }
    out
}

/// What the decision needs beside the pairs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    /// Largest allowed spread, kPa.
    pub limit_kpa: f64,
    /// One-sided guard in standard uncertainties.
    pub guard: f64,
    /// Standard uncertainty that the gain of the sensors adds to a pair, kPa.
    pub gain_u_kpa: f64,
    /// The logged figure may overstate a spread by this factor; 1 where it cannot.
    pub overstates: f64,
    /// Something other than the pairs forbids a decision.
    pub barred: Option<Undecided>,
}

/// Decision on the spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Decision {
    /// Verdict.
    pub verdict: Verdict,
    /// Largest term, where the verdict is cannot-tell.
    pub because: Option<Undecided>,
    /// Seconds of idle that would decide over the seconds at hand, where scatter dominates.
    pub more_time: Option<f64>,
}

/// A scatter from about ten independent batches is itself known to 1/sqrt(2 x 9), a quarter: four fifths as much time again is
/// asked for, so that the seconds named decide.
const SCATTER_ALLOWANCE: f64 = 1.8;

/// Decides on all pairs.
#[must_use]
pub fn decide(pairs: &[Pair], rule: &Rule) -> Decision {
    let plain = |verdict| Decision { verdict, because: None, more_time: None };
    if let Some(because) = rule.barred {
        return Decision { verdict: Verdict::CannotTell, because: Some(because), more_time: None };
    }
    if pairs.is_empty() {
        return plain(Verdict::NotApplicable);
    }
    let u = |e: &Estimate| e.u().hypot(rule.gain_u_kpa);
    let outside = |p: &Pair, by: f64| {
        p.difference.value.abs() / by - rule.guard * u(&p.difference) / by > rule.limit_kpa
    };
    if pairs.iter().any(|p| outside(p, rule.overstates)) {
        return plain(Verdict::Outside);
    }
    let open = |p: &&Pair| p.difference.value.abs() + rule.guard * u(&p.difference) > rule.limit_kpa;
    let Some(worst) = pairs
        .iter()
        .filter(open)
        .max_by(|a, b| a.difference.value.abs().total_cmp(&b.difference.value.abs()))
    else {
        return plain(Verdict::Within);
    };
    if outside(worst, 1.0) {
        // Only what the figure stands for keeps it from being outside.
        return Decision { verdict: Verdict::CannotTell, because: Some(Undecided::Signal), more_time: None };
    }
    let e = &worst.difference;
    let terms = [
        (e.scatter, Undecided::Scatter),
        (e.terms.step, Undecided::Resolution),
        (e.terms.bias.hypot(rule.gain_u_kpa), Undecided::Bias),
        (e.terms.alias, Undecided::Aliasing),
    ];
    let (_, because) =
        terms.into_iter().max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, Undecided::Scatter));
    let rest = u(e).powi(2) - e.scatter.powi(2);
    let needed = ((e.value.abs() - rule.limit_kpa) / rule.guard).powi(2) - rest;
    let more_time = (because == Undecided::Scatter && needed > 0.0)
        .then(|| SCATTER_ALLOWANCE * e.scatter.powi(2) / needed);
    Decision { verdict: Verdict::CannotTell, because: Some(because), more_time }
}
