//! `review --files-from`: one path a line in, one record a line out, in the same order, for programs that hand out
//! many recordings (a cluster's pipe, `xargs`). Nothing is kept between two lines and no file is written.
//!
//! With `--supervise` the work is done by a child process, so that a file that crashes or hangs it becomes a record
//! and the rest goes on.

mod child;
mod line;
mod one;
mod queue;

use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;
use evenpull_core::machine::Machine;

use crate::outcome::{Failure, Outcome};
use crate::plan::{STREAM, read_machine};
use crate::terminal::Terminal;

/// Arguments that turn `review` into a worker.
#[derive(Debug, Default, Args)]
pub(crate) struct WorkerArgs {
    /// Review every path of this list, one a line (or {"path": ...}); `-` reads it from standard input.
    /// Writes one JSON record a line and no page
    #[arg(long, value_name = "LIST",
        conflicts_with_all = ["log", "out", "json", "open", "unit", "fail_on", "columns"])]
    pub(crate) files_from: Option<PathBuf>,
    /// One JSON record a line; what --files-from writes
    #[arg(long, requires = "files_from")]
    ndjson: bool,
    /// Do the work in a child process: a file that crashes or hangs it becomes a record
    #[arg(long, requires = "files_from")]
    supervise: bool,
    /// Seconds that one file may take under --supervise, each of two attempts
    #[arg(long, value_name = "N", requires = "supervise", default_value_t = 60.0)]
    timeout_s: f64,
    /// Files read at the same time
    #[arg(long, value_name = "N", requires = "files_from", default_value_t = 1)]
    threads: usize,
    /// Set for the child of --supervise: ends with its input, whatever it is doing, so that no child outlives its parent
    #[arg(long, hide = true, requires = "files_from", conflicts_with = "supervise")]
    as_child: bool,
    /// For the tests of the supervision: files named `rehearse-crash...`, `-panic`, `-hang` and `-slow` do what they say
    #[arg(long, hide = true, requires = "files_from")]
    rehearse: bool,
}

/// Work to be carried out.
#[derive(Debug, Clone)]
pub(crate) struct WorkPlan {
    /// The list of paths.
    list: PathBuf,
    /// Machine file of all of them, as a path for a child and as understood.
    machine: Option<PathBuf>,
    /// Rows a second for logs without a clock.
    rate_hz: Option<f64>,
    /// Trouble codes noted for all of them.
    codes: Vec<String>,
    /// In a child, with so much time for a file.
    supervised: Option<Duration>,
    /// At the same time.
    threads: usize,
    /// See [`WorkerArgs::as_child`].
    as_child: bool,
    /// See [`WorkerArgs::rehearse`].
    rehearse: bool,
}

/// Most threads that may be asked for.
const MOST_THREADS: usize = 1024;

impl WorkPlan {
    /// Makes a plan of what was typed.
    ///
    /// # Errors
    /// [`Failure::Usage`] for numbers that make no sense.
    pub(crate) fn new(
        typed: WorkerArgs,
        machine: Option<PathBuf>,
        rate_hz: Option<f64>,
        codes: Vec<String>,
    ) -> Result<Self, Failure> {
        if !(1..=MOST_THREADS).contains(&typed.threads) {
            let what = format!("--threads {}: must be 1 to {MOST_THREADS}", typed.threads);
            return Err(Failure::usage(what));
        }
        if !(typed.timeout_s > 0.0 && typed.timeout_s < 1e6) {
            return Err(Failure::usage(format!("--timeout-s {}: must be seconds above 0", typed.timeout_s)));
        }
        if let Some(rate) = rate_hz.filter(|r| !(r.is_finite() && *r > 0.0)) {
            return Err(Failure::usage(format!("--rate {rate}: must be a number of rows a second above 0")));
        }
        Ok(Self {
            list: typed.files_from.unwrap_or_else(|| STREAM.into()),
            machine,
            rate_hz,
            codes,
            supervised: typed.supervise.then(|| Duration::from_secs_f64(typed.timeout_s)),
            threads: typed.threads,
            as_child: typed.as_child,
            rehearse: typed.rehearse,
        })
    }
}

/// Carries the work out: exit code 0 when every line of the list got its record.
///
/// # Errors
/// A [`Failure`] when the list or the machine file cannot be read, or standard output takes no more.
pub(crate) fn run(plan: &WorkPlan, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let machine: Machine = plan.machine.as_deref().map(read_machine).transpose()?.unwrap_or_default();
    let input: Box<dyn std::io::BufRead + Send> = if plan.list == Path::new(STREAM) {
        Box::new(std::io::BufReader::new(std::io::stdin()))
    } else {
        let file = std::fs::File::open(&plan.list).map_err(|e| Failure::file(&plan.list, e))?;
        Box::new(std::io::BufReader::new(file))
    };
    let bench = one::Bench::new(plan, machine);
    let outcome = queue::run(input, plan, &bench, terminal);
    outcome.map_err(|stop| match stop {
        queue::Stop::Input(cause) => Failure::file(&plan.list, cause),
        queue::Stop::Output(failure) => failure,
    })?;
    Ok(Outcome::Done)
}
