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
use serde_json::Value;

use super::WorkPlan;
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

    /// The record of a line; a crash inside becomes one too.
    pub(crate) fn record(&self, line: &str) -> Record {
        match path_of(line) {
            Ok(path) => {
                let work = catch_unwind(AssertUnwindSafe(|| self.review(&path)));
                work.unwrap_or_else(|_| {
                    let why = "the work on it crashed: please report this file".to_owned();
                    self.with_key(Record::bare(&path, Status::Crashed, Some(why), &self.hash))
                })
            }
            Err(why) => Record::bare(line, Status::Error, Some(why), &self.hash),
        }
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
                return self.with_key(Record::bare(path, Status::Error, Some(e.to_string()), &self.hash));
            }
        };
        let id = self.machine.id.clone().or_else(|| recording.preamble.machine_id.clone());
        let mut facts = in_head(&recording.preamble);
        facts.codes.clone_from(&self.codes);
        let notes = ReviewNotes { codes: self.codes.clone(), ..ReviewNotes::default() };
        let analysis = review(&recording, &self.machine, &self.settings, &notes);
        let visit = visit_from_review(&analysis.review, &id.unwrap_or_default(), facts, &self.hash);
        Record::of_visit(path, &visit)
            .unwrap_or_else(|e| Record::bare(path, Status::Error, Some(e.to_string()), &self.hash))
    }

    /// The record with the hash of the file's content, where it has one to read to an end.
    pub(crate) fn with_key(&self, record: Record) -> Record {
        let path = Path::new(&record.path);
        let key =
            std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file).and_then(|_| key_of(path).ok());
        Record { key, ..record }
    }
}

/// A line is a path, or an object with one.
pub(crate) fn path_of(line: &str) -> Result<String, String> {
    if line.is_empty() {
        return Err("an empty line: expected a path".to_owned());
    }
    if !line.starts_with('{') {
        return Ok(line.to_owned());
    }
    let object: Value =
        serde_json::from_str(line).map_err(|e| format!("expected a path or {{\"path\": ...}}: {e}"))?;
    match object.get("path").and_then(Value::as_str) {
        Some(path) if !path.is_empty() => Ok(path.to_owned()),
        _ => Err("expected {\"path\": ...} with a text that is not empty".to_owned()),
    }
}

/// What the tests of the supervision ask a file to do.
fn rehearse(file: &Path) {
    let name = file.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    if name.starts_with("rehearse-crash") {
        std::process::abort();
    }
    if name.starts_with("rehearse-hang") {
        loop {
            std::thread::sleep(std::time::Duration::from_secs(3600));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_a_path_or_an_object_with_one() {
        assert_eq!(path_of("a b.csv").as_deref(), Ok("a b.csv"));
        assert_eq!(path_of(r#"{"path": "x\"y.csv", "more": 1}"#).as_deref(), Ok("x\"y.csv"));
        for wrong in ["", "{", r#"{"file": "a"}"#, r#"{"path": 3}"#, r#"{"path": ""}"#] {
            assert!(path_of(wrong).is_err(), "{wrong}");
        }
    }
}
