//! Adding a visit: temporary name in the same folder, flush, rename without replacing, flush the folder.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use evenpull_core::visits::Visit;
use evenpull_core::visits::calendar::day_number;
use sha2::{Digest, Sha256};

use crate::Book;
use crate::error::BookError;
use crate::frame::{from_parquet, to_parquet};
use crate::names::{date_folder, machine_folder};
use crate::record::{Added, Record};
use crate::shelf::Shelf;

/// How often a name that another program took meanwhile is tried again.
const TRIES: usize = 5;

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
        let folder = self.book().folder_of(visit)?;
        check_key(visit)?;
        let visit = &as_kept(visit)?;
        for _ in 0..TRIES {
            if let Some(added) = self.try_add(visit, &folder)? {
                return Ok(added);
            }
            self.refresh()?;
        }
        let cause = io::Error::from(io::ErrorKind::AlreadyExists);
        Err(BookError::Io { path: folder, doing: "other programs keep adding this recording", cause })
    }

    /// One try; `None` if another program wrote the same name meanwhile.
    fn try_add(&self, visit: &Visit, folder: &Path) -> Result<Option<Added>, BookError> {
        let there = self.of_recording(&visit.key)?;
        if let Some((path, _)) = there.iter().find(|(_, r)| same(&r.visit, visit)) {
            return Ok(Some(Added::AlreadyThere { path: path.clone() }));
        }
        let supersedes: Vec<String> = there.into_iter().map(|(_, r)| r.name).collect();
        let short = &visit.key[..12];
        let mut record =
            Record { name: format!("visit-{short}"), supersedes: supersedes.clone(), visit: visit.clone() };
        if !supersedes.is_empty() {
            record.name = format!("visit-{short}-{}", fingerprint(&record)?);
        }
        let path = folder.join(format!("{}.parquet", record.name));
        make_folders(self.book().root(), folder)?;
        if !place(folder, &path, &to_parquet(&record)?)? {
            return Ok(None);
        }
        self.remember(&visit.key, &path);
        Ok(Some(if supersedes.is_empty() {
            Added::Stored { path }
        } else {
            Added::Corrected { path, supersedes }
        }))
    }
}

/// The visit as a reader of its file will see it (no empty text, no figure that is not finite), which also proves that
/// the file can be read before it is written.
fn as_kept(visit: &Visit) -> Result<Visit, BookError> {
    let record = Record { name: "visit".to_owned(), supersedes: Vec::new(), visit: visit.clone() };
    Ok(from_parquet(Path::new(&visit.source), &to_parquet(&record)?)?.visit)
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

/// Makes a folder below the root and flushes every folder that got a new entry.
fn make_folders(root: &Path, folder: &Path) -> Result<(), BookError> {
    if folder.is_dir() {
        return Ok(());
    }
    fs::create_dir_all(folder).map_err(BookError::io(folder, "cannot be made"))?;
    let mut at = folder.parent();
    while let Some(parent) = at {
        flush_folder(parent)?;
        if parent == root {
            break;
        }
        at = parent.parent();
    }
    if let Some(above) = root.parent().filter(|p| !p.as_os_str().is_empty()) {
        // The folder above the book may be one that this person cannot open; that is no reason to fail.
        let _ = flush_folder(above);
    }
    Ok(())
}

/// Writes a whole file under a temporary name and renames it; false if the name is taken.
fn place(folder: &Path, path: &Path, bytes: &[u8]) -> Result<bool, BookError> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".visit-").suffix(".tmp");
    #[cfg(unix)]
    let permissions = std::os::unix::fs::PermissionsExt::from_mode(0o666);
    #[cfg(unix)]
    builder.permissions(permissions);
    let mut file = builder.tempfile_in(folder).map_err(BookError::io(folder, "cannot be written to"))?;
    let written = file.write_all(bytes).and_then(|()| file.as_file().sync_all());
    written.map_err(BookError::io(path, "cannot be written"))?;
    match file.persist_noclobber(path) {
        Ok(_) => {}
        Err(e) if e.error.kind() == io::ErrorKind::AlreadyExists => return Ok(false),
        Err(e) => return Err(BookError::io(path, "cannot be given its name")(e.error)),
    }
    flush_folder(folder)?;
    Ok(true)
}

/// Flushes the list of names of a folder. Windows has no such call and does it with the file.
fn flush_folder(folder: &Path) -> Result<(), BookError> {
    if cfg!(unix) {
        File::open(folder).and_then(|f| f.sync_all()).map_err(BookError::io(folder, "cannot be flushed"))?;
    }
    Ok(())
}
