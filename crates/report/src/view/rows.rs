//! Tables without pressures: what the recording held, what was judged, columns, settings, trouble codes.

use evenpull_core::Analysis;
use evenpull_core::notice::Notice;
use evenpull_core::result::Review;

use crate::digits;
use crate::texts::labels;
use crate::view::Table;

/// Rows of a long table that are printed; the JSON has all.
const ROWS: usize = 24;

fn table(caption: &str, head: &[&str], rows: Vec<Vec<String>>, text_columns: &[usize]) -> Option<Table> {
    if rows.is_empty() {
        return None;
    }
    let all = rows.len();
    let note = (all > ROWS).then(|| format!("The first {ROWS} of {all}; the JSON file has them all."));
    Some(Table {
        caption: caption.to_owned(),
        head: head.iter().map(|h| (*h).to_owned()).collect(),
        rows: rows.into_iter().take(ROWS).collect(),
        text_columns: text_columns.to_vec(),
        note,
    })
}

/// What the recording held.
pub(crate) fn recorded(r: &Review) -> Option<Table> {
    let rows = r.recorded.iter().map(|p| {
        vec![
            labels::part(&p.part).to_owned(),
            if p.found { "found" } else { "missing" }.to_owned(),
            if p.seconds > 0.0 { digits::duration(p.seconds) } else { "–".to_owned() },
            p.why.clone(),
        ]
    });
    table("What the recording held", &["Part", "Held", "Length", "Why"], rows.collect(), &[1, 3])
}

/// Stretches judged.
pub(crate) fn windows(r: &Review) -> Option<Table> {
    let rows = r.windows.iter().map(|w| {
        vec![
            span(w.start_s, w.end_s),
            digits::duration(w.end_s - w.start_s),
            labels::regime(w.regime).to_owned(),
            digits::fixed(w.rpm, 0),
        ]
    });
    table("Stretches judged", &["From – to", "Length", "Regime", "rev/min"], rows.collect(), &[2])
}

/// Stretches not judged.
pub(crate) fn excluded(r: &Review) -> Option<Table> {
    let rows = r.excluded.iter().map(|e| {
        vec![
            span(e.start_s, e.end_s),
            digits::duration(e.end_s - e.start_s),
            labels::excluded(&e.reason).to_owned(),
            labels::excluded_because(&e.reason).to_owned(),
        ]
    });
    table("Stretches not judged", &["From – to", "Length", "Reason", "Because"], rows.collect(), &[2, 3])
}

fn span(start_s: f64, end_s: f64) -> String {
    format!("{} – {}", digits::clock(start_s), digits::clock(end_s))
}

/// Columns as understood.
pub(crate) fn channels(r: &Review) -> Option<Table> {
    let rows = r.channels.iter().map(|c| {
        let kind = c.pressure_kind.map(|k| format!(" {}", labels::kind(k))).unwrap_or_default();
        let what = match c.cylinder {
            Some(n) => format!("{} of cylinder {n}", labels::quantity(c.quantity)),
            None => labels::quantity(c.quantity).to_owned(),
        };
        vec![c.header.clone(), what, format!("{}{kind}", c.unit), c.why.clone()]
    });
    table("Columns as understood", &["Header", "Quantity", "Unit", "Why"], rows.collect(), &[1, 2, 3])
}

/// Settings.
pub(crate) fn settings(analysis: &Analysis) -> Option<Table> {
    let rows = analysis.context.settings.iter().map(|(n, v, why)| vec![n.clone(), v.clone(), why.clone()]);
    table("Settings", &["Name", "Value", "Reason"], rows.collect(), &[2])
}

/// Trouble codes.
pub(crate) fn trouble_codes(r: &Review) -> Option<Table> {
    let rows = r.trouble_codes.iter().map(|c| {
        vec![
            c.code.clone(),
            c.status.clone(),
            c.time_s.map_or_else(|| "–".to_owned(), digits::clock),
            c.text.clone().unwrap_or_else(|| "–".to_owned()),
        ]
    });
    table("Trouble codes", &["Code", "Status", "Moment", "Meaning"], rows.collect(), &[1, 3])
        .map(Table::without_empty_columns)
}

/// When codes were cleared.
pub(crate) fn codes_cleared(r: &Review) -> Option<String> {
    let times: Vec<String> = r.codes_cleared_s.iter().take(12).map(|t| digits::clock(*t)).collect();
    (!times.is_empty()).then(|| {
        format!(
            "Codes were cleared at {}. That may reset learned idle values: run the engine for a while and record again.",
            crate::texts::list(&times)
        )
    })
}

/// Where a notice belongs, in words.
pub(crate) fn place(n: &Notice) -> String {
    let mut parts = Vec::new();
    if let Some(c) = n.cylinder {
        parts.push(format!("cylinder {c}"));
    }
    match (n.start_s, n.end_s) {
        (Some(a), Some(b)) => parts.push(span(a, b)),
        (Some(a), None) => parts.push(digits::clock(a)),
        _ => {}
    }
    match (n.line, n.column) {
        (Some(l), Some(c)) => parts.push(format!("line {l}, column {c}")),
        (Some(l), None) => parts.push(format!("line {l}")),
        _ => {}
    }
    if n.count > 1 {
        parts.push(format!("{} times", digits::whole(n.count)));
    }
    parts.join(", ")
}
