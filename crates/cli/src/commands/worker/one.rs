//! One line of the list to one record.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use evenpull_book::key_of;
use evenpull_core::machine::Machine;
use evenpull_core::read::{ReadOptions, read_path};
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_core::visits::record::{Record, Status};
use evenpull_core::visits::{settings_hash, visit_from_review};

use super::WorkPlan;
use super::line::Line;
use crate::commands::add::in_head;

/// What every review of this run needs.
#[derive(Debug)]
pub(crate) struct Bench {
    machine: Machine,
    settings: Settings,
    /// Fingerprint of both.
    pub(crate) hash: String,
    rate_hz: Option<f64>,
    codes: Vec<String>,
    rehearse: bool,
}

impl Bench {
    pub(crate) fn new(plan: &WorkPlan, machine: Machine) -> Self {
        let settings = Settings::default();
        Self {
            hash: settings_hash(&settings, &machine),
            machine,
            settings,
            rate_hz: plan.rate_hz,
            codes: plan.codes.clone(),
            rehearse: plan.rehearse,
        }
    }

    /// The record of a line; a panic inside becomes one too.
    pub(crate) fn record(&self, line: &Line) -> Record {
        match &line.path {
            Ok(path) => {
                let work = catch_unwind(AssertUnwindSafe(|| self.review(path)));
                work.unwrap_or_else(|panic| {
                    let why = format!("{}; please report this file", said(panic.as_ref()));
                    self.failed(path, Status::Crashed, why)
                })
            }
            Err(why) => Record::bare(&line.text, Status::Error, Some(why.clone()), &self.hash),
        }
    }

    /// A record of no more than what went wrong, with the hash of the file where it has one.
    fn failed(&self, path: &str, status: Status, why: String) -> Record {
        Record { key: key(path), ..Record::bare(path, status, Some(why), &self.hash) }
    }

    fn review(&self, path: &str) -> Record {
        let file = Path::new(path);
        if self.rehearse {
            rehearse(file);
        }
        let options = ReadOptions { machine: Some(&self.machine), columns: None, rate_hz: self.rate_hz };
        let recording = match read_path(file, &options) {
            Ok(recording) => recording,
            Err(e) => {
                return self.failed(path, Status::Error, e.to_string());
            }
        };
        let id = self.machine.id.clone().or_else(|| recording.preamble.machine_id.clone());
        let mut facts = in_head(&recording.preamble);
        facts.codes.clone_from(&self.codes);
        let notes = ReviewNotes { codes: self.codes.clone(), ..ReviewNotes::default() };
        let analysis = review(&recording, &self.machine, &self.settings, &notes);
        let visit = visit_from_review(&analysis.review, &id.unwrap_or_default(), facts, &self.hash);
        Record::of_visit(path, &visit).unwrap_or_else(|e| self.failed(path, Status::Error, e.to_string()))
    }
}

/// The hash of a file's content, where it is one that can be read to an end.
pub(crate) fn key(path: &str) -> Option<String> {
    let path = Path::new(path);
    std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file).and_then(|_| key_of(path).ok())
}

/// The words of a panic.
fn said(panic: &(dyn std::any::Any + Send)) -> &str {
    let words = panic.downcast_ref::<&str>().copied();
    words.or_else(|| panic.downcast_ref::<String>().map(String::as_str)).unwrap_or("a panic without words")
}

/// What the tests of the supervision ask a file to do.
fn rehearse(file: &Path) {
    let name = file.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    if name.starts_with("rehearse-crash") {
        std::process::abort();
    }
    if name.starts_with("rehearse-panic") {
        std::panic::panic_any("rehearsed");
    }
    if name.starts_with("rehearse-slow") {
        std::thread::sleep(std::time::Duration::from_secs(2));
    }
    while name.starts_with("rehearse-hang") {
        std::thread::sleep(std::time::Duration::from_secs(3600));
    }
}
