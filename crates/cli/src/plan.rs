//! Second storey of the arguments: plans that make sense. What a command gets here needs no further checking.

use std::io::Read;
use std::path::{Path, PathBuf};

use evenpull_core::machine::Machine;
use evenpull_core::read::{ReadOptions, read_bytes, read_path};
use evenpull_core::recording::Recording;
use evenpull_core::result::Verdict;
use evenpull_core::review::ReviewNotes;
use evenpull_report::PageUnit;

use crate::args::{FailOn, InspectArgs, ReadArgs, ReviewArgs};
use crate::outcome::Failure;

/// Folder for pages when none is given.
pub(crate) const DEFAULT_FOLDER: &str = "reports";

/// Name that stands for standard input and output.
pub(crate) const STREAM: &str = "-";

/// Where a recording comes from.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Input {
    /// A file.
    File(PathBuf),
    /// Standard input.
    Stream,
}

/// How a recording is to be read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ReadPlan {
    /// The log.
    pub(crate) input: Input,
    /// Machine file.
    machine: Option<PathBuf>,
    /// Names of the columns as typed; the reader understands them.
    columns: Option<String>,
    /// Rows a second for a log without a clock, above 0.
    rate_hz: Option<f64>,
}

/// Where the JSON goes besides the folder of the page.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Json {
    /// Nowhere else.
    Beside,
    /// Standard output, which then carries nothing but the JSON.
    Stream,
    /// A file.
    File(PathBuf),
}

impl Json {
    /// From what follows `--json`.
    pub(crate) fn from_typed(typed: Option<PathBuf>) -> Self {
        match typed {
            None => Self::Beside,
            Some(path) if path == Path::new(STREAM) => Self::Stream,
            Some(path) => Self::File(path),
        }
    }
}

/// Where the page goes: nowhere when only the JSON was asked for.
///
/// # Errors
/// A [`Failure`] when a page is to be opened that is not written.
pub(crate) fn page_folder(out: Option<PathBuf>, json: &Json, open: bool) -> Result<Option<PathBuf>, Failure> {
    let folder = match (out, json) {
        (Some(folder), _) => Some(folder),
        (None, Json::Stream) => None,
        (None, _) => Some(PathBuf::from(DEFAULT_FOLDER)),
    };
    if open && folder.is_none() {
        return Err(Failure::usage("--open: no page is written with --json - alone; add --out DIR"));
    }
    Ok(folder)
}

/// A review to be carried out.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ReviewPlan {
    /// The recording.
    pub(crate) read: ReadPlan,
    /// Folder of page, figures and JSON; `None` when only the JSON was asked for.
    pub(crate) folder: Option<PathBuf>,
    /// The JSON besides.
    pub(crate) json: Json,
    /// Unit of pressures on the page; `None` for the recording's own.
    pub(crate) unit: Option<PageUnit>,
    /// Verdicts that end in exit code 1.
    pub(crate) fail_on: Vec<Verdict>,
    /// Trouble codes, each once, upper case, in the order given.
    pub(crate) codes: Vec<String>,
    /// Open the page.
    pub(crate) open: bool,
}

/// An inspection to be carried out.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct InspectPlan {
    /// The recording.
    pub(crate) read: ReadPlan,
}

impl TryFrom<ReadArgs> for ReadPlan {
    type Error = Failure;

    fn try_from(typed: ReadArgs) -> Result<Self, Failure> {
        if let Some(rate) = typed.rate
            && !(rate.is_finite() && rate > 0.0)
        {
            return Err(Failure::usage(format!("--rate {rate}: must be a number of rows a second above 0")));
        }
        let input = match typed.log {
            Some(path) if path == Path::new(STREAM) => Input::Stream,
            Some(path) => Input::File(path),
            None => return Err(Failure::usage("name the recorded log, or - for standard input")),
        };
        Ok(Self { input, machine: typed.machine, columns: typed.columns, rate_hz: typed.rate })
    }
}

impl TryFrom<ReviewArgs> for ReviewPlan {
    type Error = Failure;

    fn try_from(typed: ReviewArgs) -> Result<Self, Failure> {
        let json = Json::from_typed(typed.json);
        let folder = page_folder(typed.out, &json, typed.open)?;
        Ok(Self {
            read: typed.read.try_into()?,
            folder,
            json,
            unit: typed.unit.map(|unit| known_unit(&unit)).transpose()?,
            fail_on: typed.fail_on.into_iter().map(Verdict::from).collect(),
            codes: trouble_codes(&typed.codes)?,
            open: typed.open,
        })
    }
}

impl TryFrom<InspectArgs> for InspectPlan {
    type Error = Failure;

    fn try_from(typed: InspectArgs) -> Result<Self, Failure> {
        Ok(Self { read: typed.read.try_into()? })
    }
}

impl From<FailOn> for Verdict {
    fn from(typed: FailOn) -> Self {
        match typed {
            FailOn::Outside => Self::Outside,
            FailOn::CannotTell => Self::CannotTell,
            FailOn::NotApplicable => Self::NotApplicable,
        }
    }
}

/// A unit that pages can show.
pub(crate) fn known_unit(typed: &str) -> Result<PageUnit, Failure> {
    PageUnit::parse(typed).ok_or_else(|| {
        Failure::usage(format!(
            "--unit {typed}: no pressure unit known here, for example kPa, mbar, mmHg or inHg"
        ))
    })
}

