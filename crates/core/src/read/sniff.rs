//! Finds the table in a text: delimiter, figures, header rows, units row, and where the data begin.

use super::clock::{DateOrder, moment};
use super::error::{Trouble, plain};
use super::lines::{Delimiter, Field, Line, Lines, split};
use super::number::{self, Cell, NumberStyle};
use super::style::{self, Judged};
use super::unit_words;
use crate::recording::Quantity;

/// Lines looked at from the start, from the middle and near the end of the text.
const SAMPLE: usize = 300;
/// Longest line that is still a row.
pub(crate) const LONGEST_LINE: usize = 256 << 10;
/// Most columns of a table.
pub(crate) const MOST_COLUMNS: usize = 4096;

/// Where the table is and how it is written.
#[derive(Debug, Clone)]
pub(crate) struct Layout<'a> {
    pub(crate) delimiter: Delimiter,
    pub(crate) figures: Judged,
    /// Fields of a usual data row, trailing delimiters included.
    pub(crate) width: usize,
    /// Names from the header, `None` where the table has none; with their line.
    pub(crate) names: Option<Vec<String>>,
    pub(crate) header_line: u64,
    /// Cells of the units row.
    pub(crate) units: Option<Vec<String>>,
    /// Lines before the header.
    pub(crate) preamble: Vec<Line<'a>>,
    /// Line on which the data begin.
    pub(crate) data_line: u64,
    /// Rows of figures before the header that are no rows of this table.
    pub(crate) earlier: usize,
}

/// What a cell looks like before the figures' style is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    Figure,
    Blank,
    Text,
}

pub(crate) fn look(text: &str) -> Look {
    if is_plain_figure(text.as_bytes()) {
        return Look::Figure;
    }
    if text.is_empty() || number::is_missing(text) {
        return Look::Blank;
    }
    let text = number::bare(text);
    if text.is_empty() || number::is_missing(text) {
        return Look::Blank;
    }
    let first = text.trim_start_matches(['+', '-', '\u{2212}', '\u{2013}', '.', ',']);
    if !first.starts_with(|c: char| c.is_ascii_digit()) {
        return Look::Text;
    }
    let comma = NumberStyle { decimal: b',', group: None };
    let is_figure = |style| matches!(number::parse(text, style), Cell::Value(_) | Cell::WithUnit(..));
    if is_figure(NumberStyle::default()) || is_figure(comma) || grouped(first) {
        return Look::Figure;
    }
    if moment(text, DateOrder::DayFirst).or_else(|| moment(text, DateOrder::MonthFirst)).is_some() {
        Look::Figure
    } else {
        Look::Text
    }
}

/// Digits with at most one point or comma: most cells of most logs.
fn is_plain_figure(bytes: &[u8]) -> bool {
    let digits = bytes.iter().filter(|b| b.is_ascii_digit()).count();
    let marks = bytes.iter().filter(|b| matches!(**b, b'.' | b',')).count();
    let sign = usize::from(bytes.first() == Some(&b'-'));
    digits > 0 && marks <= 1 && digits + marks + sign == bytes.len()
}

/// Digits with marks of thousands between them, and perhaps a decimal part.
fn grouped(text: &str) -> bool {
    [('.', ','), (',', '.'), ('\'', '.'), (' ', ','), (' ', '.'), ('\'', ',')].iter().any(
        |(group, decimal)| {
            let style = NumberStyle { decimal: *decimal as u8, group: Some(*group) };
            matches!(number::parse(text, style), Cell::Value(_) | Cell::WithUnit(..))
        },
    )
}

pub(crate) fn is_comment(line: &str) -> bool {
    let line = line.trim_start();
    line.starts_with('#') || line.starts_with("//") || line.starts_with("%%") || line.starts_with('!')
}

