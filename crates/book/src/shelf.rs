//! The names of a book kept in mind, so that many visits can be added without listing every folder each time.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use evenpull_core::visits::Visit;
use sha2::{Digest, Sha256};
use tempfile::NamedTempFile;

use crate::Book;
use crate::error::BookError;
use crate::read::read;
use crate::record::Record;

/// Files of a book by the recording's part of their names. Several threads may use it at once; what other programs
/// add meanwhile is noticed when a name is taken.
#[derive(Debug)]
pub struct Shelf<'a> {
    book: &'a Book,
    files: Mutex<BTreeMap<String, Vec<PathBuf>>>,
    waiting: Mutex<Vec<Pending>>,
}

/// A visit that is written and waits for its name.
#[derive(Debug)]
pub(crate) struct Pending {
    /// Its file under a temporary name.
    pub(crate) file: NamedTempFile,
    /// Its name.
    pub(crate) path: PathBuf,
    /// The visit, in case another program takes the name meanwhile.
    pub(crate) visit: Visit,
    /// Folders to be flushed after it has its name.
    pub(crate) changed: BTreeSet<PathBuf>,
}

impl Book {
    /// Lists the names of all files once.
    ///
    /// # Errors
    /// [`BookError::Io`] if a folder cannot be listed. A folder that does not exist is an empty book.
    pub fn shelf(&self) -> Result<Shelf<'_>, BookError> {
        let shelf = Shelf { book: self, files: Mutex::default(), waiting: Mutex::default() };
        shelf.refresh()?;
        Ok(shelf)
    }
}

impl Shelf<'_> {
    pub(crate) fn book(&self) -> &Book {
        self.book
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<String, Vec<PathBuf>>> {
        self.files.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn refresh(&self) -> Result<(), BookError> {
        let mut found: BTreeMap<String, Vec<PathBuf>> = BTreeMap::new();
        if self.book.root().exists() {
            for entry in self.book.entries()? {
                found.entry(entry.key).or_default().push(entry.path);
            }
        }
        *self.lock() = found;
        Ok(())
    }

    /// Puts a visit to those that wait and says how many they are.
    pub(crate) fn wait(&self, pending: Pending) -> usize {
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        waiting.push(pending);
        waiting.len()
    }

    pub(crate) fn take_waiting(&self) -> Vec<Pending> {
        std::mem::take(&mut *self.waiting.lock().unwrap_or_else(PoisonError::into_inner))
    }

    pub(crate) fn remember(&self, key: &str, path: &Path) {
        self.lock().entry(key[..12].to_owned()).or_default().push(path.to_owned());
    }

    /// The record of a recording that holds, by its SHA-256; `None` if the book has none.
    ///
    /// # Errors
    /// [`BookError`] if a file with that name cannot be read.
    pub fn find(&self, key: &str) -> Result<Option<Record>, BookError> {
        Ok(self.of_recording(key)?.into_iter().map(|(_, r)| r).max_by(|a, b| a.name.cmp(&b.name)))
    }

    /// Records of a recording that hold, with their files.
    pub(crate) fn of_recording(&self, key: &str) -> Result<Vec<(PathBuf, Record)>, BookError> {
        let short = key.get(..12).unwrap_or(key);
        let paths = self.lock().get(short).cloned().unwrap_or_default();
        let mut records = Vec::new();
        for path in paths {
            let record = read(&path)?;
            if record.visit.key == key {
                records.push((path, record));
            }
        }
        let replaced: BTreeSet<String> = records.iter().flat_map(|(_, r)| r.supersedes.clone()).collect();
        records.retain(|(_, r)| !replaced.contains(&r.name));
        Ok(records)
    }
}

/// SHA-256 of a file's bytes, hex: the key of its recording.
///
/// # Errors
/// The file system's, if the file cannot be read.
pub fn key_of(path: &Path) -> io::Result<String> {
    let mut hash = Sha256::new();
    let mut file = File::open(path)?;
    let mut block = vec![0; 1 << 16];
    loop {
        let n = file.read(&mut block)?;
        if n == 0 {
            return Ok(hash.finalize().iter().map(|b| format!("{b:02x}")).collect());
        }
        hash.update(&block[..n]);
    }
}
