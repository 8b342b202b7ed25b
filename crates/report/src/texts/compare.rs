//! A comparison of visits in words; page and terminal both take them from here.

use evenpull_core::result::{Measured, Verdict};
use evenpull_core::visits::Comparison;
use evenpull_core::visits::comparison::{Change, ComparedVisit, Latest, Place, Slope, Trend};

use crate::digits;
use crate::texts::{capital, count_word, cylinders, labels, list};
use crate::units::DisplayUnit;

/// A comparison seen through the eyes of the words: in which unit it is said.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Told<'a> {
    /// The result.
    pub(crate) c: &'a Comparison,
    /// How pressures are shown.
    pub(crate) unit: DisplayUnit,
}

impl Told<'_> {
    /// Two visits at most: before and after.
    pub(crate) fn pair(&self) -> bool {
        self.c.visits.len() <= 2
    }

    /// Whether the limit is the rule of thumb.
    pub(crate) fn rule_of_thumb(&self) -> bool {
        self.c.limit_source != "machine-file"
    }

    /// Verdict of the last visit.
    pub(crate) fn verdict_now(&self) -> Verdict {
        self.c.visits.last().map_or(Verdict::NotApplicable, |v| v.verdict)
    }

    /// Cylinders that changed between the last two judged visits.
    pub(crate) fn changed_last(&self) -> Vec<(u32, Measured)> {
        let latest = self.c.latest.iter().flat_map(|l| &l.cylinders);
        latest.filter(|k| k.significant).filter_map(|k| Some((k.cylinder, k.change_kpa?))).collect()
    }

    /// Cylinders with a trend.
    pub(crate) fn drifting(&self) -> Vec<&Trend> {
        self.c.trend.iter().filter(|t| t.significant).collect()
    }

    /// `+0.53 kPa per 100 h (+0.41 to +0.66)`.
    pub(crate) fn slope(&self, s: Slope, per: &str) -> String {
        let ends = [s.low, s.high].map(|v| self.unit.difference(v));
        let most = digits::decimals((ends[1] - ends[0]).abs() / 2.0).min(self.unit.decimals());
        let text = |v: f64| digits::signed(v, most);
        format!(
            "{} {} per {per} (95 % interval {} to {})",
            text(self.unit.difference(s.value)),
            self.unit.name(),
            text(ends[0].min(ends[1])),
            text(ends[0].max(ends[1]))
        )
    }

    /// `+0.53 ± 0.21 kPa` of a change.
    pub(crate) fn step(&self, m: Measured) -> String {
        format!("{} {}", self.unit.deviation_text(m), self.unit.name())
    }
}

/// What a visit is called: its date, or the name of its recording.
pub(crate) fn visit_name(v: &ComparedVisit) -> String {
    match (&v.date, v.visit.rsplit_once('-')) {
        (_, Some((_, "found"))) => "as found".to_owned(),
        (_, Some((_, "left"))) => "as left".to_owned(),
        (Some(d), _) => d.clone(),
        (None, _) => v.source.clone(),
    }
}

/// `414 h`, `12 500 km`, a date.
pub(crate) fn place(p: &Place, unit: &str) -> String {
    match p {
        Place::Number(n) => format!("{} {}", digits::fixed(*n, 0), if unit == "km" { "km" } else { "h" }),
        Place::Date(d) => d.clone(),
    }
}

/// Line over the headline.
pub(crate) fn kicker(t: &Told<'_>) -> String {
    let c = t.c;
    let names: Vec<String> = c.visits.iter().map(visit_name).collect();
    match (&c.machine, names.as_slice()) {
        (Some(id), [a, b]) => format!("Two visits of {id}: {a} and {b}"),
        (Some(id), names) => format!("{} visits of {id}", capital(&count_word(names.len()))),
        (None, [a, b]) => format!("Two recordings: {a} and {b}"),
        (None, names) => format!("{} recordings", capital(&count_word(names.len()))),
    }
}

