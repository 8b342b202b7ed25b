//! Reading a book: which files there are, which of them still hold, and what cannot be read.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use evenpull_core::visits::Visit;

use crate::Book;
use crate::error::BookError;
use crate::frame::from_parquet;
use crate::names::{machine_folder, short_key, unescape};
use crate::record::Record;

/// A file of the book, by name only.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Entry {
    /// Partition value of its machine folder.
    pub(crate) folder: String,
    /// Recording's part of the name.
    pub(crate) key: String,
    /// The file.
    pub(crate) path: PathBuf,
}

/// Something that is not as it should be, and that did not keep the rest from being read.
#[derive(Debug)]
pub struct Problem {
    /// The file.
    pub path: PathBuf,
    /// What is wrong.
    pub error: BookError,
}

/// Visits that hold, and what could not be read.
#[derive(Debug, Default)]
pub struct Contents {
    /// Visits by machine, then sorted by date, hours and distance.
    pub visits: Vec<Visit>,
    /// Files that could not be read, in order of their paths.
    pub problems: Vec<Problem>,
    /// Records that a correction replaced.
    pub superseded: usize,
}

impl Book {
    /// All visits of a machine that hold, sorted by date.
    ///
    /// # Errors
    /// [`BookError::NoBook`] if the folder does not exist, [`BookError::Io`] if it cannot be listed. A single file that
    /// cannot be read is a [`Problem`].
    pub fn visits(&self, machine: &str) -> Result<Contents, BookError> {
        let folder = machine_folder(machine)?;
        let entries = self.entries()?;
        let own: BTreeSet<&str> = entries
            .iter()
            .filter(|e| e.folder.eq_ignore_ascii_case(&folder))
            .map(|e| e.key.as_str())
            .collect();
        let related: Vec<&Entry> = entries.iter().filter(|e| own.contains(e.key.as_str())).collect();
        let mut contents = contents(&related);
        contents.visits.retain(|v| v.machine == machine);
        Ok(contents)
    }

    /// All visits that hold, of all machines.
    ///
    /// # Errors
    /// As [`Book::visits`].
    pub fn all(&self) -> Result<Contents, BookError> {
        let entries = self.entries()?;
        Ok(contents(&entries.iter().collect::<Vec<_>>()))
    }

    /// Machine ids that the book has folders for, sorted.
    ///
    /// # Errors
    /// As [`Book::visits`].
    pub fn machines(&self) -> Result<Vec<String>, BookError> {
        let folders: BTreeSet<String> = self.entries()?.into_iter().map(|e| e.folder).collect();
        let value = |f: &String| f.strip_prefix("machine=").and_then(unescape);
        Ok(folders.iter().filter_map(value).collect())
    }

    /// Every visit file, sorted by path. Other files and folders are none of the book's business.
    pub(crate) fn entries(&self) -> Result<Vec<Entry>, BookError> {
        if !self.root().is_dir() {
            return Err(BookError::NoBook { path: self.root().to_owned() });
        }
        let mut entries = Vec::new();
        for (folder, machine) in list(self.root(), "machine=")? {
            for (_, date) in list(&machine, "date=")? {
                for (name, path) in list(&date, "visit-")? {
                    if let Some(key) = short_key(&name) {
                        entries.push(Entry { folder: folder.clone(), key: key.to_owned(), path });
                    }
                }
            }
        }
        entries.sort_by(|a, b| a.path.cmp(&b.path));
        Ok(entries)
    }
}

/// Names with a prefix and their paths. A folder that vanished meanwhile is empty.
fn list(folder: &Path, prefix: &str) -> Result<Vec<(String, PathBuf)>, BookError> {
    let listing = match fs::read_dir(folder) {
        Ok(listing) => listing,
        Err(e) if matches!(e.kind(), std::io::ErrorKind::NotFound | std::io::ErrorKind::NotADirectory) => {
            return Ok(Vec::new());
        }
        Err(e) => return Err(BookError::io(folder, "cannot be listed")(e)),
    };
    let mut found = Vec::new();
    for entry in listing {
        let entry = entry.map_err(BookError::io(folder, "cannot be listed"))?;
        if let Some(name) = entry.file_name().to_str().filter(|n| n.starts_with(prefix)) {
            found.push((name.to_owned(), entry.path()));
        }
    }
    Ok(found)
}

/// Reads one file.
pub(crate) fn read(path: &Path) -> Result<Record, BookError> {
    let bytes = fs::read(path).map_err(BookError::io(path, "cannot be read"))?;
    from_parquet(path, &bytes)
}

/// The records of some files that hold. Of several that hold for one recording (two corrections at the same moment)
/// the one with the greatest name counts, so that every reader sees the same.
fn contents(entries: &[&Entry]) -> Contents {
    let mut contents = Contents::default();
    let mut by_key: BTreeMap<String, Vec<(PathBuf, Record)>> = BTreeMap::new();
    for entry in entries {
        match read(&entry.path) {
            Ok(r) => by_key.entry(r.visit.key.clone()).or_default().push((entry.path.clone(), r)),
            Err(error) => contents.problems.push(Problem { path: entry.path.clone(), error }),
        }
    }
    for (_, records) in by_key {
        let replaced: BTreeSet<&String> = records.iter().flat_map(|(_, r)| &r.supersedes).collect();
        let newest = records
            .iter()
            .filter(|(_, r)| !replaced.contains(&r.name))
            .max_by(|a, b| (&a.1.name, &a.0).cmp(&(&b.1.name, &b.0)));
        contents.superseded += records.len() - usize::from(newest.is_some());
        contents.visits.extend(newest.map(|(_, r)| r.visit.clone()));
    }
    contents.visits.sort_by(|a, b| (&a.machine, a.order()).cmp(&(&b.machine, b.order())));
    contents
}
