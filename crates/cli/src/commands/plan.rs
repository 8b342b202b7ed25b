//! `plan`: what to turn, which way, how far, what not to do and when to stop; nothing is turned or judged here.

use std::path::Path;

use evenpull_book::Book;
use evenpull_core::adjust::history::History;
use evenpull_core::adjust::influence::{LearnOptions, learn};
use evenpull_core::adjust::plan::{PlanOptions, plan};
use evenpull_core::adjust::plan_result::Plan;
use evenpull_core::machine::Machine;
use evenpull_core::result::Review;
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_core::visits::basis::as_review;
use evenpull_core::visits::comparison::RepeatabilitySource;
use evenpull_core::visits::{CompareOptions, Visit, VisitFacts, compare};
use evenpull_report::{DisplayUnit, plan_json, plan_page, terminal_plan, write};

use super::compare::no_such;
use super::plan_args::Request;
use crate::outcome::{Failure, Outcome};
use crate::plan::{Json, ReadPlan, read_machine};
use crate::terminal::Terminal;

/// A plan with what its page needs besides.
struct Made {
    plan: Plan,
    unit: DisplayUnit,
    /// What its files are called after.
    name: String,
    /// Whether a file of the book could not be read.
    incomplete: bool,
}

/// Makes the plan and shows it.
///
/// # Errors
/// A [`Failure`] when a file cannot be read, understood or written.
pub(crate) fn run(request: &Request, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let made = match &request.read {
        Some(read) => from_log(read, request, terminal)?,
        None => from_book(request, terminal)?,
    };
    if request.json != Json::Stream {
        terminal.say(&terminal_plan(&made.plan, &made.unit))?;
    }
    if let Some(folder) = &request.folder {
        write_pages(folder, request, &made, terminal)?;
    }
    let json = || plan_json(&made.plan).map_err(Failure::result);
    match &request.json {
        Json::Beside => {}
        Json::Stream => terminal.say(&json()?)?,
        Json::File(path) => write::file(path, json()?.as_bytes()).map_err(Failure::result)?,
    }
    Ok(if made.incomplete { Outcome::Failed } else { Outcome::Done })
}

/// Plans from a recording; a book and a visit file teach what a turn does.
fn from_log(read: &ReadPlan, request: &Request, terminal: &mut Terminal) -> Result<Made, Failure> {
    let facts = request.visit.as_deref().map(read_visit).transpose()?.unwrap_or_default();
    let (recording, machine) = read.carry_out()?;
    let notes = ReviewNotes { codes: facts.codes.clone(), ..ReviewNotes::default() };
    let settings = Settings::default();
    let analysis = review(&recording, &machine, &settings, &notes);
    let (mut visits, mut incomplete) = (Vec::new(), false);
    if let Some(book) = &request.book {
        let id = [&request.id, &machine.id, &recording.preamble.machine_id];
        let id = id.into_iter().flatten().next().ok_or_else(|| {
            Failure::usage("--book: no machine id; name it with --id, or in the machine file")
        })?;
        (visits, incomplete) = visits_of(book, id, terminal)?;
        visits.retain(|v| v.key != analysis.review.source.sha256);
    }
    let repeatability = repeatability(&visits, &settings);
    let mut history = History::of_visits(&visits, repeatability.0);
    history.add_recording(&analysis, &facts, visits.last(), repeatability.0);
    let plan = planned(&analysis.review, &machine, history, repeatability.1, request);
    let unit = DisplayUnit::choose(request.unit, &analysis.context, analysis.review.barometer_kpa);
    let name = plan.source.name.clone();
    Ok(Made { plan, unit, name, incomplete })
}

/// Plans from the latest visit of a book.
fn from_book(request: &Request, terminal: &mut Terminal) -> Result<Made, Failure> {
    let Some(book) = &request.book else { return Err(Failure::usage("plan: name a log, or a book")) };
    let file = request.machine.as_deref().map(read_machine).transpose()?;
    let named = file.as_ref().and_then(|m| m.id.clone());
    let id =
        request.id.clone().or_else(|| named.clone()).ok_or_else(|| {
            Failure::usage("--book: no machine id; name it with --id, or in the machine file")
        })?;
    if let (Some(path), Some(named)) = (&request.machine, named.filter(|n| *n != id)) {
        return Err(Failure::file(path, format!("describes {named}, not {id}")));
    }
    let (visits, incomplete) = visits_of(book, &id, terminal)?;
    let Some(latest) = visits.last() else { return Err(Failure::file(book, no_such(book, &id))) };
    let machine = machine_of(latest, file, request)?;
    let settings = Settings::default();
    let repeatability = repeatability(&visits, &settings);
    let history = History::of_visits(&visits, repeatability.0);
    let plan = planned(&as_review(latest), &machine, history, repeatability.1, request);
    let (logged, kind) = match &latest.plan {
        Some(b) => (b.pressure_unit.as_str(), b.pressure_kind),
        None => ("kPa", None),
    };
    let unit = DisplayUnit::logged(request.unit, logged, kind, latest.barometer_kpa);
    Ok(Made { plan, unit, name: id, incomplete })
}

