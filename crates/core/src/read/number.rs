//! One cell as a number: decimal point or comma, thousands marks, Unicode minus, a unit behind the figure, and the
//! words that loggers write where they have no value.

mod dress;
mod missing;

pub(crate) use dress::bare;
pub(crate) use missing::is_missing;

/// How figures are written in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct NumberStyle {
    /// `b'.'` or `b','`.
    pub(crate) decimal: u8,
    /// Mark between groups of three digits, if any.
    pub(crate) group: Option<char>,
}

impl Default for NumberStyle {
    fn default() -> Self {
        Self { decimal: b'.', group: None }
    }
}

/// What a cell holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Cell<'a> {
    /// A figure.
    Value(f64),
    /// A figure with a unit behind it.
    WithUnit(f64, &'a str),
    /// Nothing there.
    Empty,
    /// A word that says there is no value.
    Missing,
    /// Neither.
    Bad,
}

/// Reads one cell.
pub(crate) fn parse<'a>(text: &'a str, style: NumberStyle) -> Cell<'a> {
    let text = text.trim();
    if text.is_empty() {
        return Cell::Empty;
    }
    match figure(text, style) {
        Some((value, "")) => finite(value, Cell::Value),
        Some((value, rest)) if is_unit(rest) => finite(value, |v| Cell::WithUnit(v, rest.trim())),
        _ if is_missing(text) => Cell::Missing,
        _ => dress::parse(text, style),
    }
}

fn finite<'a>(value: f64, wrap: impl Fn(f64) -> Cell<'a>) -> Cell<'a> {
    if value.is_finite() { wrap(value) } else { Cell::Bad }
}

/// Text behind a figure that can be a unit: short, and it starts like one.
fn is_unit(rest: &str) -> bool {
    let rest = rest.trim();
    let starts =
        rest.starts_with(|c: char| c.is_alphabetic() || matches!(c, '%' | '\u{b0}' | '"' | '\u{2033}'));
    let digits = rest.contains(|c: char| c.is_ascii_digit());
    starts && rest.len() <= 12 && (!digits || super::unit_words::parse(rest).is_some())
}

/// Powers of ten that a double holds exactly.
const EXACT: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];

/// The figure at the start of a text and what stands behind it.
///
/// The common case (at most 15 digits, small exponent) is one multiplication or division of two exact doubles and
/// therefore correctly rounded (Clinger 1990); everything else goes through the standard library.
pub(crate) fn figure(text: &str, style: NumberStyle) -> Option<(f64, &str)> {
    let bytes = text.as_bytes();
    let (negative, mut at) = sign(text);
    let (mut mantissa, mut digits, mut scale) = (0u64, 0usize, 0i32);
    let (mut seen_mark, mut plain) = (false, true);
    let mut cleaned: Option<String> = None;
    let start = at;
    while at < bytes.len() {
        let b = bytes[at];
        if b.is_ascii_digit() {
            digits += 1;
            if digits <= 18 {
                mantissa = mantissa * 10 + u64::from(b - b'0');
            } else {
                plain = false;
            }
            scale -= i32::from(seen_mark);
            at += 1;
        } else if b == style.decimal && !seen_mark {
            seen_mark = true;
            at += 1;
        } else if let Some(width) = group_here(text, at, start, seen_mark, style) {
            cleaned.get_or_insert_with(String::new);
            at += width;
        } else {
            break;
        }
    }
    if digits == 0 {
        return None;
    }
    let mark_end = at;
    let (exponent, at) = exponent(bytes, at);
    let power = scale + exponent;
    let value = if plain && mantissa < (1 << 53) && power.unsigned_abs() <= 22 {
        let whole = mantissa as f64;
        let factor = EXACT[power.unsigned_abs() as usize];
        if power < 0 { whole / factor } else { whole * factor }
    } else {
        let digits: String = text[start..mark_end]
            .chars()
            .filter_map(|c| match c {
                c if c == char::from(style.decimal) => Some('.'),
                c if c.is_ascii_digit() => Some(c),
                _ => None,
            })
            .collect();
        format!("{digits}e{exponent}").parse().ok()?
    };
    Some((if negative { -value } else { value }, &text[at..]))
}

