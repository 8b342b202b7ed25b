//! How a run ends, and the written contract of the exit codes.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use crate::safe_text::one_line;

/// A run that was carried out to its end, or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// Done: exit code 0.
    Done,
    /// Done, and the verdict is one that `--fail-on` names: exit code 1.
    Findings,
    /// Something failed; a line on standard error says what: exit code 2, as for wrong usage.
    Failed,
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        Self::from(match outcome {
            Outcome::Done => 0,
            Outcome::Findings => 1,
            Outcome::Failed => 2,
        })
    }
}

/// Any cause, from any crate.
type Cause = Box<dyn Error + Send + Sync>;

/// Why a run failed. The text reads `path: error`, or the error alone where no file is to blame.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub(crate) enum Failure {
    /// A file could not be read, understood or written.
    #[error("{}: {cause}", one_line(&path.to_string_lossy()))]
    File {
        /// The file as it was given.
        path: PathBuf,
        /// What went wrong.
        #[source]
        cause: Cause,
    },
    /// The arguments are well-formed and make no sense.
    #[error("{what}")]
    Usage {
        /// What makes no sense and what would.
        what: String,
    },
    /// Standard output does not take the text.
    #[error("standard output: {cause}")]
    Output {
        /// What went wrong.
        #[source]
        cause: std::io::Error,
    },
    /// A result could not be turned into a page or JSON.
    #[error("{cause}")]
    Result {
        /// What went wrong.
        #[source]
        cause: Cause,
    },
}

impl Failure {
    /// A failure about a file.
    pub(crate) fn file(path: &Path, cause: impl Into<Cause>) -> Self {
        Self::File { path: path.to_owned(), cause: cause.into() }
    }

    /// Arguments that make no sense.
    pub(crate) fn usage(what: impl Into<String>) -> Self {
        Self::Usage { what: what.into() }
    }

    /// A result that cannot be written down.
    pub(crate) fn result(cause: impl Into<Cause>) -> Self {
        Self::Result { cause: cause.into() }
    }
}
