//! Text into lines and lines into fields, with the place of each.

/// What stands between two fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Delimiter {
    /// One character.
    Mark(u8),
    /// Any run of blanks.
    Blanks,
}

impl Delimiter {
    pub(crate) const ALL: [Self; 5] =
        [Self::Mark(b'\t'), Self::Mark(b';'), Self::Mark(b'|'), Self::Mark(b','), Self::Blanks];

    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Mark(b'\t') => "tab",
            Self::Mark(b';') => "semicolon",
            Self::Mark(b'|') => "vertical bar",
            Self::Mark(_) => "comma",
            Self::Blanks => "runs of blanks",
        }
    }
}

/// One field of a line, trimmed and without its quotes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Field<'a> {
    pub(crate) text: &'a str,
    /// Byte offset in the line.
    pub(crate) start: usize,
}

/// One line of the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Line<'a> {
    /// Counted from 1.
    pub(crate) number: u64,
    pub(crate) text: &'a str,
}

/// Lines of a text ended by LF, CRLF or (where there is no LF) CR.
#[derive(Debug, Clone)]
pub(crate) struct Lines<'a> {
    rest: Option<&'a str>,
    end: u8,
    number: u64,
}

impl<'a> Lines<'a> {
    pub(crate) fn new(text: &'a str) -> Self {
        Self::from(text, 1)
    }

    /// Lines of a stretch that begins with line `first`.
    pub(crate) fn from(text: &'a str, first: u64) -> Self {
        let head = &text.as_bytes()[..text.len().min(65_536)];
        let end = if head.contains(&b'\n') || !head.contains(&b'\r') { b'\n' } else { b'\r' };
        Self { rest: Some(text), end, number: first - 1 }
    }
}

impl<'a> Lines<'a> {
    /// What has not been cut yet.
    pub(crate) fn rest(&self) -> &'a str {
        self.rest.unwrap_or("")
    }
}

impl<'a> Iterator for Lines<'a> {
    type Item = Line<'a>;

    fn next(&mut self) -> Option<Line<'a>> {
        let rest = self.rest?;
        if rest.is_empty() {
            self.rest = None;
            return None;
        }
        let (line, after) = match rest.as_bytes().iter().position(|b| *b == self.end) {
            Some(at) => (&rest[..at], Some(&rest[at + 1..])),
            None => (rest, None),
        };
        self.rest = after;
        self.number += 1;
        Some(Line { number: self.number, text: line.strip_suffix('\r').unwrap_or(line) })
    }
}

/// A quoted field that is not closed on its line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct OpenQuote {
    /// Byte offset of the quote.
    pub(crate) start: usize,
}

/// Splits a line into `fields` (cleared first).
///
/// # Errors
/// [`OpenQuote`] when a quoted field is not closed.
pub(crate) fn split<'a>(
    line: &'a str,
    delimiter: Delimiter,
    fields: &mut Vec<Field<'a>>,
) -> Result<(), OpenQuote> {
    fields.clear();
    match delimiter {
        Delimiter::Blanks => split_blanks(line, fields),
        Delimiter::Mark(mark) => split_mark(line, mark, fields),
    }
}

fn split_mark<'a>(line: &'a str, mark: u8, fields: &mut Vec<Field<'a>>) -> Result<(), OpenQuote> {
    let bytes = line.as_bytes();
    let mut at = 0;
    loop {
        let blank = |b: u8| (b == b' ' || b == b'\t') && b != mark;
        let start = at + bytes[at..].iter().take_while(|b| blank(**b)).count();
        if bytes.get(start) == Some(&b'"') && opens_field(line, start, mark) {
            let (field, next) = quoted(line, start, Some(mark))?;
            fields.push(field);
            at = next;
        } else {
            let end = bytes[at..].iter().position(|b| *b == mark).map_or(bytes.len(), |n| at + n);
            fields.push(trimmed(line, at, end));
            at = end;
        }
        if at >= bytes.len() {
            return Ok(());
        }
        at += 1;
        if at == bytes.len() {
            fields.push(Field { text: "", start: at });
            return Ok(());
        }
    }
}

