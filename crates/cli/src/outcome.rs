//! How a run ends, and the written contract of the exit codes.

use std::error::Error;
use std::path::Path;
use std::process::ExitCode;

use evenpull_core::safe_text::one_line;

/// A run that was carried out to its end, or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// Done: exit code 0.
    Done,
    /// Done, and the verdict is one that `--fail-on` names, or a report differs from its log: exit code 1.
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
    #[error("{text}")]
    File {
        /// `path: error`, with line and column behind the path where they are known.
        text: String,
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
    /// A failure about a file, with the path as the person gave it. A cause that starts with the file's own name
    /// has the path put in its place: `logs/a.csv:7:3: found ...`.
    pub(crate) fn file(path: &Path, cause: impl Into<Cause>) -> Self {
        let cause = cause.into().to_string();
        let own_name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let shown = one_line(&path.to_string_lossy());
        let starts =
            |name: &str| cause.strip_prefix(name).filter(|rest| !name.is_empty() && rest.starts_with(':'));
        let text = match starts(&path.to_string_lossy()).or_else(|| starts(&own_name)) {
            Some(rest) => format!("{shown}{rest}"),
            None => format!("{shown}: {cause}"),
        };
        Self::File { text }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failure_names_the_path_once_and_keeps_the_place_in_the_file() {
        let text = |path: &str, cause: &str| Failure::file(Path::new(path), cause).to_string();
        assert_eq!(text("logs/a.csv", "cannot be read"), "logs/a.csv: cannot be read");
        assert_eq!(text("logs/a.csv", "a.csv:7:3: found x"), "logs/a.csv:7:3: found x");
        assert_eq!(text("logs/a.csv", "logs/a.csv: gone"), "logs/a.csv: gone");
        assert_eq!(text("a", "a word"), "a: a word");
        assert_eq!(text("x\n\u{1b}", "gone"), "x<U+000A><U+001B>: gone");
    }
}
