//! Arguments of `lesson` and the request they make.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use evenpull_model::PressureUnit;
use evenpull_model::lessons::{CASES, Case, Choice, Recorder, SECONDS, case};
use evenpull_report::PageUnit;

use crate::outcome::Failure;
use crate::plan::known_unit;

/// Folder of lessons when none is given.
const FOLDER: &str = "reports/lessons";

/// Most recordings of one class.
const CLASS: u64 = 200;

/// Arguments of `lesson`.
#[derive(Debug, Args)]
pub(crate) struct LessonArgs {
    /// What to teach; `--list` names the cases
    #[arg(value_name = "CASE", required_unless_present = "list")]
    case: Option<String>,
    /// Name the cases, one a line, and what each teaches
    #[arg(long, exclusive = true)]
    list: bool,
    /// Cylinders of the engine, 2 to 12 [default: as the case says, else 4]
    #[arg(long, value_name = "N")]
    cylinders: Option<usize>,
    /// Who records: damped, fast, slow or link [default: as the case says]
    #[arg(long, value_name = "NAME")]
    logger: Option<String>,
    /// Length of the recording, s [default: as the case says]
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    seconds: Option<f64>,
    /// Which of the engines of this case: cylinder at fault, sizes, noise
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Unit of pressures in the file and on the pages
    #[arg(long, value_name = "UNIT", default_value = "kPa")]
    unit: String,
    /// How small the fault is and how noisy the figures are
    #[arg(long, value_enum, default_value_t = Difficulty::Easy)]
    difficulty: Difficulty,
    /// A class: so many seeds from --seed on, the keys in a folder apart
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=CLASS))]
    class: Option<u64>,
    /// Folder for recordings and pages [default: reports/lessons]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

/// How hard a lesson is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Difficulty {
    /// Faults of plain size, quiet sensors
    Easy,
    /// Faults of about half the size, three times the noise
    Hard,
}

/// What is asked for.
#[derive(Debug, Clone)]
pub(crate) enum Request {
    /// The list of cases.
    List,
    /// Recordings with their pages.
    Write(Order),
}

/// Recordings with their pages.
#[derive(Debug, Clone)]
pub(crate) struct Order {
    /// The case.
    pub(crate) case: &'static Case,
    /// What was chosen; its seed is the first.
    pub(crate) choice: Choice,
    /// Unit of the pages.
    pub(crate) unit: PageUnit,
    /// Number of seeds.
    pub(crate) seeds: u64,
    /// Folder of recordings and worksheets.
    pub(crate) folder: PathBuf,
    /// Folder of the keys.
    pub(crate) keys: PathBuf,
}

impl TryFrom<LessonArgs> for Request {
    type Error = Failure;

    fn try_from(typed: LessonArgs) -> Result<Self, Failure> {
        let Some(name) = typed.case.filter(|_| !typed.list) else { return Ok(Self::List) };
        let recorder = typed.logger.as_deref().map(recorder).transpose()?;
        if let Some(s) = typed.seconds
            && !(s >= SECONDS.0 && s <= SECONDS.1)
        {
            return Err(Failure::usage(format!("--seconds {s}: must be {} to {}", SECONDS.0, SECONDS.1)));
        }
        if let Some(n) = typed.cylinders
            && !(2..=12).contains(&n)
        {
            return Err(Failure::usage(format!("--cylinders {n}: must be 2 to 12")));
        }
        let case = known(&name)?;
        if let (Some(n), Some(needed)) = (typed.cylinders, case.cylinders)
            && n != needed
        {
            return Err(Failure::usage(format!("--cylinders {n}: {} needs {needed}", case.id)));
        }
        let unit = known_unit(&typed.unit)?;
        let choice = Choice {
            cylinders: typed.cylinders,
            recorder,
            seconds: typed.seconds,
            seed: typed.seed,
            hard: typed.difficulty == Difficulty::Hard,
            unit: logged(unit)?,
        };
        let folder = typed.out.unwrap_or_else(|| PathBuf::from(FOLDER));
        let keys = if typed.class.is_some() { folder.join("keys") } else { folder.clone() };
        Ok(Self::Write(Order { case, choice, unit, seeds: typed.class.unwrap_or(1), folder, keys }))
    }
}

/// The case of a name, or the one that may have been meant.
fn known(name: &str) -> Result<&'static Case, Failure> {
    if let Some((_, found)) = case(name) {
        return Ok(found);
    }
    let near = CASES
        .iter()
        .map(|c| (strsim::jaro_winkler(c.id, &name.to_lowercase()), c.id))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|n| n.0 > 0.7);
    let meant = near.map_or(String::new(), |n| format!(" Did you mean {}?", n.1));
    let name = evenpull_core::safe_text::one_line(name);
    Err(Failure::usage(format!("{name}: no such case.{meant} `evenpull lesson --list` names them")))
}

fn recorder(name: &str) -> Result<Recorder, Failure> {
    Recorder::named(name).ok_or_else(|| {
        let names: Vec<&str> = Recorder::NAMES.iter().map(|n| n.0).collect();
        let name = evenpull_core::safe_text::one_line(name);
        Failure::usage(format!("--logger {name}: found no such logger, expected one of {}", names.join(", ")))
    })
}

/// The unit as the model writes it.
fn logged(unit: PageUnit) -> Result<PressureUnit, Failure> {
    use PressureUnit as P;
    let all = [P::Kpa, P::Hpa, P::Mbar, P::Mmhg, P::Inhg, P::Cmhg, P::Psi, P::Bar, P::Inh2o];
    all.into_iter().find(|u| PageUnit::parse(u.symbol()) == Some(unit)).ok_or_else(|| {
        let names: Vec<&str> = all.iter().map(|u| u.symbol()).collect();
        Failure::usage(format!("--unit {}: lessons are written in {}", unit.name(), names.join(", ")))
    })
}
