//! Data rows into columns of figures, every defect placed.

use rayon::prelude::*;

use super::clock::{DateOrder, moment};
use super::error::{Trouble, counted, quoted};
use super::fast::Stretch;
use super::headers::{self, Again};
use super::lines::{Delimiter, Field, Line, Lines, OpenQuote, column, split};
use super::notes::Notes;
use super::number::{self, Cell, NumberStyle};
use super::plan::{Form, Plan};
use super::row_lines::RowLines;
use super::sniff::{LONGEST_LINE, is_comment};
use super::unit_words::{self, Unit};
use crate::codes;
use crate::notice::{Level, Notice};
use crate::recording::Quantity;

/// Empty and missing cells whose place is kept for a column.
const PLACES: usize = 1000;

/// Most figures of a recording.
pub(crate) const MOST_VALUES: usize = 80_000_000;

pub(crate) fn too_many_values() -> Trouble {
    Trouble::new(
        format!("more than {} million figures", MOST_VALUES / 1_000_000),
        "a recording of an idle, minutes and not days long",
        "cut out the part to be judged, or export fewer columns",
    )
}

/// How one column is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Reader {
    Skip,
    Figure,
    Clock,
    Date,
}

/// What rows are read with.
#[derive(Debug, Clone)]
pub(crate) struct RowFormat<'a> {
    pub(crate) delimiter: Delimiter,
    pub(crate) style: NumberStyle,
    pub(crate) readers: Vec<Reader>,
    /// A bad cell takes its row with it.
    pub(crate) vital: Vec<bool>,
    /// Columns that carry the time: a missing cell, too, takes its row with it.
    pub(crate) time: Vec<bool>,
    pub(crate) order: DateOrder,
    /// Day that counts as 0 for dates and clocks with dates.
    pub(crate) base_day: i64,
    /// Names from the header, to know them again further down.
    pub(crate) names: &'a [String],
    pub(crate) plans: &'a [Plan],
    /// Whether the names are the file's own, so that another header in it can be held against them.
    pub(crate) own_header: bool,
}

/// Missing cells of a column: how many, and line, column and text of the first [`PLACES`].
#[derive(Debug, Clone, Default)]
struct Missing {
    count: u64,
    places: Vec<(u64, u64, String)>,
}

/// Columns being filled.
#[derive(Debug, Clone, Default)]
pub(crate) struct Rows {
    pub(crate) values: Vec<Vec<f64>>,
    pub(crate) lines: RowLines,
    pub(crate) skipped: usize,
    pub(crate) comments: usize,
    /// Missing cells by column.
    missing: Vec<Missing>,
    scratch: Vec<f64>,
    /// Behind a header that names other columns: what follows is left out.
    ended: bool,
}

impl Rows {
    pub(crate) fn new(columns: usize) -> Self {
        Self {
            values: vec![Vec::new(); columns],
            missing: vec![Missing::default(); columns],
            scratch: vec![f64::NAN; columns],
            ..Self::default()
        }
    }

    /// Takes a clean stretch.
    pub(crate) fn take(&mut self, stretches: &[(&Stretch, u64)], format: &RowFormat<'_>) {
        let wanted =
            self.values.iter_mut().zip(&format.readers).filter(|(_, reader)| **reader != Reader::Skip);
        let columns: Vec<(usize, &mut Vec<f64>)> = wanted.map(|(values, _)| values).enumerate().collect();
        columns.into_par_iter().for_each(|(at, values)| {
            stretches.iter().filter_map(|(stretch, _)| stretch.values.get(at)).for_each(|list| {
                values.extend_from_slice(list);
            });
        });
        for (stretch, first_line) in stretches {
            self.lines.push_run(*first_line, stretch.rows);
        }
    }

    /// Reads a stretch line by line.
    pub(crate) fn read_lines(
        &mut self,
        text: &str,
        first_line: u64,
        format: &RowFormat<'_>,
        notes: &mut Notes,
    ) {
        let mut fields = Vec::new();
        let mut lines = Lines::from(text, first_line);
        while let Some(line) = lines.next() {
            let cut = lines.rest().is_empty() && !text.ends_with(['\n', '\r']);
            self.read(line, cut, format, &mut fields, notes);
        }
    }

    /// A line that was too long to be kept.
    pub(crate) fn long_line(&mut self, line: u64, bytes: u64, notes: &mut Notes) {
        let found = format!("a line of {bytes} bytes");
        let expected = format!("at most {LONGEST_LINE} bytes");
        self.skip(notes, codes::LONG_LINE, Line { number: line, text: "" }, 1, &found, &expected);
    }

