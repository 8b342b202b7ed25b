//! Remarks about a recording: what was seen, where, and how much it matters. What each code means and what to do
//! about it stands in one table of plain words in the command line's `explain`.

use serde::{Deserialize, Serialize};

/// How much a notice matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// Good to know.
    Note,
    /// Weakens the result or needs a second look.
    Caution,
    /// Something is wrong with the recording, a sensor or the machine.
    Fault,
}

/// One remark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Notice {
    /// Kebab-case code, stable.
    pub code: String,
    /// How much it matters.
    pub level: Level,
    /// The finding in one or two sentences.
    pub text: String,
    /// Line in the file, counted from 1.
    pub line: Option<u64>,
    /// Column in the file, counted from 1 (characters).
    pub column: Option<u64>,
    /// Cylinder it is about.
    pub cylinder: Option<u32>,
    /// Start of the stretch it is about, seconds from the first sample.
    pub start_s: Option<f64>,
    /// End of that stretch.
    pub end_s: Option<f64>,
    /// How often it was seen.
    pub count: u64,
}

impl Notice {
    /// A notice without a place.
    #[must_use]
    pub fn new(code: &str, level: Level, text: impl Into<String>) -> Self {
        Self {
            code: code.to_owned(),
            level,
            text: text.into(),
            line: None,
            column: None,
            cylinder: None,
            start_s: None,
            end_s: None,
            count: 1,
        }
    }

    /// The same notice at a line (and column) of the file.
    #[must_use]
    pub fn at_line(mut self, line: u64, column: Option<u64>) -> Self {
        self.line = Some(line);
        self.column = column;
        self
    }

    /// The same notice about a cylinder.
    #[must_use]
    pub fn on_cylinder(mut self, cylinder: u32) -> Self {
        self.cylinder = Some(cylinder);
        self
    }

    /// The same notice about a stretch of time.
    #[must_use]
    pub fn between(mut self, start_s: f64, end_s: f64) -> Self {
        self.start_s = Some(start_s);
        self.end_s = Some(end_s);
        self
    }

    /// The same notice with a count.
    #[must_use]
    pub fn counted(mut self, count: u64) -> Self {
        self.count = count;
        self
    }
}
