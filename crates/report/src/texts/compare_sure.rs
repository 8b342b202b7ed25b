//! How sure a comparison is: what visits differ by anyway, trends that are none, the forecast or why none is honest.

use evenpull_core::visits::comparison::{Forecast, Place, RepeatabilitySource};

use crate::digits;
use crate::texts::compare::{Told, place};
use crate::texts::cylinders;

/// How sure.
pub(crate) fn how_sure(t: &Told<'_>) -> Vec<String> {
    let mut lines = vec![repeatability(t)];
    let drifting = t.drifting();
    lines.extend(drifting.iter().filter_map(|d| {
        let p = d.p?;
        Some(format!(
            "The drift of cylinder {} would come by chance with p = {}.",
            d.cylinder,
            probability(p)
        ))
    }));
    if !t.pair() {
        lines.extend(no_trend(t));
        match (&t.c.forecast, &t.c.no_forecast_because) {
            (Some(f), _) => lines.push(forecast(f)),
            (None, Some(reason)) => lines.push(format!("No forecast: {reason}.")),
            (None, None) => {}
        }
    }
    lines.extend(t.c.unlike.iter().map(|u| format!("Not alike, named and not judged: {}", u.text)));
    lines
}

/// `0.017`, `below 0.001`.
pub(crate) fn probability(p: f64) -> String {
    if p < 0.001 { "0.001 or less".to_owned() } else { digits::fixed(p, 3) }
}

/// What two visits differ by anyway.
pub(crate) fn repeatability(t: &Told<'_>) -> String {
    let r = t.c.repeatability_kpa;
    let source = match r.source {
        RepeatabilitySource::Repeats => "from recordings of the same day",
        RepeatabilitySource::Default => "a rule of thumb, until there are recordings of the same day",
    };
    let own = t.c.scatter_kpa.map_or(String::new(), |s| {
        format!(" This machine's cylinders move by {} {}.", width(t, s), t.unit.name())
    });
    format!(
        "With nothing done two visits differ by {} {} (one standard deviation; {source}).{own}",
        width(t, r.value),
        t.unit.name()
    )
}

fn width(t: &Told<'_>, kpa: f64) -> String {
    digits::fixed(t.unit.width(kpa), t.unit.decimals().max(1))
}

/// The reasons why the other cylinders show no trend, each once with its cylinders.
fn no_trend(t: &Told<'_>) -> Vec<String> {
    let mut reasons: Vec<(String, Vec<u32>)> = Vec::new();
    for d in t.c.trend.iter().filter(|d| !d.significant) {
        let Some(why) = &d.why else { continue };
        match reasons.iter_mut().find(|r| r.0 == *why) {
            Some(r) => r.1.push(d.cylinder),
            None => reasons.push((why.clone(), vec![d.cylinder])),
        }
    }
    reasons.into_iter().map(|(why, who)| format!("Trend of {}: {why}.", cylinders(&who))).collect()
}

/// When the spread reaches its limit.
pub(crate) fn forecast(f: &Forecast) -> String {
    let or = |p: &Option<Place>| p.as_ref().map_or("not within sight".to_owned(), |p| place(p, &f.unit));
    format!(
        "If cylinder {} goes on like this, the spread reaches its limit at {} (earliest {}, latest {}).",
        f.cylinder,
        place(&f.at, &f.unit),
        or(&f.low),
        or(&f.high)
    )
}