    /// Refuses tables that would fill the memory.
    ///
    /// # Errors
    /// More than [`MOST_VALUES`] figures.
    pub(crate) fn check_size(&self) -> Result<(), Trouble> {
        let values: usize = self.values.iter().map(Vec::len).sum();
        if values > MOST_VALUES { Err(too_many_values()) } else { Ok(()) }
    }

    /// Reads one line; what is wrong with it goes to `notes`. `cut`: the file ends with it, without a line end.
    pub(crate) fn read<'t>(
        &mut self,
        line: Line<'t>,
        cut: bool,
        format: &RowFormat<'_>,
        fields: &mut Vec<Field<'t>>,
        notes: &mut Notes,
    ) {
        if is_blank(line.text, format.delimiter) {
            return;
        }
        if is_comment(line.text) {
            self.comments += 1;
            return;
        }
        if let Some(at) = line.text.find('\u{fffd}') {
            defect(notes, codes::BAD_TEXT, line, column(line.text, at), || {
                "found bytes that are no character, expected UTF-8 text".to_owned()
            });
        }
        let columns = format.readers.len();
        if line.text.len() > LONGEST_LINE {
            let found = format!("a line of {} bytes", line.text.len());
            return self.skip(
                notes,
                codes::LONG_LINE,
                line,
                1,
                &found,
                &format!("at most {LONGEST_LINE} bytes"),
            );
        }
        if let Err(OpenQuote { start }) = split(line.text, format.delimiter, fields) {
            let at = column(line.text, start);
            return self.skip(
                notes,
                codes::OPEN_QUOTE,
                line,
                at,
                "a quote that is not closed",
                "a closing quote on the same line",
            );
        }
        if self.is_header(fields, format, notes, line) {
            return;
        }
        if self.ended {
            self.skipped += 1;
            return;
        }
        if fields.len() < columns {
            let found = counted(fields.len(), "field");
            let at = column(line.text, line.text.len());
            let code = if cut { codes::CUT_OFF } else { codes::SHORT_ROW };
            return self.skip(notes, code, line, at, &found, &format!("{columns} as in the header"));
        }
        if let Some(extra) = fields[columns..].iter().find(|f| !f.text.is_empty()) {
            let found = counted(fields.len(), "field");
            let at = column(line.text, extra.start);
            return self.skip(
                notes,
                codes::LONG_ROW,
                line,
                at,
                &found,
                &format!("{columns} as in the header"),
            );
        }
        self.cells(line, format, fields, notes);
    }

    fn cells(&mut self, line: Line<'_>, format: &RowFormat<'_>, fields: &[Field<'_>], notes: &mut Notes) {
        for (at, reader) in format.readers.iter().enumerate() {
            let text = fields[at].text;
            let value = match reader {
                Reader::Skip => continue,
                Reader::Figure => figure(text, format.style, format.plans[at].unit),
                Reader::Clock | Reader::Date => time(text, format),
            };
            self.scratch[at] = match value {
                Ok(Some(value)) => value,
                Ok(None) if format.time[at] => {
                    let place = column(line.text, fields[at].start);
                    let found = format!("{} in {}", quoted(text), quoted(&format.plans[at].header.text));
                    return self.skip(notes, codes::BAD_CELL, line, place, &found, "a time");
                }
                Ok(None) => {
                    self.missing_at(at, line, fields[at]);
                    f64::NAN
                }
                Err(expected) => {
                    let place = column(line.text, fields[at].start);
                    let name = &format.plans[at].header.text;
                    let found = format!("{} in {}", quoted(text), quoted(name));
                    if format.vital[at] {
                        return self.skip(notes, codes::BAD_CELL, line, place, &found, expected);
                    }
                    defect(notes, codes::BAD_CELL, line, place, || {
                        format!("found {found}, expected {expected}: the cell counts as missing")
                    });
                    f64::NAN
                }
            };
        }
        for (at, reader) in format.readers.iter().enumerate() {
            if *reader != Reader::Skip {
                self.values[at].push(self.scratch[at]);
            }
        }
        self.lines.push(line.number);
    }

    fn missing_at(&mut self, at: usize, line: Line<'_>, field: Field<'_>) {
        let missing = &mut self.missing[at];
        missing.count += 1;
        if missing.places.len() < PLACES {
            missing.places.push((line.number, column(line.text, field.start), quoted(field.text)));
        }
    }

    fn skip(&mut self, notes: &mut Notes, code: &str, line: Line<'_>, at: u64, found: &str, expected: &str) {
        self.skipped += 1;
        defect(notes, code, line, at, || format!("found {found}, expected {expected}: the row is left out"));
    }

    /// A header or units row further down: the logger was started again. One that names other columns ends the table, since
    /// what follows would be read under the wrong names.
    fn is_header(
        &mut self,
        fields: &[Field<'_>],
        format: &RowFormat<'_>,
        notes: &mut Notes,
        line: Line<'_>,
    ) -> bool {
        let first =
            fields.first().is_some_and(|f| !f.text.is_empty() && !f.text.as_bytes()[0].is_ascii_digit());
        if !first {
            return false;
        }
        let texts: Vec<&str> = fields.iter().map(|f| f.text).collect();
        match headers::again(&texts, format.names, format.plans) {
            Again::No => return false,
            Again::Same => self.ended = false,
            Again::Units => {}
            Again::Other(found, expected) if format.own_header => {
                self.ended = true;
                let text = format!(
                    "found another header, {found}, expected {expected} as above: the rows from here on are left out; \
                     split the file at this line"
                );
                notes.push(
                    Notice::new(codes::HEADER_AGAIN, Level::Caution, text).at_line(line.number, Some(1)),
                );
                return true;
            }
            Again::Other(..) => {}
        }
        if notes.room(codes::HEADER_AGAIN) {
            let text = "the header stands here again: the logger was started anew";
            notes.push(Notice::new(codes::HEADER_AGAIN, Level::Note, text).at_line(line.number, Some(1)));
        } else {
            notes.count_only(codes::HEADER_AGAIN, Level::Note);
        }
        true
    }

    /// Turns the missing cells into notices: placed in a column that is mostly filled, one in total in a sparse one.
    pub(crate) fn report_missing(&mut self, format: &RowFormat<'_>, notes: &mut Notes) {
        let rows = self.lines.len() as u64;
        for (at, Missing { count, places }) in std::mem::take(&mut self.missing).into_iter().enumerate() {
            let left_out = format.plans[at].quantity == Some(Quantity::Ignored);
            if count == 0 || format.readers[at] == Reader::Skip || left_out {
                continue;
            }
            let name = quoted(&format.plans[at].header.text);
            if count >= rows {
                continue;
            }
            if count * 5 > rows {
                let text = format!(
                    "{name} holds a value in {} of {rows} rows: it was logged less often",
                    rows.saturating_sub(count)
                );
                notes.push(Notice::new(codes::SPARSE_COLUMN, Level::Note, text).counted(count));
                continue;
            }
            let rest = count - places.len() as u64;
            for (line, place, found) in places {
                let text = format!("found {found} in {name}, expected a figure: the cell counts as missing");
                notes.push(Notice::new(codes::MISSING_VALUE, Level::Note, text).at_line(line, Some(place)));
            }
            for _ in 0..rest {
                notes.count_only(codes::MISSING_VALUE, Level::Note);
            }
        }
    }
}

/// A cell of figures: a value, nothing, or what was expected.
fn figure(text: &str, style: NumberStyle, unit: Option<Unit>) -> Result<Option<f64>, &'static str> {
    match number::parse(text, style) {
        Cell::Value(value) => Ok(Some(value)),
        Cell::Empty | Cell::Missing => Ok(None),
        Cell::WithUnit(value, written) => match (unit_words::parse(written), unit) {
            (Some((found, _)), Some(unit)) if found == unit => Ok(Some(value)),
            (Some(_), Some(_)) => Err("a figure in the unit of the column"),
            (Some((Unit::Foreign, _)), None) => Ok(Some(value)),
            _ => Err("a figure"),
        },
        Cell::Bad => Err("a figure"),
    }
}

