//! The rows above the data: names, units, and what belongs to neither.

use super::error::Trouble;
use super::lines::{Delimiter, Field, Line, Lines, split};
use super::sniff::{LONGEST_LINE, Layout, Look, Shape, is_comment, is_units_row, look};

/// Lines over which a header with line breaks in its quoted names may go.
const MOST_NAME_LINES: u64 = 40;

/// A row above the data that may hold names or units.
struct HeadRow<'a> {
    line: Line<'a>,
    cells: Vec<&'a str>,
}

/// Walks from the top to the first data row.
///
/// # Errors
/// No data row after the header.
pub(crate) fn locate<'a>(text: &'a str, shape: &Shape<'a>) -> Result<Layout<'a>, Trouble> {
    let mut preamble: Vec<Line<'a>> = Vec::new();
    let mut head: Vec<HeadRow<'a>> = Vec::new();
    let mut fields: Vec<Field<'a>> = Vec::new();
    // Start of a row whose quoted name goes on over lines.
    let mut open_at: Option<Line<'a>> = None;
    let mut earlier = 0;
    for line in Lines::new(text) {
        let line = match open_at {
            Some(first) if line.number - first.number <= MOST_NAME_LINES => joined_lines(text, first, line),
            _ => line,
        };
        if line.text.trim().is_empty() {
            continue;
        }
        let bare = if is_comment(line.text) {
            line.text.trim_start_matches(['#', '/', '%', '!', ' '])
        } else {
            line.text
        };
        let long = line.text.len() > LONGEST_LINE;
        if long || split(bare, shape.delimiter, &mut fields).is_err() {
            open_at = (!long).then(|| open_at.unwrap_or(line));
            preamble.retain(|other| other.number != line.number);
            preamble.push(line);
            continue;
        }
        preamble.retain(|other| open_at.is_none() || other.number != line.number);
        open_at = None;
        let row: Vec<&'a str> = fields.iter().map(|f| f.text).collect();
        match role(&row, shape, head.is_empty(), is_comment(line.text)) {
            Role::Data => {
                let found = finish(shape, preamble, head, line.number)?;
                return Ok(Layout { earlier, ..found });
            }
            Role::Head => head.push(HeadRow { line, cells: row }),
            Role::Other => match header_by_wide_blanks(bare, shape) {
                Some(cells) => head.push(HeadRow { line, cells }),
                None => {
                    preamble.extend(head.drain(..).map(|row| row.line));
                    if is_row(&row) { earlier += 1 } else { preamble.push(line) }
                }
            },
        }
    }
    let line = head.last().map_or(1, |row| row.line.number);
    Err(Trouble::new(
        "a header and no data row after it",
        "rows of figures under the header",
        "record again: the logger wrote no values",
    )
    .at(line, 1))
}

/// The text from one line to the end of another, as one line.
fn joined_lines<'a>(text: &'a str, first: Line<'a>, last: Line<'a>) -> Line<'a> {
    let offset = |part: &str| part.as_ptr() as usize - text.as_ptr() as usize;
    let whole = text.get(offset(first.text)..offset(last.text) + last.text.len());
    Line { number: first.number, text: whole.unwrap_or(last.text) }
}

/// Whether a line is a row of some table: figures alone, at least three.
fn is_row(row: &[&str]) -> bool {
    let figures = row.iter().filter(|cell| look(cell) == Look::Figure).count();
    figures > 2 && row.iter().all(|cell| look(cell) != Look::Text)
}

enum Role {
    Data,
    Head,
    Other,
}

