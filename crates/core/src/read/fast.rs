//! The quick way through a clean block of figures.
//!
//! It takes plain figures, whole rows and nothing else. At the first sign of anything else (a blank line, a quote, a
//! missing cell, a long figure) it gives the stretch back, and [`super::rows`] reads it line by line and says what
//! was wrong where. A figure of at most 15 digits is one exact operation on two doubles, hence correctly rounded
//! (Clinger 1990), as on the slow way: both give the same bits.

use std::sync::Mutex;

use super::lines::Delimiter;
use super::rows::{Reader, RowFormat};

/// What the quick way needs to know of a table.
#[derive(Debug)]
pub(crate) struct Fast {
    delimiter: u8,
    decimal: u8,
    wanted: Vec<bool>,
    /// Memory of stretches that were taken over, for those to come.
    spare: Mutex<Vec<Vec<Vec<f64>>>>,
}

/// Columns of a clean stretch.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Stretch {
    /// One list a wanted column, in order.
    pub(crate) values: Vec<Vec<f64>>,
    pub(crate) rows: usize,
}

const POWERS: [f64; 16] =
    [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

impl Fast {
    /// `None` where the table needs the slow way throughout.
    pub(crate) fn new(format: &RowFormat<'_>) -> Option<Self> {
        let Delimiter::Mark(delimiter) = format.delimiter else { return None };
        let plain = format.readers.iter().all(|r| matches!(r, Reader::Skip | Reader::Figure));
        let decimal = format.style.decimal;
        (plain && format.style.group.is_none() && delimiter != decimal).then(|| Self {
            delimiter,
            decimal,
            wanted: format.readers.iter().map(|r| *r == Reader::Figure).collect(),
            spare: Mutex::default(),
        })
    }

    /// Takes the memory of stretches back.
    pub(crate) fn take_back(&self, stretches: Vec<Option<Stretch>>) {
        if let Ok(mut spare) = self.spare.lock() {
            spare.extend(stretches.into_iter().flatten().map(|stretch| stretch.values));
        }
    }

    /// Reads whole lines ended by LF or CRLF; `None` at anything out of the ordinary.
    pub(crate) fn read(&self, bytes: &[u8]) -> Option<Stretch> {
        let count = self.wanted.iter().filter(|wanted| **wanted).count();
        let spare = self.spare.lock().ok().and_then(|mut spare| spare.pop());
        let mut values = spare.unwrap_or_else(|| vec![Vec::new(); count]);
        values.iter_mut().for_each(Vec::clear);
        let (mut at, mut rows) = (0, 0);
        while at < bytes.len() {
            at = self.row(bytes, at, &mut values)?;
            rows += 1;
        }
        Some(Stretch { values, rows })
    }

    fn row(&self, bytes: &[u8], mut at: usize, values: &mut [Vec<f64>]) -> Option<usize> {
        let last = self.wanted.len() - 1;
        let mut list = 0;
        for (column, wanted) in self.wanted.iter().enumerate() {
            if *wanted {
                while bytes.get(at) == Some(&b' ') {
                    at += 1;
                }
                let (value, next) = self.figure(bytes, at)?;
                values.get_mut(list)?.push(value);
                list += 1;
                at = next;
                while bytes.get(at) == Some(&b' ') {
                    at += 1;
                }
            } else {
                while bytes
                    .get(at)
                    .is_some_and(|b| !matches!(*b, b'\n' | b'\r' | b'"') && *b != self.delimiter)
                {
                    at += 1;
                }
            }
            if column < last {
                if bytes.get(at) != Some(&self.delimiter) {
                    return None;
                }
                at += 1;
            }
        }
        // A delimiter at the end of a row is no further field.
        if bytes.get(at) == Some(&self.delimiter) {
            at += 1;
        }
        match bytes.get(at..) {
            None | Some([]) => Some(bytes.len()),
            Some([b'\n', ..]) => Some(at + 1),
            Some([b'\r', b'\n', ..]) => Some(at + 2),
            _ => None,
        }
    }

    /// One figure with at most 15 digits and no exponent.
    fn figure(&self, bytes: &[u8], mut at: usize) -> Option<(f64, usize)> {
        let negative = match bytes.get(at)? {
            b'-' => true,
            b'+' => false,
            _ => {
                at = at.wrapping_sub(1);
                false
            }
        };
        at = at.wrapping_add(1);
        let start = at;
        let mut mantissa = 0u64;
        if let Some(word) = bytes.get(at..).and_then(<[u8]>::first_chunk::<8>) {
            let short = short(u64::from_le_bytes(*word), self.decimal);
            if let Some((mantissa, length, fraction)) = short {
                let value = mantissa as f64 / POWERS[fraction];
                return Some((if negative { -value } else { value }, at + length));
            }
        }
        while let Some(digit) = bytes.get(at).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10) {
            mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
            at += 1;
        }
        let mut digits = at - start;
        let mut fraction = 0;
        if bytes.get(at) == Some(&self.decimal) {
            at += 1;
            let from = at;
            while let Some(digit) = bytes.get(at).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10) {
                mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
                at += 1;
            }
            fraction = at - from;
            digits += fraction;
        }
        if digits == 0 || digits > 15 {
            return None;
        }
        let value = mantissa as f64 / POWERS[fraction];
        Some((if negative { -value } else { value }, at))
    }
}

