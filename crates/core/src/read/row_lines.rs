//! The line of each row, kept small: in an undamaged stretch rows and lines advance together.

/// Lines of rows by stretches.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct RowLines {
    /// First row of a stretch and its line.
    stretches: Vec<(u32, u32)>,
    rows: u32,
}

impl RowLines {
    /// Adds one row.
    pub(crate) fn push(&mut self, line: u64) {
        self.push_run(line, 1);
    }

    /// Adds rows on consecutive lines.
    pub(crate) fn push_run(&mut self, line: u64, count: usize) {
        let line = u32::try_from(line).unwrap_or(u32::MAX);
        let goes_on = self.stretches.last().is_some_and(|(row, first)| first + (self.rows - row) == line);
        if !goes_on && count > 0 {
            self.stretches.push((self.rows, line));
        }
        self.rows = self.rows.saturating_add(u32::try_from(count).unwrap_or(u32::MAX));
    }

    pub(crate) fn len(&self) -> usize {
        self.rows as usize
    }

    /// Line of a row; `None` where rows have no lines.
    pub(crate) fn get(&self, row: usize) -> Option<u64> {
        let row = u32::try_from(row).ok().filter(|row| *row < self.rows)?;
        let at = self.stretches.partition_point(|(first, _)| *first <= row).checked_sub(1)?;
        let (first, line) = self.stretches[at];
        Some(u64::from(line) + u64::from(row - first))
    }
}

/// Rows that are kept of a longer list: all, or these.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Keep {
    All(usize),
    These(Vec<u32>),
}

impl Default for Keep {
    fn default() -> Self {
        Self::All(0)
    }
}

impl Keep {
    pub(crate) fn len(&self) -> usize {
        match self {
            Self::All(rows) => *rows,
            Self::These(list) => list.len(),
        }
    }

    /// Index in the longer list.
    pub(crate) fn get(&self, at: usize) -> usize {
        match self {
            Self::All(_) => at,
            Self::These(list) => list.get(at).map_or(usize::MAX, |row| *row as usize),
        }
    }

    /// The kept values, in place where all are kept.
    pub(crate) fn apply(&self, values: Vec<f64>) -> Vec<f64> {
        match self {
            Self::All(_) => values,
            Self::These(list) => {
                list.iter().map(|row| values.get(*row as usize).copied().unwrap_or(f64::NAN)).collect()
            }
        }
    }

    /// Number of kept rows before an index of the longer list.
    pub(crate) fn before(&self, index: usize) -> usize {
        match self {
            Self::All(rows) => index.min(*rows),
            Self::These(list) => list.partition_point(|row| (*row as usize) < index),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_rows_with_holes() {
        let mut lines = RowLines::default();
        lines.push_run(2, 3);
        lines.push(9);
        lines.push(10);
        let found: Vec<Option<u64>> = (0..6).map(|row| lines.get(row)).collect();
        assert_eq!(found, [Some(2), Some(3), Some(4), Some(9), Some(10), None]);
        assert_eq!(lines.stretches.len(), 2);
        assert_eq!(RowLines::default().get(0), None);
    }
}
