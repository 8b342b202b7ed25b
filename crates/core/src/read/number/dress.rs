//! Figures as spreadsheets dress them: kept as text, or negative in the way of bookkeepers.

use super::{Cell, NumberStyle, figure, finite, is_missing, is_unit, sign};

/// Figures in the dress of a spreadsheet: `="101.81"`, `'101.81`, `(0.12)`, `0.12-`, `- 0.12`.
pub(super) fn parse(text: &str, style: NumberStyle) -> Cell<'_> {
    if let Some(inner) = as_text(text) {
        return match figure(inner, style) {
            Some((value, "")) => finite(value, Cell::Value),
            Some((value, rest)) if is_unit(rest) => finite(value, |v| Cell::WithUnit(v, rest.trim())),
            None if inner.is_empty() => Cell::Empty,
            None if is_missing(inner) => Cell::Missing,
            _ => Cell::Bad,
        };
    }
    match negative(text).map(|bare| (sign(bare), figure(bare, style))) {
        // A second sign would be one too many.
        Some(((_, 0), Some((value, "")))) => finite(-value, Cell::Value),
        _ => Cell::Bad,
    }
}

/// A cell without the dress of a spreadsheet: what is left looks like a figure where the cell holds one.
pub(crate) fn bare(text: &str) -> &str {
    as_text(text).or_else(|| negative(text)).unwrap_or(text)
}

/// What is inside a cell that a spreadsheet was told to keep as text: `="0.020"`, also with its quotes doubled, or an
/// apostrophe before it.
fn as_text(text: &str) -> Option<&str> {
    if let Some(rest) = text.strip_prefix('\'').or_else(|| text.strip_prefix('\u{2019}')) {
        return Some(rest.trim());
    }
    let rest = text.strip_prefix('=')?.trim();
    if matches!(rest, "\"\"" | "\"\"\"\"") {
        return Some("");
    }
    let quotes = rest.len() - rest.trim_start_matches('"').len();
    let inner = rest.get(quotes..)?.strip_suffix(rest.get(..quotes)?)?;
    ((1..=2).contains(&quotes) && !inner.contains('"')).then(|| inner.trim())
}

/// The figure without its mark where it is written as negative by brackets, a minus behind it or one with a blank.
fn negative(text: &str) -> Option<&str> {
    let minus: &[char] = &['-', '\u{2212}', '\u{2013}'];
    let bare = text
        .strip_prefix('(')
        .and_then(|rest| rest.strip_suffix(')'))
        .or_else(|| text.strip_suffix(minus))
        .or_else(|| text.strip_prefix(minus).filter(|rest| rest.starts_with([' ', '\u{a0}', '\u{202f}'])))?;
    Some(bare.trim())
}

#[cfg(test)]
mod tests {
    use crate::read::number::{Cell, NumberStyle, bare, parse};

    const COMMA: NumberStyle = NumberStyle { decimal: b',', group: Some('.') };

    #[test]
    fn figures_in_the_dress_of_a_spreadsheet() {
        let style = NumberStyle::default();
        for (text, value) in [
            ("=\"0.020\"", 0.02),
            ("=\"\"101.81\"\"", 101.81),
            ("'101.81", 101.81),
            ("=\"-0.12\"", -0.12),
            ("(0.12)", -0.12),
            ("( 0.12 )", -0.12),
            ("0.12-", -0.12),
            ("0.12 \u{2212}", -0.12),
            ("- 0.12", -0.12),
            ("\u{2212}\u{a0}0.12", -0.12),
        ] {
            assert_eq!(parse(text, style), Cell::Value(value), "{text}");
        }
        assert_eq!(parse("(1.234,5)", COMMA), Cell::Value(-1234.5));
        assert_eq!(parse("=\"350 hPa\"", style), Cell::WithUnit(350.0, "hPa"));
        assert_eq!(parse("=\"n/a\"", style), Cell::Missing);
        assert_eq!(parse("=\"\"", style), Cell::Empty);
        for text in [
            "=A1",
            "=\"1",
            "=1\"",
            "=\"",
            "=",
            "(-0.12)",
            "-0.12-",
            "- -0.12",
            "(0.12",
            "0.12)",
            "(0.12 kPa)",
            "()",
            "-()",
            "''1",
            "5-6-",
            "=\"(1)\"",
        ] {
            assert_eq!(parse(text, style), Cell::Bad, "{text}");
        }
    }

    #[test]
    fn a_bare_cell_keeps_what_is_no_dress() {
        assert_eq!(bare("=\"0.020\""), "0.020");
        assert_eq!(bare("(0.12)"), "0.12");
        for text in ["101.81", "-0.12", "Cyl 1 (kPa)", "=A1", ""] {
            assert_eq!(bare(text), text);
        }
    }
}
