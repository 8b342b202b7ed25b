//! The logs of a fleet: found in a folder or a list, the same recording taken once.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use evenpull_book::key_of;
use evenpull_core::visits::VisitFacts;
use evenpull_core::visits::fleet_result::Failed;
use evenpull_core::visits::list::parse_list;

use crate::commands::fleet_args::Logs;
use crate::outcome::Failure;

/// Endings of files that may be logs; a packed one may have `.gz` or `.zst` after it.
const ENDINGS: [&str; 10] =
    ["csv", "tsv", "txt", "log", "asc", "candump", "parquet", "arrow", "ipc", "feather"];

/// One log to be reviewed.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Job {
    /// The file.
    pub(crate) path: PathBuf,
    /// Machine id, where the list names one.
    pub(crate) machine: Option<String>,
    /// What the list says about the visit.
    pub(crate) facts: VisitFacts,
}

/// Logs in a fixed order and what cannot be one.
#[derive(Debug, Default)]
pub(crate) struct Jobs {
    /// To be reviewed.
    pub(crate) jobs: Vec<Job>,
    /// Rows and files that give none.
    pub(crate) failed: Vec<Failed>,
    /// Files left out because another one holds the same bytes and the list says the same about both.
    pub(crate) twice: usize,
}

/// Finds the logs.
///
/// # Errors
/// A [`Failure`] if the folder or the list cannot be read at all.
pub(crate) fn find(logs: &Logs) -> Result<Jobs, Failure> {
    let mut found = match logs {
        Logs::None => Jobs::default(),
        Logs::Folder(folder) => Jobs { jobs: below(folder)?, ..Jobs::default() },
        Logs::List(list) => listed(list)?,
    };
    once(&mut found);
    Ok(found)
}

fn below(folder: &Path) -> Result<Vec<Job>, Failure> {
    let mut paths = Vec::new();
    let mut open = vec![folder.to_owned()];
    while let Some(at) = open.pop() {
        for entry in fs::read_dir(&at).map_err(|e| Failure::file(&at, e))? {
            let entry = entry.map_err(|e| Failure::file(&at, e))?;
            let path = entry.path();
            // Links are not followed: a ring of them would never end.
            let kind = entry.file_type().map_err(|e| Failure::file(&path, e))?;
            let hidden = entry.file_name().to_string_lossy().starts_with('.');
            match () {
                () if hidden => {}
                () if kind.is_dir() => open.push(path),
                () if may_be_log(&path) => paths.push(path),
                () => {}
            }
        }
    }
    paths.sort();
    Ok(paths.into_iter().map(|path| Job { path, machine: None, facts: VisitFacts::default() }).collect())
}

/// By its ending; visits of a book are none.
fn may_be_log(path: &Path) -> bool {
    let name = path.file_name().map(|n| n.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    let bare = name.strip_suffix(".gz").or_else(|| name.strip_suffix(".zst")).unwrap_or(&name);
    let ending = bare.rsplit_once('.').map_or("", |(_, e)| e);
    let of_a_book = path.components().any(|c| c.as_os_str().to_string_lossy().starts_with("machine="));
    ENDINGS.contains(&ending) && !of_a_book
}

fn listed(list: &Path) -> Result<Jobs, Failure> {
    let text = fs::read_to_string(list).map_err(|e| Failure::file(list, e))?;
    let name = list.to_string_lossy();
    let rows = parse_list(&name, &text).map_err(|e| Failure::file(list, e))?;
    let beside = list.parent().unwrap_or_else(|| Path::new(""));
    let mut found = Jobs::default();
    for row in rows {
        match row {
            Ok(r) => {
                found.jobs.push(Job { path: beside.join(&r.path), machine: r.machine, facts: r.facts });
            }
            Err(e) => found.failed.push(Failed { path: name.clone().into_owned(), reason: e.to_string() }),
        }
    }
    Ok(found)
}

/// Takes files with the same bytes once. Only files of equal size can be equal, so that only those are hashed here.
fn once(found: &mut Jobs) {
    let mut by_size: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    for (i, job) in found.jobs.iter().enumerate() {
        if let Ok(facts) = fs::metadata(&job.path) {
            by_size.entry(facts.len()).or_default().push(i);
        }
    }
    let mut out = Vec::new();
    for same_size in by_size.into_values().filter(|s| s.len() > 1) {
        let mut first: BTreeMap<String, usize> = BTreeMap::new();
        for i in same_size {
            let Ok(key) = key_of(&found.jobs[i].path) else { continue };
            let Some(&f) = first.get(&key) else {
                first.insert(key, i);
                continue;
            };
            out.push(i);
            let (a, b) = (&found.jobs[f], &found.jobs[i]);
            if (&a.machine, &a.facts) == (&b.machine, &b.facts) {
                found.twice += 1;
            } else {
                let reason =
                    format!("the same recording as {}, with other facts in the list", a.path.display());
                found.failed.push(Failed { path: b.path.display().to_string(), reason });
            }
        }
    }
    let mut at = 0;
    found.jobs.retain(|_| {
        at += 1;
        !out.contains(&(at - 1))
    });
}