/// A figure that ends within eight bytes, the first of them the lowest: its digits as a whole number, its length and
/// how many of the digits stand behind the mark. `None` for anything else.
///
/// All eight bytes are looked at together; what is no digit ends the figure, the mark is closed up, and pairs, fours and
/// eights of digits are added in three steps.
fn short(word: u64, decimal: u8) -> Option<(u64, usize, usize)> {
    const ONES: u64 = 0x0101_0101_0101_0101;
    let digits = word ^ (0x30 * ONES);
    // The high bit of each byte that is above nine.
    let others = (((digits & (0x7f * ONES)) + 0x76 * ONES) | digits) & (0x80 * ONES);
    let first = others.trailing_zeros() / 8;
    if first >= 8 {
        return None;
    }
    let (digits, count, length, fraction) = if (word >> (8 * first)) as u8 == decimal {
        let end = (others & (others - 1)).trailing_zeros() / 8;
        if end >= 8 {
            return None;
        }
        let before = (1u64 << (8 * first)) - 1;
        ((digits & before) | ((digits >> 8) & !before), end - 1, end, end - 1 - first)
    } else {
        (digits, first, first, 0)
    };
    if count == 0 {
        return None;
    }
    let digits = digits << (64 - 8 * count);
    let pairs = (digits.wrapping_mul(10) + (digits >> 8)) & 0x00ff_00ff_00ff_00ff;
    let fours = (pairs.wrapping_mul(100) + (pairs >> 16)) & 0x0000_ffff_0000_ffff;
    let eight = (fours.wrapping_mul(10_000) + (fours >> 32)) & 0xffff_ffff;
    Some((eight, length as usize, fraction as usize))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_figures_are_what_the_standard_library_reads() {
        let mut seen = 0;
        for text in ["0", "7.", ".5", "48.45", "1076", "6.847162", "99999.9", "0000.01", "123456", "0.1"] {
            for end in [",", ";", "\n", " ", "x"] {
                let mut bytes = [text, end, "9.87654321"].concat().into_bytes();
                bytes.truncate(8);
                let Ok(word) = <[u8; 8]>::try_from(bytes) else { continue };
                let found = short(u64::from_le_bytes(word), b'.');
                if text.len() > 7 {
                    assert_eq!(found, None, "{text}");
                    continue;
                }
                let Some((mantissa, length, fraction)) = found else { panic!("{text:?} {end:?}") };
                assert_eq!(length, text.len());
                assert_eq!(Ok(mantissa as f64 / POWERS[fraction]), text.parse::<f64>(), "{text:?}");
                seen += 1;
            }
        }
        assert!(seen > 40);
        for none in ["12345678", "1234567.", ".,345678", "-1,34567", ",1234567", "\u{e9}1,4567"] {
            let Ok(word) = <[u8; 8]>::try_from(none.as_bytes()) else { panic!("{none}") };
            assert_eq!(short(u64::from_le_bytes(word), b'.').filter(|f| f.1 > 0), None, "{none}");
        }
    }

    fn fast() -> Fast {
        Fast { delimiter: b';', decimal: b',', wanted: vec![true, false, true], spare: Mutex::default() }
    }

    #[test]
    fn clean_rows_are_read_as_the_standard_library_would() {
        let stretch =
            fast().read(b"0,10;x;-3,25\r\n 1,2 ;y y;+35,2999992\n0,3;;7").map(|s| (s.rows, s.values));
        // The right-hand sides are parsed by the compiler.
        let want = vec![vec![0.10, 1.2, 0.3], vec![-3.25, 35.299_999_2, 7.0]];
        assert_eq!(stretch, Some((3, want)));
    }

    #[test]
    fn anything_else_is_given_back() {
        for text in [
            "1;x;\n",
            "1;x\n",
            "1;x;2;3\n",
            "1;\"x\";2\n",
            "\n",
            "1;x;NaN\n",
            "1;x;1e5\n",
            "1;x;1.5\n",
            "# note\n",
            "1;x;12345678901234567\n",
            "1;x;2 3\n",
            "1;x;--2\n",
            "1;x;,\n",
        ] {
            assert_eq!(fast().read(text.as_bytes()), None, "{text:?}");
        }
    }
}