/// The finding in a sentence.
pub(crate) fn headline(t: &Told<'_>) -> String {
    if let Some(s) = &t.c.swapped {
        return match (s.cylinders_differ, s.sensors_differ) {
            (true, false) => "The cylinders differ, their sensors do not",
            (false, true) => "The sensors differ, their cylinders do not",
            (true, true) => "Both the cylinders and their sensors differ",
            (false, false) => "No difference shown, neither of the cylinders nor of their sensors",
        }
        .to_owned();
    }
    let drifting = t.drifting();
    if !t.pair()
        && let Some(first) = drifting.first()
    {
        let who = if first.either || drifting.len() > 1 {
            format!("Cylinders {} drift", list(&numbers(drifting.iter().map(|d| d.cylinder))))
        } else {
            format!("Cylinder {} drifts", first.cylinder)
        };
        return format!("{who}; {}", state_now(t.verdict_now()));
    }
    if t.c.latest.is_none() {
        return "These recordings cannot be compared with each other".to_owned();
    }
    let changed: Vec<u32> = t.changed_last().iter().map(|k| k.0).collect();
    if changed.is_empty() && !t.pair() {
        return match t.c.changes.last() {
            Some(k) => {
                format!("Cylinder {} changed and has held since; {}", k.cylinder, state_now(t.verdict_now()))
            }
            None => format!(
                "Nothing changed over {} visits; {}",
                count_word(t.c.visits.len()),
                state_now(t.verdict_now())
            ),
        };
    }
    let what = match changed.as_slice() {
        [] => "No change shown".to_owned(),
        _ if either(t) => format!("Cylinder {} has changed", joined_or(&changed)),
        [one] => format!("Cylinder {one} has changed"),
        _ => format!("{} have changed", capital(&cylinders(&changed))),
    };
    format!("{what}; {}", then_now(t))
}

fn numbers(n: impl Iterator<Item = u32>) -> Vec<String> {
    n.map(|n| n.to_string()).collect()
}

fn joined_or(n: &[u32]) -> String {
    numbers(n.iter().copied()).join(" or ")
}

/// Whether the last two visits cannot tell which of two cylinders moved.
fn either(t: &Told<'_>) -> bool {
    let last = t.c.latest.as_ref().map(|l| &l.visits[1]);
    t.c.changes.iter().any(|k| k.either && Some(&k.visits[1]) == last)
}

fn state_now(v: Verdict) -> &'static str {
    match v {
        Verdict::Within => "the spread is within its limit",
        Verdict::Outside => "the spread is outside its limit",
        Verdict::CannotTell => "whether the spread is within its limit cannot be told",
        Verdict::NotApplicable => "there is no spread to judge",
    }
}

