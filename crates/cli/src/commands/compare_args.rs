//! Arguments of `compare` and the plan they make.

use std::path::{Path, PathBuf};

use clap::Args;
use evenpull_core::settings::Settings;
use evenpull_core::visits::CompareOptions;

use crate::commands::add_args::reads;
use crate::outcome::Failure;
use crate::plan::{Json, ReadPlan, STREAM};

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub(crate) struct CompareArgs {
    /// Two recordings, before and after; or one with adjustments: as found against as left
    #[arg(value_name = "LOG", conflicts_with_all = ["book", "id"])]
    logs: Vec<PathBuf>,
    /// Folder of the book
    #[arg(long, value_name = "DIR", requires = "id")]
    book: Option<PathBuf>,
    /// Machine whose visits are compared
    #[arg(long, value_name = "ID", requires = "book")]
    id: Option<String>,
    /// Machine file for the recordings (TOML)
    #[arg(long, value_name = "FILE", conflicts_with = "book")]
    machine: Option<PathBuf>,
    /// Names of the columns, parted by commas, for logs without a header
    #[arg(long, value_name = "NAMES", conflicts_with = "book")]
    columns: Option<String>,
    /// Rows a second, for logs without a time column
    #[arg(long, value_name = "HZ", allow_negative_numbers = true, conflicts_with = "book")]
    rate: Option<f64>,
    /// The sensors of these two cylinders were exchanged between the two recordings, for example 1,2
    #[arg(long, value_name = "I,J", value_delimiter = ',', conflicts_with = "book")]
    swapped: Vec<u32>,
    /// How far a deviation changes between two visits with nothing done, one standard deviation, kPa
    #[arg(long, value_name = "KPA", allow_negative_numbers = true)]
    repeatability: Option<f64>,
    /// Folder for the result
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Also write the result here; `-` writes it to standard output
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

/// What is compared.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Subject {
    /// All visits of a machine in a book.
    Book {
        /// Folder.
        book: PathBuf,
        /// Machine id.
        id: String,
    },
    /// Recordings in the order given.
    Logs(Vec<ReadPlan>),
}

/// A comparison to be carried out.
#[derive(Debug, Clone)]
pub(crate) struct ComparePlan {
    /// What is compared.
    pub(crate) subject: Subject,
    /// Cylinders whose sensors were exchanged.
    pub(crate) swapped: Option<[u32; 2]>,
    /// How it is compared.
    pub(crate) options: CompareOptions,
    /// Folder for the result.
    pub(crate) folder: Option<PathBuf>,
    /// The JSON besides.
    pub(crate) json: Json,
}

impl TryFrom<CompareArgs> for ComparePlan {
    type Error = Failure;

    fn try_from(typed: CompareArgs) -> Result<Self, Failure> {
        let mut settings = Settings::default();
        if let Some(kpa) = typed.repeatability {
            if !(kpa.is_finite() && kpa > 0.0) {
                return Err(Failure::usage(format!(
                    "--repeatability {kpa}: must be a number of kPa above 0"
                )));
            }
            settings.repeatability_kpa = kpa;
        }
        let swapped = match typed.swapped[..] {
            [] => None,
            [a, b] if a != b && a > 0 && b > 0 => Some([a, b]),
            _ => return Err(Failure::usage("--swapped: two different cylinders, for example 1,2")),
        };
        let json = match typed.json {
            None => Json::Beside,
            Some(path) if path == Path::new(STREAM) => Json::Stream,
            Some(path) => Json::File(path),
        };
        let subject = match (typed.book, typed.id) {
            (Some(book), Some(id)) => Subject::Book { book, id },
            _ if typed.logs.is_empty() => {
                return Err(Failure::usage("compare: name two logs, or a book with --book DIR --id ID"));
            }
            _ => Subject::Logs(reads(typed.logs, typed.machine, typed.columns, typed.rate)?),
        };
        if swapped.is_some() && !matches!(&subject, Subject::Logs(logs) if logs.len() == 2) {
            return Err(Failure::usage("--swapped: needs exactly two logs, before and after the exchange"));
        }
        Ok(Self { subject, swapped, options: CompareOptions { settings }, folder: typed.out, json })
    }
}
