//! The facts of a visit: what makes no sense, and what fills whose gaps. The visit file itself is read in
//! [`crate::visit_file`].

use super::calendar::day_number;
use super::types::VisitFacts;
use crate::trouble::well_formed;

/// A fact that makes no sense.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{key}: found {found}, expected {expected}")]
pub struct BadFact {
    /// The key.
    pub key: &'static str,
    /// The value as it stands.
    pub found: String,
    /// What is allowed.
    pub expected: &'static str,
}

impl VisitFacts {
    /// Refuses facts that make no sense, for those that come from elsewhere than a visit file.
    ///
    /// # Errors
    /// [`BadFact`] for the first one.
    pub fn check(&self) -> Result<(), BadFact> {
        let bad = |key, found: &str, expected| Err(BadFact { key, found: found.to_owned(), expected });
        if let Some(date) = self.date.as_deref().filter(|d| day_number(d).is_none()) {
            return bad("date", date, "a date like 2025-04-10");
        }
        for (key, value) in [("hours", self.hours), ("distance_km", self.distance_km)] {
            if let Some(v) = value.filter(|v| !(v.is_finite() && *v >= 0.0)) {
                return bad(key, &v.to_string(), "a number, not negative");
            }
        }
        if let Some(code) = self.codes.iter().chain(&self.codes_cleared).find(|c| !well_formed(c)) {
            return bad("codes", code, "a code like P0107");
        }
        for turn in &self.turns {
            if turn.cylinder == 0 || !turn.turns.is_finite() || turn.time_s.is_some_and(|t| !t.is_finite()) {
                let found = format!("cylinder {}, {} turns", turn.cylinder, turn.turns);
                return bad("turns", &found, "a cylinder counted from 1 and a number of turns");
            }
        }
        Ok(())
    }

    /// These facts with the gaps filled from `other`.
    #[must_use]
    pub fn or(mut self, other: Self) -> Self {
        self.date = self.date.or(other.date);
        self.hours = self.hours.or(other.hours);
        self.distance_km = self.distance_km.or(other.distance_km);
        self.note = self.note.or(other.note);
        self.conditions = self.conditions.or(other.conditions);
        self.work = self.work.or(other.work);
        for (mine, others) in [(&mut self.codes, other.codes), (&mut self.codes_cleared, other.codes_cleared)]
        {
            for code in others {
                if !mine.contains(&code) {
                    mine.push(code);
                }
            }
        }
        if self.turns.is_empty() {
            self.turns = other.turns;
        }
        self
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn facts_that_make_no_sense_are_refused() {
        let date = |d: &str| VisitFacts { date: Some(d.to_owned()), ..VisitFacts::default() };
        let hours = |h: f64| VisitFacts { hours: Some(h), ..VisitFacts::default() };
        let turn = |cylinder, turns| VisitFacts {
            turns: vec![super::super::Turn { time_s: None, cylinder, turns }],
            ..VisitFacts::default()
        };
        for wrong in [date("10.4.2025"), date("2025-02-30"), hours(-1.0), hours(f64::NAN), turn(0, 1.0)] {
            assert!(wrong.check().is_err(), "{wrong:?}");
        }
        let code = VisitFacts { codes: vec!["P 0107".to_owned()], ..VisitFacts::default() };
        assert!(code.check().is_err());
        for sound in [date("2025-04-10"), hours(0.0), turn(1, -0.5), VisitFacts::default()] {
            assert!(sound.check().is_ok(), "{sound:?}");
        }
    }

    #[test]
    fn what_was_typed_goes_before_the_file() {
        let typed = VisitFacts { hours: Some(5.0), codes: vec!["P0107".into()], ..VisitFacts::default() };
        let file =
            VisitFacts::from_toml("v", "hours = 3\nnote = \"x\"\ncodes = [\"P0107\", \"P0122\"]").unwrap();
        let both = typed.or(file);
        assert_eq!((both.hours, both.note.as_deref()), (Some(5.0), Some("x")));
        assert_eq!(both.codes, ["P0107", "P0122"]);
    }
}