/// Sign at the start of a text, and where the digits begin.
fn sign(text: &str) -> (bool, usize) {
    match text.chars().next() {
        Some('-') => (true, 1),
        Some('+') => (false, 1),
        Some(c @ ('\u{2212}' | '\u{2013}' | '\u{fe63}' | '\u{ff0d}')) => (true, c.len_utf8()),
        _ => (false, 0),
    }
}

/// Width of a thousands mark at this place: between digits, three of which follow.
fn group_here(text: &str, at: usize, start: usize, seen_mark: bool, style: NumberStyle) -> Option<usize> {
    let group = style.group?;
    if seen_mark || at == start {
        return None;
    }
    let found = text[at..].chars().next()?;
    let same = found == group
        || (group == ' ' && matches!(found, '\u{a0}' | '\u{202f}' | '\u{2009}'))
        || (group == '\'' && found == '\u{2019}');
    let width = found.len_utf8();
    let next = text.as_bytes().get(at + width..)?;
    let three = next.len() >= 3 && next[..3].iter().all(u8::is_ascii_digit);
    let more = next.get(3).is_some_and(u8::is_ascii_digit);
    (same && three && !more).then_some(width)
}

/// A decimal exponent at this place, and where the text goes on.
fn exponent(bytes: &[u8], at: usize) -> (i32, usize) {
    if !matches!(bytes.get(at), Some(b'e' | b'E')) {
        return (0, at);
    }
    let (negative, mut next) = match bytes.get(at + 1) {
        Some(b'-') => (true, at + 2),
        Some(b'+') => (false, at + 2),
        _ => (false, at + 1),
    };
    let first = next;
    let mut value = 0i32;
    while let Some(b) = bytes.get(next).filter(|b| b.is_ascii_digit()) {
        value = (value * 10 + i32::from(b - b'0')).min(9999);
        next += 1;
    }
    if next == first {
        return (0, at);
    }
    (if negative { -value } else { value }, next)
}

#[cfg(test)]
mod tests {
    use super::*;

    const COMMA: NumberStyle = NumberStyle { decimal: b',', group: Some('.') };

    #[test]
    fn figures_as_the_standard_library_reads_them() {
        for text in [
            "0",
            "-0.5",
            "35.2999992",
            "1e3",
            "1.5E-7",
            "123456789012345678901234",
            "0.1",
            "9007199254740993",
            "1e-320",
        ] {
            let (value, rest) = figure(text, NumberStyle::default()).expect(text);
            assert_eq!(value.to_bits(), text.parse::<f64>().expect(text).to_bits(), "{text}");
            assert_eq!(rest, "");
        }
    }

    #[test]
    fn decimal_comma_and_thousands() {
        assert_eq!(parse("1.234,5", COMMA), Cell::Value(1234.5));
        assert_eq!(parse("0,000", COMMA), Cell::Value(0.0));
        let narrow = NumberStyle { decimal: b',', group: Some(' ') };
        assert_eq!(parse("1\u{202f}012,5", narrow), Cell::Value(1012.5));
        let swiss = NumberStyle { decimal: b'.', group: Some('\'') };
        assert_eq!(parse("1\u{2019}012.5", swiss), Cell::Value(1012.5));
        // A mark that is not followed by three digits is no thousands mark.
        assert_eq!(parse("1.23,5", COMMA), Cell::Bad);
    }

    #[test]
    fn signs_units_and_missing_words() {
        let style = NumberStyle::default();
        assert_eq!(parse("\u{2212}12.5", style), Cell::Value(-12.5));
        assert_eq!(parse("350 hPa", style), Cell::WithUnit(350.0, "hPa"));
        assert_eq!(parse("35%", style), Cell::WithUnit(35.0, "%"));
        for text in ["NaN", "--", "---", "n/a", "#N/A", "ERROR", "Fehler", "-"] {
            assert_eq!(parse(text, style), Cell::Missing, "{text}");
        }
        assert_eq!(parse(" ", style), Cell::Empty);
        for text in ["3x.7", "1/min", "12..5", "1e999", "4\u{0}5", "0x1F"] {
            assert_eq!(parse(text, style), Cell::Bad, "{text}");
        }
    }
}
