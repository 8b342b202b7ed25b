//! The page: view model and figures into one self-contained HTML file, and the same figures as picture files.

use evenpull_core::Analysis;
use evenpull_core::result::Review;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value, context};
use serde::Serialize;
use sha2::{Digest, Sha256};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use crate::error::ReportError;
use crate::figure::canvas::Drawing;
use crate::figure::{deviations, pulse, timeline, trace};
use crate::style::{NARROW, WIDE};
use crate::texts::{labels, page as words};
use crate::units::{DisplayUnit, PageUnit};
use crate::{font, raster, svg, view};

const TEMPLATE: &str = include_str!("../templates/review.html");
const MACROS: &str = include_str!("../templates/parts.html");
const CSS: &str = include_str!("../templates/page.css");
const SCRIPT: &str = include_str!("../templates/page.js");

/// What a caller may choose about a page.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PageOptions {
    /// Unit of pressures; the recording's own where `None`.
    pub unit: Option<PageUnit>,
    /// Leave the picture files out (they cost most of the time).
    pub without_png: bool,
}

/// A figure as a file of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Short name: `deviations`, `adjusting`, `trace`, `pulse`.
    pub name: &'static str,
    /// SVG on white.
    pub svg: String,
    /// PNG at two pixels a CSS pixel; empty when it was not asked for.
    pub png: Vec<u8>,
    /// What the figure says, in words.
    pub alt: String,
}

/// A finished page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// The whole page, one file.
    pub html: String,
    /// Its figures.
    pub figures: Vec<Figure>,
}

/// A figure as the template takes it.
#[derive(Debug, Clone, Serialize)]
struct Placed {
    name: &'static str,
    number: usize,
    caption: String,
    wide: Value,
    narrow: Value,
}

/// The page of one review.
///
/// # Errors
/// [`ReportError`] from drawing, rasterising or the template; a value that is not finite is left out or refused,
/// never drawn.
pub fn review_page(analysis: &Analysis, options: &PageOptions) -> Result<Page, ReportError> {
    let unit = DisplayUnit::choose(options.unit, &analysis.context, analysis.review.barometer_kpa);
    let view = view::review(analysis, unit);
    let mut figures = Vec::new();
    let mut placed = Vec::new();
    for (name, alt, caption, wide, narrow) in drawings(analysis, &unit, &view.headline)? {
        placed.push(Placed {
            name,
            number: placed.len() + 1,
            caption,
            wide: Value::from_safe_string(svg::inline(&wide, "wide", &alt)),
            narrow: Value::from_safe_string(svg::inline(&narrow, "narrow", &alt)),
        });
        figures.push(Figure { name, svg: svg::standalone(&wide), png: Vec::new(), alt });
    }
    if !options.without_png {
        pictures(&mut figures)?;
    }
    let html = render(&analysis.review, &view, &placed)?;
    Ok(Page { html, figures })
}

/// Rasterises the figures side by side; each depends on its own SVG alone.
fn pictures(figures: &mut [Figure]) -> Result<(), ReportError> {
    std::thread::scope(|scope| {
        let work: Vec<_> = figures
            .iter_mut()
            .map(|f| {
                scope.spawn(move || {
                    f.png = raster::png(f.name, &f.svg)?;
                    Ok(())
                })
            })
            .collect();
        work.into_iter().try_for_each(|w| {
            w.join().unwrap_or_else(|_| {
                Err(ReportError::Raster {
                    figure: String::new(),
                    reason: "the work was broken off".to_owned(),
                })
            })
        })
    })
}

type Drawn = (&'static str, String, String, Drawing, Drawing);

fn drawings(analysis: &Analysis, unit: &DisplayUnit, headline: &str) -> Result<Vec<Drawn>, ReportError> {
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
        out.push((
            "deviations",
            alt,
            caption,
            deviations::figure(&data, WIDE)?,
            deviations::figure(&data, NARROW)?,
        ));
    }
    if let Some(data) = view::timeline::timeline(analysis, unit) {
        let alt = view::timeline::timeline_alt(analysis, unit, &data);
        let caption = words::ADJUSTING_CAPTION.to_owned();
        out.push((
            "adjusting",
            alt,
            caption,
            timeline::figure(&data, WIDE)?,
            timeline::figure(&data, NARROW)?,
        ));
    }
    if let Some(data) = view::trace::trace(analysis, unit) {
        let level = !analysis.traces.level_kpa.is_empty();
        let caption = words::trace_caption(level, !data.excluded.is_empty(), !data.turns.is_empty());
        let alt = view::trace::trace_alt(&data);
        out.push(("trace", alt, caption, trace::figure(&data, WIDE)?, trace::figure(&data, NARROW)?));
    }
    if let Some((data, aligned)) = view::figures::pulses(analysis, unit) {
        let refill = data.pulses.iter().any(|p| p.refill_deg.is_some());
        let caption = words::pulse_caption(aligned, refill);
        let alt = view::figures::pulse_alt(analysis, &data);
        out.push(("pulse", alt, caption, pulse::figure(&data, WIDE)?, pulse::figure(&data, NARROW)?));
    }
    Ok(out)
}

fn render(review: &Review, view: &view::ReviewView, figures: &[Placed]) -> Result<String, ReportError> {
    let mut env = Environment::new();
    env.set_auto_escape_callback(|_| AutoEscape::Html);
    env.set_syntax(SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?);
    env.add_template("parts.html", MACROS)?;
    env.add_template("review.html", TEMPLATE)?;
    let style = format!("{}{CSS}", font::css());
    let policy = format!(
        "default-src 'none'; img-src data:; font-src data:; style-src '{}'; script-src '{}'; base-uri 'none'; form-action 'none'",
        hash(&style),
        hash(SCRIPT)
    );
    let find = |name: &str| figures.iter().find(|f| f.name == name).map(|f| Value::from(Serde(f)));
    let page = env.get_template("review.html")?.render(context! {
        v => Value::from(Serde(view)),
        deviations => find("deviations"),
        adjusting => find("adjusting"),
        trace => find("trace"),
        pulse => find("pulse"),
        policy => policy,
        style => Value::from_safe_string(style),
        script => Value::from_safe_string(SCRIPT.to_owned()),
        data => Value::from_safe_string(embedded_json(review)?),
        display_heading => words::DISPLAY_HEADING,
    })?;
    Ok(page)
}

fn hash(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text.as_bytes())))
}

/// Notices of one code that are embedded; the JSON file has all of them.
const EMBEDDED_PER_CODE: usize = 20;

/// The result for the data block of the page: no `<`, `>` or `&` that could end the block.
fn embedded_json(review: &Review) -> Result<String, ReportError> {
    let mut short = review.clone();
    let mut seen: std::collections::BTreeMap<String, usize> = std::collections::BTreeMap::new();
    short.notices.retain(|n| {
        let count = seen.entry(n.code.clone()).or_default();
        *count += 1;
        *count <= EMBEDDED_PER_CODE
    });
    let json = serde_json::to_string(&short)?;
    let mut out = String::with_capacity(json.len() + 64);
    for c in json.chars() {
        match c {
            '<' => out.push_str("\\u003c"),
            '>' => out.push_str("\\u003e"),
            '&' => out.push_str("\\u0026"),
            '\u{2028}' => out.push_str("\\u2028"),
            '\u{2029}' => out.push_str("\\u2029"),
            c => out.push(c),
        }
    }
    Ok(out)
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
