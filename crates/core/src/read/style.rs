//! How a file writes its figures: decimal point or comma, and the mark between thousands.

use super::number::{NumberStyle, bare};

/// What was seen in a sample of cells.
#[derive(Debug, Clone, Default)]
struct Evidence {
    point_decimal: usize,
    comma_decimal: usize,
    /// One point with three digits behind it: either.
    point_three: usize,
    comma_three: usize,
    point_group: usize,
    comma_group: usize,
    apostrophe: usize,
    blank: usize,
}

/// The style, and whether it had to be assumed because the sample allows both readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Judged {
    pub(crate) style: NumberStyle,
    pub(crate) assumed: bool,
}

/// Judges columns of sample cells; `columns[j]` holds the cells of column `j` that look like figures.
pub(crate) fn judge(columns: &[Vec<&str>]) -> Judged {
    let mut seen = Evidence::default();
    for cell in columns.iter().flatten() {
        seen.add(bare(cell.trim()));
    }
    let comma = seen.comma_decimal + seen.point_group > seen.point_decimal + seen.comma_group;
    let point = seen.point_decimal + seen.comma_group > 0;
    if !comma && !point && seen.comma_three > 0 && seen.point_three == 0 {
        // `1,012` beside `987` is a thousand; beside `0,912` or nothing else it is 1.012.
        let thousands = mixed_with_integers(columns, ',');
        let style = if thousands { with(b'.', Some(',')) } else { with(b',', None) };
        return Judged { style, assumed: !thousands };
    }
    if !comma && !point && seen.point_three > 0 && mixed_with_integers(columns, '.') {
        return Judged { style: with(b',', Some('.')), assumed: false };
    }
    let group = if seen.apostrophe > 0 {
        Some('\'')
    } else if seen.blank > 0 {
        Some(' ')
    } else if comma {
        (seen.point_three + seen.point_group > 0).then_some('.')
    } else {
        (seen.comma_three + seen.comma_group > 0).then_some(',')
    };
    Judged { style: with(if comma { b',' } else { b'.' }, group), assumed: false }
}

fn with(decimal: u8, group: Option<char>) -> NumberStyle {
    NumberStyle { decimal, group }
}

impl Evidence {
    fn add(&mut self, cell: &str) {
        if cell.contains(':') {
            return;
        }
        let body = cell.trim_start_matches(['+', '-', '\u{2212}']);
        let end = body.find(|c: char| c.is_alphabetic() || c == '%' || c == '\u{b0}').unwrap_or(body.len());
        let body = body[..end].trim();
        if body.chars().filter(|c| *c == '\'' || *c == '\u{2019}').count() > 0 {
            self.apostrophe += 1;
        }
        if body.contains([' ', '\u{a0}', '\u{202f}', '\u{2009}']) {
            self.blank += 1;
        }
        let (points, commas) = (body.matches('.').count(), body.matches(',').count());
        match (points, commas) {
            (0, 0) => {}
            (1, 0) => self.single(body, '.'),
            (0, 1) => self.single(body, ','),
            // `21.03.2026` is a date and says nothing of figures.
            (_, 0) => self.point_group += usize::from(in_threes(body, '.')),
            (0, _) => self.comma_group += usize::from(in_threes(body, ',')),
            _ if body.rfind('.') > body.rfind(',') => self.comma_group += 1,
            _ => self.point_group += 1,
        }
    }

    fn single(&mut self, body: &str, mark: char) {
        let at = body.find(mark).unwrap_or(0);
        let (whole, fraction) = (&body[..at], &body[at + 1..]);
        let grouped = fraction.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0');
        match (mark, grouped) {
            ('.', true) => self.point_three += 1,
            ('.', false) => self.point_decimal += 1,
            (_, true) => self.comma_three += 1,
            (_, false) => self.comma_decimal += 1,
        }
    }
}

/// Whether the digits behind every mark are three.
fn in_threes(body: &str, mark: char) -> bool {
    body.split(mark).skip(1).all(|part| part.len() == 3 && part.bytes().all(|b| b.is_ascii_digit()))
}

/// Whether a column that uses the mark also holds whole figures of three digits and more without it.
fn mixed_with_integers(columns: &[Vec<&str>], mark: char) -> bool {
    columns.iter().any(|cells| {
        let marked = cells.iter().any(|c| c.contains(mark));
        let whole = |cell: &str| cell.len() == 3 && cell.bytes().all(|b| b.is_ascii_digit());
        let whole = cells.iter().any(|cell| whole(bare(cell)));
        marked && whole
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn style(cells: &[&str]) -> (char, Option<char>, bool) {
        let judged = judge(&[cells.to_vec()]);
        (char::from(judged.style.decimal), judged.style.group, judged.assumed)
    }

    #[test]
    fn marks_are_told_apart_where_they_can_be() {
        assert_eq!(style(&["0,000", "302,0"]), (',', None, false));
        assert_eq!(style(&["1.234,5"]), (',', Some('.'), false));
        assert_eq!(style(&["1,234.5"]), ('.', Some(','), false));
        assert_eq!(style(&["0.5", "1,012"]), ('.', Some(','), false));
        assert_eq!(style(&["987", "1,012"]), ('.', Some(','), false));
        assert_eq!(style(&["1'012.5"]), ('.', Some('\''), false));
        assert_eq!(style(&["1\u{202f}012,5"]), (',', Some(' '), false));
        assert_eq!(style(&["35.25", "36.1"]), ('.', None, false));
        // What a spreadsheet puts around a figure is no mark in it.
        assert_eq!(style(&["'101.81", "'36.1"]), ('.', None, false));
        assert_eq!(style(&["=\"0,12\"", "(1.012,5)", "- 3,25"]), (',', Some('.'), false));
        assert_eq!(style(&["987", "(1,012)"]), ('.', Some(','), false));
        // Dates with points beside a few figures: two marks group only where three digits follow each.
        assert_eq!(style(&["21.03.2026", "21.03.2026", "101.5"]), ('.', None, false));
        assert_eq!(style(&["1.234.567", "12"]), (',', Some('.'), false));
        // Nothing tells 1,012 from 1012 here: read as a decimal comma, and said so.
        assert_eq!(style(&["1,012", "1,013"]), (',', None, true));
    }
}
