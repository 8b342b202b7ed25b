//! Arguments of `fleet` and the plan they make.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::outcome::Failure;
use crate::plan::{Json, STREAM};

/// Arguments of `fleet`.
#[derive(Debug, Args)]
pub(crate) struct FleetArgs {
    /// Folder of logs, searched through all folders below; each log names its machine and date
    #[arg(value_name = "DIR", conflicts_with = "list")]
    folder: Option<PathBuf>,
    /// Table of logs with the columns path, machine, date, hours, distance_km, note
    #[arg(long, value_name = "FILE")]
    list: Option<PathBuf>,
    /// Folder of the book: alone, what it holds is ranked; with logs, they are kept there
    /// [default with logs: book in the folder of the result]
    #[arg(long, value_name = "DIR")]
    book: Option<PathBuf>,
    /// Folder of machine files named after their machines, for example HS-01.toml
    #[arg(long, value_name = "DIR")]
    machines: Option<PathBuf>,
    /// Folder for the ranking [default: reports/fleet]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Also write the ranking here; `-` writes it to standard output
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Rows a second, for logs without a time column
    #[arg(long, value_name = "HZ", allow_negative_numbers = true)]
    rate: Option<f64>,
    /// Logs read at the same time [default: one per processor]
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
}

/// Where the logs come from.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Logs {
    /// None: the book as it is.
    None,
    /// Every log below a folder.
    Folder(PathBuf),
    /// A table.
    List(PathBuf),
}

/// A ranking to be made.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FleetPlan {
    /// The logs.
    pub(crate) logs: Logs,
    /// The book.
    pub(crate) book: PathBuf,
    /// Machine files.
    pub(crate) machines: Option<PathBuf>,
    /// Folder for the ranking.
    pub(crate) folder: PathBuf,
    /// The JSON besides.
    pub(crate) json: Json,
    /// Rows a second for logs without a clock.
    pub(crate) rate_hz: Option<f64>,
    /// Logs read at the same time; 0 = one per processor.
    pub(crate) threads: usize,
}

impl TryFrom<FleetArgs> for FleetPlan {
    type Error = Failure;

    fn try_from(typed: FleetArgs) -> Result<Self, Failure> {
        if let Some(rate) = typed.rate
            && !(rate.is_finite() && rate > 0.0)
        {
            return Err(Failure::usage(format!("--rate {rate}: must be a number of rows a second above 0")));
        }
        if typed.threads == Some(0) {
            return Err(Failure::usage("--threads 0: at least one"));
        }
        let folder = typed.out.unwrap_or_else(|| Path::new("reports").join("fleet"));
        let logs = match (typed.folder, typed.list) {
            (Some(folder), _) => Logs::Folder(folder),
            (None, Some(list)) => Logs::List(list),
            (None, None) if typed.book.is_some() => Logs::None,
            (None, None) => {
                return Err(Failure::usage("fleet: name a folder of logs, a --list of them, or a --book"));
            }
        };
        let json = match typed.json {
            None => Json::Beside,
            Some(path) if path == Path::new(STREAM) => Json::Stream,
            Some(path) => Json::File(path),
        };
        Ok(Self {
            logs,
            book: typed.book.unwrap_or_else(|| folder.join("book")),
            machines: typed.machines,
            folder,
            json,
            rate_hz: typed.rate,
            threads: typed.threads.unwrap_or(0),
        })
    }
}
