//! The visit file: what belongs to one recording and not to the machine (TOML, optional).
//!
//! ```toml
//! date = "2026-03-21"
//! hours = 412.5
//! distance_km = 18200
//! conditions = "12 degrees C, dry, afloat"
//! work_done = ["valve clearance set"]
//! codes_noted = ["P0107"]
//! codes_cleared = ["P0107"]
//! [[turns]]
//! time_s = 82          # seconds from the recording's first sample; left out: turned before this recording
//! cylinder = 2
//! turns = 0.5          # positive opens the plate, negative closes it
//! ```
//!
//! [`VisitFile::from_toml`] reads it. An unknown key or a value out of range is an error that names file, line and column.

mod parse;
#[cfg(test)]
mod tests;

use crate::machine::MachineError;

/// One turn of one screw, as noted.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Turn {
    /// When, seconds from the recording's first sample; `None` when it was turned before the recording began.
    pub time_s: Option<f64>,
    /// Cylinder of the screw.
    pub cylinder: u32,
    /// Turns, positive opens the plate.
    pub turns: f64,
}

/// What a person noted about one visit. What the file does not say stays `None` or empty.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct VisitFile {
    /// Date, ISO 8601 `YYYY-MM-DD`.
    pub date: Option<String>,
    /// Operating hours.
    pub hours: Option<f64>,
    /// Distance, km.
    pub distance_km: Option<f64>,
    /// Weather, load, place: free text.
    pub conditions: Option<String>,
    /// Work done, one entry each.
    pub work_done: Vec<String>,
    /// Trouble codes read with another tool, upper case.
    pub codes_noted: Vec<String>,
    /// Trouble codes cleared, upper case.
    pub codes_cleared: Vec<String>,
    /// Screws turned, in file order.
    pub turns: Vec<Turn>,
}

/// A visit file that cannot be used. Lines and columns count from 1, columns in characters.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum VisitFileError {
    /// Not TOML.
    #[error("{name}:{line}:{column}: {message}")]
    Syntax {
        /// The visit file's name.
        name: String,
        /// Line.
        line: usize,
        /// Column.
        column: usize,
        /// What the TOML parser says.
        message: String,
    },
    /// A key that no visit file has.
    #[error("{name}:{line}:{column}: found the key `{found}`, expected one of: {allowed}")]
    UnknownKey {
        /// The visit file's name.
        name: String,
        /// Line.
        line: usize,
        /// Column.
        column: usize,
        /// The key.
        found: String,
        /// The keys that are allowed there.
        allowed: String,
    },
    /// A value of the wrong type or out of its range.
    #[error("{name}:{line}:{column}: `{key}`: found {found}, expected {expected}")]
    BadValue {
        /// The visit file's name.
        name: String,
        /// Line.
        line: usize,
        /// Column.
        column: usize,
        /// The key.
        key: String,
        /// The value as it stands.
        found: String,
        /// What is allowed.
        expected: String,
    },
}

/// Both files are read cell by cell with the same code.
impl From<MachineError> for VisitFileError {
    fn from(error: MachineError) -> Self {
        match error {
            MachineError::Syntax { name, line, column, message } => {
                Self::Syntax { name, line, column, message }
            }
            MachineError::UnknownKey { name, line, column, found, allowed } => {
                Self::UnknownKey { name, line, column, found, allowed }
            }
            MachineError::BadValue { name, line, column, key, found, expected } => {
                Self::BadValue { name, line, column, key, found, expected }
            }
        }
    }
}

impl VisitFile {
    /// Turns of opening noted without a time, added up by cylinder: made before the recording began.
    #[must_use]
    pub fn turns_before(&self) -> Vec<(u32, f64)> {
        let before: Vec<(u32, f64)> =
            self.turns.iter().filter(|t| t.time_s.is_none()).map(|t| (t.cylinder, t.turns)).collect();
        crate::adjust::rounds::summed(&before)
    }
}
