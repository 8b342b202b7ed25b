//! `fleet`: many logs or a whole book ranked: which machine first, why, how sure.

use evenpull_book::{Book, ranking_csv, ranking_parquet};
use evenpull_core::safe_text::one_line;
use evenpull_core::visits::fleet_result::Failed;
use evenpull_core::visits::{FleetOptions, Ranked, Visit, fleet};
use evenpull_report::{PageOptions, compare_json, fleet_json, fleet_page, fleet_summary, write};

use crate::commands::fleet_args::{FleetPlan, Logs};
use crate::commands::fleet_logs::{Jobs, find};
use crate::commands::fleet_pages::{INDEX, MACHINES, machine_name, machine_pages};
use crate::commands::fleet_run::{Visited, visit_all};
use crate::commands::review::open;
use crate::outcome::{Failure, Outcome};
use crate::plan::Json;
use crate::terminal::Terminal;

/// Ranks a fleet.
///
/// # Errors
/// A [`Failure`] when book, folder or list cannot be read at all, nothing is found, or a result cannot be written.
pub(crate) fn run(plan: &FleetPlan, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let Jobs { jobs, mut failed, twice } = find(&plan.logs)?;
    let Visited { mut visits, failed: unread, skipped } = match plan.logs {
        Logs::None => Visited::default(),
        _ => visit_all(&jobs, plan)?,
    };
    failed.extend(unread);
    if plan.logs == Logs::None || Book::at(&plan.book).root().is_dir() {
        failed.extend(with_book(&mut visits, plan)?);
    }
    if visits.is_empty() && failed.is_empty() {
        return Err(Failure::usage("fleet: no log and no visit found"));
    }
    let mut ranked = fleet(&visits, &FleetOptions::default());
    ranked.fleet.failed = failed;
    if plan.json != Json::Stream {
        let done = format!("{} logs, {skipped} of them done before, {twice} twice", jobs.len() + twice);
        let head = if plan.logs == Logs::None { "The book as it is".to_owned() } else { done };
        terminal.say(&fleet_summary(&ranked.fleet, plan.display(), &head))?;
    }
    if plan.pages.is_some() {
        machine_pages(&mut ranked, plan)?;
    }
    hand_out(&ranked, plan, terminal)?;
    for bad in &ranked.fleet.failed {
        terminal.complain(&Failure::file(std::path::Path::new(&bad.path), bad.reason.clone()));
    }
    Ok(if ranked.fleet.failed.is_empty() { Outcome::Done } else { Outcome::Failed })
}

/// Takes the visits of the book, which holds earlier ones too, in the place of those just made; those that have no
/// place in a book stay.
fn with_book(visits: &mut Vec<Visit>, plan: &FleetPlan) -> Result<Vec<Failed>, Failure> {
    let contents = Book::at(&plan.book).all().map_err(Failure::result)?;
    visits.retain(|v| v.machine.is_empty() || v.facts.date.is_none());
    visits.extend(contents.visits);
    let path = |p: &evenpull_book::Problem| p.path.display().to_string();
    Ok(contents.problems.iter().map(|p| Failed { path: path(p), reason: p.error.to_string() }).collect())
}

fn hand_out(ranked: &Ranked, plan: &FleetPlan, terminal: &mut Terminal) -> Result<(), Failure> {
    let text = fleet_json(&ranked.fleet).map_err(Failure::result)?;
    let file =
        |name: &str, bytes: &[u8]| write::file(&plan.folder.join(name), bytes).map_err(Failure::result);
    file("fleet.csv", &ranking_csv(&ranked.fleet).map_err(Failure::result)?)?;
    file("fleet.parquet", &ranking_parquet(&ranked.fleet).map_err(Failure::result)?)?;
    for comparison in &ranked.comparisons {
        let id = comparison.machine.as_deref().unwrap_or_default();
        let json = compare_json(comparison).map_err(Failure::result)?;
        file(&format!("{MACHINES}/{}.json", machine_name(id)), json.as_bytes())?;
    }
    let page = fleet_page(ranked, plan.display(), &PageOptions::default()).map_err(Failure::result)?;
    let written = write::page_set(&plan.folder, INDEX, &page, Some(&text)).map_err(Failure::result)?;
    if let Some(html) = written.first() {
        if plan.json != Json::Stream {
            terminal.say(&format!("\nPage: {}", one_line(&html.to_string_lossy())))?;
        }
        if plan.open {
            open(html, terminal);
        }
    }
    match &plan.json {
        Json::Beside => Ok(()),
        Json::Stream => terminal.say(&text),
        Json::File(path) => write::file(path, text.as_bytes()).map_err(Failure::result),
    }
}
