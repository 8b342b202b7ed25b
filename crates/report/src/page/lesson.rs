//! Worksheet and key of a lesson. The worksheet is made without any judgement, so that it cannot hold one.

use evenpull_core::Analysis;
use minijinja::value::Serde;
use minijinja::{Value, context};

use super::shell::{self, Head, Kind};
use super::{Drawn, Page, place, review};
use crate::error::ReportError;
use crate::figure::{blank, trace};
use crate::style::{NARROW, WIDE};
use crate::texts::lesson as words;
use crate::units::DisplayUnit;
use crate::view;

const WORKSHEET: Kind =
    Kind { data_id: "evenpull-worksheet", body: include_str!("../../templates/worksheet.html") };
const KEY: Kind = Kind { data_id: "evenpull-review", body: include_str!("../../templates/key.html") };

/// The recording of a lesson as logged.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LessonSeries {
    /// Row times, s.
    pub time_s: Vec<f64>,
    /// Cylinder and its values, kPa absolute, one a row; NaN where missing.
    pub pressure_kpa: Vec<(u32, Vec<f64>)>,
    /// Engine speed, rev/min; empty where not logged.
    pub rpm: Vec<f64>,
    /// Coolant, degrees C; empty where not logged.
    pub coolant_c: Vec<f64>,
}

/// One thing that must come out.
#[derive(Debug, Clone, PartialEq)]
pub struct LessonCheck {
    /// What must come out.
    pub expected: String,
    /// What comes out.
    pub found: String,
    /// Whether that is the same.
    pub agrees: bool,
}

/// A lesson as the pages need it. Who knows what was set fills it in; nothing here is judged.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LessonFacts {
    /// Number of the case: the name that gives nothing away.
    pub number: usize,
    /// Name of the case (key only).
    pub case: String,
    /// What it teaches (key only).
    pub teaches: String,
    /// Seed.
    pub seed: u64,
    /// `easy` or `hard` (key only).
    pub difficulty: String,
    /// File name of the recording.
    pub recording: String,
    /// Who recorded (key only).
    pub recorder: String,
    /// Number of cylinders.
    pub cylinders: usize,
    /// Firing angles, degrees.
    pub firing_deg: Vec<f64>,
    /// Warm coolant, degrees C.
    pub warm_c: f64,
    /// Limit on the spread, kPa.
    pub limit_kpa: f64,
    /// What the student is told besides.
    pub told: Vec<String>,
    /// The recording.
    pub series: LessonSeries,
    /// What was set (key only).
    pub set: Vec<String>,
    /// Why the recording looks as it does (key only).
    pub why: String,
    /// The trap (key only).
    pub trap: String,
    /// True deviations, kPa (key only); empty where none can be given.
    pub true_kpa: Vec<(u32, f64)>,
    /// What must come out (key only).
    pub checks: Vec<LessonCheck>,
    /// How to judge it again (key only).
    pub command: String,
}

/// The worksheet.
///
/// # Errors
/// [`ReportError`] from drawing or the template.
pub fn worksheet_page(facts: &LessonFacts, unit: &DisplayUnit) -> Result<Page, ReportError> {
    let v = view::lesson::worksheet(facts, unit);
    let mut drawn = Vec::new();
    let (whole, close) = view::lesson::traces(facts, unit);
    for (name, data, caption) in
        [("recording", whole, words::TRACE_CAPTION), ("close", close, words::CLOSE_CAPTION)]
    {
        if let Some(data) = data {
            let (wide, narrow) = (trace::figure(&data, WIDE)?, trace::figure(&data, NARROW)?);
            drawn.push(Drawn { name, alt: caption.to_owned(), caption: caption.to_owned(), wide, narrow });
        }
    }
    let data = view::lesson::blank(facts, unit);
    let caption = words::blank_caption(&unit.limit_text(facts.limit_kpa));
    let (wide, narrow) = (blank::figure(&data, WIDE)?, blank::figure(&data, NARROW)?);
    drawn.push(Drawn { name: "blank", alt: caption.clone(), caption, wide, narrow });
    let (placed, figures) = place(drawn);
    let find = |name: &str| placed.iter().find(|f| f.name == name).map(|f| Value::from(Serde(f)));
    let values = context! {
        v => Value::from(Serde(&v)),
        recording => find("recording"),
        close => find("close"),
        blank => find("blank"),
    };
    let head = Head { title: &v.title, kicker: &v.kicker, headline: words::WORKSHEET_HEADLINE };
    let known = serde_json::json!({ "lesson": facts.number, "seed": facts.seed, "unit": unit.name() });
    Ok(Page { html: shell::render(WORKSHEET, head, values, &known)?, figures })
}

/// The key: what was set, and the review of the same recording.
///
/// # Errors
/// [`ReportError`] from drawing or the template.
pub fn key_page(facts: &LessonFacts, analysis: &Analysis, unit: &DisplayUnit) -> Result<Page, ReportError> {
    let seen = view::review(analysis, *unit);
    let (placed, figures) = place(review::drawings(analysis, unit, &seen.headline)?);
    let v = view::lesson::key(facts, analysis, seen, unit);
    let find = |name: &str| placed.iter().find(|f| f.name == name).map(|f| Value::from(Serde(f)));
    let values = context! {
        v => Value::from(Serde(&v)),
        deviations => find("deviations"),
        adjusting => find("adjusting"),
        trace => find("trace"),
        pulse => find("pulse"),
    };
    let headline = crate::texts::capital(&facts.teaches);
    let head = Head { title: &v.title, kicker: &v.kicker, headline: &headline };
    Ok(Page { html: shell::render(KEY, head, values, &analysis.review)?, figures })
}
