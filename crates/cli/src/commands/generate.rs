//! `generate` (hidden): shell completions and man pages for a package, made from the argument tree itself.

use std::path::Path;

use clap::{CommandFactory, ValueEnum};
use clap_complete::Shell;

use crate::args::{Arguments, Generated};
use crate::outcome::{Failure, Outcome};
use crate::terminal::Terminal;

/// Writes completions or man pages into a folder, which is made if it is missing.
///
/// # Errors
/// [`Failure::File`] when the folder does not take them.
pub(crate) fn run(what: Generated, folder: &Path, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    std::fs::create_dir_all(folder).map_err(|e| Failure::file(folder, e))?;
    let mut command = Arguments::command();
    match what {
        Generated::Completions => {
            for shell in Shell::value_variants() {
                let path = clap_complete::generate_to(*shell, &mut command, "evenpull", folder)
                    .map_err(|e| Failure::file(folder, e))?;
                terminal.say(&path.to_string_lossy())?;
            }
        }
        Generated::Man => {
            clap_mangen::generate_to(command, folder).map_err(|e| Failure::file(folder, e))?;
            terminal.say(&folder.to_string_lossy())?;
        }
    }
    Ok(Outcome::Done)
}