fn time(text: &str, format: &RowFormat<'_>) -> Result<Option<f64>, &'static str> {
    match moment(text, format.order) {
        Some(m) => {
            let days = m.day.map_or(0, |day| day - format.base_day);
            Ok(Some(days as f64 * 86_400.0 + m.seconds))
        }
        None => Err("a time like the others of this column"),
    }
}

fn defect(notes: &mut Notes, code: &str, line: Line<'_>, at: u64, text: impl Fn() -> String) {
    if notes.room(code) {
        notes.push(Notice::new(code, Level::Caution, text()).at_line(line.number, Some(at)));
    } else {
        notes.count_only(code, Level::Caution);
    }
}

/// A line without anything, or of delimiters alone.
fn is_blank(text: &str, delimiter: Delimiter) -> bool {
    let nothing = |b: u8| b.is_ascii_whitespace() || matches!(delimiter, Delimiter::Mark(mark) if mark == b);
    text.bytes().all(nothing) || text.trim().is_empty()
}

/// The reader a planned column needs; `wanted` says whether its values may be used.
pub(crate) fn reader(plan: &Plan, wanted: bool) -> Reader {
    match plan.form {
        _ if !wanted => Reader::Skip,
        Form::Figures | Form::Blank => Reader::Figure,
        Form::Clock => Reader::Clock,
        Form::Date => Reader::Date,
        Form::Text => Reader::Skip,
    }
}
