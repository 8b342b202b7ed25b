//! One recording in every dialect: the same review, up to the printed resolution.
//!
//! The recording is a part of a committed sample (made by the engine model), with a barometer added. It is written
//! here in each dialect; what the review must be is what the plain file gives, and for the plain file a few figures
//! are computed here from the written cells.

mod dialect;

use serde_json::Value;

use dialect::{BAROMETER_KPA, PLAIN, dialects, log};

/// Parts of a review that speak of the file and not of the engine.
const OF_THE_FILE: [&str; 8] =
    ["name", "sha256", "format", "header", "unit", "pressure_kind", "resolution", "why"];

/// Compares two reviews: figures to a thousandth (reports print hundredths of a kilopascal), words letter by letter with
/// the figures in them to the same measure.
fn same(path: &str, a: &Value, b: &Value) -> Result<(), String> {
    let differ = || Err(format!("{path}: {a} and {b}"));
    match (a, b) {
        // A figure is printed with the digits that its uncertainty earns: a tenth of U is its last one.
        (Value::Object(one), Value::Object(two))
            if digits(one, two).is_some_and(|(apart, u)| apart <= 0.1 * u) =>
        {
            same(&format!("{path}.u"), &one["u"], &two["u"])
        }
        (Value::Object(one), Value::Object(two)) => {
            for (key, value) in one.iter().filter(|(key, _)| !OF_THE_FILE.contains(&key.as_str())) {
                same(&format!("{path}.{key}"), value, two.get(key).unwrap_or(&Value::Null))?;
            }
            Ok(())
        }
        // The long layout has no time column; columns of time are of the file.
        (Value::Array(_), Value::Array(_)) if path == ".channels" => Ok(()),
        (Value::Array(one), Value::Array(two)) => {
            if one.len() != two.len() {
                return differ();
            }
            one.iter().zip(two).enumerate().try_for_each(|(at, (a, b))| same(&format!("{path}[{at}]"), a, b))
        }
        (Value::Number(one), Value::Number(two)) => {
            let (one, two) = (one.as_f64().unwrap_or(f64::NAN), two.as_f64().unwrap_or(f64::NAN));
            let alike = match path.rsplit('.').next() {
                // In the sense of the logged figure: a vacuum's bias has the other sign.
                Some("bias_removed_kpa") => close(one.abs(), two.abs()),
                // A correlation that is summed up to where it first vanishes: the last bit may move that by a lag.
                Some("effective_samples" | "seconds_to_decide") => (one - two).abs() <= 0.1 * one.abs(),
                // Follows from it; printed with two digits.
                Some("u") => close(one, two) || (one - two).abs() <= 0.05 * one.abs(),
                _ => close(one, two),
            };
            if alike { Ok(()) } else { differ() }
        }
        (Value::String(one), Value::String(two)) => {
            // The sense of the logged figure again.
            let bare = |text: &str| {
                if text.contains("the sensors disagree") {
                    text.replace(['+', '-'], "")
                } else {
                    text.to_owned()
                }
            };
            let (one, two) = (tokens(&bare(one)), tokens(&bare(two)));
            let alike = |(a, b): (&String, &String)| match (a.parse::<f64>(), b.parse::<f64>()) {
                (Ok(a), Ok(b)) => (a - b).abs() <= 0.011 || close(a, b),
                _ => a == b,
            };
            if one.len() == two.len() && one.iter().zip(&two).all(alike) { Ok(()) } else { differ() }
        }
        _ if a == b => Ok(()),
        _ => differ(),
    }
}

/// How far the values of two figures with uncertainty lie apart, and that uncertainty.
fn digits(one: &serde_json::Map<String, Value>, two: &serde_json::Map<String, Value>) -> Option<(f64, f64)> {
    let of = |m: &serde_json::Map<String, Value>, key: &str| m.get(key)?.as_f64();
    if one.len() != 2 {
        return None;
    }
    Some(((of(one, "value")? - of(two, "value")?).abs(), of(one, "u")?))
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-3 + 2e-3 * a.abs().min(b.abs()).min(5.0) || (a - b).abs() <= 1e-3 * a.abs()
}

/// Figures and what stands between them.
fn tokens(text: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut figure = None;
    for ch in text.chars() {
        let now = ch.is_ascii_digit() || ch == '.';
        if figure != Some(now) {
            out.push(String::new());
            figure = Some(now);
        }
        if let Some(last) = out.last_mut() {
            last.push(ch);
        }
    }
    out
}

#[test]
fn a_recording_gives_the_same_review_in_every_dialect() {
    let log = log();
    let want = PLAIN.review(&log);
    assert_eq!(want["verdict"], "outside", "the sample is out of balance");
    assert_eq!(want["barometer_kpa"].as_f64(), Some(BAROMETER_KPA));
    let wrong: Vec<String> = dialects()
        .into_iter()
        .filter_map(|dialect| {
            let got = dialect.review(&log);
            same("", &want, &got).err().map(|what| format!("{dialect:?}\n    {what}"))
        })
        .collect();
    assert!(wrong.is_empty(), "{} dialects differ:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn a_comparison_that_can_fail() {
    let log = log();
    let want = PLAIN.review(&log);
    let mut off = log;
    // The third cylinder a twentieth of a kilopascal higher while the engine runs.
    off.pressure[2].iter_mut().for_each(|v| *v += if *v < 90.0 { 0.05 } else { 0.0 });
    assert!(same("", &want, &PLAIN.review(&off)).is_err());
}
