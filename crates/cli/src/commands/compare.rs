//! `compare`: visits of a machine side by side, or two recordings before and after.

use std::path::Path;

use evenpull_book::Book;
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::visits::compare::compare_in_order;
use evenpull_core::visits::{Comparison, Visit, VisitFacts, compare, found_and_left, settings_hash, swapped};
use evenpull_report::{slug, write};

use crate::commands::add::visit_of;
use crate::commands::compare_args::{ComparePlan, Subject};
use crate::commands::compare_text::compare_text;
use crate::outcome::{Failure, Outcome};
use crate::plan::{Json, ReadPlan};
use crate::terminal::Terminal;

/// Carries a comparison out.
///
/// # Errors
/// A [`Failure`] when a book or recording cannot be read, holds nothing to compare, or a result cannot be written.
pub(crate) fn run(plan: &ComparePlan, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let mut outcome = Outcome::Done;
    let comparison = match &plan.subject {
        Subject::Book { book, id } => {
            let contents = Book::at(book).visits(id).map_err(Failure::result)?;
            for problem in &contents.problems {
                terminal.remark(&problem.error.to_string());
                outcome = Outcome::Failed;
            }
            if contents.visits.is_empty() {
                return Err(Failure::file(book, no_such(book, id)));
            }
            compare(&contents.visits, &plan.options)
        }
        Subject::Logs(reads) => of_logs(reads, plan)?,
    };
    if plan.json != Json::Stream {
        terminal.say(&compare_text(&comparison))?;
    }
    hand_out(&comparison, plan, terminal)?;
    Ok(outcome)
}

fn of_logs(reads: &[ReadPlan], plan: &ComparePlan) -> Result<Comparison, Failure> {
    let visits = match reads {
        [one] => as_found_as_left(one, plan)?.to_vec(),
        _ => reads.iter().map(|r| visit_of(r, &VisitFacts::default())).collect::<Result<Vec<_>, _>>()?,
    };
    let mut comparison = compare_in_order(&visits, &plan.options);
    if let (Some(pair), [before, after]) = (plan.swapped, &visits[..]) {
        let coverage = plan.options.settings.coverage;
        let told =
            swapped(before, after, pair, coverage).map_err(|e| Failure::usage(format!("--swapped: {e}")))?;
        comparison.swapped = Some(told);
    }
    Ok(comparison)
}

fn as_found_as_left(read: &ReadPlan, plan: &ComparePlan) -> Result<[Visit; 2], Failure> {
    let (recording, machine) = read.carry_out()?;
    let settings = &plan.options.settings;
    let analysis = review(&recording, &machine, settings, &ReviewNotes::default());
    let id = machine.id.clone().or_else(|| recording.preamble.machine_id.clone()).unwrap_or_default();
    let what = "nothing to compare: no screw was turned in it; name a second log";
    found_and_left(&analysis.review, &id, &settings_hash(settings, &machine))
        .ok_or_else(|| Failure::file(&read.path(), what))
}

/// What to say where a book has no visit of a machine.
pub(crate) fn no_such(book: &Path, id: &str) -> String {
    let mut known = Book::at(book).machines().unwrap_or_default();
    let more = known.len().saturating_sub(12);
    known.truncate(12);
    let list = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
    let tail = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("no visit of {id}; machines in this book: {list}{tail}")
}

fn hand_out(comparison: &Comparison, plan: &ComparePlan, terminal: &mut Terminal) -> Result<(), Failure> {
    let mut json = serde_json::to_string_pretty(comparison).map_err(Failure::result)?;
    json.push('\n');
    if let Some(folder) = &plan.folder {
        let name = match &comparison.machine {
            Some(id) => format!("{}-visits.json", slug(id)),
            None => "visits.json".to_owned(),
        };
        write::file(&folder.join(name), json.as_bytes()).map_err(Failure::result)?;
    }
    match &plan.json {
        Json::Beside => Ok(()),
        Json::Stream => terminal.say(&json),
        Json::File(path) => write::file(path, json.as_bytes()).map_err(Failure::result),
    }
}
