//! A few rows at a time, and what each channel reads in them: the unit that wide registers work on.

// By index throughout: what an iterator is made of is not always taken into a loop for wide registers.
#![allow(clippy::needless_range_loop)]

use super::Readings;
use super::turns::{Lane, ROWS};

/// What one channel brings to a tile; rows without a reading weigh nothing.
#[derive(Clone)]
pub(in crate::pulse) struct Part {
    pub(in crate::pulse) weights: Lane,
    /// Readings less the level.
    pub(in crate::pulse) rest: Lane,
    /// The same times their weights.
    pub(in crate::pulse) weighted: Lane,
    /// 1 where there is a reading, else 0.
    pub(in crate::pulse) reads: Lane,
}

impl Part {
    pub(in crate::pulse) const NONE: Self =
        Self { weights: [0.0; ROWS], rest: [0.0; ROWS], weighted: [0.0; ROWS], reads: [0.0; ROWS] };

    #[inline(always)]
    pub(in crate::pulse) fn set(&mut self, channel: &Readings<'_>, level: f64, rows: &Tile) {
        rows.take(channel.weights, &mut self.weights);
        rows.take(channel.values, &mut self.rest);
        for j in rows.used..ROWS {
            self.weights[j] = 0.0;
        }
        for j in 0..ROWS {
            let (w, y) = (self.weights[j], self.rest[j] - level);
            let reads = (w > 0.0) & (y.abs() < f64::INFINITY);
            self.weights[j] = if reads { w } else { 0.0 };
            self.rest[j] = if reads { y } else { 0.0 };
            self.reads[j] = if reads { 1.0 } else { 0.0 };
            self.weighted[j] = self.weights[j] * self.rest[j];
        }
    }

    /// Number of readings.
    #[inline(always)]
    pub(in crate::pulse) fn count(&self) -> f64 {
        let mut count = 0.0;
        for j in 0..ROWS {
            count += self.reads[j];
        }
        count
    }

    #[inline(always)]
    pub(in crate::pulse) fn weighs_as(&self, other: &Self) -> bool {
        let mut apart = 0.0;
        for j in 0..ROWS {
            apart += (self.weights[j] - other.weights[j]).abs();
        }
        apart == 0.0
    }
}

/// Rows of a tile; the last one stands for those that are not there.
pub(in crate::pulse) struct Tile {
    rows: [usize; ROWS],
    pub(in crate::pulse) used: usize,
}

impl Tile {
    pub(in crate::pulse) const NONE: Self = Self { rows: [0; ROWS], used: 0 };

    /// The next rows.
    #[inline(always)]
    pub(in crate::pulse) fn fill(&mut self, rows: &mut impl Iterator<Item = usize>) {
        self.used = 0;
        while self.used < ROWS {
            let Some(row) = rows.next() else { break };
            self.rows[self.used] = row;
            self.used += 1;
        }
        for j in self.used.max(1)..ROWS {
            self.rows[j] = self.rows[j - 1];
        }
    }

    /// Values in the rows.
    #[inline(always)]
    pub(in crate::pulse) fn take(&self, values: &[f64], out: &mut Lane) {
        let (first, last) = (self.rows[0], self.rows[ROWS - 1]);
        if self.used == ROWS && last.wrapping_sub(first) == ROWS - 1 {
            // Rows rise: so these are neighbours.
            out.copy_from_slice(&values[first..=last]);
        } else {
            for j in 0..ROWS {
                out[j] = values[self.rows[j]];
            }
        }
    }
}
