//! Conditions that were not alike at all visits: named with their figures, not judged.

use super::comparison::Unlike;
use super::types::Visit;

/// Share of the idle speed by which visits may differ unnamed.
const SPEED_SHARE: f64 = 0.05;

/// Barometer difference that goes unnamed, kPa (weather at one place; common practice, no source).
const BAROMETER_KPA: f64 = 2.0;

/// What was not alike.
pub(crate) fn unlike(visits: &[Visit], judged: &[bool]) -> Vec<Unlike> {
    let mut found = Vec::new();
    let mut say = |what: &str, text: String| found.push(Unlike { what: what.to_owned(), text });
    if let Some((low, high)) = range(visits, |v| v.rpm.map(|r| r.value))
        && high > low * (1.0 + SPEED_SHARE)
    {
        let out = judged.iter().filter(|j| !**j).count();
        let mut text = format!("Idle speeds from {low:.0} to {high:.0} rev/min.");
        if out > 0 {
            text.push_str(&format!(" {out} too far from the others to be judged with them."));
        }
        say("idle-speed", text);
    }
    if let Some((low, high)) = range(visits, |v| v.barometer_kpa)
        && high - low > BAROMETER_KPA
    {
        say("barometer", format!("Barometer from {low:.1} to {high:.1} kPa."));
    }
    if let Some((low, high)) = range(visits, |v| Some(v.limit_kpa))
        && high > low
    {
        say(
            "limit",
            format!("Limits from {low} to {high} kPa: each verdict is against the limit of its visit."),
        );
    }
    let mut differ = |what: &str, values: Vec<String>, words: &str| {
        let mut kinds: Vec<String> = Vec::new();
        for v in values {
            if !kinds.contains(&v) {
                kinds.push(v);
            }
        }
        if kinds.len() > 1 {
            say(what, format!("{words}: {}.", kinds.join(", ")));
        }
    };
    differ("reference", visits.iter().map(reference).collect(), "Deviations were reviewed against");
    let signals = visits.iter().filter_map(|v| v.signal).map(|s| format!("{s:?}").to_lowercase()).collect();
    differ("signal", signals, "The pulse was logged");
    let counts = visits.iter().map(|v| format!("{}", v.cylinders.len())).collect();
    differ("cylinders", counts, "Numbers of cylinders");
    let settings = visits.iter().map(|v| v.settings_hash.clone()).collect();
    differ("settings", settings, "Reviewed with different settings or machine files");
    found
}

fn reference(v: &Visit) -> String {
    match v.reference {
        crate::result::Reference::Cylinder(n) => format!("cylinder {n}"),
        crate::result::Reference::Group(g) => format!("the {}", format!("{g:?}").to_lowercase()),
    }
}

fn range(visits: &[Visit], of: impl Fn(&Visit) -> Option<f64>) -> Option<(f64, f64)> {
    let values: Vec<f64> = visits.iter().filter_map(of).filter(|v| v.is_finite()).collect();
    let low = values.iter().copied().reduce(f64::min)?;
    let high = values.iter().copied().reduce(f64::max)?;
    Some((low, high))
}
