//! A comparison in plain words for the terminal.

use evenpull_core::result::{Measured, Verdict};
use evenpull_core::safe_text::one_line;
use evenpull_core::visits::comparison::{
    Change, ComparedVisit, Comparison, Forecast, Place, RepeatabilitySource, Trend,
};

/// Verdict in words.
pub(crate) fn verdict_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "within its limit",
        Verdict::Outside => "outside its limit",
        Verdict::CannotTell => "cannot tell",
        Verdict::NotApplicable => "not applicable",
    }
}

/// Spread with its uncertainty and the verdict.
pub(crate) fn spread_and_verdict(spread: Option<Measured>, verdict: Verdict) -> String {
    match spread {
        Some(s) => format!("spread {:.2} \u{b1} {:.2} kPa, {}", s.value, s.u, verdict_words(verdict)),
        None => format!("no spread, {}", verdict_words(verdict)),
    }
}

/// The comparison as lines.
pub(crate) fn compare_text(c: &Comparison) -> String {
    let mut lines = vec![format!(
        "{}: {} visits, limit {} kPa",
        c.machine.as_deref().unwrap_or("Recordings"),
        c.visits.len(),
        c.limit_kpa
    )];
    lines.push(String::new());
    lines.extend(table(c));
    lines.push(String::new());
    lines.push(against(c));
    lines.extend(latest(c));
    lines.push(String::new());
    if c.changes.is_empty() {
        lines.push("No change shown between visits.".to_owned());
    }
    lines.extend(c.changes.iter().map(change));
    lines.extend(c.trend.iter().filter(|t| t.significant).map(trend));
    lines.extend(no_trend(c));
    match (&c.forecast, &c.no_forecast_because) {
        (Some(f), _) => lines.push(forecast(f)),
        (None, Some(reason)) => lines.push(format!("No forecast: {reason}.")),
        (None, None) => {}
    }
    lines.extend(c.control.iter().filter(|l| l.outside).map(|l| {
        let word = if l.provisional { "provisional " } else { "" };
        format!("Cylinder {}: the last visit lies outside its {word}control limits.", l.cylinder)
    }));
    lines.extend(swap(c));
    lines.extend(c.unlike.iter().map(|u| format!("Not alike: {}", u.text)));
    lines.push(repeatability(c));
    lines.iter().map(|l| one_line(l)).collect::<Vec<_>>().join("\n")
}

fn table(c: &Comparison) -> Vec<String> {
    let numbers: Vec<u32> = c.trend.iter().map(|t| t.cylinder).collect();
    let mut head = format!("{:<12}{:>10}{:>8}{:>8}", "visit", c.axis_head(), "rpm", "spread");
    numbers.iter().for_each(|n| head.push_str(&format!("{:>9}", format!("cyl {n}"))));
    let mut rows = vec![head];
    rows.extend(c.visits.iter().map(|v| row(v, c, &numbers)));
    rows
}

/// Heading of the column that the axis fills.
trait AxisHead {
    fn axis_head(&self) -> &str;
}

impl AxisHead for Comparison {
    fn axis_head(&self) -> &str {
        match self.axis.as_str() {
            "hours" => "hours",
            "km" => "km",
            _ => "",
        }
    }
}

fn row(v: &ComparedVisit, c: &Comparison, numbers: &[u32]) -> String {
    let number = |x: Option<f64>, digits: usize| x.map_or("-".to_owned(), |x| format!("{x:.digits$}"));
    let place = match c.axis.as_str() {
        "hours" => number(v.hours, 1),
        "km" => number(v.distance_km, 0),
        _ => String::new(),
    };
    let name: String = v.date.clone().unwrap_or_else(|| v.source.clone()).chars().take(11).collect();
    let mut line = format!(
        "{name:<12}{place:>10}{:>8}{:>8}",
        number(v.rpm.map(|r| r.value), 0),
        number(v.spread_kpa.map(|s| s.value), 2)
    );
    for n in numbers {
        let d = v.cylinders.iter().find(|k| k.cylinder == *n).and_then(|k| k.deviation_kpa);
        line.push_str(&format!("{:>9}", d.map_or("-".to_owned(), |m| format!("{:+.2}", m.value))));
    }
    let note = if v.judged { "" } else { " (not judged)" };
    format!("{line}  {}{note}", verdict_words(v.verdict))
}

fn against(c: &Comparison) -> String {
    let all = c.judged_against.len() == c.trend.len();
    let names: Vec<String> = c.judged_against.iter().map(u32::to_string).collect();
    let who = if all { "the others".to_owned() } else { format!("cylinders {}", names.join(", ")) };
    format!("Deviations in kPa against the median of {who}, at the machine's usual idle pressure.")
}

