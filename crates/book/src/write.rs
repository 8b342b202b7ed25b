//! Adding a visit: temporary name in the same folder, flush, rename without replacing, flush the folder.
//!
//! One by one ([`Book::add`], [`Shelf::add`]), or many with their flushes taken together ([`Shelf::add_later`]): the
//! first flush of a batch takes the rest of it along, which makes thousands of visits several times as fast. Until a
//! batch is finished its visits have temporary names; an accident loses them and nothing else.

use std::collections::BTreeSet;
use std::io;
use std::path::{Path, PathBuf};

use evenpull_core::visits::Visit;
use evenpull_core::visits::calendar::day_number;
use sha2::{Digest, Sha256};

use crate::Book;
use crate::disk::{flush_folder, make_folders, name_it, write_temporary};
use crate::error::BookError;
use crate::frame::{from_parquet, to_parquet};
use crate::names::{date_folder, machine_folder};
use crate::record::{Added, Record};
use crate::shelf::{Pending, Shelf};

/// How often a name that another program took meanwhile is tried again.
const TRIES: usize = 5;

/// Visits of one batch.
const BATCH: usize = 64;

/// What a visit would come to.
enum Planned {
    /// Nothing to write.
    There(PathBuf),
    /// A file to write.
    New { path: PathBuf, bytes: Vec<u8>, supersedes: Vec<String> },
}

impl Book {
    /// Adds a visit.
    ///
    /// The same recording with the same machine, facts and figures is left as it is. With others it is kept as a
    /// correction that supersedes what was there.
    ///
    /// # Errors
    /// [`BookError::NoDate`], [`BookError::BadId`] and [`BookError::BadKey`] for a visit that has no place in a book;
    /// [`BookError::Io`] if the file system refuses (no permission, disk full), in which case the book is as before.
    pub fn add(&self, visit: &Visit) -> Result<Added, BookError> {
        self.shelf()?.add(visit)
    }

    fn folder_of(&self, visit: &Visit) -> Result<PathBuf, BookError> {
        let date = visit.facts.date.as_deref().filter(|d| day_number(d).is_some()).ok_or_else(|| {
            let found = visit.facts.date.clone().unwrap_or_else(|| "none".to_owned());
            BookError::NoDate { what: visit.source.clone(), found }
        })?;
        Ok(self.root().join(machine_folder(&visit.machine)?).join(date_folder(date)))
    }
}

impl Shelf<'_> {
    /// As [`Book::add`].
    ///
    /// # Errors
    /// As [`Book::add`].
    pub fn add(&self, visit: &Visit) -> Result<Added, BookError> {
        for _ in 0..TRIES {
            match self.plan(visit)? {
                Planned::There(path) => return Ok(Added::AlreadyThere { path }),
                Planned::New { path, bytes, supersedes } => {
                    let mut changed = BTreeSet::new();
                    let folder = self.ready(&path, &mut changed)?;
                    if name_it(write_temporary(&folder, &path, &bytes)?, &path)? {
                        changed.insert(folder);
                        changed.iter().try_for_each(|f| flush_folder(f))?;
                        self.remember(&visit.key, &path);
                        return Ok(match supersedes.is_empty() {
                            true => Added::Stored { path },
                            false => Added::Corrected { path, supersedes },
                        });
                    }
                }
            }
            self.refresh()?;
        }
        let cause = io::Error::from(io::ErrorKind::AlreadyExists);
        let path = self.book().root().to_owned();
        Err(BookError::Io { path, doing: "other programs keep adding this recording", cause })
    }

    /// As [`Shelf::add`], but flushed and named together with others: at the latest by [`Shelf::finish`].
    ///
    /// # Errors
    /// As [`Shelf::add`]; also for an earlier visit of the batch.
    pub fn add_later(&self, visit: &Visit) -> Result<(), BookError> {
        if let Planned::New { path, bytes, .. } = self.plan(visit)? {
            let mut changed = BTreeSet::new();
            let folder = self.ready(&path, &mut changed)?;
            let file = write_temporary(&folder, &path, &bytes)?;
            changed.insert(folder);
            if self.wait(Pending { file, path, visit: visit.clone(), changed }) >= BATCH {
                self.finish()?;
            }
        }
        Ok(())
    }

    /// Flushes and names every visit that waits.
    ///
    /// # Errors
    /// As [`Shelf::add`]; visits after the failed one are lost, as after an accident.
    pub fn finish(&self) -> Result<(), BookError> {
        let mut changed = BTreeSet::new();
        for pending in self.take_waiting() {
            if name_it(pending.file, &pending.path)? {
                self.remember(&pending.visit.key, &pending.path);
                changed.extend(pending.changed);
            } else {
                self.refresh()?;
                self.add(&pending.visit)?;
            }
        }
        changed.iter().try_for_each(|f| flush_folder(f))
    }

    fn ready(&self, path: &Path, changed: &mut BTreeSet<PathBuf>) -> Result<PathBuf, BookError> {
        let folder = path.parent().unwrap_or_else(|| Path::new("")).to_owned();
        make_folders(self.book().root(), &folder, changed)?;
        Ok(folder)
    }

    /// Where the visit goes, what it replaces, and its bytes. They are read back before they are written, which takes
    /// out what no file keeps (empty text, figures that are not finite).
    fn plan(&self, visit: &Visit) -> Result<Planned, BookError> {
        let folder = self.book().folder_of(visit)?;
        check_key(visit)?;
        let file = |name: &str| folder.join(format!("{name}.parquet"));
        let name = format!("visit-{}", &visit.key[..12]);
        let mut record = Record { name, supersedes: Vec::new(), visit: visit.clone() };
        let bytes = to_parquet(&record)?;
        record.visit = from_parquet(&file(&record.name), &bytes)?.visit;
        let there = self.of_recording(&visit.key)?;
        if let Some((path, _)) = there.iter().find(|(_, r)| same(&r.visit, &record.visit)) {
            return Ok(Planned::There(path.clone()));
        }
        if there.is_empty() {
            return Ok(Planned::New { path: file(&record.name), bytes, supersedes: Vec::new() });
        }
        record.supersedes = there.into_iter().map(|(_, r)| r.name).collect();
        record.name = format!("{}-{}", record.name, fingerprint(&record)?);
        let bytes = to_parquet(&record)?;
        Ok(Planned::New { path: file(&record.name), bytes, supersedes: record.supersedes })
    }
}

/// Equal but for the name under which the recording lay on the disk.
fn same(a: &Visit, b: &Visit) -> bool {
    a == &Visit { source: a.source.clone(), ..b.clone() }
}

fn check_key(visit: &Visit) -> Result<(), BookError> {
    let hex = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
    if visit.key.len() == 64 && visit.key.bytes().all(hex) {
        Ok(())
    } else {
        Err(BookError::BadKey { what: visit.source.clone() })
    }
}

/// Eight hex digits that tell corrections of one recording apart.
fn fingerprint(record: &Record) -> Result<String, BookError> {
    let bytes = serde_json::to_vec(&(&record.supersedes, &record.visit))
        .map_err(|e| BookError::Table { why: e.to_string() })?;
    Ok(Sha256::digest(bytes).iter().take(4).map(|b| format!("{b:02x}")).collect())
}
