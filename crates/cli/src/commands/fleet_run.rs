//! Many logs to visits: in parallel, each recording given up before the next, done ones skipped by their hash.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;
use std::time::Duration;

use evenpull_book::{Book, Shelf, key_of};
use evenpull_core::machine::Machine;
use evenpull_core::read::{ReadOptions, read_path};
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_core::visits::fleet_result::Failed;
use evenpull_core::visits::{PlanBasis, Visit, settings_hash, visit_from_review};
use indicatif::{ProgressBar, ProgressState, ProgressStyle};
use rayon::prelude::*;

use crate::commands::add::in_head;
use crate::commands::fleet_args::{FleetPlan, Pages};
use crate::commands::fleet_logs::Job;
use crate::commands::fleet_pages::{has_log_page, log_page};
use crate::outcome::Failure;

/// What became of the logs.
#[derive(Debug, Default)]
pub(crate) struct Visited {
    /// Visits in the order of the logs.
    pub(crate) visits: Vec<Visit>,
    /// Logs that gave none.
    pub(crate) failed: Vec<Failed>,
    /// How many were in the book already.
    pub(crate) skipped: usize,
}

/// What all workers share.
struct Shop<'a> {
    shelf: Shelf<'a>,
    machines: BTreeMap<String, Machine>,
    settings: Settings,
    plan: &'a FleetPlan,
}

/// Reviews every log that the book does not hold yet.
///
/// # Errors
/// A [`Failure`] if book or machine files cannot be read; a log that cannot is listed in the result.
pub(crate) fn visit_all(jobs: &[Job], plan: &FleetPlan) -> Result<Visited, Failure> {
    let book = Book::at(&plan.book);
    let shop = Shop {
        shelf: book.shelf().map_err(Failure::result)?,
        machines: plan.machines.as_deref().map(machine_files).transpose()?.unwrap_or_default(),
        settings: Settings::default(),
        plan,
    };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(plan.threads).build().map_err(Failure::result)?;
    let bar = progress(jobs.len());
    let one = |job: &Job| {
        let done = shop.visit(job);
        bar.inc(1);
        done
    };
    // Results stand in the order of the logs, whatever thread made them.
    let results: Vec<Result<(Visit, bool), String>> = pool.install(|| jobs.par_iter().map(one).collect());
    bar.finish_and_clear();
    shop.shelf.finish().map_err(Failure::result)?;
    let mut all = Visited::default();
    for (job, result) in jobs.iter().zip(results) {
        match result {
            Ok((visit, skipped)) => {
                all.visits.push(visit);
                all.skipped += usize::from(skipped);
            }
            Err(reason) => all.failed.push(Failed { path: job.path.display().to_string(), reason }),
        }
    }
    Ok(all)
}

/// On standard error, and only where that is a terminal.
fn progress(logs: usize) -> ProgressBar {
    let bar = ProgressBar::new(logs as u64);
    let line = "{bar:40} {pos} of {len} logs, {rate} a second, {eta} left";
    if let Ok(style) = ProgressStyle::with_template(line) {
        let rate = |state: &ProgressState, out: &mut dyn Write| {
            let _ = write!(out, "{:.1}", state.per_sec());
        };
        bar.set_style(style.with_key("rate", rate));
    }
    bar.enable_steady_tick(Duration::from_millis(500));
    bar
}

/// Machine files by their file's name without ending.
fn machine_files(folder: &Path) -> Result<BTreeMap<String, Machine>, Failure> {
    let mut found = BTreeMap::new();
    for entry in std::fs::read_dir(folder).map_err(|e| Failure::file(folder, e))? {
        let path = entry.map_err(|e| Failure::file(folder, e))?.path();
        if path.extension().is_some_and(|e| e == "toml") {
            let text = std::fs::read_to_string(&path).map_err(|e| Failure::file(&path, e))?;
            let machine =
                Machine::from_toml(&path.to_string_lossy(), &text).map_err(|e| Failure::file(&path, e))?;
            let name = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
            found.insert(machine.id.clone().unwrap_or(name), machine);
        }
    }
    Ok(found)
}

impl Shop<'_> {
    /// The visit of a log and whether it was there already.
    fn visit(&self, job: &Job) -> Result<(Visit, bool), String> {
        if let Some(kept) = self.kept(job) {
            return Ok((kept, true));
        }
        let known = |id: &Option<String>| id.as_ref().and_then(|i| self.machines.get(i));
        let mut machine = known(&job.machine);
        let mut recording = self.read(job, machine)?;
        let id = job.machine.clone().or_else(|| recording.preamble.machine_id.clone());
        if machine.is_none() && known(&id).is_some() {
            // Only the recording's head told which machine it is; its file may say what the columns are.
            machine = known(&id);
            recording = self.read(job, machine)?;
        }
        let machine = machine.cloned().unwrap_or_default();
        let facts = job.facts.clone().or(in_head(&recording.preamble));
        let notes = ReviewNotes { codes: facts.codes.clone(), ..ReviewNotes::default() };
        let analysis = review(&recording, &machine, &self.settings, &notes);
        drop(recording);
        let hash = settings_hash(&self.settings, &machine);
        let basis = PlanBasis::of(&analysis, &facts.turns);
        let visit = visit_from_review(&analysis.review, &id.unwrap_or_default(), facts, &hash);
        let visit = Visit { plan: Some(basis), ..visit };
        if self.plan.pages == Some(Pages::Logs) {
            log_page(self.plan, &analysis, &visit)?;
        }
        // Without machine or date it has no place in a book; it is listed all the same.
        if !visit.machine.is_empty() && visit.facts.date.is_some() {
            self.shelf.add_later(&visit).map_err(|e| e.to_string())?;
        }
        Ok((visit, false))
    }

    fn read(
        &self,
        job: &Job,
        machine: Option<&Machine>,
    ) -> Result<evenpull_core::recording::Recording, String> {
        let options = ReadOptions { machine, columns: None, rate_hz: self.plan.rate_hz };
        read_path(&job.path, &options).map_err(|e| e.to_string())
    }

    /// The visit as the book has it, if this program with these settings would make the same again.
    fn kept(&self, job: &Job) -> Option<Visit> {
        let key = key_of(&job.path).ok()?;
        let kept = self.shelf.find(&key).ok()??.visit;
        let same_id = job.machine.as_ref().is_none_or(|id| *id == kept.machine);
        let same_facts = job.facts.clone().or(kept.facts.clone()) == kept.facts;
        let machine = self.machines.get(&kept.machine).cloned().unwrap_or_default();
        let same_tool = kept.tool_version == env!("CARGO_PKG_VERSION")
            && kept.settings_hash == settings_hash(&self.settings, &machine);
        let page = self.plan.pages != Some(Pages::Logs)
            || has_log_page(&self.plan.folder, &kept.source, &kept.visit);
        (same_id && same_facts && same_tool && page).then_some(kept)
    }
}
