//! The short verdict for a terminal: plain text, at most 80 columns, nothing that could steer the terminal.

use evenpull_core::Analysis;
use evenpull_core::notice::Level;
use evenpull_core::safe_text::is_hostile;

use crate::cautions;
use crate::page::PageOptions;
use crate::texts::verdict::{self, Case};
use crate::texts::{advice, capital, page, restate};
use crate::units::DisplayUnit;

const COLUMNS: usize = 78;
const LABEL: usize = 12;

/// The verdict in some ten lines.
#[must_use]
pub fn terminal_summary(analysis: &Analysis, options: &PageOptions) -> String {
    let r = &analysis.review;
    let unit = DisplayUnit::choose(options.unit, &analysis.context, r.barometer_kpa);
    let case = Case::new(analysis, unit);
    let mut out = String::new();
    let head = match &r.machine.id {
        Some(id) => format!("{} ({id}): {}", r.source.name, verdict::terminal_head(&case)),
        None => format!("{}: {}", r.source.name, verdict::terminal_head(&case)),
    };
    wrap(&mut out, "", &head);
    wrap(&mut out, "", &format!("{}.", verdict::headline(&case)));
    out.push('\n');
    block(&mut out, "Which", &verdict::which(&case));
    block(&mut out, "How far", &verdict::how_far(&case));
    block(&mut out, "How sure", &verdict::how_sure(&case));
    block(&mut out, "Next", &advice::next(&case));
    let mut not = advice::not_to_do(&case);
    not.pop();
    block(&mut out, "Do not", &not);
    let serious: Vec<String> = r
        .notices
        .iter()
        .filter(|n| n.level != Level::Note)
        .take(4)
        .map(|n| format!("{}: {}", n.code, restate::sentence(&n.text, &unit)))
        .collect();
    block(&mut out, "Notices", &serious);
    block(&mut out, "Checked", &[page::CHECKED.to_owned()]);
    out.push('\n');
    for (i, line) in cautions::short().iter().enumerate() {
        let label = if i == 0 { "Caution" } else { "" };
        out.push_str(&format!("{label:LABEL$}{line}\n"));
    }
    out
}

pub(crate) fn block(out: &mut String, label: &str, lines: &[String]) {
    for (i, line) in lines.iter().enumerate() {
        wrap(out, &format!("{:LABEL$}", if i == 0 { label } else { "" }), line);
    }
}

/// Breaks at blanks; what has no blank is cut hard. Follow-up lines are indented like the first.
pub(crate) fn wrap(out: &mut String, label: &str, text: &str) {
    let indent = " ".repeat(label.chars().count());
    let mut line = label.to_owned();
    let mut length = line.chars().count();
    let start = length;
    for word in plain(text).split(' ').filter(|w| !w.is_empty()) {
        let mut word: Vec<char> = word.chars().collect();
        loop {
            let room = COLUMNS.saturating_sub(length + usize::from(length > start));
            if word.len() <= room || (length > start && word.len() <= COLUMNS - start) {
                break;
            }
            if length > start {
                flush(out, &mut line, &indent, &mut length);
                continue;
            }
            line.extend(word.drain(..room.min(word.len())));
            flush(out, &mut line, &indent, &mut length);
        }
        if length > start && length + 1 + word.len() > COLUMNS {
            flush(out, &mut line, &indent, &mut length);
        }
        if length > start {
            line.push(' ');
            length += 1;
        }
        length += word.len();
        line.extend(word);
    }
    out.push_str(line.trim_end());
    out.push('\n');
}

fn flush(out: &mut String, line: &mut String, indent: &str, length: &mut usize) {
    out.push_str(line.trim_end());
    out.push('\n');
    line.clear();
    line.push_str(indent);
    *length = indent.chars().count();
}

/// A text that cannot steer a terminal: control characters and marks of writing direction become `?`.
#[must_use]
pub fn plain(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\u{2212}' => '-',
            '\u{202f}' | '\u{2009}' | '\u{a0}' => ' ',
            c if is_hostile(c) => '?',
            c => c,
        })
        .collect()
}

/// One line for a batch: file, verdict, spread.
#[must_use]
pub fn terminal_line(analysis: &Analysis, options: &PageOptions) -> String {
    let r = &analysis.review;
    let unit = DisplayUnit::choose(options.unit, &analysis.context, r.barometer_kpa);
    let case = Case::new(analysis, unit);
    let spread =
        r.spread_kpa.map_or_else(String::new, |s| format!(", spread {} {}", unit.width_text(s), unit.name()));
    plain(&format!(
        "{}: {}{spread}. {}.",
        r.source.name,
        verdict::terminal_head(&case),
        capital(&verdict::headline(&case))
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_steers_the_terminal_and_lines_stay_short() {
        let mut out = String::new();
        wrap(&mut out, "Next        ", &format!("\u{1b}[31mred\u{7}\u{202e} {} end", "x".repeat(200)));
        assert!(!out.contains('\u{1b}') && !out.contains('\u{7}') && !out.contains('\u{202e}'));
        assert!(out.lines().all(|l| l.chars().count() <= 80), "{out}");
        assert_eq!(out.matches('x').count(), 201);
    }
}