/// A quote at the start of a field quotes it, unless it is an inch mark (`"Hg`).
fn opens_field(line: &str, start: usize, mark: u8) -> bool {
    let rest = &line[start + 1..];
    let inch =
        rest.get(..2).is_some_and(|two| two.eq_ignore_ascii_case("hg") || two.eq_ignore_ascii_case("h2"));
    !inch || rest.bytes().take_while(|b| *b != mark).any(|b| b == b'"')
}

/// The quoted field at `start` and the offset of the delimiter behind it.
fn quoted(line: &str, start: usize, mark: Option<u8>) -> Result<(Field<'_>, usize), OpenQuote> {
    let bytes = line.as_bytes();
    let mut at = start + 1;
    let close = loop {
        match bytes.get(at) {
            None => return Err(OpenQuote { start }),
            Some(b'"') if bytes.get(at + 1) == Some(&b'"') => at += 2,
            Some(b'"') => break at,
            Some(_) => at += 1,
        }
    };
    let ends = |b: &u8| mark.map_or(*b == b' ' || *b == b'\t', |m| *b == m);
    let next = bytes[close..].iter().position(ends).map_or(bytes.len(), |n| close + n);
    // Text between the closing quote and the delimiter belongs to the field (a stray quote at its start).
    let field = if line[close + 1..next].trim().is_empty() {
        let inner = trimmed(line, start + 1, close);
        Field { text: inner.text, start: start.min(inner.start) }
    } else {
        trimmed(line, start, next)
    };
    Ok((field, next))
}

fn split_blanks<'a>(line: &'a str, fields: &mut Vec<Field<'a>>) -> Result<(), OpenQuote> {
    let bytes = line.as_bytes();
    let blank = |b: &u8| *b == b' ' || *b == b'\t';
    let mut at = 0;
    loop {
        at += bytes[at..].iter().take_while(|b| blank(b)).count();
        if at >= bytes.len() {
            return Ok(());
        }
        if bytes[at] == b'"' {
            let (field, next) = quoted(line, at, None)?;
            fields.push(field);
            at = next;
        } else {
            let end = bytes[at..].iter().position(blank).map_or(bytes.len(), |n| at + n);
            fields.push(Field { text: &line[at..end], start: at });
            at = end;
        }
    }
}

fn trimmed(line: &str, start: usize, end: usize) -> Field<'_> {
    let raw = &line[start..end];
    let text = raw.trim();
    let lead = raw.len() - raw.trim_start().len();
    Field { text, start: if text.is_empty() { start } else { start + lead } }
}

/// Column of a byte offset in a line, counted from 1 in characters.
pub(crate) fn column(line: &str, offset: usize) -> u64 {
    let mut end = offset.min(line.len());
    while !line.is_char_boundary(end) {
        end -= 1;
    }
    line[..end].chars().count() as u64 + 1
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn texts(line: &str, delimiter: Delimiter) -> Vec<&str> {
        let mut fields = Vec::new();
        split(line, delimiter, &mut fields).unwrap();
        fields.iter().map(|f| f.text).collect()
    }

    #[test]
    fn fields_by_rfc_4180_and_by_blanks() {
        assert_eq!(texts("a, b ,\"c,\"\"d\",", Delimiter::Mark(b',')), ["a", "b", "c,\"\"d", ""]);
        assert_eq!(texts("  a\t b   c ", Delimiter::Blanks), ["a", "b", "c"]);
        assert_eq!(texts("a\t\tb", Delimiter::Mark(b'\t')), ["a", "", "b"]);
        assert_eq!(texts("t,p1 \"Hg,\"Hg", Delimiter::Mark(b',')), ["t", "p1 \"Hg", "\"Hg"]);
    }

    #[test]
    fn an_open_quote_is_placed() {
        let mut fields = Vec::new();
        assert_eq!(split("1,\"2,3", Delimiter::Mark(b','), &mut fields), Err(OpenQuote { start: 2 }));
    }

    #[test]
    fn line_ends_of_three_systems() {
        for text in ["a\nb\n", "a\r\nb\r\n", "a\rb\r", "a\nb"] {
            let lines: Vec<(u64, &str)> = Lines::new(text).map(|l| (l.number, l.text)).collect();
            assert_eq!(lines, [(1, "a"), (2, "b")], "{text:?}");
        }
    }

    #[test]
    fn columns_count_characters() {
        assert_eq!(column("\u{e9}\u{e9};3", 5), 4);
    }
}
