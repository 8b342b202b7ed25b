//! The page of one review.

use evenpull_core::Analysis;
use evenpull_core::result::Review;
use minijinja::value::Serde;
use minijinja::{Value, context};

use super::shell::{self, Head, Kind};
use super::{Drawn, Page, PageOptions, Placed, pictures, place};
use crate::error::ReportError;
use crate::figure::{deviations, pulse, timeline, trace};
use crate::style::{NARROW, WIDE};
use crate::texts::{labels, page as words};
use crate::units::DisplayUnit;
use crate::view;

/// Name of the embedded result.
pub(crate) const DATA_ID: &str = "evenpull-review";

const KIND: Kind = Kind { data_id: DATA_ID, body: include_str!("../../templates/review.html") };

/// The page of one review.
///
/// # Errors
/// [`ReportError`] from drawing, rasterising or the template; a value that is not finite is left out or refused,
/// never drawn.
pub fn review_page(analysis: &Analysis, options: &PageOptions) -> Result<Page, ReportError> {
    let unit = DisplayUnit::choose(options.unit, &analysis.context, analysis.review.barometer_kpa);
    let view = view::review(analysis, unit);
    let (placed, mut figures) = place(drawings(analysis, &unit, &view.headline)?);
    if !options.without_png {
        pictures(&mut figures)?;
    }
    let html = render(&analysis.review, &view, &placed)?;
    Ok(Page { html, figures })
}

pub(super) fn drawings(
    analysis: &Analysis,
    unit: &DisplayUnit,
    headline: &str,
) -> Result<Vec<Drawn>, ReportError> {
    let r = &analysis.review;
    let mut out = Vec::new();
    if let Some(data) = view::figures::deviations(analysis, unit) {
        let caption = words::deviations_caption(
            &labels::reference(&r.machine.reference),
            &unit.limit_text(r.machine.limit_kpa),
            r.machine.limit_source != "machine-file",
            r.as_found.is_some(),
            analysis.context.gain_allowance_kpa > 0.0,
        );
        let alt = view::figures::deviations_alt(headline, &data);
        let (wide, narrow) = (deviations::figure(&data, WIDE)?, deviations::figure(&data, NARROW)?);
        out.push(Drawn { name: "deviations", alt, caption, wide, narrow });
    }
    if let Some(data) = view::timeline::timeline(analysis, unit) {
        let alt = view::timeline::timeline_alt(analysis, unit, &data);
        let caption = words::ADJUSTING_CAPTION.to_owned();
        let (wide, narrow) = (timeline::figure(&data, WIDE)?, timeline::figure(&data, NARROW)?);
        out.push(Drawn { name: "adjusting", alt, caption, wide, narrow });
    }
    if let Some(data) = view::trace::trace(analysis, unit) {
        let level = !analysis.traces.level_kpa.is_empty();
        let caption = words::trace_caption(level, !data.excluded.is_empty(), !data.turns.is_empty());
        let alt = view::trace::trace_alt(&data);
        let (wide, narrow) = (trace::figure(&data, WIDE)?, trace::figure(&data, NARROW)?);
        out.push(Drawn { name: "trace", alt, caption, wide, narrow });
    }
    if let Some((data, aligned)) = view::figures::pulses(analysis, unit) {
        let refill = data.pulses.iter().any(|p| p.refill_deg.is_some());
        let caption = words::pulse_caption(aligned, refill);
        let alt = view::figures::pulse_alt(analysis, &data);
        let (wide, narrow) = (pulse::figure(&data, WIDE)?, pulse::figure(&data, NARROW)?);
        out.push(Drawn { name: "pulse", alt, caption, wide, narrow });
    }
    Ok(out)
}

/// Notices of one code that are embedded; the JSON file has all of them.
const EMBEDDED_PER_CODE: usize = 20;

/// The result as a page embeds it: twenty notices of one code at most, so that a page stays small.
pub(crate) fn embedded(review: &Review) -> Review {
    let mut short = review.clone();
    let mut seen: std::collections::BTreeMap<String, usize> = std::collections::BTreeMap::new();
    short.notices.retain(|n| {
        let count = seen.entry(n.code.clone()).or_default();
        *count += 1;
        *count <= EMBEDDED_PER_CODE
    });
    short
}

fn render(review: &Review, view: &view::ReviewView, figures: &[Placed]) -> Result<String, ReportError> {
    let find = |name: &str| figures.iter().find(|f| f.name == name).map(|f| Value::from(Serde(f)));
    let values = context! {
        v => Value::from(Serde(view)),
        deviations => find("deviations"),
        adjusting => find("adjusting"),
        trace => find("trace"),
        pulse => find("pulse"),
        display_heading => words::DISPLAY_HEADING,
    };
    let head = Head { title: &view.title, kicker: &view.kicker, headline: &view.headline };
    shell::render(KIND, head, values, &embedded(review))
}

/// The result as the JSON file has it: indented, with a newline at the end; missing values are `null`.
///
/// # Errors
/// [`ReportError::Json`].
pub fn review_json(review: &Review) -> Result<String, ReportError> {
    let mut text = serde_json::to_string_pretty(review)?;
    text.push('\n');
    Ok(text)
}
