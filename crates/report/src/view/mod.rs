//! The view model: a result as finished strings, in the order of the page. Nothing here is computed but the unit.

use evenpull_core::Analysis;
use evenpull_core::notice::Notice;
use evenpull_core::result::{Class, CylinderResult};
use serde::Serialize;

use crate::cautions;
use crate::texts::verdict::{self, Case};
use crate::texts::{advice, capital, cylinders, labels, page, restate};
use crate::units::DisplayUnit;

pub(crate) mod compare;
pub(crate) mod compare_figures;
pub(crate) mod facts;
pub(crate) mod figures;
pub(crate) mod fleet;
pub(crate) mod lesson;
pub(crate) mod plan;
pub(crate) mod rows;
pub(crate) mod tables;
pub(crate) mod timeline;
pub(crate) mod trace;

/// A table as it is printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Table {
    /// Caption.
    pub(crate) caption: String,
    /// Column heads, the first one over the row heads.
    pub(crate) head: Vec<String>,
    /// Rows; the first cell is the row's head.
    pub(crate) rows: Vec<Vec<String>>,
    /// Columns that hold text, not numbers.
    pub(crate) text_columns: Vec<usize>,
    /// Remark under it.
    pub(crate) note: Option<String>,
}

impl Table {
    /// A table without its empty columns (cells that are all `–`).
    pub(crate) fn without_empty_columns(mut self) -> Self {
        let keep: Vec<bool> = (0..self.head.len())
            .map(|i| i == 0 || self.rows.iter().any(|r| r.get(i).is_some_and(|c| c != "–")))
            .collect();
        let pick = |cells: Vec<String>| -> Vec<String> {
            cells.into_iter().zip(&keep).filter(|(_, k)| **k).map(|(c, _)| c).collect()
        };
        self.text_columns = self
            .text_columns
            .iter()
            .filter(|i| keep.get(**i).copied().unwrap_or(false))
            .map(|i| keep[..*i].iter().filter(|k| **k).count())
            .collect();
        self.head = pick(self.head);
        self.rows = self.rows.into_iter().map(pick).collect();
        self
    }
}

/// A question of the first page with its answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Answer {
    /// Question.
    pub(crate) question: &'static str,
    /// Stable key for styles and tests.
    pub(crate) key: &'static str,
    /// Answer, one paragraph a line.
    pub(crate) lines: Vec<String>,
}

/// Label and value.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Fact {
    /// Label.
    pub(crate) label: String,
    /// Value.
    pub(crate) value: String,
}

/// A notice as it is printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct NoticeLine {
    /// Level in one word.
    pub(crate) level: &'static str,
    /// Code.
    pub(crate) code: String,
    /// Text.
    pub(crate) text: String,
    /// Where.
    pub(crate) place: String,
    /// Start of its stretch, s, for jumping to it.
    pub(crate) start_s: Option<f64>,
}

/// Why a cylinder has its class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Evidence {
    /// `Cylinder 3: lean (inferred)`.
    pub(crate) head: String,
    /// Sentences.
    pub(crate) lines: Vec<String>,
}

/// The page of one review in finished strings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct ReviewView {
    /// Title of the document.
    pub(crate) title: String,
    /// Line over the headline.
    pub(crate) kicker: String,
    /// Headline.
    pub(crate) headline: String,
    /// Verdict in three words.
    pub(crate) verdict: &'static str,
    /// What was looked at.
    pub(crate) facts: Vec<Fact>,
    /// The five answers.
    pub(crate) answers: Vec<Answer>,
    /// How far the method has been proven.
    pub(crate) checked: &'static str,
    /// Result per cylinder.
    pub(crate) cylinders: Option<Table>,
    /// Why.
    pub(crate) evidence: Vec<Evidence>,
    /// What a plain display would have shown.
    pub(crate) display: Option<(String, Table)>,
    /// As found, as left, raised.
    pub(crate) states: Option<Table>,
    /// Screws turned.
    pub(crate) adjustments: Option<Table>,
    /// What the recording held.
    pub(crate) recorded: Option<Table>,
    /// What is missing for a better answer.
    pub(crate) missing: Vec<String>,
    /// Notices.
    pub(crate) notices: Vec<NoticeLine>,
    /// Trouble codes.
    pub(crate) trouble_codes: Option<Table>,
    /// When codes were cleared.
    pub(crate) codes_cleared: Option<String>,
    /// How the numbers were made.
    pub(crate) method: Vec<String>,
    /// Settings.
    pub(crate) settings: Option<Table>,
    /// Differences between pairs.
    pub(crate) pairs: Option<Table>,
    /// Stretches judged.
    pub(crate) windows: Option<Table>,
    /// Stretches not judged.
    pub(crate) excluded: Option<Table>,
    /// Columns.
    pub(crate) channels: Option<Table>,
    /// Cautions.
    pub(crate) cautions: Vec<cautions::Caution>,
    /// Facts that make the page reproducible.
    pub(crate) origin: Vec<Fact>,
}

