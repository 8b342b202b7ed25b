//! First storey of the arguments: what was typed, as clap understands it. Nothing is checked beyond its shape.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::commands::add_args::AddArgs;
use crate::commands::compare_args::CompareArgs;
use crate::commands::fleet_args::FleetArgs;
use crate::commands::lesson_args::LessonArgs;
use crate::commands::plan_args::PlanArgs;
use crate::commands::schema::SchemaArgs;
use crate::commands::verify::VerifyArgs;
use crate::commands::worker::WorkerArgs;

/// From a recorded idle log to a verdict: how evenly do the cylinders of an engine pull?
#[derive(Debug, Parser)]
#[command(name = "evenpull", version, about, after_help = AFTER_HELP, max_term_width = 100)]
pub(crate) struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

const AFTER_HELP: &str = "Exit codes: 0 done, 1 findings that --fail-on asked for (verify: it differs), 2 failed.\n\
    Running engines hurt people: read `evenpull explain cautions` before you record.";

/// One command, one file under `commands/`.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Judge one recording: verdict, page, figures and JSON
    Review(ReviewArgs),
    /// Say what to turn, which way, how far, and when to stop
    Plan(PlanArgs),
    /// Make the review of a report again from its log: the same, or what differs
    Verify(VerifyArgs),
    /// Say what was understood of a recording, without judging it
    Inspect(InspectArgs),
    /// Review recordings and keep them as visits in a book
    Add(AddArgs),
    /// What changed between visits of a machine, or between two recordings
    Compare(CompareArgs),
    /// Rank many machines: which one first, why, and how sure
    Fleet(FleetArgs),
    /// Write the recordings of an invented workshop to try `fleet` on
    Demo(DemoArgs),
    /// Write a recording with a worksheet and a key, for teaching
    Lesson(LessonArgs),
    /// Plain words for a notice, a class, a verdict; `recording`; `cautions`
    Explain(ExplainArgs),
    /// Print the JSON schema of a result, or the columns of a record for Spark
    Schema(SchemaArgs),
    /// Write shell completions or man pages for a package
    #[command(hide = true)]
    Generate(GenerateArgs),
}

/// How a log is read; shared by every command that reads one.
#[derive(Debug, Clone, Args)]
pub(crate) struct ReadArgs {
    /// The recorded log; `-` reads standard input
    #[arg(value_name = "LOG")]
    pub(crate) log: Option<PathBuf>,
    /// Machine file (TOML): cylinders, firing order, limit, columns
    #[arg(long, value_name = "FILE")]
    pub(crate) machine: Option<PathBuf>,
    /// Names of the columns, parted by commas, for a log without a header
    #[arg(long, value_name = "NAMES")]
    pub(crate) columns: Option<String>,
    /// Rows a second, for a log without a time column
    #[arg(long, value_name = "HZ", allow_negative_numbers = true)]
    pub(crate) rate: Option<f64>,
}

/// Arguments of `review`.
#[derive(Debug, Args)]
pub(crate) struct ReviewArgs {
    #[command(flatten)]
    pub(crate) read: ReadArgs,
    /// Folder for the page, its figures and the JSON [default: reports]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Also write the result here; `-` writes it to standard output, and no page unless --out is given
    #[arg(long, value_name = "FILE")]
    pub(crate) json: Option<PathBuf>,
    /// Unit of pressures on the page and the terminal [default: the recording's own]
    #[arg(long, value_name = "UNIT")]
    pub(crate) unit: Option<String>,
    /// End with exit code 1 when the verdict is one of these
    #[arg(long, value_name = "VERDICT", value_enum, value_delimiter = ',')]
    pub(crate) fail_on: Vec<FailOn>,
    /// Trouble codes noted from the machine, for example P0107,P0122
    #[arg(long, value_name = "CODES", value_delimiter = ',')]
    pub(crate) codes: Vec<String>,
    /// Open the page when it is written
    #[arg(long)]
    pub(crate) open: bool,
    #[command(flatten)]
    pub(crate) worker: WorkerArgs,
}

/// Verdicts that a script may want to stop on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum FailOn {
    /// The spread is outside its limit
    Outside,
    /// The data cannot say
    CannotTell,
    /// Nothing to judge: fewer than two live cylinder pressures
    NotApplicable,
}

/// Arguments of `inspect`.
#[derive(Debug, Args)]
pub(crate) struct InspectArgs {
    #[command(flatten)]
    pub(crate) read: ReadArgs,
}

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub(crate) struct DemoArgs {
    /// Folder to write into
    #[arg(value_name = "DIR")]
    pub(crate) dir: PathBuf,
}

/// Arguments of `explain`.
#[derive(Debug, Args)]
pub(crate) struct ExplainArgs {
    /// A word from a page or a JSON file; without one, the list of topics
    #[arg(value_name = "TOPIC")]
    pub(crate) topic: Option<String>,
}

/// Arguments of `generate`.
#[derive(Debug, Args)]
pub(crate) struct GenerateArgs {
    /// What to write
    #[arg(value_enum)]
    pub(crate) what: Generated,
    /// Folder to write into
    #[arg(value_name = "DIR")]
    pub(crate) dir: PathBuf,
}

/// What `generate` can write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Generated {
    /// Completions for every shell that clap knows
    Completions,
    /// One man page per command
    Man,
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_argument_tree_is_sound() {
        // clap's own consistency check: clashing names, wrong defaults, unreachable values.
        super::Arguments::command().debug_assert();
    }
}
