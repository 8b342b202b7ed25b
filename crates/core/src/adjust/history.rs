//! Rounds out of recordings, visit files and kept visits: what the turns that somebody noted have changed.
//!
//! # Method
//! Turns with a time are taken step by step ([`super::rounds::of_recording`]). Turns without a time are one round together:
//! * where no turn has a time and the recording shows that screws were turned: from its state as found to its state as left;
//! * else they were made before the recording: from the visit before to the first state of this one. Between two visits more
//!   changes than screws, so the scatter between visits with nothing done is added to the uncertainty, and a visit at which
//!   other work was noted teaches nothing this way.
//!
//! Rounds of other cylinders than those that are live today are passed over: changes are counted from the mean of all, which
//! would be another mean.

use super::rounds::{Round, of_recording};
use crate::analysis::Analysis;
use crate::result::State;
use crate::visits::basis::state_of;
use crate::visits::{Turn, Visit, VisitFacts};

/// Rounds of several sessions, and what could not be used of them.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct History {
    /// Rounds in order of time.
    pub rounds: Vec<Round>,
    /// Sessions that gave at least one round.
    pub sessions: usize,
    /// Turns that teach nothing, with the reason: sentences.
    pub passed_over: Vec<String>,
}

/// The rounds within one recording: turns with their times, or all of them at once where none has a time and the recording
/// holds a state as found.
#[must_use]
pub fn rounds_of_turns(analysis: &Analysis, turns: &[Turn]) -> Vec<Round> {
    if !within(turns, analysis.review.as_found.is_some()) {
        return of_recording(analysis, turns);
    }
    let found = analysis.review.as_found.as_ref();
    let left = analysis.review.regimes.iter().find(|s| s.regime == crate::result::Regime::Idle);
    let all: Vec<(u32, f64)> = turns.iter().map(|t| (t.cylinder, t.turns)).collect();
    found.zip(left).and_then(|(f, l)| Round::between(f, l, &all)).into_iter().collect()
}

/// Whether turns without a time were made inside the recording.
fn within(turns: &[Turn], found: bool) -> bool {
    found && !turns.is_empty() && turns.iter().all(|t| t.time_s.is_none())
}

impl History {
    /// The rounds of a machine's visits, in their order. `repeatability_kpa` is the standard deviation of a change between two
    /// visits with nothing done.
    #[must_use]
    pub fn of_visits(visits: &[Visit], repeatability_kpa: f64) -> Self {
        let mut history = Self::default();
        for (at, visit) in visits.iter().enumerate().filter(|(_, v)| !v.facts.turns.is_empty()) {
            let name = visit.facts.date.as_deref().unwrap_or(&visit.source);
            let Some(basis) = &visit.plan else {
                let text = format!(
                    "{name}: kept by an older version without what its turns changed; add the recording again"
                );
                history.passed_over.push(text);
                continue;
            };
            let first = basis.found.clone().unwrap_or_else(|| state_of(visit));
            let session = Session {
                name,
                facts: &visit.facts,
                within: basis.rounds.clone(),
                found: basis.found.is_some(),
                first: &first,
            };
            history.add(session, at.checked_sub(1).map(|b| &visits[b]), repeatability_kpa);
        }
        history
    }

    /// Adds the recording that is planned from, with the turns of its visit file.
    pub fn add_recording(
        &mut self,
        analysis: &Analysis,
        facts: &VisitFacts,
        before: Option<&Visit>,
        repeatability_kpa: f64,
    ) {
        let review = &analysis.review;
        let idle = review.regimes.iter().find(|s| s.regime == crate::result::Regime::Idle);
        let Some(first) = review.as_found.as_ref().or(idle).filter(|_| !facts.turns.is_empty()) else {
            return;
        };
        let session = Session {
            name: "this recording",
            facts,
            within: rounds_of_turns(analysis, &facts.turns),
            found: review.as_found.is_some(),
            first,
        };
        self.add(session, before, repeatability_kpa);
    }

    fn add(&mut self, session: Session<'_>, before: Option<&Visit>, repeatability_kpa: f64) {
        let had = self.rounds.len();
        let name = session.name;
        let timed = session.facts.turns.iter().any(|t| t.time_s.is_some());
        let untimed = session.facts.untimed_turns();
        let inside = within(&session.facts.turns, session.found);
        if session.within.is_empty() && (timed || inside) {
            self.passed_over.push(format!("{name}: no steady idle on both sides of its turns"));
        }
        self.rounds.extend(session.within);
        if !untimed.is_empty() && !inside {
            let round = match before {
                None => Err("no visit before it to compare with"),
                Some(_) if session.facts.work.is_some() => Err("other work was noted besides its turns"),
                Some(b) => Round::between(&state_of(b), session.first, &untimed)
                    .ok_or("other cylinders were measured at the visit before"),
            };
            match round {
                Ok(r) => self.rounds.push(Round { u_kpa: r.u_kpa.hypot(repeatability_kpa), ..r }),
                Err(why) => self.passed_over.push(format!("{name}: {why}")),
            }
        }
        self.sessions += usize::from(self.rounds.len() > had);
    }

    /// Keeps the rounds of these cylinders, in order.
    pub fn keep(&mut self, live: &[u32]) {
        let before = self.rounds.len();
        self.rounds.retain(|r| r.cylinders == live);
        let gone = before - self.rounds.len();
        if gone > 0 {
            let what = if gone == 1 { "1 round".to_owned() } else { format!("{gone} rounds") };
            self.passed_over.push(format!("{what} with other cylinders than those measured today"));
        }
    }
}

/// One session with turns.
struct Session<'a> {
    name: &'a str,
    facts: &'a VisitFacts,
    within: Vec<Round>,
    found: bool,
    first: &'a State,
}

#[cfg(test)]
#[path = "history_tests.rs"]
mod tests;
