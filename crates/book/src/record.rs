//! One visit as it stands in the book.

use std::path::PathBuf;

use evenpull_core::visits::Visit;

/// A file of the book, understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// Its name: the file's stem, `visit-...`.
    pub name: String,
    /// Names of the records that it replaces.
    pub supersedes: Vec<String>,
    /// The visit.
    pub visit: Visit,
}

/// What adding a visit came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Added {
    /// A new visit.
    Stored {
        /// Its file.
        path: PathBuf,
    },
    /// The same recording with the same facts and figures is there already; nothing was written.
    AlreadyThere {
        /// Its file.
        path: PathBuf,
    },
    /// The recording was there with other facts or figures; those are superseded, not deleted.
    Corrected {
        /// The new file.
        path: PathBuf,
        /// Names of the records it supersedes.
        supersedes: Vec<String>,
    },
}

impl Added {
    /// The file that holds the visit.
    #[must_use]
    pub fn path(&self) -> &std::path::Path {
        match self {
            Self::Stored { path } | Self::AlreadyThere { path } | Self::Corrected { path, .. } => path,
        }
    }
}
