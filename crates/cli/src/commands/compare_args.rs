//! Arguments of `compare` and the plan they make.

use std::path::PathBuf;

use clap::Args;
use evenpull_core::settings::Settings;
use evenpull_core::visits::CompareOptions;
use evenpull_report::PageUnit;

use crate::commands::add_args::reads;
use crate::outcome::Failure;
use crate::plan::{Json, ReadPlan, known_unit, page_folder};

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
    /// Folder for the page, its figures and the JSON [default: reports]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Also write the result here; `-` writes it to standard output, and no page unless --out is given
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Unit of pressures on the page and the terminal [default: that of the last log; kPa for a book]
    #[arg(long, value_name = "UNIT")]
    unit: Option<String>,
    /// Open the page when it is written
    #[arg(long)]
    open: bool,
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
    /// Folder of page, figures and JSON; `None` when only the JSON was asked for.
    pub(crate) folder: Option<PathBuf>,
    /// The JSON besides.
    pub(crate) json: Json,
    /// Unit of pressures on the page.
    pub(crate) unit: Option<PageUnit>,
    /// Open the page.
    pub(crate) open: bool,
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
        let json = Json::from_typed(typed.json);
        let folder = page_folder(typed.out, &json, typed.open)?;
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
        let unit = typed.unit.map(|unit| known_unit(&unit)).transpose()?;
        let options = CompareOptions { settings };
        Ok(Self { subject, swapped, options, folder, json, unit, open: typed.open })
    }
}
