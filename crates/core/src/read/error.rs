//! What stops a file from being read at all. Everything smaller is a notice in the recording.

/// A file that cannot be read. Lines and columns count from 1, columns in characters.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// The operating system does not hand the bytes over.
    #[error("{name}: cannot be opened: {reason}")]
    Open {
        /// The file's name.
        name: String,
        /// What the system says.
        reason: String,
    },
    /// The content is not what a recording looks like.
    #[error("{name}: found {found}, expected {expected}; {advice}")]
    Content {
        /// The file's name.
        name: String,
        /// What is there.
        found: String,
        /// What should be there.
        expected: String,
        /// What to do.
        advice: String,
    },
    /// The same, at a place in the text.
    #[error("{name}:{line}:{column}: found {found}, expected {expected}; {advice}")]
    Placed {
        /// The file's name.
        name: String,
        /// Line.
        line: u64,
        /// Column.
        column: u64,
        /// What is there.
        found: String,
        /// What should be there.
        expected: String,
        /// What to do.
        advice: String,
    },
}

/// An error before its file is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Trouble {
    pub(crate) place: Option<(u64, u64)>,
    pub(crate) found: String,
    pub(crate) expected: String,
    pub(crate) advice: String,
}

impl Trouble {
    pub(crate) fn new(
        found: impl Into<String>,
        expected: impl Into<String>,
        advice: impl Into<String>,
    ) -> Self {
        Self { place: None, found: found.into(), expected: expected.into(), advice: advice.into() }
    }

    pub(crate) fn at(mut self, line: u64, column: u64) -> Self {
        self.place = Some((line, column));
        self
    }

    pub(crate) fn in_file(self, name: &str) -> ReadError {
        let name = plain(name, 200);
        let Self { place, found, expected, advice } = self;
        match place {
            Some((line, column)) => ReadError::Placed { name, line, column, found, expected, advice },
            None => ReadError::Content { name, found, expected, advice },
        }
    }
}

/// Text from a file made safe to print: no control characters, at most `most` characters.
///
/// Bidirectional marks and other invisible formatting characters are dropped too: they can make a terminal show
/// something else than what is there.
pub(crate) fn plain(text: &str, most: usize) -> String {
    let hidden = |c: char| {
        c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
    };
    let mut out = String::new();
    for (count, ch) in text.chars().enumerate() {
        if count == most {
            out.push_str("...");
            break;
        }
        match ch {
            '\t' => out.push(' '),
            c if hidden(c) => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

/// A cell of a file in quotes, short and safe to print.
pub(crate) fn quoted(text: &str) -> String {
    if text.trim().is_empty() { "an empty cell".to_owned() } else { format!("`{}`", plain(text.trim(), 40)) }
}

/// A number of things: `1 field`, `3 fields`.
pub(crate) fn counted(count: usize, thing: &str) -> String {
    if count == 1 { format!("1 {thing}") } else { format!("{count} {thing}s") }
}
