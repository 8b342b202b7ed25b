//! From a recording to its review: the one place where the steps are strung together.

pub mod ambient;
mod assemble;
mod classes;
mod context;
mod examine;
pub mod found;
mod notices;
mod notices_machine;
mod opening;
mod pulses;
mod recorded;
mod shapes;
mod states;
mod traces;

use crate::analysis::Analysis;
use crate::machine::Machine;
use crate::recording::Recording;
use crate::settings::Settings;

/// What a person noted beside the recording.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReviewNotes {
    /// Trouble codes read with another tool, e.g. `P0107`.
    pub codes: Vec<String>,
    /// Names of the columns that the recording was read with.
    pub columns: Option<String>,
    /// Rows a second that it was read with, Hz.
    pub rate_hz: Option<f64>,
}

/// Reviews one recording.
///
/// # Errors
/// None: a recording that cannot be judged gets the verdict cannot-tell or not-applicable with its reason.
#[must_use]
pub fn review(
    recording: &Recording,
    machine: &Machine,
    settings: &Settings,
    notes: &ReviewNotes,
) -> Analysis {
    let (prepared, found) = examine::examine(recording, machine, settings);
    assemble::assemble(recording, machine, settings, notes, &prepared, &found)
}
