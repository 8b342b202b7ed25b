//! The visit file, key by key.

use std::collections::BTreeMap;

use toml::de::DeTable;

use super::{Turn, VisitFile, VisitFileError};
use crate::machine::MachineError;
use crate::machine::cells::{Cell, Place};

const KEYS: &[&str] =
    &["date", "hours", "distance_km", "conditions", "work_done", "codes_noted", "codes_cleared", "turns"];
const TURN_KEYS: &[&str] = &["time_s", "cylinder", "turns"];
/// Most cylinders of any engine this is meant for.
const MOST_CYLINDERS: u32 = 24;
/// Longest free text, characters.
const LONGEST: usize = 2_000;

impl VisitFile {
    /// Reads a visit file.
    ///
    /// `name` is the file's name for errors. What the file does not say stays `None` or empty.
    ///
    /// # Errors
    /// [`VisitFileError`] at the first key that is unknown, of the wrong type or out of its range.
    pub fn from_toml(name: &str, text: &str) -> Result<Self, VisitFileError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let place = Place { name, text };
        let root = DeTable::parse(text).map_err(|error| {
            let (line, column) = place.of(error.span().map_or(0, |span| span.start));
            let message = error.message().replace('\n', ", ");
            VisitFileError::Syntax { name: name.to_owned(), line, column, message }
        })?;
        let mut visit = Self::default();
        for cell in in_order(place, root.get_ref(), KEYS)? {
            visit.set(&cell)?;
        }
        Ok(visit)
    }

    fn set(&mut self, cell: &Cell<'_>) -> Result<(), MachineError> {
        match cell.key {
            "date" => self.date = Some(date(cell)?),
            "hours" => self.hours = Some(cell.number_in(0.0, 1e6, " hours")?),
            "distance_km" => self.distance_km = Some(cell.number_in(0.0, 1e7, " km")?),
            "conditions" => self.conditions = Some(words(cell)?),
            "work_done" => self.work_done = texts(cell)?,
            "codes_noted" => self.codes_noted = codes(cell)?,
            "codes_cleared" => self.codes_cleared = codes(cell)?,
            _ => self.turns = turns(cell)?,
        }
        Ok(())
    }
}

/// The cells of a table in file order, so that the first mistake is the one that is named.
fn in_order<'a>(
    place: Place<'a>,
    table: &'a DeTable<'a>,
    allowed: &[&'static str],
) -> Result<Vec<Cell<'a>>, MachineError> {
    let mut entries: Vec<_> = table.iter().collect();
    entries.sort_by_key(|(key, _)| key.span().start);
    entries
        .into_iter()
        .map(|(key, value)| match allowed.iter().find(|name| **name == key.get_ref().as_ref()) {
            Some(known) => Ok(Cell::new(place, known, value)),
            None => Err(place.unknown_key(key.span().start, key.get_ref(), allowed)),
        })
        .collect()
}

/// A calendar date, in quotes or as TOML's own local date.
fn date(cell: &Cell<'_>) -> Result<String, MachineError> {
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

fn words(cell: &Cell<'_>) -> Result<String, MachineError> {
    let expected = format!("text in quotes, at most {LONGEST} characters");
    let text = cell.text(&expected)?.trim();
    if text.chars().count() <= LONGEST { Ok(text.to_owned()) } else { Err(cell.bad(expected)) }
}

/// One text, or a list of texts.
fn texts(cell: &Cell<'_>) -> Result<Vec<String>, MachineError> {
    if cell.value.get_ref().as_str().is_some() {
        return Ok(vec![words(cell)?]);
    }
    cell.list("text in quotes, or a list of texts")?.iter().map(words).collect()
}

/// Trouble codes: a letter of P, C, B, U, a digit 0 to 3 and three hexadecimal digits.
///
/// # Source
/// The five-character form of SAE J2012, from memory.
fn codes(cell: &Cell<'_>) -> Result<Vec<String>, MachineError> {
    let expected = "a list of trouble codes such as [\"P0107\"]";
    let mut out: Vec<String> = Vec::new();
    for entry in cell.list(expected)? {
        let code = entry.text(expected)?.trim().to_ascii_uppercase();
        let sound = match code.as_bytes() {
            [letter, first, rest @ ..] => {
                b"PCBU".contains(letter)
                    && (b'0'..=b'3').contains(first)
                    && rest.len() == 3
                    && rest.iter().all(u8::is_ascii_hexdigit)
            }
            _ => false,
        };
        if !sound {
            return Err(entry.bad("a trouble code such as \"P0107\""));
        }
        if !out.contains(&code) {
            out.push(code);
        }
    }
    Ok(out)
}

fn turns(cell: &Cell<'_>) -> Result<Vec<Turn>, MachineError> {
    let expected = "one or more tables [[turns]] with time_s, cylinder and turns";
    cell.list(expected)?.iter().map(|entry| turn(entry, expected)).collect()
}

fn turn(entry: &Cell<'_>, expected: &str) -> Result<Turn, MachineError> {
    let cells: BTreeMap<&str, Cell<'_>> = in_order(entry.place, entry.table(expected)?, TURN_KEYS)?
        .into_iter()
        .map(|cell| (cell.key, cell))
        .collect();
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
