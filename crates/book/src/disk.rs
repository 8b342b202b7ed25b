//! Files and folders that survive an accident: a temporary name, a flush, a name that replaces nothing.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::error::BookError;

/// Makes a folder below the root and adds to `changed` every folder that got a new entry by it.
pub(crate) fn make_folders(
    root: &Path,
    folder: &Path,
    changed: &mut BTreeSet<PathBuf>,
) -> Result<(), BookError> {
    if folder.is_dir() {
        return Ok(());
    }
    fs::create_dir_all(folder).map_err(BookError::io(folder, "cannot be made"))?;
    for parent in folder.ancestors().skip(1) {
        changed.insert(parent.to_owned());
        if parent == root {
            break;
        }
    }
    if let Some(above) = root.parent().filter(|p| !p.as_os_str().is_empty()) {
        // The folder above the book may be one that this person cannot open; that is no reason to fail.
        let _ = flush_folder(above);
    }
    Ok(())
}

/// Writes a whole file under a temporary name in the folder. It goes when it is dropped.
pub(crate) fn write_temporary(folder: &Path, path: &Path, bytes: &[u8]) -> Result<NamedTempFile, BookError> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".visit-").suffix(".tmp");
    #[cfg(unix)]
    let permissions = std::os::unix::fs::PermissionsExt::from_mode(0o666);
    #[cfg(unix)]
    builder.permissions(permissions);
    let mut file = builder.tempfile_in(folder).map_err(BookError::io(folder, "cannot be written to"))?;
    file.write_all(bytes).map_err(BookError::io(path, "cannot be written"))?;
    Ok(file)
}

/// Flushes a temporary file and gives it its name; false if the name is taken.
pub(crate) fn name_it(file: NamedTempFile, path: &Path) -> Result<bool, BookError> {
    file.as_file().sync_all().map_err(BookError::io(path, "cannot be written"))?;
    match file.persist_noclobber(path) {
        Ok(_) => Ok(true),
        Err(e) if e.error.kind() == io::ErrorKind::AlreadyExists => Ok(false),
        Err(e) => Err(BookError::io(path, "cannot be given its name")(e.error)),
    }
}

/// Flushes the list of names of a folder. Windows has no such call and does it with the file.
pub(crate) fn flush_folder(folder: &Path) -> Result<(), BookError> {
    if cfg!(unix) {
        File::open(folder).and_then(|f| f.sync_all()).map_err(BookError::io(folder, "cannot be flushed"))?;
    }
    Ok(())
}
