//! The quick way through a clean block of figures.
//!
//! It takes plain figures, whole rows and nothing else. At the first sign of anything else (a blank line, a quote, a
//! missing cell, a long figure) it gives the stretch back, and [`super::rows`] reads it line by line and says what
//! was wrong where. A figure of at most 15 digits is one exact operation on two doubles, hence correctly rounded
//! (Clinger 1990), as on the slow way: both give the same bits.

use super::lines::Delimiter;
use super::rows::{Reader, RowFormat};

/// What the quick way needs to know of a table.
#[derive(Debug, Clone)]
pub(crate) struct Fast {
    delimiter: u8,
    decimal: u8,
    wanted: Vec<bool>,
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
        })
    }

    /// Reads whole lines ended by LF or CRLF; `None` at anything out of the ordinary.
    pub(crate) fn read(&self, bytes: &[u8]) -> Option<Stretch> {
        let count = self.wanted.iter().filter(|wanted| **wanted).count();
        let guess = bytes.len() / (6 * self.wanted.len()) + 16;
        let mut values: Vec<Vec<f64>> = (0..count).map(|_| Vec::with_capacity(guess)).collect();
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

#[cfg(test)]
mod tests {
    use super::*;

    fn fast() -> Fast {
        Fast { delimiter: b';', decimal: b',', wanted: vec![true, false, true] }
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
