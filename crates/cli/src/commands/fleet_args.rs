//! Arguments of `fleet` and the plan they make.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use evenpull_core::recording::PressureKind;
use evenpull_report::{DisplayUnit, PageUnit};

use crate::outcome::Failure;
use crate::plan::{Json, known_unit};

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
    /// Also write pages that the ranking links: one per machine, or one per log too
    #[arg(long, value_name = "WHAT", value_enum)]
    pages: Option<Pages>,
    /// Unit of pressures on pages and terminal [default: kPa]
    #[arg(long, value_name = "UNIT")]
    unit: Option<String>,
    /// Open the page of the ranking when it is written
    #[arg(long)]
    open: bool,
    /// Rows a second, for logs without a time column
    #[arg(long, value_name = "HZ", allow_negative_numbers = true)]
    rate: Option<f64>,
    /// Logs read at the same time [default: one per processor]
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
}

/// Pages besides that of the ranking.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, ValueEnum)]
pub(crate) enum Pages {
    /// The visits of every machine side by side
    Machines,
    /// That, and the review of every log
    Logs,
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
    /// Pages besides that of the ranking.
    pub(crate) pages: Option<Pages>,
    /// Unit of pressures on pages and terminal.
    pub(crate) unit: Option<PageUnit>,
    /// Open the page of the ranking.
    pub(crate) open: bool,
    /// Rows a second for logs without a clock.
    pub(crate) rate_hz: Option<f64>,
    /// Logs read at the same time; 0 = one per processor.
    pub(crate) threads: usize,
}

impl FleetPlan {
    /// How ranking and machine pages show pressures: visits of many logs have no unit of their own.
    pub(crate) fn display(&self) -> DisplayUnit {
        DisplayUnit::of(self.unit.unwrap_or(PageUnit::Kpa), PressureKind::Absolute)
    }
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
        let unit = typed.unit.map(|unit| known_unit(&unit)).transpose()?;
        if typed.pages == Some(Pages::Logs) && logs == Logs::None {
            return Err(Failure::usage("--pages logs: a book holds no logs; name a folder or a --list"));
        }
        Ok(Self {
            logs,
            book: typed.book.unwrap_or_else(|| folder.join("book")),
            machines: typed.machines,
            folder,
            json: Json::from_typed(typed.json),
            pages: typed.pages,
            unit,
            open: typed.open,
            rate_hz: typed.rate,
            threads: typed.threads.unwrap_or(0),
        })
    }
}