/// Finds the table.
///
/// # Errors
/// Text without a table of figures.
pub(crate) fn sniff(text: &str) -> Result<Layout<'_>, Trouble> {
    let sample = sample(text)?;
    let best = Delimiter::ALL
        .iter()
        .filter_map(|delimiter| Shape::of(&sample, *delimiter))
        .reduce(|best, next| if next.beats(&best) { next } else { best });
    let Some(shape) = best.filter(|shape| shape.score > 0.2) else {
        return Err(too_wide(&sample).unwrap_or_else(|| no_table(&sample)));
    };
    super::header_rows::locate(text, &shape)
}

/// A line with more fields than any log has.
fn too_wide(sample: &[Line<'_>]) -> Option<Trouble> {
    let widest = |line: &Line<'_>| {
        let count = |mark: u8| line.text.bytes().filter(|b| *b == mark).count() + 1;
        [b',', b';', b'\t', b'|'].into_iter().map(count).max().unwrap_or(0)
    };
    let line = sample.iter().find(|line| widest(line) > MOST_COLUMNS)?;
    let trouble = Trouble::new(
        format!("{} columns", widest(line)),
        format!("at most {MOST_COLUMNS}"),
        "export only time, engine speed and the pressures",
    );
    Some(trouble.at(line.number, 1))
}

fn no_table(sample: &[Line<'_>]) -> Trouble {
    if let Some(line) = sample.iter().find(|line| is_header(line.text)) {
        return Trouble::new(
            "a header and no row of figures after it",
            "rows of figures under the header",
            "record again: the logger wrote no values",
        )
        .at(line.number, 1);
    }
    let (line, found) = sample.first().map_or((1, String::new()), |l| (l.number, plain(l.text.trim(), 60)));
    Trouble::new(
        format!("`{found}` and no rows of figures"),
        "a table with a time and at least one more column, or CAN frames as candump text",
        "export the recording as CSV with a header line",
    )
    .at(line, 1)
}

/// Whether a line names a time and another quantity.
fn is_header(line: &str) -> bool {
    let mut fields = Vec::new();
    Delimiter::ALL.iter().filter(|d| **d != Delimiter::Blanks).any(|delimiter| {
        let cut = line.len() < 10_000
            && !line.trim_start().starts_with(['{', '[', '<'])
            && split(line, *delimiter, &mut fields).is_ok();
        let headers: Vec<_> = fields.iter().map(|field| super::header::parse(field.text, None)).collect();
        let known = |header| super::words::meaning(header).quantity.is_some_and(|q| q != Quantity::Ignored);
        cut && headers.len() > 1
            && headers.iter().any(|header| super::words::time_rank(header) > 1)
            && headers.iter().any(known)
    })
}

/// Lines from the start, the middle and the end, blank and comment lines left out.
fn sample(text: &str) -> Result<Vec<Line<'_>>, Trouble> {
    let mut lines = Vec::new();
    let mut used = 0;
    for line in Lines::new(text).take(SAMPLE * 4) {
        if line.text.len() > LONGEST_LINE {
            return Err(Trouble::new(
                format!("a line of {} bytes and more", line.text.len()),
                format!("lines of at most {LONGEST_LINE} bytes"),
                "check that the file is a log with one row a line",
            )
            .at(line.number, 1));
        }
        used += line.text.len() + 1;
        if !line.text.trim().is_empty() && !is_comment(line.text) && lines.len() < SAMPLE {
            lines.push(line);
        }
    }
    // The first, probably cut line is dropped; line numbers are not needed there.
    let from = |at: usize| {
        let at = (at..text.len()).find(|at| text.is_char_boundary(*at)).unwrap_or(text.len());
        Lines::new(&text[at..]).skip(1).filter(|l| !l.text.trim().is_empty() && !is_comment(l.text))
    };
    if text.len() / 2 > used {
        lines.extend(from(text.len() / 2).take(SAMPLE));
    }
    let end = text.len().saturating_sub(32_768).max(used);
    if end < text.len() {
        let last: Vec<Line<'_>> = from(end).collect();
        lines.extend_from_slice(&last[last.len().saturating_sub(SAMPLE)..]);
    }
    Ok(lines)
}

