//! `demo`: the recordings of the invented Harrow Sound workshop, made by the engine model.

use std::path::Path;

use evenpull_core::safe_text::one_line;
use evenpull_model::workshop::{Craft, Visit, harrow_sound, list};
use evenpull_report::write;
use rayon::prelude::*;

use crate::outcome::{Failure, Outcome};
use crate::terminal::Terminal;

/// Writes logs, machine files and the list of visits into a folder and says what to try.
///
/// # Errors
/// A [`Failure`] when the folder cannot be written.
pub(crate) fn run(folder: &Path, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let machines = harrow_sound();
    let visits: Vec<Visit> = machines.iter().flat_map(Craft::visits).collect();
    visits.par_iter().try_for_each(|visit| {
        let text = visit.record().map_err(Failure::result)?.0;
        file(&folder.join("logs").join(visit.file_name()), &text)
    })?;
    for craft in &machines {
        file(&folder.join("machines").join(format!("{}.toml", craft.id)), &craft.machine_file())?;
    }
    file(&folder.join("visits.csv"), &list("logs"))?;
    let name = one_line(&folder.display().to_string());
    terminal.say(&format!(
        "{} recordings of {} machines, made by the engine model, in {name}.\nHS-03 drifts, HS-05 leaks after a refit, HS-08 was repaired, a sensor of HS-10 reads high;\nthe others are healthy. See whether they are found:\n\n  evenpull fleet --list {name}/visits.csv --machines {name}/machines --pages machines",
        visits.len(),
        machines.len()
    ))?;
    Ok(Outcome::Done)
}

fn file(path: &Path, text: &str) -> Result<(), Failure> {
    write::file(path, text.as_bytes()).map_err(Failure::result)
}
