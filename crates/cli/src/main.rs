//! `evenpull`: reviews recorded idle logs on the command line.
//!
//! Glue only: what was typed ([`args`]) becomes a validated plan ([`plan`]), a command carries it out
//! ([`commands`]), and all text leaves through one writer ([`terminal`]). No formula and no figure lives here.
//!
//! # Exit codes
//! 0 done, 1 findings that `--fail-on` asked for, 2 failed ([`outcome`]).

mod args;
mod commands;
mod outcome;
mod plan;
mod terminal;
mod topics;

use std::process::ExitCode;

use clap::Parser;

use crate::args::{Arguments, Command};
use crate::commands::worker::WorkPlan;
use crate::outcome::{Failure, Outcome};
use crate::terminal::Terminal;

fn main() -> ExitCode {
    // Wrong usage ends here with exit code 2, help and version with 0.
    let arguments = Arguments::parse();
    let mut terminal = Terminal::standard();
    let outcome = match run(arguments.command, &mut terminal) {
        Ok(outcome) => outcome,
        Err(failure) => {
            terminal.complain(&failure);
            Outcome::Failed
        }
    };
    outcome.into()
}

/// Turns what was typed into a plan and carries it out.
fn run(command: Command, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    match command {
        Command::Review(typed) if typed.worker.files_from.is_some() => {
            let codes = plan::trouble_codes(&typed.codes)?;
            let (machine, rate) = (typed.read.machine, typed.read.rate);
            commands::worker::run(&WorkPlan::new(typed.worker, machine, rate, codes)?, terminal)
        }
        Command::Review(typed) => commands::review::run(&plan::ReviewPlan::try_from(typed)?, terminal),
        Command::Plan(typed) => {
            commands::plan::run(&commands::plan_args::Request::try_from(typed)?, terminal)
        }
        Command::Verify(typed) => commands::verify::run(&typed, terminal),
        Command::Inspect(typed) => commands::inspect::run(&plan::InspectPlan::try_from(typed)?, terminal),
        Command::Add(typed) => commands::add::run(&typed.try_into()?, terminal),
        Command::Compare(typed) => commands::compare::run(&typed.try_into()?, terminal),
        Command::Fleet(typed) => commands::fleet::run(&typed.try_into()?, terminal),
        Command::Demo(typed) => commands::demo::run(&typed.dir, terminal),
        Command::Lesson(typed) => commands::lesson::run(&typed.try_into()?, terminal),
        Command::Explain(typed) => commands::explain::run(typed.topic.as_deref(), terminal),
        Command::Schema(typed) => commands::schema::run(&typed, terminal),
        Command::Generate(typed) => commands::generate::run(typed.what, &typed.dir, terminal),
    }
}
