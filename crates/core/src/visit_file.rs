//! The visit file: what belongs to one visit and not to the machine (TOML, optional).
//!
//! ```toml
//! date = "2026-03-21"
//! hours = 412.5
//! distance_km = 18200
//! note = "owner says it stalls in neutral"
//! conditions = "12 degrees C, dry, afloat"
//! work = ["valve clearance set"]      # or one text
//! codes = ["P0107"]
//! codes_cleared = ["P0107"]
//! [[turns]]
//! time_s = 82          # seconds from the recording's first sample; may be left out, see below
//! cylinder = 2
//! turns = 0.5          # positive opens the plate, negative closes it
//! ```
//!
//! Turns without a time are one round: made inside the recording where it shows steps and no turn has a time, else between
//! the visit before and this one ([`crate::adjust::history`]).
//!
//! [`VisitFacts::from_toml`] reads it. An unknown key or a value out of range is an error that names file, line and column:
//! a misspelt key dropped silently would lose the hours, and with them the axis of the trend.

use std::collections::BTreeMap;

use crate::toml_cells::{Cell, Place, TomlError};
use crate::trouble::well_formed;
use crate::visits::{Turn, VisitFacts};

const KEYS: &[&str] = &[
    "date",
    "hours",
    "distance_km",
    "note",
    "conditions",
    "work",
    "work_done",
    "codes",
    "codes_noted",
    "codes_cleared",
    "turns",
];
const TURN_KEYS: &[&str] = &["time_s", "cylinder", "turns"];
/// Most cylinders of any engine this is meant for.
const MOST_CYLINDERS: u32 = 24;
/// Longest free text, characters.
const LONGEST: usize = 2_000;

impl VisitFacts {
    /// Reads a visit file.
    ///
    /// `name` is the file's name for errors. What the file does not say stays `None` or empty. `work_done` and `codes_noted`
    /// are other spellings of `work` and `codes`.
    ///
    /// # Errors
    /// [`TomlError`] at the first key that is unknown, of the wrong type or out of its range.
    pub fn from_toml(name: &str, text: &str) -> Result<Self, TomlError> {
        let place = Place::new(name, text);
        let root = place.root()?;
        let mut facts = Self::default();
        for cell in place.cells(root.get_ref(), KEYS)? {
            facts.set(&cell)?;
        }
        Ok(facts)
    }

    fn set(&mut self, cell: &Cell<'_>) -> Result<(), TomlError> {
        match cell.key {
            "date" => self.date = Some(date(cell)?),
            "hours" => self.hours = Some(cell.number_in(0.0, 1e6, " hours")?),
            "distance_km" => self.distance_km = Some(cell.number_in(0.0, 1e7, " km")?),
            "note" => self.note = some(words(cell)?),
            "conditions" => self.conditions = some(words(cell)?),
            "work" | "work_done" => {
                let all: Vec<String> = self.work.take().into_iter().chain(texts(cell)?).collect();
                self.work = some(all.join("; "));
            }
            "codes" | "codes_noted" => codes(cell, &mut self.codes)?,
            "codes_cleared" => codes(cell, &mut self.codes_cleared)?,
            _ => self.turns = turns(cell)?,
        }
        Ok(())
    }

    /// Turns of opening noted without a time, added up by cylinder.
    #[must_use]
    pub fn untimed_turns(&self) -> Vec<(u32, f64)> {
        let untimed: Vec<(u32, f64)> =
            self.turns.iter().filter(|t| t.time_s.is_none()).map(|t| (t.cylinder, t.turns)).collect();
        crate::adjust::rounds::summed(&untimed)
    }
}

fn some(text: String) -> Option<String> {
    Some(text).filter(|t| !t.is_empty())
}

/// A calendar date, in quotes or as TOML's own local date.
fn date(cell: &Cell<'_>) -> Result<String, TomlError> {
    let value = cell.value.get_ref();
    let text = match (value.as_str(), value.as_datetime()) {
        (Some(text), _) => text.to_owned(),
        (None, Some(date)) => date.to_string(),
        _ => String::new(),
    };
    let shaped = text.len() == 10;
    match text.parse::<jiff::civil::Date>() {
        Ok(date) if shaped => Ok(date.to_string()),
        _ => Err(cell.bad("a date such as \"2026-03-21\"")),
    }
}

fn words(cell: &Cell<'_>) -> Result<String, TomlError> {
    let expected = format!("text in quotes, at most {LONGEST} characters");
    let text = cell.text(&expected)?.trim();
    if text.chars().count() <= LONGEST { Ok(text.to_owned()) } else { Err(cell.bad(expected)) }
}

/// One text, or a list of texts.
fn texts(cell: &Cell<'_>) -> Result<Vec<String>, TomlError> {
    if cell.value.get_ref().as_str().is_some() {
        return Ok(vec![words(cell)?]);
    }
    cell.list("text in quotes, or a list of texts")?.iter().map(words).collect()
}

/// Trouble codes, each once, upper case.
fn codes(cell: &Cell<'_>, out: &mut Vec<String>) -> Result<(), TomlError> {
    let expected = "a list of trouble codes such as [\"P0107\"]";
    for entry in cell.list(expected)? {
        let code = entry.text(expected)?.trim().to_ascii_uppercase();
        if !well_formed(&code) {
            return Err(entry.bad("a trouble code such as \"P0107\""));
        }
        if !out.contains(&code) {
            out.push(code);
        }
    }
    Ok(())
}

fn turns(cell: &Cell<'_>) -> Result<Vec<Turn>, TomlError> {
    let expected = "one or more tables [[turns]] with time_s, cylinder and turns";
    cell.list(expected)?.iter().map(|entry| turn(entry, expected)).collect()
}

fn turn(entry: &Cell<'_>, expected: &str) -> Result<Turn, TomlError> {
    let table = entry.place.cells(entry.table(expected)?, TURN_KEYS)?;
    let cells: BTreeMap<&str, Cell<'_>> = table.into_iter().map(|cell| (cell.key, cell)).collect();
    let needed = |key: &str| cells.get(key).ok_or_else(|| entry.bad(format!("a table with the key {key}")));
    let time_s = cells.get("time_s").map(|c| c.number_in(0.0, 1e6, " s")).transpose()?;
    let cylinder = needed("cylinder")?.whole_in(1, MOST_CYLINDERS)?;
    let amount = needed("turns")?;
    let turns = amount.number_in(-20.0, 20.0, " turns")?;
    if turns == 0.0 {
        return Err(amount.bad("turns other than 0: positive opens the plate, negative closes it"));
    }
    Ok(Turn { time_s, cylinder, turns })
}

#[cfg(test)]
#[path = "visit_file_tests.rs"]
mod tests;
