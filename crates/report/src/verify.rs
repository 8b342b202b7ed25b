//! A report against a review made again: what it claims, and what is not the same.
//!
//! Three things are held against each other: the recording (its SHA-256), the result that the report carries, and, for a page
//! of this version, every character of the page: a figure altered in the visible text alone is found too.

use evenpull_core::Analysis;
use evenpull_core::result::{MadeWith, REVIEW_SCHEMA, Review};
use evenpull_core::verify::{Difference, differences};
use serde_json::Value;

use crate::error::ReportError;
use crate::page::{DATA_ID, PageOptions, embedded, review_page};
use crate::texts::verify as words;
use crate::units::PageUnit;

/// Fields that say where a result comes from and not what was found; they are told and do not count.
const TOLD: [&str; 2] = ["/version", "/source/name"];

/// What a report claims.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// The result it carries.
    result: Value,
    /// The page; `None` for a JSON file.
    page: Option<String>,
    /// File name of the recording.
    pub name: String,
    /// SHA-256 of the recording, hex.
    pub sha256: String,
    /// Version that made it.
    pub version: String,
    /// What it was made with; `None` where the report does not say.
    pub made_with: Option<MadeWith>,
    /// Whether the limit came from a machine file.
    pub limit_from_file: bool,
}

/// Why a file is not a report that can be verified.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{found}; expected a page of `evenpull review`, or its JSON")]
pub struct NotAReport {
    found: String,
}

/// What came out.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// The recording has another SHA-256: then, now.
    pub recording: Option<(String, String)>,
    /// The version, where it is another one: then, now.
    pub version: Option<(String, String)>,
    /// File name of the recording, where it is another one: then, now.
    pub name: Option<(String, String)>,
    /// Fields that differ.
    pub fields: Vec<Difference>,
    /// First line of the page that is not as this version writes it: its number, then, now.
    pub line: Option<(usize, String, String)>,
    /// Whether the page itself was compared too.
    pub page_compared: bool,
}

impl Outcome {
    /// Nothing that counts differs.
    #[must_use]
    pub fn same(&self) -> bool {
        self.recording.is_none() && self.fields.is_empty() && self.line.is_none()
    }
}

/// What a report claims: a page, or a JSON file.
///
/// # Errors
/// [`NotAReport`] for anything else, with what was found.
pub fn claim_of(text: &str) -> Result<Claim, NotAReport> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let page = !text.trim_start().starts_with('{');
    let json = if page { block(text)? } else { text };
    let result: Value = serde_json::from_str(json).map_err(|e| not(words::no_json(page, &e.to_string())))?;
    match result.get("schema") {
        Some(Value::String(schema)) if schema == REVIEW_SCHEMA => {}
        Some(other) => return Err(not(words::other_schema(&other.to_string()))),
        None => return Err(not(words::NO_SCHEMA.to_owned())),
    }
    let known: Review =
        serde_json::from_value(result.clone()).map_err(|e| not(words::no_json(page, &e.to_string())))?;
    Ok(Claim {
        page: page.then(|| text.to_owned()),
        name: known.source.name,
        sha256: known.source.sha256,
        version: known.version,
        made_with: known.made_with,
        limit_from_file: known.machine.limit_source == "machine-file",
        result,
    })
}

fn not(found: String) -> NotAReport {
    NotAReport { found }
}

/// The embedded result of a page.
fn block(page: &str) -> Result<&str, NotAReport> {
    let start = format!("<script type=\"application/json\" id=\"{DATA_ID}\">");
    let mut parts = page.split(start.as_str()).skip(1);
    match (parts.next(), parts.next()) {
        (Some(rest), None) => {
            rest.split_once("</script>").map(|(json, _)| json).ok_or_else(|| not(words::CUT_OFF.to_owned()))
        }
        (Some(_), Some(_)) => Err(not(words::TWO_RESULTS.to_owned())),
        (None, _) if page.contains("<script type=\"application/json\" id=\"evenpull-") => {
            Err(not(words::OTHER_PAGE.to_owned()))
        }
        (None, _) => Err(not(words::NO_RESULT.to_owned())),
    }
}

/// Holds a claim against the review made again; `name` is the file name of the recording as it is called now, `sha256` its hash.
///
/// # Errors
/// [`ReportError`] when the page cannot be made again.
pub fn check(claim: &Claim, again: &Analysis, name: &str) -> Result<Outcome, ReportError> {
    let review = &again.review;
    let now = serde_json::to_value(if claim.page.is_some() { embedded(review) } else { review.clone() })?;
    let mut fields = differences(&claim.result, &now);
    // A result of a version that did not say what it was made with has nothing to hold against it.
    let silent = claim.made_with.is_none();
    fields.retain(|d| !(TOLD.contains(&d.path.as_str()) || silent && d.path == "/made_with"));
    let recording = pair(&claim.sha256, &review.source.sha256);
    if recording.is_some() {
        fields.retain(|d| d.path != "/source/sha256");
    }
    let version = pair(&claim.version, &review.version);
    let told = version.is_none() && !silent && recording.is_none() && fields.is_empty();
    let line = match &claim.page {
        Some(page) if told => altered(page, again)?,
        _ => None,
    };
    Ok(Outcome {
        recording,
        version,
        name: pair(&claim.name, name),
        fields,
        line,
        page_compared: told && claim.page.is_some(),
    })
}

fn pair(then: &str, now: &str) -> Option<(String, String)> {
    (then != now).then(|| (then.to_owned(), now.to_owned()))
}

/// First line of a page that is not as it is written now, in the unit that comes nearest.
fn altered(page: &str, again: &Analysis) -> Result<Option<(usize, String, String)>, ReportError> {
    let mut best: Option<(usize, String, String)> = None;
    for unit in std::iter::once(None).chain(PageUnit::ALL.map(Some)) {
        let made = review_page(again, &PageOptions { unit, without_png: true })?;
        let Some(found) = first_line(page, &made.html) else { return Ok(None) };
        if best.as_ref().is_none_or(|b| found.0 > b.0) {
            best = Some(found);
        }
    }
    Ok(best)
}

fn first_line(then: &str, now: &str) -> Option<(usize, String, String)> {
    if then == now {
        return None;
    }
    // A page is longer than its first difference: what ends first differs from what goes on.
    let (mut a, mut b) = (then.split('\n'), now.split('\n'));
    (1..).find_map(|number| match (a.next(), b.next()) {
        (None, None) => Some((number, String::new(), String::new())),
        (x, y) if x == y => None,
        (x, y) => {
            let (x, y) = around(x.unwrap_or_default(), y.unwrap_or_default());
            Some((number, x, y))
        }
    })
}

/// The stretch of two lines in which they differ, with a little before and after it.
fn around(x: &str, y: &str) -> (String, String) {
    let (x, y): (Vec<char>, Vec<char>) = (x.chars().collect(), y.chars().collect());
    let head = x.iter().zip(&y).take_while(|(a, b)| a == b).count();
    let cut = |line: &[char]| line[head.saturating_sub(30)..(head + 40).min(line.len())].iter().collect();
    (cut(&x), cut(&y))
}

/// The outcome in words, for a terminal.
#[must_use]
pub fn verified_words(outcome: &Outcome) -> String {
    words::outcome(outcome)
}
