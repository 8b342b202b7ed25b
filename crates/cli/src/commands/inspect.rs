//! `inspect`: what was understood of a recording, without judging it.

use crate::commands::inspect_text::inspect_text;
use crate::outcome::{Failure, Outcome};
use crate::plan::InspectPlan;
use crate::terminal::Terminal;

/// Carries an inspection out.
///
/// # Errors
/// A [`Failure`] when the recording cannot be read or understood at all.
pub(crate) fn run(plan: &InspectPlan, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let (recording, _) = plan.read.carry_out()?;
    terminal.say(&inspect_text(&recording))?;
    Ok(Outcome::Done)
}
