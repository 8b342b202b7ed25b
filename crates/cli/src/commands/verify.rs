//! `verify`: a report against its log: the review made again, and what is not the same.

use std::path::{Path, PathBuf};

use clap::Args;
use evenpull_core::machine::Machine;
use evenpull_core::read::{ReadOptions, read_path};
use evenpull_core::result::MadeWith;
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::safe_text::one_line;
use evenpull_core::settings::Settings;
use evenpull_report::{Claim, check, claim_of, verified_words};

use crate::outcome::{Failure, Outcome};
use crate::plan::{read_machine, trouble_codes};
use crate::terminal::Terminal;

/// Arguments of `verify`.
#[derive(Debug, Args)]
pub(crate) struct VerifyArgs {
    /// The report: a page of `review`, or its JSON
    #[arg(value_name = "REPORT")]
    report: PathBuf,
    /// The log that it was made from
    #[arg(value_name = "LOG")]
    log: PathBuf,
    /// Machine file (TOML) to use instead of what the report says of the machine
    #[arg(long, value_name = "FILE")]
    machine: Option<PathBuf>,
}

/// Longest report that is read, bytes: far above any page, so that a wrong file does not fill the memory.
const MOST: u64 = 256 << 20;

/// Makes the review again and says what differs.
///
/// # Errors
/// A [`Failure`] when a file cannot be read, is no report, or lacks what is needed to make it again.
pub(crate) fn run(typed: &VerifyArgs, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let claim = claim_of(&text_of(&typed.report)?).map_err(|e| Failure::file(&typed.report, e))?;
    let machine = machine_of(typed, &claim)?;
    let with = claim.made_with.as_ref();
    let (columns, rate_hz) = (with.and_then(|w| w.columns.clone()), with.and_then(|w| w.rate_hz));
    if rate_hz.is_some_and(|r| !(r.is_finite() && r > 0.0)) {
        return Err(Failure::file(
            &typed.report,
            "made_with: the rate is no number of rows a second above 0",
        ));
    }
    let codes = trouble_codes(with.map_or(&[][..], |w| &w.codes[..]))
        .map_err(|e| Failure::file(&typed.report, format!("made_with: {e}")))?;
    let options = ReadOptions {
        machine: has_machine(typed, with).then_some(&machine),
        columns: columns.clone(),
        rate_hz,
    };
    let mut recording = read_path(&typed.log, &options).map_err(|e| Failure::file(&typed.log, e))?;
    // A copy of the recording under another name is the same recording; the name is told and changes nothing.
    let name = std::mem::replace(&mut recording.source.name, claim.name.clone());
    let analysis =
        review(&recording, &machine, &Settings::default(), &ReviewNotes { codes, columns, rate_hz });
    let outcome = check(&claim, &analysis, &name).map_err(Failure::result)?;
    terminal.say(&verified_words(&outcome))?;
    Ok(if outcome.same() { Outcome::Done } else { Outcome::Findings })
}

fn text_of(path: &Path) -> Result<String, Failure> {
    let facts = std::fs::metadata(path).map_err(|e| Failure::file(path, e))?;
    if !facts.is_file() || facts.len() > MOST {
        return Err(Failure::file(path, "is no report; expected a page of `evenpull review`, or its JSON"));
    }
    let bytes = std::fs::read(path).map_err(|e| Failure::file(path, e))?;
    String::from_utf8(bytes).map_err(|_| {
        Failure::file(path, "found bytes that are no text; expected a page of `evenpull review`, or its JSON")
    })
}

/// A machine file was given then, or is given now.
fn has_machine(typed: &VerifyArgs, with: Option<&MadeWith>) -> bool {
    typed.machine.is_some() || with.is_some_and(|w| w.machine_file.is_some())
}

/// The machine as the person says, else as the report says.
fn machine_of(typed: &VerifyArgs, claim: &Claim) -> Result<Machine, Failure> {
    if let Some(path) = &typed.machine {
        return read_machine(path);
    }
    match claim.made_with.as_ref().map(|w| &w.machine_file) {
        Some(Some(text)) => {
            let name = format!("{}: its machine", one_line(&typed.report.to_string_lossy()));
            Machine::from_toml(&name, text).map_err(|e| Failure::file(&typed.report, e))
        }
        None if claim.limit_from_file => {
            Err(Failure::file(&typed.report, "does not hold its machine file; name it with --machine FILE"))
        }
        _ => Ok(Machine::default()),
    }
}
