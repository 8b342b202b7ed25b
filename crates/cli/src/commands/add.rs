//! `add`: recordings reviewed and kept in a book, one visit each.

use evenpull_book::{Added, Book};
use evenpull_core::analysis::Context;
use evenpull_core::recording::Preamble;
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::safe_text::one_line;
use evenpull_core::settings::Settings;
use evenpull_core::visits::{PlanBasis, Visit, VisitFacts, settings_hash, visit_from_review};
use evenpull_report::spread_line;

use crate::commands::add_args::AddPlan;
use crate::outcome::{Failure, Outcome};
use crate::plan::ReadPlan;
use crate::terminal::Terminal;

/// Adds every recording that can be read; one bad file is said and does not keep the others out.
///
/// # Errors
/// A [`Failure`] only when standard output fails.
pub(crate) fn run(plan: &AddPlan, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let book = Book::at(&plan.book);
    let mut outcome = Outcome::Done;
    for read in &plan.reads {
        match add_one(&book, read, &plan.facts) {
            Ok((visit, added)) => terminal.say(&line(&visit, &added))?,
            Err(failure) => {
                terminal.complain(&failure);
                outcome = Outcome::Failed;
            }
        }
    }
    Ok(outcome)
}

fn add_one(book: &Book, read: &ReadPlan, facts: &VisitFacts) -> Result<(Visit, Added), Failure> {
    let visit = visit_of(read, facts)?.0;
    if visit.machine.is_empty() {
        let what = "no machine id: give `id` in the machine file, or a log that names its machine";
        return Err(Failure::file(&read.path(), what));
    }
    if visit.facts.date.is_none() {
        return Err(Failure::file(&read.path(), "no date: give --date, the recording names none"));
    }
    let added = book.add(&visit).map_err(Failure::result)?;
    Ok((visit, added))
}

/// Reads and reviews a recording and makes a visit of it; what the recording's head says fills the gaps. Without a
/// machine id anywhere the visit's is empty. The context says in which unit the recording was logged.
pub(crate) fn visit_of(read: &ReadPlan, facts: &VisitFacts) -> Result<(Visit, Context), Failure> {
    let (recording, machine) = read.carry_out()?;
    let settings = Settings::default();
    let id = machine.id.clone().or_else(|| recording.preamble.machine_id.clone()).unwrap_or_default();
    let facts = facts.clone().or(in_head(&recording.preamble));
    let notes = ReviewNotes { codes: facts.codes.clone(), ..ReviewNotes::default() };
    let analysis = review(&recording, &machine, &settings, &notes);
    let basis = PlanBasis::of(&analysis, &facts.turns);
    let visit = visit_from_review(&analysis.review, &id, facts, &settings_hash(&settings, &machine));
    Ok((Visit { plan: Some(basis), ..visit }, analysis.context))
}

/// What the recording's head says about the visit; a figure that makes no sense there is left out.
pub(crate) fn in_head(preamble: &Preamble) -> VisitFacts {
    let head = VisitFacts {
        date: preamble.date.clone(),
        hours: preamble.hours,
        distance_km: preamble.distance_km,
        ..VisitFacts::default()
    };
    if head.check().is_ok() { head } else { VisitFacts::default() }
}

fn line(visit: &Visit, added: &Added) -> String {
    let how = match added {
        Added::Stored { .. } => "kept".to_owned(),
        Added::AlreadyThere { .. } => "is in the book already".to_owned(),
        Added::Corrected { supersedes, .. } => format!("corrected, supersedes {}", supersedes.join(" ")),
    };
    let date = visit.facts.date.as_deref().unwrap_or("no date");
    one_line(&format!(
        "{} {date} {}: {}; {how} ({})",
        visit.machine,
        visit.source,
        spread_line(visit.spread_kpa, visit.verdict),
        added.path().display()
    ))
}
