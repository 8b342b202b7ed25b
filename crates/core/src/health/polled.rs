//! Channels polled in turn: which rows hold a fresh reading and which only repeat an older one.
//!
//! # Method
//! A diagnostic link asks for one quantity after the other; a logger then writes a row for each answer and repeats the
//! others. A channel's changes then all fall on the same residue of the row number modulo the length of the round. The
//! largest round of at most 24 rows for which at least 93 % of the changes share one residue is taken, and every row of that
//! residue counts as a reading, also where the value happens to repeat: keeping only the changes would pick the jumps and
//! make the scatter several times too large.

use crate::stats::lanes;

/// Rows at which one channel was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Turn {
    /// Rows in one round; 1 = read in every row.
    pub round: usize,
    /// Residue of the row number at which this channel is read.
    pub residue: usize,
}

const LONGEST: usize = 24;
const SHARE: f64 = 0.93;
const FEWEST_CHANGES: usize = 8;

/// Finds the round of one channel from where its values change.
///
/// # Shape
/// One value per row; missing values (`NaN`) neither change nor count.
#[must_use]
pub fn turn(values: &[f64]) -> Turn {
    let every = Turn { round: 1, residue: 0 };
    let (present, moved) =
        if lanes::all_finite(values) { (values.len(), lanes::changes(values)) } else { counted(values) };
    // A channel that moves in most rows is read in every one.
    if moved * 5 > present * 4 {
        return every;
    }
    let mut changes = Vec::with_capacity(moved);
    let mut last: Option<f64> = None;
    for (k, &v) in values.iter().enumerate().filter(|(_, v)| v.is_finite()) {
        if last.is_some_and(|l| l != v) {
            changes.push(k);
        }
        last = Some(v);
    }
    if changes.len() < FEWEST_CHANGES {
        return every;
    }
    let mut best = every;
    for round in 2..=LONGEST.min(values.len() / FEWEST_CHANGES) {
        let mut hits = [0usize; LONGEST];
        for &k in &changes {
            hits[k % round] += 1;
        }
        let Some((residue, most)) = hits[..round].iter().enumerate().max_by_key(|(i, h)| (**h, LONGEST - i))
        else {
            continue;
        };
        if *most as f64 >= SHARE * changes.len() as f64 {
            best = Turn { round, residue };
        }
    }
    best
}

/// Present values, and how many differ from the one before.
fn counted(values: &[f64]) -> (usize, usize) {
    let (mut present, mut moved, mut last) = (0usize, 0usize, f64::NAN);
    for &v in values {
        let finite = v.is_finite();
        present += usize::from(finite);
        moved += usize::from(finite && last.is_finite() && v != last);
        last = if finite { v } else { last };
    }
    (present, moved)
}

/// Rows that hold a reading of a channel with this turn.
#[must_use]
pub fn rows(turn: Turn, len: usize) -> Vec<usize> {
    (turn.residue..len).step_by(turn.round).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// A reading every fourth row, whole units, often equal to the one before.
    fn polled() -> Vec<f64> {
        let reading = |i: usize| f64::from([385, 386, 386, 387, 386, 385, 385, 386, 388, 386, 386][i % 11]);
        (0..400).map(|k| reading((k + 2) / 4)).collect()
    }

    #[test]
    fn the_round_is_found_and_repeats_count_as_readings() {
        let v = polled();
        let t = turn(&v);
        assert_eq!(t, Turn { round: 4, residue: 2 });
        let read = rows(t, v.len());
        assert_eq!(read.len(), 100);
        // The naive way keeps only the rows where the value changed: fewer readings, and only the jumps.
        let changed = (1..v.len()).filter(|&k| v[k] != v[k - 1]).count();
        assert!(changed < 75, "{changed}");
    }

    #[test]
    fn a_channel_read_in_every_row_is_not_polled() {
        let v: Vec<f64> = (0..400).map(|k| f64::from((k * 7919) % 101)).collect();
        assert_eq!(turn(&v), Turn { round: 1, residue: 0 });
    }

    #[test]
    fn a_flat_channel_says_nothing() {
        assert_eq!(turn(&vec![47.3; 500]).round, 1);
    }
}
