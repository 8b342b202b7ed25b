//! Collects notices and keeps a damaged file from drowning the reader in them.

use std::collections::BTreeMap;

use crate::notice::{Level, Notice};

/// Placed notices kept for one code.
pub(crate) const MOST_PLACED: u64 = 1000;

/// Notices in the order they were found, with at most [`MOST_PLACED`] a code.
#[derive(Debug, Clone, Default)]
pub(crate) struct Notes {
    kept: Vec<Notice>,
    seen: BTreeMap<String, (u64, u64, Level)>,
}

impl Notes {
    pub(crate) fn push(&mut self, notice: Notice) {
        let (seen, rest, _) = self.seen.entry(notice.code.clone()).or_insert((0, 0, notice.level));
        *seen += 1;
        if *seen <= MOST_PLACED {
            self.kept.push(notice);
        } else {
            *rest += notice.count;
        }
    }

    pub(crate) fn note(&mut self, code: &str, text: impl Into<String>) {
        self.push(Notice::new(code, Level::Note, text));
    }

    pub(crate) fn caution(&mut self, code: &str, text: impl Into<String>) {
        self.push(Notice::new(code, Level::Caution, text));
    }

    /// Whether a notice of this code would still be kept: spares building a text that is thrown away.
    pub(crate) fn room(&self, code: &str) -> bool {
        self.seen.get(code).is_none_or(|(seen, _, _)| *seen < MOST_PLACED)
    }

    /// Counts an occurrence for which there is no room.
    pub(crate) fn count_only(&mut self, code: &str, level: Level) {
        let (seen, rest, _) = self.seen.entry(code.to_owned()).or_insert((0, 0, level));
        *seen += 1;
        *rest += 1;
    }

    /// The first notice that has a place.
    pub(crate) fn first_placed(&self) -> Option<&Notice> {
        self.kept.iter().find(|notice| notice.line.is_some())
    }

    /// All notices; where some were left out, one per code that counts the rest.
    pub(crate) fn finish(self) -> Vec<Notice> {
        let mut all = self.kept;
        for (code, (_, rest, level)) in self.seen {
            if rest > 0 {
                let text = format!("and {rest} more of these, not listed one by one");
                all.push(Notice::new(&code, level, text).counted(rest));
            }
        }
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thousand_are_placed_and_one_counts_the_rest() {
        let mut notes = Notes::default();
        for line in 0..1250 {
            notes.push(Notice::new("bad-cell", Level::Caution, "x").at_line(line, None));
        }
        notes.note("gap", "y");
        let all = notes.finish();
        assert_eq!(all.len(), 1002);
        let rest: Vec<&Notice> = all.iter().filter(|n| n.line.is_none() && n.code == "bad-cell").collect();
        assert_eq!(rest.len(), 1);
        assert_eq!(rest[0].count, 250);
    }
}
