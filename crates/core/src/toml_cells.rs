//! Machine and visit files, one value at a time: its type, its range, and an error that says where it stands.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A machine or visit file that cannot be used. Lines and columns count from 1, columns in characters.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum TomlError {
    /// Not TOML.
    #[error("{name}:{line}:{column}: {message}")]
    Syntax {
        /// The file's name.
        name: String,
        /// Line.
        line: usize,
        /// Column.
        column: usize,
        /// What the TOML parser says.
        message: String,
    },
    /// A key that no such file has.
    #[error("{name}:{line}:{column}: found the key `{found}`, expected one of: {allowed}")]
    UnknownKey {
        /// The file's name.
        name: String,
        /// Line.
        line: usize,
        /// Column.
        column: usize,
        /// The key.
        found: String,
        /// The keys that are allowed there.
        allowed: String,
    },
    /// A value of the wrong type or out of its range.
    #[error("{name}:{line}:{column}: `{key}`: found {found}, expected {expected}")]
    BadValue {
        /// The file's name.
        name: String,
        /// Line.
        line: usize,
        /// Column.
        column: usize,
        /// The key.
        key: String,
        /// The value as it stands.
        found: String,
        /// What is allowed.
        expected: String,
    },
}

/// The text being read, for places in errors.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place<'a> {
    pub(crate) name: &'a str,
    pub(crate) text: &'a str,
}

/// A key with its value.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cell<'a> {
    pub(crate) place: Place<'a>,
    pub(crate) key: &'a str,
    pub(crate) value: &'a Spanned<DeValue<'a>>,
}

impl<'a> Place<'a> {
    /// A file's text, without a mark of byte order.
    pub(crate) fn new(name: &'a str, text: &'a str) -> Self {
        Self { name, text: text.strip_prefix('\u{feff}').unwrap_or(text) }
    }

    /// The file as a table.
    pub(crate) fn root(self) -> Result<Spanned<DeTable<'a>>, TomlError> {
        DeTable::parse(self.text).map_err(|error| {
            let (line, column) = self.of(error.span().map_or(0, |span| span.start));
            let message = error.message().replace('\n', ", ");
            TomlError::Syntax { name: self.name.to_owned(), line, column, message }
        })
    }

    /// The cells of a table in file order, so that the first mistake is the one that is named.
    pub(crate) fn cells(
        self,
        table: &'a DeTable<'a>,
        allowed: &[&'a str],
    ) -> Result<Vec<Cell<'a>>, TomlError> {
        let mut entries: Vec<_> = table.iter().collect();
        entries.sort_by_key(|(key, _)| key.span().start);
        entries
            .into_iter()
            .map(|(key, value)| match allowed.iter().find(|name| **name == key.get_ref().as_ref()) {
                Some(known) => Ok(Cell::new(self, known, value)),
                None => Err(self.unknown_key(key.span().start, key.get_ref(), allowed)),
            })
            .collect()
    }

    /// Line and column of a byte offset, both from 1, columns in characters.
    pub(crate) fn of(self, offset: usize) -> (usize, usize) {
        let mut end = offset.min(self.text.len());
        while !self.text.is_char_boundary(end) {
            end -= 1;
        }
        let before = &self.text[..end];
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
    }

    pub(crate) fn unknown_key(self, offset: usize, found: &str, allowed: &[&str]) -> TomlError {
        let (line, column) = self.of(offset);
        TomlError::UnknownKey {
            name: self.name.to_owned(),
            line,
            column,
            found: found.to_owned(),
            allowed: allowed.join(", "),
        }
    }
}

impl<'a> Cell<'a> {
    pub(crate) fn new(place: Place<'a>, key: &'a str, value: &'a Spanned<DeValue<'a>>) -> Self {
        Self { place, key, value }
    }

    pub(crate) fn bad(&self, expected: impl Into<String>) -> TomlError {
        let span = self.value.span();
        let (line, column) = self.place.of(span.start);
        let raw = self.place.text.get(span).unwrap_or("").trim();
        let found = if raw.is_empty() { self.value.get_ref().type_str().to_owned() } else { shorten(raw) };
        TomlError::BadValue {
            name: self.place.name.to_owned(),
            line,
            column,
            key: self.key.to_owned(),
            found,
            expected: expected.into(),
        }
    }

    /// A finite number, whole or not; `None` for any other type.
    pub(crate) fn number(&self) -> Option<f64> {
        match self.value.get_ref() {
            DeValue::Integer(whole) => {
                i64::from_str_radix(&whole.as_str().replace('_', ""), whole.radix()).ok().map(|v| v as f64)
            }
            DeValue::Float(float) => {
                float.as_str().replace('_', "").parse().ok().filter(|v: &f64| v.is_finite())
            }
            _ => None,
        }
    }

    pub(crate) fn number_in(&self, low: f64, high: f64, unit: &str) -> Result<f64, TomlError> {
        let expected = || format!("a number from {low} to {high}{unit}");
        self.number().filter(|v| (low..=high).contains(v)).ok_or_else(|| self.bad(expected()))
    }

    pub(crate) fn whole_in(&self, low: u32, high: u32) -> Result<u32, TomlError> {
        let whole = match self.value.get_ref() {
            DeValue::Integer(whole) => {
                u32::from_str_radix(&whole.as_str().replace('_', ""), whole.radix()).ok()
            }
            _ => None,
        };
        whole
            .filter(|v| (low..=high).contains(v))
            .ok_or_else(|| self.bad(format!("a whole number from {low} to {high}")))
    }

    pub(crate) fn word<T: Copy>(&self, allowed: &[(&str, T)]) -> Result<T, TomlError> {
        let found = self.value.get_ref().as_str();
        allowed.iter().find(|(word, _)| Some(*word) == found).map(|(_, value)| *value).ok_or_else(|| {
            let words: Vec<String> = allowed.iter().map(|(word, _)| format!("\"{word}\"")).collect();
            self.bad(words.join(", "))
        })
    }

    pub(crate) fn text(&self, expected: &str) -> Result<&'a str, TomlError> {
        self.value.get_ref().as_str().ok_or_else(|| self.bad(expected))
    }

    pub(crate) fn truth(&self) -> Result<bool, TomlError> {
        self.value.get_ref().as_bool().ok_or_else(|| self.bad("true or false"))
    }

    pub(crate) fn table(&self, expected: &str) -> Result<&'a DeTable<'a>, TomlError> {
        self.value.get_ref().as_table().ok_or_else(|| self.bad(expected))
    }

    /// The entries of a list.
    pub(crate) fn list(&self, expected: &str) -> Result<Vec<Self>, TomlError> {
        let list = self.value.get_ref().as_array().ok_or_else(|| self.bad(expected))?;
        Ok(list.iter().map(|value| Self { place: self.place, key: self.key, value }).collect())
    }
}

/// The first line of a value, at most 40 characters.
fn shorten(raw: &str) -> String {
    let line = raw.lines().next().unwrap_or("");
    if line.chars().count() <= 40 && line.len() == raw.len() {
        return line.to_owned();
    }
    let head: String = line.chars().take(40).collect();
    format!("{head} ...")
}
