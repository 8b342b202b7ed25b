//! The book: visits kept as Parquet files, one immutable file per visit.
//!
//! ```text
//! book/
//!   machine=HS-03/
//!     date=2025-04-10/
//!       visit-0f3a9c1d2b4e.parquet            first 12 hex digits of the recording's SHA-256
//!       visit-0f3a9c1d2b4e-77aa01c9.parquet   a correction of it: names in `supersedes` what it replaces
//! ```
//!
//! * Files are written under a temporary name in their own folder, flushed to the disk and renamed without replacing
//!   anything; then the folder is flushed. Whatever happens to the program, a name ending in `.parquet` is whole, and
//!   stray temporary files are ignored. Nothing is ever changed or deleted.
//! * Two programs may add at the same time; the same recording is recognised by its hash.
//! * One row per cylinder with the columns of the visit repeated: polars, duckdb and pandas read the folder as it is.
//!   The folder columns `machine` and `date` are text for reading machines; `machine_id` and `visit_date` inside the
//!   files are the same facts.
//!
//! Nothing is computed here.

mod columns;
mod disk;
mod error;
mod frame;
pub mod names;
mod ranking;
mod read;
mod record;
mod shelf;
mod write;

use std::path::{Path, PathBuf};

pub use columns::COLUMNS;
pub use error::BookError;
pub use ranking::{ranking_csv, ranking_parquet};
pub use read::{Contents, Problem};
pub use record::{Added, Record};
pub use shelf::{Shelf, key_of};

/// A folder of visits. Making one touches nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Book {
    root: PathBuf,
}

impl Book {
    /// The book in a folder; the folder is made when the first visit is added.
    #[must_use]
    pub fn at(root: impl Into<PathBuf>) -> Self {
        Self { root: root.into() }
    }

    /// Its folder.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }
}
