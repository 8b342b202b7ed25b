//! The page of one plan.

use evenpull_core::adjust::plan_result::Plan;
use minijinja::Value;
use minijinja::context;
use minijinja::value::Serde;

use super::shell::{self, Head, Kind};
use super::{Drawn, Page, pictures, place};
use crate::error::ReportError;
use crate::figure::deviations;
use crate::style::{NARROW, WIDE};
use crate::texts::{labels, plan as words};
use crate::units::DisplayUnit;
use crate::view::plan as view;

const KIND: Kind = Kind { data_id: "evenpull-plan", body: include_str!("../../templates/plan.html") };

/// The page of one plan; `without_png` leaves the picture files out.
///
/// # Errors
/// [`ReportError`] from drawing, rasterising or the template.
pub fn plan_page(plan: &Plan, unit: &DisplayUnit, without_png: bool) -> Result<Page, ReportError> {
    let v = view::view(plan, *unit);
    let mut drawn = Vec::new();
    if let Some(data) = view::figure(plan, unit) {
        let caption = words::caption(
            &labels::reference(&plan.machine.reference),
            &unit.limit_text(plan.machine.limit_kpa),
            plan.machine.limit_source != "machine-file",
            plan.expected.is_some(),
        );
        let alt = view::figure_alt(plan, unit, &v.headline, &data);
        let (wide, narrow) = (deviations::figure(&data, WIDE)?, deviations::figure(&data, NARROW)?);
        drawn.push(Drawn { name: "expected", alt, caption, wide, narrow });
    }
    let (placed, mut figures) = place(drawn);
    if !without_png {
        pictures(&mut figures)?;
    }
    let values = context! {
        v => Value::from(Serde(&v)),
        after => plan.expected.is_some(),
        expected => placed.first().map(|f| Value::from(Serde(f))),
    };
    let head = Head { title: &v.title, kicker: &v.kicker, headline: &v.headline };
    let html = shell::render(KIND, head, values, plan)?;
    Ok(Page { html, figures })
}

/// The plan as the JSON file has it: indented, with a newline at the end; missing values are `null`.
///
/// # Errors
/// [`ReportError::Json`].
pub fn plan_json(plan: &Plan) -> Result<String, ReportError> {
    let mut text = serde_json::to_string_pretty(plan)?;
    text.push('\n');
    Ok(text)
}
