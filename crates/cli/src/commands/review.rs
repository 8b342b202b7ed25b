//! `review`: one recording judged; page, figures and JSON written, a short verdict on the terminal.

use std::path::Path;

use evenpull_core::Analysis;
use evenpull_core::review::review;
use evenpull_core::settings::Settings;
use evenpull_report::{PageOptions, review_json, review_page, terminal_summary, write};

use crate::outcome::{Failure, Outcome};
use crate::plan::{Json, ReviewPlan};
use crate::terminal::Terminal;

/// Carries a review out.
///
/// # Errors
/// A [`Failure`] when a file cannot be read, understood or written.
pub(crate) fn run(plan: &ReviewPlan, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let (recording, machine) = plan.read.carry_out()?;
    let notes = plan.read.notes(plan.codes.clone());
    let analysis = review(&recording, &machine, &Settings::default(), &notes);
    let options = PageOptions { unit: plan.unit, ..PageOptions::default() };

    if plan.json != Json::Stream {
        terminal.say(&terminal_summary(&analysis, &options))?;
    }
    if let Some(folder) = &plan.folder {
        write_pages(folder, plan, &analysis, &options, terminal)?;
    }
    match &plan.json {
        Json::Beside => {}
        Json::Stream => terminal.say(&review_json(&analysis.review).map_err(Failure::result)?)?,
        Json::File(path) => {
            let json = review_json(&analysis.review).map_err(Failure::result)?;
            write::file(path, json.as_bytes()).map_err(Failure::result)?;
        }
    }
    let asked_for = plan.fail_on.contains(&analysis.review.verdict);
    Ok(if asked_for { Outcome::Findings } else { Outcome::Done })
}

/// Writes page, figures and JSON into a folder and says where the page is.
fn write_pages(
    folder: &Path,
    plan: &ReviewPlan,
    analysis: &Analysis,
    options: &PageOptions,
    terminal: &mut Terminal,
) -> Result<(), Failure> {
    let page = review_page(analysis, options).map_err(Failure::result)?;
    let written = write::review_set(folder, analysis, &page).map_err(Failure::result)?;
    let Some(html) = written.first() else { return Ok(()) };
    if plan.json != Json::Stream {
        terminal.say(&format!("\nPage: {}", evenpull_core::safe_text::one_line(&html.to_string_lossy())))?;
    }
    if plan.open {
        open(html, terminal);
    }
    Ok(())
}

/// Opens a page that was written. That no browser was found is worth a word and no failure: the page is there.
pub(crate) fn open(html: &Path, terminal: &mut Terminal) {
    if let Err(cause) = opener::open(html) {
        terminal.remark(&format!("{}: could not be opened: {cause}", html.display()));
    }
}
