//! Arguments of `add` and the plan they make.

use std::path::PathBuf;

use clap::Args;
use evenpull_core::visits::VisitFacts;

use crate::args::ReadArgs;
use crate::outcome::Failure;
use crate::plan::{ReadPlan, trouble_codes};

/// Arguments of `add`.
#[derive(Debug, Args)]
pub(crate) struct AddArgs {
    /// Recorded logs, each kept as a visit of its own
    #[arg(value_name = "LOG", required = true)]
    logs: Vec<PathBuf>,
    /// Folder of the book; it is made when it is not there
    #[arg(long, value_name = "DIR")]
    book: PathBuf,
    /// Machine file (TOML): id, cylinders, limit, columns
    #[arg(long, value_name = "FILE")]
    machine: Option<PathBuf>,
    /// Date of the visit, YYYY-MM-DD [default: as the recording says]
    #[arg(long, value_name = "DATE")]
    date: Option<String>,
    /// Operating hours at the visit
    #[arg(long, value_name = "H", allow_negative_numbers = true)]
    hours: Option<f64>,
    /// Distance at the visit, km
    #[arg(long, value_name = "KM", allow_negative_numbers = true)]
    distance_km: Option<f64>,
    /// A word about the visit
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Trouble codes noted from the machine, for example P0107,P0122
    #[arg(long, value_name = "CODES", value_delimiter = ',')]
    codes: Vec<String>,
    /// Visit file (TOML): date, hours, distance_km, conditions, work, codes, turns; options go before it
    #[arg(long, value_name = "FILE")]
    visit: Option<PathBuf>,
    /// Names of the columns, parted by commas, for a log without a header
    #[arg(long, value_name = "NAMES")]
    columns: Option<String>,
    /// Rows a second, for a log without a time column
    #[arg(long, value_name = "HZ", allow_negative_numbers = true)]
    rate: Option<f64>,
}

/// Visits to be added.
#[derive(Debug, Clone)]
pub(crate) struct AddPlan {
    /// The recordings.
    pub(crate) reads: Vec<ReadPlan>,
    /// Folder of the book.
    pub(crate) book: PathBuf,
    /// What was said about all of them.
    pub(crate) facts: VisitFacts,
}

impl TryFrom<AddArgs> for AddPlan {
    type Error = Failure;

    fn try_from(typed: AddArgs) -> Result<Self, Failure> {
        let said = VisitFacts {
            date: typed.date,
            hours: typed.hours,
            distance_km: typed.distance_km,
            note: typed.note,
            codes: trouble_codes(&typed.codes)?,
            ..VisitFacts::default()
        };
        said.check().map_err(|e| Failure::usage(format!("add: {e}")))?;
        let in_file = match &typed.visit {
            Some(path) => {
                let text = std::fs::read_to_string(path).map_err(|e| Failure::file(path, e))?;
                VisitFacts::from_toml(&path.to_string_lossy(), &text).map_err(|e| Failure::file(path, e))?
            }
            None => VisitFacts::default(),
        };
        let reads = reads(typed.logs, typed.machine, typed.columns, typed.rate)?;
        Ok(Self { reads, book: typed.book, facts: said.or(in_file) })
    }
}

/// One read plan per log, all with the same machine file and rules.
pub(crate) fn reads(
    logs: Vec<PathBuf>,
    machine: Option<PathBuf>,
    columns: Option<String>,
    rate: Option<f64>,
) -> Result<Vec<ReadPlan>, Failure> {
    logs.into_iter()
        .map(|log| {
            ReadArgs { log: Some(log), machine: machine.clone(), columns: columns.clone(), rate }.try_into()
        })
        .collect()
}