fn then_now(t: &Told<'_>) -> &'static str {
    let [then, now] = t.c.latest.as_ref().map_or([t.verdict_now(); 2], |l| l.verdict);
    match (then, now) {
        (Verdict::Outside, Verdict::Within) => "the spread has come within its limit",
        (Verdict::Within, Verdict::Outside) => "the spread has gone outside its limit",
        (Verdict::Outside, Verdict::Outside) => "the spread is still outside its limit",
        _ => state_now(now),
    }
}

/// What changed.
pub(crate) fn changed(t: &Told<'_>) -> Vec<String> {
    let mut lines: Vec<String> = swap(t);
    lines.extend(t.c.changes.iter().map(|k| change(t, k)));
    lines.extend(t.drifting().into_iter().map(|d| trend(t, d)));
    if t.c.changes.is_empty() && t.drifting().is_empty() && t.c.swapped.is_none() {
        lines.push(match &t.c.latest {
            Some(_) => "No cylinder moved by more than visits differ with nothing done.".to_owned(),
            None => "Nothing that can be judged: the conditions were too far apart.".to_owned(),
        });
    }
    lines.extend(t.c.control.iter().filter(|l| l.outside).map(|l| {
        let word = if l.provisional { "provisional " } else { "" };
        format!("Cylinder {}: the last visit lies outside its {word}control limits.", l.cylinder)
    }));
    lines
}

/// One change.
pub(crate) fn change(t: &Told<'_>, k: &Change) -> String {
    let name = |i: usize| {
        let visit = t.c.visits.iter().find(|v| v.visit == k.visits[i]);
        visit.map_or_else(|| k.visits[i].clone(), visit_name)
    };
    let work = t.c.visits.iter().find(|v| v.visit == k.visits[1]);
    let work = work.and_then(|v| v.work.as_ref().or(v.note.as_ref()));
    let work = work.map_or(String::new(), |w| format!(" Noted then: {w}."));
    let tail = if k.either { " Or the other one of the two: the visits cannot tell which." } else { "" };
    format!(
        "Cylinder {} changed by {} between {} and {}.{tail}{work}",
        k.cylinder,
        t.step(k.step_kpa),
        name(0),
        name(1)
    )
}

/// One trend.
pub(crate) fn trend(t: &Told<'_>, d: &Trend) -> String {
    let slope = d.slope_kpa.map_or("drifts".to_owned(), |s| format!("drifts by {}", t.slope(s, &d.per)));
    let since = d.since.as_ref().map_or(String::new(), |s| format!(" since {s}"));
    let tail = if d.either { " Or the other one of the two drifts the other way." } else { "" };
    format!("Cylinder {} {slope}{since}, over {} visits.{tail}", d.cylinder, d.visits)
}

/// Sensor told from cylinder.
pub(crate) fn swap(t: &Told<'_>) -> Vec<String> {
    let Some(s) = &t.c.swapped else { return Vec::new() };
    let [a, b] = s.cylinders;
    let word = |differ: bool| if differ { "they differ" } else { "no difference shown" };
    vec![
        format!(
            "Cylinder {a} minus cylinder {b}: {}, {}.",
            t.step(s.cylinder_difference_kpa),
            word(s.cylinders_differ)
        ),
        format!(
            "Sensor {a} minus sensor {b}: {}, {}.",
            t.step(s.sensor_difference_kpa),
            word(s.sensors_differ)
        ),
    ]
}

/// Inside the limit, then and now.
pub(crate) fn verdicts(t: &Told<'_>) -> Vec<String> {
    let limit = t.unit.limit_text(t.c.limit_kpa);
    let whose = if t.rule_of_thumb() {
        "a rule of thumb of the trade, not the maker's figure, which overrides it"
    } else {
        "from the machine file"
    };
    let mut lines = Vec::new();
    if let Some(l) = &t.c.latest {
        let [a, b] = [0, 1].map(|i| said(t, l, i));
        lines.push(format!("Then: {a}. Now: {b}."));
        lines.extend(l.spread_change_kpa.map(|s| {
            let text = digits::signed_plus_minus(t.unit.width(s.value), t.unit.width(s.u), t.unit.decimals());
            format!("The spread changed by {text} {}.", t.unit.name())
        }));
    } else if let Some(v) = t.c.visits.last() {
        lines.push(format!("Now: {}.", spread(&t.unit, v.spread_kpa, v.verdict)));
    }
    lines.push(format!("The limit is {limit}: {whose}."));
    lines
}

fn said(t: &Told<'_>, l: &Latest, i: usize) -> String {
    let visit = t.c.visits.iter().find(|v| v.visit == l.visits[i]);
    spread(&t.unit, visit.and_then(|v| v.spread_kpa), l.verdict[i])
}

/// `spread 2.31 ± 0.04 kPa, outside the limit`.
pub(crate) fn spread(unit: &DisplayUnit, spread: Option<Measured>, verdict: Verdict) -> String {
    match spread {
        Some(s) => format!("spread {} {}, {}", unit.width_text(s), unit.name(), labels::verdict(verdict)),
        None => format!("no spread, {}", labels::verdict(verdict)),
    }
}
