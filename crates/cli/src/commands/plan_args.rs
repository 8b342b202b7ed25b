//! Arguments of `plan` and the request they make.

use std::path::{Path, PathBuf};

use clap::Args;
use evenpull_core::adjust::causes::CAUSES;
use evenpull_report::PageUnit;

use crate::args::ReadArgs;
use crate::outcome::Failure;
use crate::plan::{DEFAULT_FOLDER, Json, ReadPlan, STREAM, known_unit};

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub(crate) struct PlanArgs {
    /// The recorded log to plan from; `-` reads standard input. Without one, the latest visit of the book
    #[arg(value_name = "LOG", required_unless_present = "book")]
    log: Option<PathBuf>,
    /// Machine file (TOML): cylinders, limit, adjusters
    #[arg(long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Folder of the book: turns noted at earlier visits teach what a turn does
    #[arg(long, value_name = "DIR")]
    book: Option<PathBuf>,
    /// Machine in the book [default: as the machine file or the log says]
    #[arg(long, value_name = "ID", requires = "book")]
    id: Option<String>,
    /// Visit file (TOML) of this recording: turns made during it or since the last visit teach what a turn does
    #[arg(long, value_name = "FILE", requires = "log")]
    visit: Option<PathBuf>,
    /// Causes that you have looked at and ruled out, by the words the plan gives them
    #[arg(long, value_name = "CODES", value_delimiter = ',')]
    ruled_out: Vec<String>,
    /// Folder for the page, its figure and the JSON [default: reports]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Also write the plan here as JSON; `-` writes it to standard output, and no page unless --out is given
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Unit of pressures on the page and the terminal [default: the recording's own]
    #[arg(long, value_name = "UNIT")]
    unit: Option<String>,
    /// Names of the columns, parted by commas, for a log without a header
    #[arg(long, value_name = "NAMES", requires = "log")]
    columns: Option<String>,
    /// Rows a second, for a log without a time column
    #[arg(long, value_name = "HZ", allow_negative_numbers = true, requires = "log")]
    rate: Option<f64>,
    /// Open the page when it is written
    #[arg(long)]
    open: bool,
}

/// A plan that is asked for.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Request {
    /// The recording; `None` plans from the latest visit of the book.
    pub(crate) read: Option<ReadPlan>,
    /// Machine file.
    pub(crate) machine: Option<PathBuf>,
    /// Folder of the book.
    pub(crate) book: Option<PathBuf>,
    /// Machine in the book.
    pub(crate) id: Option<String>,
    /// Visit file of the recording.
    pub(crate) visit: Option<PathBuf>,
    /// Causes ruled out, by code.
    pub(crate) ruled_out: Vec<String>,
    /// Unit of pressures; `None` for the recording's own.
    pub(crate) unit: Option<PageUnit>,
    /// The JSON besides.
    pub(crate) json: Json,
    /// Folder of page, figure and JSON; `None` when only the JSON was asked for.
    pub(crate) folder: Option<PathBuf>,
    /// Open the page.
    pub(crate) open: bool,
}

impl TryFrom<PlanArgs> for Request {
    type Error = Failure;

    fn try_from(typed: PlanArgs) -> Result<Self, Failure> {
        let json = match typed.json {
            None => Json::Beside,
            Some(path) if path == Path::new(STREAM) => Json::Stream,
            Some(path) => Json::File(path),
        };
        let folder = match (typed.out, &json) {
            (Some(folder), _) => Some(folder),
            (None, Json::Stream) => None,
            (None, _) => Some(PathBuf::from(DEFAULT_FOLDER)),
        };
        if typed.open && folder.is_none() {
            return Err(Failure::usage("--open: no page is written with --json - alone; add --out DIR"));
        }
        let (machine, columns, rate) = (typed.machine, typed.columns, typed.rate);
        let read = |log| ReadArgs { log: Some(log), machine: machine.clone(), columns, rate }.try_into();
        let ruled_out: Vec<String> = typed
            .ruled_out
            .iter()
            .map(|c| c.trim().to_lowercase().replace([' ', '_'], "-"))
            .filter(|c| !c.is_empty())
            .collect();
        if let Some(unknown) = ruled_out.iter().find(|c| !CAUSES.contains(&c.as_str())) {
            let words = CAUSES.join(", ");
            return Err(Failure::usage(format!(
                "--ruled-out {unknown}: not a cause that a plan names; these are: {words}"
            )));
        }
        Ok(Self {
            read: typed.log.map(read).transpose()?,
            machine,
            book: typed.book,
            id: typed.id,
            visit: typed.visit,
            ruled_out,
            unit: typed.unit.map(|unit| known_unit(&unit)).transpose()?,
            json,
            folder,
            open: typed.open,
        })
    }
}
