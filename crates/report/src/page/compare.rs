//! The page of a comparison: two visits, many visits, or sensors exchanged.

use std::collections::BTreeMap;

use evenpull_core::visits::Comparison;
use minijinja::value::Serde;
use minijinja::{Value, context};

use super::shell::{self, Head, Kind};
use super::{Drawn, Page, PageOptions, pictures, place};
use crate::error::ReportError;
use crate::figure::{deviations, history};
use crate::style::{NARROW, WIDE};
use crate::texts::compare::{Told, headline, visit_name};
use crate::texts::{compare_advice, list};
use crate::units::DisplayUnit;
use crate::view;
use crate::view::compare_figures;

const KIND: Kind = Kind { data_id: "evenpull-compare", body: include_str!("../../templates/compare.html") };

/// Addresses of other pages, relative to the page that names them.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CompareLinks {
    /// The visits' own reviews, by visit id.
    pub reviews: BTreeMap<String, String>,
    /// The ranking that the machine stands in.
    pub ranking: Option<String>,
}

/// The page of a comparison.
///
/// # Errors
/// [`ReportError`] from drawing, rasterising or the template.
pub fn compare_page(
    comparison: &Comparison,
    unit: DisplayUnit,
    options: &PageOptions,
    links: &CompareLinks,
) -> Result<Page, ReportError> {
    let told = Told { c: comparison, unit };
    let view = view::compare::compare(&told, links);
    let (placed, mut figures) = place(drawings(&told)?);
    if !options.without_png {
        pictures(&mut figures)?;
    }
    let find = |name: &str| placed.iter().find(|f| f.name == name).map(|f| Value::from(Serde(f)));
    let values = context! {
        v => Value::from(Serde(&view)),
        history => find("history"),
        pair => find("then-now"),
    };
    let head = Head { title: &view.title, kicker: &view.kicker, headline: &view.headline };
    let html = shell::render(KIND, head, values, comparison)?;
    Ok(Page { html, figures })
}

fn drawings(t: &Told<'_>) -> Result<Vec<Drawn>, ReportError> {
    let mut out = Vec::new();
    if let Some(data) = compare_figures::history(t) {
        let alt = format!("{}. {}", headline(t), spreads(t));
        let caption = compare_advice::history_caption(t);
        let (wide, narrow) = (history::figure(&data, WIDE)?, history::figure(&data, NARROW)?);
        out.push(Drawn { name: "history", alt, caption, wide, narrow });
    }
    if let (Some(data), Some([then, now])) = (compare_figures::pair(t), compare_figures::last_two(t.c)) {
        let moved: Vec<String> =
            data.rows.iter().map(|r| format!("cylinder {} {}", r.cylinder, r.text)).collect();
        let alt = format!("{}. Changes in {}: {}.", headline(t), t.unit.name(), list(&moved));
        let caption = compare_advice::pair_caption(t, &visit_name(then), &visit_name(now));
        let (wide, narrow) = (deviations::figure(&data, WIDE)?, deviations::figure(&data, NARROW)?);
        out.push(Drawn { name: "then-now", alt, caption, wide, narrow });
    }
    Ok(out)
}

fn spreads(t: &Told<'_>) -> String {
    let all: Vec<String> =
        t.c.visits.iter().filter_map(|v| v.spread_kpa).map(|s| t.unit.width_text(s)).collect();
    format!("Spreads in {}: {}.", t.unit.name(), list(&all))
}

/// The result as the JSON file has it.
///
/// # Errors
/// [`ReportError::Json`].
pub fn compare_json(comparison: &Comparison) -> Result<String, ReportError> {
    let mut text = serde_json::to_string_pretty(comparison)?;
    text.push('\n');
    Ok(text)
}