/// Builds the view model.
pub(crate) fn review(analysis: &Analysis, unit: DisplayUnit) -> ReviewView {
    let r = &analysis.review;
    let case = Case::new(analysis, unit);
    let name = r.machine.id.clone().unwrap_or_else(|| r.source.name.clone());
    let answer = |question, key, lines| Answer { question, key, lines };
    ReviewView {
        title: format!("{name}: {}", labels::verdict(r.verdict)),
        kicker: format!("Idle review of {name}"),
        headline: verdict::headline(&case),
        verdict: labels::verdict(r.verdict),
        facts: facts::facts(analysis, unit),
        answers: vec![
            answer("Which cylinder?", "which", verdict::which(&case)),
            answer("Which way, how far?", "how-far", verdict::how_far(&case)),
            answer("How sure?", "how-sure", verdict::how_sure(&case)),
            answer("What next?", "next", advice::next(&case)),
            answer("What not to do?", "not", advice::not_to_do(&case)),
        ],
        checked: page::CHECKED,
        cylinders: tables::cylinders(r, &unit),
        evidence: evidence(analysis, &unit),
        display: tables::display(analysis, &unit),
        states: tables::states(r, &unit),
        adjustments: tables::adjustments(r, &unit),
        recorded: rows::recorded(r),
        missing: missing(analysis),
        notices: notices(&r.notices, &unit),
        trouble_codes: rows::trouble_codes(r),
        codes_cleared: rows::codes_cleared(r),
        method: analysis.context.method.clone(),
        settings: rows::settings(analysis),
        pairs: tables::pairs(analysis, &unit),
        windows: rows::windows(r),
        excluded: rows::excluded(r),
        channels: rows::channels(r),
        cautions: cautions::LINES.to_vec(),
        origin: facts::origin(analysis),
    }
}

/// Cylinders with something to explain first, each under its own heading; even ones together.
fn evidence(analysis: &Analysis, unit: &DisplayUnit) -> Vec<Evidence> {
    let told = |c: &&CylinderResult| !c.evidence.is_empty();
    let lines =
        |c: &CylinderResult| c.evidence.iter().map(|e| restate::sentence(e, unit)).collect::<Vec<_>>();
    let (even, odd): (Vec<_>, Vec<_>) =
        analysis.review.cylinders.iter().filter(told).partition(|c| c.class == Class::Even);
    // Cylinders of which the same is said stand together.
    let mut groups: Vec<(Vec<u32>, &CylinderResult)> = Vec::new();
    for c in odd {
        match groups.last_mut() {
            Some((numbers, same)) if same.class == c.class && same.evidence == c.evidence => {
                numbers.push(c.cylinder);
            }
            _ => groups.push((vec![c.cylinder], c)),
        }
    }
    let mut out: Vec<Evidence> = groups
        .into_iter()
        .map(|(numbers, c)| Evidence {
            head: format!("{}: {}", capital(&cylinders(&numbers)), labels::class(c.class, c.basis)),
            lines: lines(c),
        })
        .collect();
    if !even.is_empty() {
        let numbers: Vec<u32> = even.iter().map(|c| c.cylinder).collect();
        out.push(Evidence {
            head: format!("{}: even", capital(&cylinders(&numbers))),
            lines: even.iter().map(|c| format!("Cylinder {}: {}", c.cylinder, lines(c).join(" "))).collect(),
        });
    }
    out
}

fn missing(analysis: &Analysis) -> Vec<String> {
    let parts = analysis.review.recorded.iter().filter(|p| !p.found);
    parts.map(|p| labels::part_gives(&p.part)).filter(|t| !t.is_empty()).map(str::to_owned).collect()
}

/// Notices shown in full for each code; the rest is counted.
const SHOWN_PER_CODE: usize = 4;

fn notices(all: &[Notice], unit: &DisplayUnit) -> Vec<NoticeLine> {
    let mut sorted: Vec<&Notice> = all.iter().collect();
    sorted.sort_by_key(|n| std::cmp::Reverse(n.level));
    let mut out: Vec<NoticeLine> = Vec::new();
    for n in sorted.iter() {
        let before = out.iter().filter(|o| o.code == n.code).count();
        if before == SHOWN_PER_CODE {
            let more = all.iter().filter(|o| o.code == n.code).count() - before;
            out.push(NoticeLine {
                level: labels::level(n.level),
                code: n.code.clone(),
                text: format!("{more} more of this kind; all of them stand in the JSON file."),
                place: String::new(),
                start_s: None,
            });
        } else if before < SHOWN_PER_CODE {
            out.push(NoticeLine {
                level: labels::level(n.level),
                code: n.code.clone(),
                text: restate::sentence(&n.text, unit),
                place: rows::place(n),
                start_s: n.start_s.filter(|s| s.is_finite()),
            });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use evenpull_core::notice::Level;

    #[test]
    fn empty_columns_go_and_text_columns_follow() {
        let row = |cells: [&str; 4]| cells.map(str::to_owned).to_vec();
        let t = Table {
            caption: String::new(),
            head: row(["a", "b", "c", "d"]),
            rows: vec![row(["1", "–", "2", "x"]), row(["2", "–", "3", "–"])],
            text_columns: vec![1, 3],
            note: None,
        }
        .without_empty_columns();
        assert_eq!(t.head, ["a", "c", "d"]);
        assert_eq!(t.text_columns, [2]);
    }

    #[test]
    fn a_thousand_notices_make_five_lines_and_faults_come_first() {
        let mut all: Vec<Notice> =
            (0..1000).map(|i| Notice::new("gap", Level::Note, format!("gap {i}"))).collect();
        all.push(Notice::new("railed-sensor", Level::Fault, "railed"));
        let context = crate::demo::build(&crate::demo::Spec::outboard()).context;
        let lines = notices(&all, &DisplayUnit::choose(None, &context, None));
        assert_eq!(lines.len(), 6);
        assert_eq!(lines[0].code, "railed-sensor");
        assert!(lines[5].text.starts_with("996 more"), "{}", lines[5].text);
    }
}
