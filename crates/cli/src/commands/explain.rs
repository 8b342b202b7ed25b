//! `explain`: one screen of plain words for a topic, or the list of topics.

use evenpull_core::safe_text::one_line_within;

use crate::outcome::{Failure, Outcome};
use crate::terminal::Terminal;
use crate::topics;

/// Prints a topic, or the list when none is named.
///
/// # Errors
/// [`Failure::Usage`] for a topic that does not exist, with the ones that come near.
pub(crate) fn run(topic: Option<&str>, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let Some(typed) = topic else {
        terminal.say(&topics::list())?;
        return Ok(Outcome::Done);
    };
    match topics::find(typed) {
        Some(topic) => {
            terminal.say(&topics::screen(&topic))?;
            Ok(Outcome::Done)
        }
        None => {
            let near = topics::near(typed);
            let hint = match near.is_empty() {
                true => "`evenpull explain` lists the topics".to_owned(),
                false => format!("did you mean {}?", near.join(", ")),
            };
            Err(Failure::usage(format!("no topic {}; {hint}", one_line_within(typed, 60))))
        }
    }
}