fn visits_of(book: &Path, id: &str, terminal: &mut Terminal) -> Result<(Vec<Visit>, bool), Failure> {
    let contents = Book::at(book).visits(id).map_err(Failure::result)?;
    for problem in &contents.problems {
        terminal.remark(&problem.error.to_string());
    }
    Ok((contents.visits, !contents.problems.is_empty()))
}

/// The machine that a visit was judged by, with the adjusters of the file.
fn machine_of(visit: &Visit, file: Option<Machine>, request: &Request) -> Result<Machine, Failure> {
    let Some(file) = file else {
        return Ok(Machine {
            reference: visit.reference,
            limit_kpa: Some(visit.limit_kpa),
            ..Machine::default()
        });
    };
    let other_limit = file.limit_kpa.is_some_and(|l| (l - visit.limit_kpa).abs() > 1e-9);
    if other_limit || file.reference != visit.reference {
        let path = request.machine.as_deref().unwrap_or_else(|| Path::new("machine file"));
        let what = "its limit or reference is not the one that the latest visit was judged by; add that recording again with this file";
        return Err(Failure::file(path, what));
    }
    Ok(file)
}

/// Standard deviation of a change between visits with nothing done, kPa; and the scatter of one visit, where repeats told.
fn repeatability(visits: &[Visit], settings: &Settings) -> (f64, Option<f64>) {
    if visits.is_empty() {
        return (settings.repeatability_kpa, None);
    }
    let told = compare(visits, &CompareOptions { settings: *settings }).repeatability_kpa;
    let known = told.source == RepeatabilitySource::Repeats;
    (told.value, known.then_some(told.value / std::f64::consts::SQRT_2))
}

fn planned(
    review: &Review,
    machine: &Machine,
    mut history: History,
    repeat_kpa: Option<f64>,
    request: &Request,
) -> Plan {
    let live: Vec<u32> =
        review.cylinders.iter().filter(|c| c.deviation_kpa.is_some()).map(|c| c.cylinder).collect();
    history.keep(&live);
    let learned = (!history.rounds.is_empty()).then(|| learn(&history.rounds, &LearnOptions::default()));
    let (influence, not_learned) = match learned {
        None => (None, None),
        Some(Ok(influence)) => (Some(influence), None),
        Some(Err(why)) => (None, Some(why)),
    };
    let options = PlanOptions {
        ruled_out: request.ruled_out.clone(),
        not_learned,
        sessions: history.sessions,
        passed_over: history.passed_over,
        repeat_kpa,
        ..PlanOptions::default()
    };
    plan(review, machine, influence.as_ref(), &options)
}

/// Writes page, figure and JSON into a folder and says where the page is.
fn write_pages(
    folder: &Path,
    request: &Request,
    made: &Made,
    terminal: &mut Terminal,
) -> Result<(), Failure> {
    let page = plan_page(&made.plan, &made.unit, false).map_err(Failure::result)?;
    let written = write::plan_set(folder, &made.name, &made.plan, &page).map_err(Failure::result)?;
    let Some(html) = written.first() else { return Ok(()) };
    if request.json != Json::Stream {
        terminal.say(&format!("\nPage: {}", evenpull_core::safe_text::one_line(&html.to_string_lossy())))?;
    }
    if request.open
        && let Err(cause) = opener::open(html)
    {
        terminal.remark(&format!("{}: could not be opened: {cause}", html.display()));
    }
    Ok(())
}

/// Reads and understands a visit file.
fn read_visit(path: &Path) -> Result<VisitFacts, Failure> {
    let text = std::fs::read_to_string(path).map_err(|e| Failure::file(path, e))?;
    VisitFacts::from_toml(&path.to_string_lossy(), &text).map_err(|e| Failure::file(path, e))
}