/// How well one delimiter cuts the sample into a table.
#[derive(Debug, Clone)]
pub(crate) struct Shape<'a> {
    pub(crate) delimiter: Delimiter,
    pub(crate) width: usize,
    score: f64,
    /// Share of rows with blanks between digits inside a field.
    inner_blanks: f64,
    /// Per column: mostly figures.
    pub(crate) figures: Vec<bool>,
    /// Sample cells that look like figures, by column.
    pub(crate) cells: Vec<Vec<&'a str>>,
}

impl<'a> Shape<'a> {
    fn of(sample: &[Line<'a>], delimiter: Delimiter) -> Option<Self> {
        let mut fields: Vec<Field<'a>> = Vec::new();
        let mut rows: Vec<(usize, Vec<Field<'a>>, f64)> = Vec::new();
        for (at, line) in sample.iter().enumerate() {
            if line.text.len() > LONGEST_LINE
                || split(line.text, delimiter, &mut fields).is_err()
                || !(2..=MOST_COLUMNS).contains(&fields.len())
            {
                continue;
            }
            let count = |wanted| fields.iter().filter(|f| look(f.text) == wanted).count();
            let (figures, texts) = (count(Look::Figure), count(Look::Text));
            if figures >= 1 && figures >= texts {
                rows.push((at, fields.clone(), figures as f64 / (figures + texts) as f64));
            }
        }
        let width = most_common(rows.iter().map(|(_, fields, _)| fields.len()))?;
        rows.retain(|(_, fields, _)| fields.len() == width);
        // What stands before the first row is no part of the table.
        let before = rows.first().map_or(0, |(at, ..)| *at);
        let score = rows.iter().map(|(.., share)| share).sum::<f64>() / (sample.len() - before) as f64;
        let inner = rows.iter().filter(|(_, f, _)| f.iter().any(|f| has_inner_blank(f.text))).count();
        let mut cells = vec![Vec::new(); width];
        let mut texts = vec![0usize; width];
        for (_, fields, _) in &rows {
            for (column, field) in fields.iter().enumerate() {
                match look(field.text) {
                    Look::Figure => cells[column].push(field.text),
                    Look::Text => texts[column] += 1,
                    Look::Blank => {}
                }
            }
        }
        let figures = cells.iter().zip(&texts).map(|(c, t)| c.len() > *t).collect();
        let inner_blanks = inner as f64 / rows.len().max(1) as f64;
        Some(Self { delimiter, width, score, inner_blanks, figures, cells })
    }

    fn beats(&self, best: &Self) -> bool {
        // `0,5 30,2 31,1`: cut at commas every field looks like a figure with thousands.
        let blanks_between = self.delimiter == Delimiter::Blanks
            && best.delimiter == Delimiter::Mark(b',')
            && best.inner_blanks > 0.2;
        self.score > best.score + 0.02 || (blanks_between && self.score > 0.8 * best.score)
    }

    pub(crate) fn judged(&self) -> Judged {
        style::judge(&self.cells)
    }
}

fn has_inner_blank(text: &str) -> bool {
    let bytes = text.as_bytes();
    bytes.windows(3).any(|w| w[0].is_ascii_digit() && w[1] == b' ' && w[2].is_ascii_digit())
        && !text.contains([':', '-'])
}

/// The value seen most often; the larger one at a tie.
fn most_common(values: impl Iterator<Item = usize>) -> Option<usize> {
    let mut counts = std::collections::BTreeMap::new();
    values.for_each(|v| *counts.entry(v).or_insert(0usize) += 1);
    counts.into_iter().max_by_key(|(value, count)| (*count, *value)).map(|(value, _)| value)
}

/// Whether the cells of a row are units: all known or blank, at least one known.
pub(crate) fn is_units_row(fields: &[&str]) -> bool {
    let filled: Vec<&str> =
        fields.iter().map(|f| super::header::unwrap_brackets(f)).filter(|f| !f.is_empty()).collect();
    let known = filled.iter().filter(|f| unit_words::parse(f).is_some()).count();
    let dashes = filled.iter().filter(|f| number::is_missing(f)).count();
    known >= 1 && (known + dashes) * 5 >= filled.len() * 4
}
