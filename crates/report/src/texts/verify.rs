//! Words of `verify`.

use evenpull_core::safe_text::one_line_within;
use serde_json::Value;

use crate::texts::count_word;
use crate::verify::Outcome;

/// Fields that are listed; behind them only their number is said.
const LISTED: usize = 30;
/// Characters of one value.
const SHOWN: usize = 60;

pub(crate) const NO_SCHEMA: &str = "found JSON without a schema";
pub(crate) const CUT_OFF: &str = "found a page that is cut off inside its result";
pub(crate) const TWO_RESULTS: &str = "found a page with two results in it";
pub(crate) const NO_RESULT: &str = "found no result of evenpull in it";
pub(crate) const OTHER_PAGE: &str = "found another page of evenpull, of a plan, a comparison, a ranking or a lesson, which cannot be made again from one log";

/// The result cannot be read.
pub(crate) fn no_json(page: bool, error: &str) -> String {
    let what = if page { "a page whose result" } else { "a file that" };
    format!("found {what} is no review: {}", one_line_within(error, 120))
}

/// A result of another kind.
pub(crate) fn other_schema(schema: &str) -> String {
    format!("found a result of the kind {}", one_line_within(schema, SHOWN))
}

/// The outcome: the recording first, then what is told, then what differs.
pub(crate) fn outcome(o: &Outcome) -> String {
    let mut lines = Vec::new();
    if let Some((then, now)) = &o.recording {
        lines.push("Another recording: this log is not the one that the report was made from.".to_owned());
        lines.push(format!("  SHA-256 then: {}", safe(then, 80)));
        lines.push(format!("  SHA-256 now:  {}", safe(now, 80)));
    }
    if o.same() {
        lines.push(same(o));
    } else if o.fields.is_empty() && o.recording.is_none() {
        lines.push(
            "differs: the result is the same, but the page does not say what evenpull writes for it."
                .to_owned(),
        );
    } else if !o.fields.is_empty() {
        let n = o.fields.len();
        let word = if n == 1 { "field".to_owned() } else { "fields".to_owned() };
        lines.push(format!("differs: {} {word} of the result.", count_word(n)));
    }
    if let Some((then, now)) = &o.version {
        let then = safe(then, 40);
        lines.push(format!("Made by version {then}, recomputed by version {now}."));
    }
    if let Some((then, now)) = &o.name {
        lines.push(format!(
            "The recording was called {}, and is called {} now.",
            safe(then, SHOWN),
            safe(now, SHOWN)
        ));
    }
    for d in o.fields.iter().take(LISTED) {
        lines.push(format!(
            "  {}: then {}, now {}",
            safe(&d.path, 120),
            value(d.then.as_ref()),
            value(d.now.as_ref())
        ));
    }
    if o.fields.len() > LISTED {
        lines.push(format!("  and {} more", o.fields.len() - LISTED));
    }
    if let Some((number, then, now)) = &o.line {
        let (then, now) = (safe(then, 80), safe(now, 80));
        lines.push(format!(
            "  line {number} of the page: then \u{201c}{then}\u{201d}, now \u{201c}{now}\u{201d}"
        ));
    }
    lines.push(String::new());
    lines.join("\n")
}

fn same(o: &Outcome) -> String {
    let page = match (o.page_compared, &o.version) {
        (true, _) => ", and the page says what evenpull writes for it",
        (false, Some(_)) => "; the words of a page are compared by its own version only",
        (false, None) => "",
    };
    format!("same: the recording is the one of the report, every field of the result is the same{page}.")
}

fn safe(text: &str, characters: usize) -> String {
    one_line_within(text, characters)
}

fn value(v: Option<&Value>) -> String {
    match v {
        None => "nothing".to_owned(),
        Some(Value::Array(list)) if !list.is_empty() => format!("a list of {}", list.len()),
        Some(Value::Object(_)) => "an entry".to_owned(),
        Some(other) => safe(&other.to_string(), SHOWN),
    }
}
