//! The visit file (TOML): what belongs to one visit and not to the machine.
//!
//! ```toml
//! date = "2025-04-10"
//! hours = 210
//! work = "new boot on cylinder 2"
//! [[turns]]
//! time_s = 82.0
//! cylinder = 2
//! turns = 0.25
//! ```

use super::calendar::day_number;
use super::types::VisitFacts;

/// A visit file that cannot be used. Line and column count from 1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum VisitFileError {
    /// Not TOML, an unknown key, or a value of the wrong type.
    #[error("{name}:{line}:{column}: {message}")]
    Toml {
        /// The file's name.
        name: String,
        /// Line.
        line: usize,
        /// Column, in characters.
        column: usize,
        /// What was found and what is allowed.
        message: String,
    },
    /// A value out of its range.
    #[error("{key}: found {found}, expected {expected}")]
    BadValue {
        /// The key.
        key: &'static str,
        /// The value as it stands.
        found: String,
        /// What is allowed.
        expected: &'static str,
    },
}

impl VisitFacts {
    /// Reads a visit file; `name` is its name for errors.
    ///
    /// # Errors
    /// [`VisitFileError`] for anything that is not understood: a misspelt key is not dropped silently.
    pub fn from_toml(name: &str, text: &str) -> Result<Self, VisitFileError> {
        let facts: Self = toml::from_str(text).map_err(|e| {
            let at = e.span().map_or(0, |s| s.start);
            let before = text.get(..at).unwrap_or("");
            VisitFileError::Toml {
                name: name.to_owned(),
                line: before.matches('\n').count() + 1,
                column: before.rsplit('\n').next().unwrap_or("").chars().count() + 1,
                message: e.message().to_owned(),
            }
        })?;
        facts.check()?;
        Ok(facts)
    }

    /// Refuses facts that make no sense.
    ///
    /// # Errors
    /// [`VisitFileError::BadValue`] for the first one.
    pub fn check(&self) -> Result<(), VisitFileError> {
        if let Some(date) = &self.date
            && day_number(date).is_none()
        {
            let expected = "a date like 2025-04-10";
            return Err(VisitFileError::BadValue { key: "date", found: date.clone(), expected });
        }
        for (key, value) in [("hours", self.hours), ("distance_km", self.distance_km)] {
            if let Some(v) = value
                && !(v.is_finite() && v >= 0.0)
            {
                let expected = "a number, not negative";
                return Err(VisitFileError::BadValue { key, found: v.to_string(), expected });
            }
        }
        for code in self.codes.iter().chain(&self.codes_cleared) {
            if code.is_empty() || code.contains(char::is_whitespace) {
                let expected = "a code like P0107, without spaces";
                return Err(VisitFileError::BadValue { key: "codes", found: code.clone(), expected });
            }
        }
        for turn in &self.turns {
            if turn.cylinder == 0 || !turn.turns.is_finite() || turn.time_s.is_some_and(|t| !t.is_finite()) {
                let found = format!("cylinder {}, {} turns", turn.cylinder, turn.turns);
                let expected = "a cylinder counted from 1 and a number of turns";
                return Err(VisitFileError::BadValue { key: "turns", found, expected });
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
    fn a_whole_file_is_read() {
        let text = "date = \"2025-04-10\"\nhours = 210\ncodes = [\"P0107\"]\n[[turns]]\ncylinder = 2\nturns = -0.25\n";
        let f = VisitFacts::from_toml("v.toml", text).unwrap();
        assert_eq!((f.date.as_deref(), f.hours, f.turns[0].turns), (Some("2025-04-10"), Some(210.0), -0.25));
        assert_eq!(f.turns[0].time_s, None);
    }

    #[test]
    fn errors_name_the_place() {
        // A misspelt key dropped silently would lose the hours and with them the axis of the trend.
        let e =
            VisitFacts::from_toml("v.toml", "date = \"2025-04-10\"\n hour = 3\n").unwrap_err().to_string();
        assert!(e.starts_with("v.toml:2:2: ") && e.contains("hour"), "{e}");
        for wrong in
            ["date = \"10.4.2025\"", "hours = -1", "hours = nan", "[[turns]]\ncylinder = 0\nturns = 1"]
        {
            assert!(VisitFacts::from_toml("v.toml", wrong).is_err(), "{wrong}");
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