fn role(row: &[&str], shape: &Shape<'_>, first: bool, comment: bool) -> Role {
    let looks: Vec<Look> = row.iter().map(|cell| look(cell)).collect();
    let in_figures = |wanted: Look| {
        looks.iter().zip(&shape.figures).filter(|(have, figures)| **figures && **have == wanted).count()
    };
    let (texts, figures) = (in_figures(Look::Text), in_figures(Look::Figure));
    let near = row.len() == shape.width
        || row.len() + 1 == shape.width && shape.width >= 4
        || row.len() > shape.width && row[shape.width..].iter().all(|cell| cell.is_empty());
    let wanted = shape.figures.iter().filter(|f| **f).count();
    if !comment
        && row.len() == shape.width
        && figures >= 1
        && (texts == 0 || (texts == 1 && !first && figures > 1))
    {
        return Role::Data;
    }
    // A damaged row counts as data once a header has been seen.
    if !comment && near && !first && figures * 2 > wanted && texts <= 1 {
        return Role::Data;
    }
    // `Machine;HS-07;;;;`: a key and its value in a padded row.
    let filled = row.iter().filter(|cell| !cell.is_empty()).count();
    let with_unit = || row.get(1..).is_some_and(|rest| super::preamble::figure_with_unit(rest).is_some());
    let two = filled <= 2 && row.iter().skip(2).all(|cell| cell.is_empty());
    let pair = shape.width >= 4 && (two || with_unit());
    if near && texts >= 1 && !pair { Role::Head } else { Role::Other }
}

/// A header of a table cut at blanks, whose names hold single blanks themselves: parted by wider blanks, or with
/// units in brackets behind the names.
fn header_by_wide_blanks<'a>(line: &'a str, shape: &Shape<'_>) -> Option<Vec<&'a str>> {
    if shape.delimiter != Delimiter::Blanks {
        return None;
    }
    let wide: Vec<&str> = line
        .split("  ")
        .flat_map(|part| part.split('\t'))
        .map(str::trim)
        .filter(|part| !part.is_empty())
        .collect();
    if wide.len() == shape.width {
        return Some(wide);
    }
    let mut names: Vec<(usize, usize)> = Vec::new();
    for word in line.split_whitespace() {
        let start = word.as_ptr() as usize - line.as_ptr() as usize;
        let end = start + word.len();
        match names.last_mut() {
            Some(last) if word.starts_with(['[', '(', '{', '<']) => last.1 = end,
            _ => names.push((start, end)),
        }
    }
    (names.len() == shape.width).then(|| names.into_iter().map(|(start, end)| &line[start..end]).collect())
}

fn finish<'a>(
    shape: &Shape<'a>,
    mut preamble: Vec<Line<'a>>,
    mut head: Vec<HeadRow<'a>>,
    data_line: u64,
) -> Result<Layout<'a>, Trouble> {
    // More than a row of groups, one of names and one of units: those below the first are damaged data.
    let damaged = head.iter().skip(1).position(|row| !is_units_row(&row.cells)).filter(|_| head.len() > 3);
    let mut data_line = data_line;
    if let Some(at) = damaged {
        data_line = head[at + 1].line.number;
        head.truncate(at + 1);
    }
    let units_at = (1..head.len()).rev().find(|at| is_units_row(&head[*at].cells));
    let units = units_at.map(|at| owned(&head.remove(at).cells));
    // At most two rows of names: the lower one, and a row of groups above it.
    while head.len() > 2 {
        preamble.push(head.remove(0).line);
    }
    let header_line = head.last().map_or(data_line, |row| row.line.number);
    let names = match head.as_slice() {
        [] => None,
        [one] => Some(owned(&one.cells)),
        [upper, lower, ..] => Some(joined(upper, lower)),
    };
    preamble.sort_by_key(|line| line.number);
    let figures = shape.judged();
    Ok(Layout {
        delimiter: shape.delimiter,
        figures,
        width: shape.width,
        names,
        header_line,
        units,
        preamble,
        data_line,
        earlier: 0,
    })
}

fn owned(cells: &[&str]) -> Vec<String> {
    cells.iter().map(|cell| cell.replace(['\n', '\r'], " ")).collect()
}

/// Names in two rows, a group above each.
fn joined(upper: &HeadRow<'_>, lower: &HeadRow<'_>) -> Vec<String> {
    let group = |at: usize| upper.cells.get(at).copied().unwrap_or("");
    lower
        .cells
        .iter()
        .enumerate()
        .map(|(at, cell)| match (group(at), *cell) {
            ("", cell) => cell.to_owned(),
            (group, "") => group.to_owned(),
            (group, cell) => format!("{group} {cell}"),
        })
        .collect()
}