/// Checks noted trouble codes: a letter of P, C, B, U, a digit 0 to 3 and three hexadecimal digits.
///
/// # Source
/// The five-character form of SAE J2012, from memory.
pub(crate) fn trouble_codes(typed: &[String]) -> Result<Vec<String>, Failure> {
    let mut codes: Vec<String> = Vec::new();
    for code in typed.iter().map(|c| c.trim().to_ascii_uppercase()).filter(|c| !c.is_empty()) {
        if !evenpull_core::trouble::well_formed(&code) {
            return Err(Failure::usage(format!("--codes {code}: a trouble code reads like P0107")));
        }
        if !codes.contains(&code) {
            codes.push(code);
        }
    }
    Ok(codes)
}

impl ReadPlan {
    /// The log's path for messages.
    pub(crate) fn path(&self) -> PathBuf {
        match &self.input {
            Input::File(path) => path.clone(),
            Input::Stream => PathBuf::from("stdin"),
        }
    }

    /// What a review notes of how the recording was read, besides the trouble codes.
    pub(crate) fn notes(&self, codes: Vec<String>) -> ReviewNotes {
        ReviewNotes { codes, columns: self.columns.clone(), rate_hz: self.rate_hz }
    }

    /// Reads machine file and recording.
    ///
    /// # Errors
    /// [`Failure::File`] that names the file which could not be read or understood.
    pub(crate) fn carry_out(&self) -> Result<(Recording, Machine), Failure> {
        let machine = self.machine.as_deref().map(read_machine).transpose()?;
        let options =
            ReadOptions { machine: machine.as_ref(), columns: self.columns.clone(), rate_hz: self.rate_hz };
        let recording = match &self.input {
            Input::File(path) => read_path(path, &options).map_err(|e| Failure::file(path, e))?,
            Input::Stream => {
                let name = Path::new("stdin");
                let mut bytes = Vec::new();
                std::io::stdin().lock().read_to_end(&mut bytes).map_err(|e| Failure::file(name, e))?;
                read_bytes("stdin", &bytes, &options).map_err(|e| Failure::file(name, e))?
            }
        };
        Ok((recording, machine.unwrap_or_default()))
    }
}

/// Reads and understands a machine file.
pub(crate) fn read_machine(path: &Path) -> Result<Machine, Failure> {
    let text = std::fs::read_to_string(path).map_err(|e| Failure::file(path, e))?;
    Machine::from_toml(&path.to_string_lossy(), &text).map_err(|e| Failure::file(path, e))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use clap::Parser;

    use super::*;
    use crate::args::{Arguments, Command};

    /// The review plan of a command line, or the failure's text.
    fn plan(rest: &[&str]) -> Result<ReviewPlan, String> {
        let typed = Arguments::try_parse_from(["evenpull", "review"].iter().chain(rest)).unwrap();
        match typed.command {
            Command::Review(args) => ReviewPlan::try_from(args).map_err(|e| e.to_string()),
            _ => unreachable!("review was typed"),
        }
    }

    #[test]
    fn where_results_go_follows_the_contract() {
        // README, "Where results go": folder and JSON target for each way of asking.
        let default = plan(&["a.csv"]).unwrap();
        assert_eq!((default.folder, default.json), (Some("reports".into()), Json::Beside));
        let alone = plan(&["a.csv", "--json", "-"]).unwrap();
        assert_eq!((alone.folder, alone.json), (None, Json::Stream));
        let both = plan(&["a.csv", "--json", "-", "--out", "x"]).unwrap();
        assert_eq!((both.folder, both.json), (Some("x".into()), Json::Stream));
        let file = plan(&["a.csv", "--json", "r.json"]).unwrap();
        assert_eq!((file.folder, file.json), (Some("reports".into()), Json::File("r.json".into())));
    }

    #[test]
    fn a_page_that_is_not_written_cannot_be_opened() {
        assert!(plan(&["a.csv", "--json", "-", "--open"]).unwrap_err().contains("--out"));
        assert!(plan(&["a.csv", "--json", "-", "--open", "--out", "x"]).unwrap().open);
    }

    #[test]
    fn trouble_codes_are_checked_and_kept_once() {
        let codes = plan(&["a.csv", "--codes", "p0107, P0122,P0107,,U3fff"]).unwrap().codes;
        assert_eq!(codes, ["P0107", "P0122", "U3FFF"]);
        for wrong in ["0107", "P4107", "P010", "P01077", "X0107", "P01G7", "Pé07"] {
            assert!(plan(&["a.csv", "--codes", wrong]).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_rate_must_be_a_positive_number() {
        for wrong in ["0", "-4", "nan", "inf"] {
            assert!(plan(&["a.csv", "--rate", wrong]).is_err(), "{wrong}");
        }
        assert_eq!(plan(&["a.csv", "--rate", "12.5"]).unwrap().read.rate_hz, Some(12.5));
    }

    #[test]
    fn a_dash_is_standard_input() {
        assert_eq!(plan(&["-"]).unwrap().read.input, Input::Stream);
        assert_eq!(plan(&["./-"]).unwrap().read.input, Input::File("./-".into()));
    }

    #[test]
    fn fail_on_takes_several_verdicts() {
        let both = plan(&["a.csv", "--fail-on", "outside,cannot-tell"]).unwrap();
        assert_eq!(both.fail_on, [Verdict::Outside, Verdict::CannotTell]);
        assert!(plan(&["a.csv"]).unwrap().fail_on.is_empty());
    }
}
