//! Why a book could not be read or written.

use std::io;
use std::path::{Path, PathBuf};

/// Reasons, each with the file or folder it is about.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BookError {
    /// The file system refused: no permission, no space, gone.
    #[error("{}: {doing}: {cause}", path.display())]
    Io {
        /// File or folder.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// What the system said.
        #[source]
        cause: io::Error,
    },
    /// No book in that place.
    #[error("{}: no book here: the folder does not exist", path.display())]
    NoBook {
        /// The folder.
        path: PathBuf,
    },
    /// A file of the book cannot be understood.
    #[error("{}: not a visit of this book: {why}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// A visit without a date has no place in a book.
    #[error("{what}: a visit in a book needs a date, found {found}")]
    NoDate {
        /// The recording's name.
        what: String,
        /// What stands in its place.
        found: String,
    },
    /// A machine id that cannot be kept.
    #[error("machine id {id:?}: {why}")]
    BadId {
        /// The id.
        id: String,
        /// What is wrong with it.
        why: &'static str,
    },
    /// A recording key that is no SHA-256.
    #[error("{what}: the recording's key is no SHA-256 in hex")]
    BadKey {
        /// The recording's name.
        what: String,
    },
    /// The table could not be made.
    #[error("the visit could not be turned into a table: {why}")]
    Table {
        /// What the table library said.
        why: String,
    },
}

impl BookError {
    /// An error of the file system.
    pub(crate) fn io(path: &Path, doing: &'static str) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |cause| Self::Io { path, doing, cause }
    }
}