fn latest(c: &Comparison) -> Vec<String> {
    let Some(l) = &c.latest else { return Vec::new() };
    let mut lines = vec![format!(
        "Last two visits: {} then, {} now{}.",
        verdict_words(l.verdict[0]),
        verdict_words(l.verdict[1]),
        l.spread_change_kpa
            .map_or(String::new(), |s| format!("; spread changed by {:+.2} \u{b1} {:.2} kPa", s.value, s.u))
    )];
    lines.extend(l.cylinders.iter().filter_map(|k| {
        let m = k.change_kpa?;
        let word = if k.significant { "changed" } else { "no change shown" };
        Some(format!("  cylinder {}: {:+.2} \u{b1} {:.2} kPa, {word}", k.cylinder, m.value, m.u))
    }));
    lines
}

fn change(c: &Change) -> String {
    let date = |d: &Option<String>, visit: &str| d.clone().unwrap_or_else(|| visit.to_owned());
    let either = if c.either { " (or the other one of the two: the visits cannot tell which)" } else { "" };
    format!(
        "Change: cylinder {} by {:+.2} \u{b1} {:.2} kPa between {} and {}{either}.",
        c.cylinder,
        c.step_kpa.value,
        c.step_kpa.u,
        date(&c.between[0], &c.visits[0]),
        date(&c.between[1], &c.visits[1])
    )
}

fn trend(t: &Trend) -> String {
    let slope = t.slope_kpa.map_or("drifts".to_owned(), |s| {
        format!("drifts by {:+.2} kPa per {} ({:+.2} to {:+.2})", s.value, t.per, s.low, s.high)
    });
    let since = t.since.as_ref().map_or(String::new(), |d| format!(" since {d}"));
    let p = t.p.map_or(String::new(), |p| format!(", p = {p:.3}"));
    let either = if t.either { "; or the other one of the two drifts the other way" } else { "" };
    format!("Trend: cylinder {} {slope}{since}, {} visits{p}{either}.", t.cylinder, t.visits)
}

/// The reasons why the other cylinders show no trend, each once with its cylinders.
fn no_trend(c: &Comparison) -> Vec<String> {
    let mut reasons: Vec<(String, Vec<String>)> = Vec::new();
    for t in c.trend.iter().filter(|t| !t.significant) {
        let Some(why) = &t.why else { continue };
        match reasons.iter_mut().find(|r| r.0 == *why) {
            Some(r) => r.1.push(t.cylinder.to_string()),
            None => reasons.push((why.clone(), vec![t.cylinder.to_string()])),
        }
    }
    reasons.into_iter().map(|(why, who)| format!("Trend of {}: {why}.", who.join(", "))).collect()
}

fn forecast(f: &Forecast) -> String {
    let place = |p: &Place| match p {
        Place::Number(n) => format!("{n:.0} {}", if f.unit == "km" { "km" } else { "h" }),
        Place::Date(d) => d.clone(),
    };
    let open = "not within sight".to_owned();
    format!(
        "Forecast: if cylinder {} goes on like this, the spread reaches its limit at {} (earliest {}, latest {}).",
        f.cylinder,
        place(&f.at),
        f.low.as_ref().map_or_else(|| open.clone(), place),
        f.high.as_ref().map_or(open.clone(), place)
    )
}

fn swap(c: &Comparison) -> Vec<String> {
    let Some(s) = &c.swapped else { return Vec::new() };
    let [a, b] = s.cylinders;
    let word = |differ: bool| if differ { "they differ" } else { "no difference shown" };
    let (cylinder, sensor) = (s.cylinder_difference_kpa, s.sensor_difference_kpa);
    vec![
        format!(
            "Sensors exchanged: cylinder {a} minus cylinder {b} {:+.2} \u{b1} {:.2} kPa, {}.",
            cylinder.value,
            cylinder.u,
            word(s.cylinders_differ)
        ),
        format!(
            "  sensor {a} minus sensor {b} {:+.2} \u{b1} {:.2} kPa, {}.",
            sensor.value,
            sensor.u,
            word(s.sensors_differ)
        ),
    ]
}

fn repeatability(c: &Comparison) -> String {
    let r = c.repeatability_kpa;
    let source = match r.source {
        RepeatabilitySource::Repeats => "from recordings of the same day",
        RepeatabilitySource::Default => "rule of thumb, until there are recordings of the same day",
    };
    let own =
        c.scatter_kpa.map_or(String::new(), |s| format!(" This machine's cylinders move by {s:.2} kPa."));
    format!(
        "With nothing done two visits differ by {:.2} kPa (one standard deviation; {source}).{own}",
        r.value
    )
}
