//! `compare`: visits of a machine side by side, or two recordings before and after.

use std::path::Path;

use evenpull_book::Book;
use evenpull_core::analysis::Context;
use evenpull_core::recording::PressureKind;
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::safe_text::one_line;
use evenpull_core::visits::compare::compare_in_order;
use evenpull_core::visits::{Comparison, Visit, VisitFacts, compare, found_and_left, settings_hash, swapped};
use evenpull_report::{
    CompareLinks, DisplayUnit, PageOptions, PageUnit, compare_json, compare_page, compare_summary, stem,
    write,
};

use crate::commands::add::visit_of;
use crate::commands::compare_args::{ComparePlan, Subject};
use crate::commands::review::open;
use crate::outcome::{Failure, Outcome};
use crate::plan::{Json, ReadPlan};
use crate::terminal::Terminal;

/// Carries a comparison out.
///
/// # Errors
/// A [`Failure`] when a book or recording cannot be read, holds nothing to compare, or a result cannot be written.
pub(crate) fn run(plan: &ComparePlan, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let mut outcome = Outcome::Done;
    let (comparison, unit) = match &plan.subject {
        Subject::Book { book, id } => {
            let contents = Book::at(book).visits(id).map_err(Failure::result)?;
            for problem in &contents.problems {
                terminal.remark(&problem.error.to_string());
                outcome = Outcome::Failed;
            }
            if contents.visits.is_empty() {
                return Err(Failure::file(book, no_such(book, id)));
            }
            let unit = DisplayUnit::of(plan.unit.unwrap_or(PageUnit::Kpa), PressureKind::Absolute);
            (compare(&contents.visits, &plan.options), unit)
        }
        Subject::Logs(reads) => of_logs(reads, plan)?,
    };
    if plan.json != Json::Stream {
        terminal.say(&compare_summary(&comparison, unit))?;
    }
    hand_out(&comparison, unit, plan, terminal)?;
    Ok(outcome)
}

/// The comparison of recordings, in the unit of the last of them.
fn of_logs(reads: &[ReadPlan], plan: &ComparePlan) -> Result<(Comparison, DisplayUnit), Failure> {
    let (visits, contexts): (Vec<Visit>, Vec<Context>) = match reads {
        [one] => {
            let (pair, context) = as_found_as_left(one, plan)?;
            (pair.to_vec(), vec![context])
        }
        _ => reads
            .iter()
            .map(|r| visit_of(r, &VisitFacts::default()))
            .collect::<Result<Vec<_>, _>>()?
            .into_iter()
            .unzip(),
    };
    let unit = contexts.last().map_or_else(DisplayUnit::kpa, |c| DisplayUnit::choose(plan.unit, c, None));
    let mut comparison = compare_in_order(&visits, &plan.options);
    if let (Some(pair), [before, after]) = (plan.swapped, &visits[..]) {
        let coverage = plan.options.settings.coverage;
        let told =
            swapped(before, after, pair, coverage).map_err(|e| Failure::usage(format!("--swapped: {e}")))?;
        comparison.swapped = Some(told);
    }
    Ok((comparison, unit))
}

fn as_found_as_left(read: &ReadPlan, plan: &ComparePlan) -> Result<([Visit; 2], Context), Failure> {
    let (recording, machine) = read.carry_out()?;
    let settings = &plan.options.settings;
    let analysis = review(&recording, &machine, settings, &ReviewNotes::default());
    let id = machine.id.clone().or_else(|| recording.preamble.machine_id.clone()).unwrap_or_default();
    let what = "nothing to compare: no screw was turned in it; name a second log";
    let pair = found_and_left(&analysis.review, &id, &settings_hash(settings, &machine))
        .ok_or_else(|| Failure::file(&read.path(), what))?;
    Ok((pair, analysis.context))
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

/// Stem of the files: the machine and its visits, or the recordings.
fn name_of(comparison: &Comparison, plan: &ComparePlan) -> String {
    match (&plan.subject, &comparison.machine, &comparison.visits[..]) {
        (Subject::Book { .. }, Some(id), _) => format!("{id}-visits"),
        (_, _, [a, b]) if a.source != b.source => format!("{}-to-{}", stem(&a.source), stem(&b.source)),
        (_, _, [a, ..]) => format!("{}-compared", stem(&a.source)),
        _ => "visits".to_owned(),
    }
}

fn hand_out(
    comparison: &Comparison,
    unit: DisplayUnit,
    plan: &ComparePlan,
    terminal: &mut Terminal,
) -> Result<(), Failure> {
    let json = compare_json(comparison).map_err(Failure::result)?;
    if let Some(folder) = &plan.folder {
        let page = compare_page(comparison, unit, &PageOptions::default(), &CompareLinks::default());
        let page = page.map_err(Failure::result)?;
        let name = name_of(comparison, plan);
        let written = write::page_set(folder, &name, &page, Some(&json)).map_err(Failure::result)?;
        if let Some(html) = written.first() {
            if plan.json != Json::Stream {
                terminal.say(&format!("\nPage: {}", one_line(&html.to_string_lossy())))?;
            }
            if plan.open {
                open(html, terminal);
            }
        }
    }
    match &plan.json {
        Json::Beside => Ok(()),
        Json::Stream => terminal.say(&json),
        Json::File(path) => write::file(path, json.as_bytes()).map_err(Failure::result),
    }
}
