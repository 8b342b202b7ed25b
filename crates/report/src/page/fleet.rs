//! The page of a ranking; it is the index of the pages beside it.

use evenpull_core::visits::{Fleet, Ranked};
use minijinja::value::Serde;
use minijinja::{Value, context};

use super::shell::{self, Head, Kind};
use super::{Drawn, Page, PageOptions, pictures, place};
use crate::error::ReportError;
use crate::figure::fleet;
use crate::style::{NARROW, WIDE};
use crate::texts::fleet as words;
use crate::units::DisplayUnit;
use crate::view;

const KIND: Kind = Kind { data_id: "evenpull-fleet", body: include_str!("../../templates/fleet.html") };

/// Failed files and recordings without a machine that are embedded; the JSON file has all of them.
const EMBEDDED: usize = 100;

/// The page of a ranking.
///
/// # Errors
/// [`ReportError`] from drawing, rasterising or the template.
pub fn fleet_page(ranked: &Ranked, unit: DisplayUnit, options: &PageOptions) -> Result<Page, ReportError> {
    let view = view::fleet::fleet(ranked, &unit);
    let strips = view::fleet::strips(ranked, &unit);
    let mut drawn = Vec::new();
    if !strips.is_empty() {
        let all = ranked.fleet.machines.len();
        let down = unit.downwards();
        drawn.push(Drawn {
            name: "strips",
            alt: format!("{}. {}", view.headline, words::counts(&ranked.fleet)),
            caption: words::caption(strips.len(), all),
            wide: fleet::figure(&strips, down, WIDE)?,
            narrow: fleet::figure(&strips, down, NARROW)?,
        });
    }
    let (placed, mut figures) = place(drawn);
    if !options.without_png {
        pictures(&mut figures)?;
    }
    let values = context! {
        v => Value::from(Serde(&view)),
        strips => placed.first().map(|f| Value::from(Serde(f))),
    };
    let head = Head { title: &view.title, kicker: &view.kicker, headline: &view.headline };
    let html = shell::render(KIND, head, values, &embedded(&ranked.fleet))?;
    Ok(Page { html, figures })
}

/// What the page shows of the result; a page must stay small for ten thousand machines.
fn embedded(fleet: &Fleet) -> Fleet {
    Fleet {
        machines: fleet.machines.iter().take(view::fleet::ROWS).cloned().collect(),
        unnamed: fleet.unnamed.iter().take(EMBEDDED).cloned().collect(),
        failed: fleet.failed.iter().take(EMBEDDED).cloned().collect(),
        ..fleet.clone()
    }
}

/// The result as the JSON file has it.
///
/// # Errors
/// [`ReportError::Json`].
pub fn fleet_json(fleet: &Fleet) -> Result<String, ReportError> {
    let mut text = serde_json::to_string_pretty(fleet)?;
    text.push('\n');
    Ok(text)
}
