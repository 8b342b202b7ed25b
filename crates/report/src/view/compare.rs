//! The page of a comparison as finished strings.

use evenpull_core::visits::comparison::ComparedVisit;
use serde::Serialize;

use crate::cautions;
use crate::digits;
use crate::page::CompareLinks;
use crate::texts::compare::{self, Told, visit_name};
use crate::texts::{compare_advice, compare_sure, labels, page};
use crate::view::compare_figures::last_two;
use crate::view::{Answer, Fact, Table};

/// The page of a comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct CompareView {
    /// Title of the document.
    pub(crate) title: String,
    /// Line over the headline.
    pub(crate) kicker: String,
    /// Headline.
    pub(crate) headline: String,
    /// What was looked at.
    pub(crate) facts: Vec<Fact>,
    /// The answers.
    pub(crate) answers: Vec<Answer>,
    /// How far the method has been proven.
    pub(crate) checked: &'static str,
    /// The last two visits, cylinder by cylinder.
    pub(crate) latest: Option<Table>,
    /// All visits.
    pub(crate) visits: Table,
    /// What was noted at each.
    pub(crate) notes: Vec<String>,
    /// Pages of the visits' reviews: name and relative address.
    pub(crate) links: Vec<(String, String)>,
    /// Page of the ranking that the machine stands in.
    pub(crate) ranking: Option<String>,
    /// Changes.
    pub(crate) changes: Option<Table>,
    /// Trends.
    pub(crate) trends: Option<Table>,
    /// Control limits.
    pub(crate) control: Option<Table>,
    /// Sensor told from cylinder.
    pub(crate) swapped: Option<Table>,
    /// Conditions that were not alike.
    pub(crate) unlike: Vec<String>,
    /// How the numbers were made.
    pub(crate) method: Vec<String>,
    /// Cautions.
    pub(crate) cautions: Vec<cautions::Caution>,
    /// Facts that make the page reproducible.
    pub(crate) origin: Vec<Fact>,
}

/// Builds the view model.
pub(crate) fn compare(t: &Told<'_>, links: &CompareLinks) -> CompareView {
    let c = t.c;
    let answer = |question, key, lines| Answer { question, key, lines };
    let headline = compare::headline(t);
    CompareView {
        title: format!("{}: {headline}", c.machine.as_deref().unwrap_or("Recordings compared")),
        kicker: compare::kicker(t),
        headline,
        facts: facts(t),
        answers: vec![
            answer("What changed?", "changed", compare::changed(t)),
            answer("Within the limit?", "verdict", compare::verdicts(t)),
            answer("How sure?", "how-sure", compare_sure::how_sure(t)),
            answer("What next?", "next", compare_advice::next(t)),
            answer("What not to do?", "not", compare_advice::not_to_do(t)),
        ],
        checked: page::CHECKED,
        latest: latest(t),
        visits: visits(t),
        notes: c.visits.iter().filter_map(noted).collect(),
        links: c
            .visits
            .iter()
            .filter_map(|v| Some((visit_name(v), links.reviews.get(&v.visit)?.clone())))
            .collect(),
        ranking: links.ranking.clone(),
        changes: changes(t),
        trends: trends(t),
        control: control(t),
        swapped: swapped(t),
        unlike: c.unlike.iter().map(|u| u.text.clone()).collect(),
        method: compare_advice::method(t),
        cautions: cautions::LINES.to_vec(),
        origin: origin(t),
    }
}

fn fact(label: &str, value: String) -> Fact {
    Fact { label: label.to_owned(), value }
}

fn facts(t: &Told<'_>) -> Vec<Fact> {
    let c = t.c;
    let mut out = vec![fact("Machine", c.machine.clone().unwrap_or_else(|| "not named".to_owned()))];
    let span = |text: &dyn Fn(&ComparedVisit) -> Option<String>| -> Option<String> {
        let (a, b) = (text(c.visits.first()?)?, text(c.visits.last()?)?);
        Some(if a == b { a } else { format!("{a} to {b}") })
    };
    out.extend(span(&|v| v.date.clone()).map(|s| fact("Dates", s)));
    out.extend(span(&|v| v.hours.map(|h| digits::fixed(h, 0))).map(|s| fact("Engine hours", s)));
    out.extend(span(&|v| v.distance_km.map(|k| digits::fixed(k, 0))).map(|s| fact("Distance, km", s)));
    let whose = if t.rule_of_thumb() { "rule of thumb" } else { "machine file" };
    out.push(fact("Limit on the spread", format!("{} ({whose})", t.unit.limit_text(c.limit_kpa))));
    out
}

fn cell<T>(value: Option<T>, text: impl Fn(T) -> String) -> String {
    value.map_or_else(|| "–".to_owned(), text)
}

fn table(caption: String, head: &[String], rows: Vec<Vec<String>>, text_columns: &[usize]) -> Option<Table> {
    let t = Table { caption, head: head.to_vec(), rows, text_columns: text_columns.to_vec(), note: None };
    (!t.rows.is_empty()).then(|| t.without_empty_columns())
}

fn latest(t: &Told<'_>) -> Option<Table> {
    let (l, [then, now]) = (t.c.latest.as_ref()?, last_two(t.c)?);
    let of = |v: &ComparedVisit, n: u32| {
        cell(v.cylinders.iter().find(|k| k.cylinder == n).and_then(|k| k.deviation_kpa), |m| {
            t.unit.deviation_text(m)
        })
    };
    let class = |k| labels::class(k, evenpull_core::result::Basis::Inferred);
    let rows = l.cylinders.iter().map(|k| {
        vec![
            k.cylinder.to_string(),
            of(then, k.cylinder),
            of(now, k.cylinder),
            cell(k.change_kpa, |m| t.unit.deviation_text(m)),
            if k.significant { "changed" } else { "no change shown" }.to_owned(),
            class(k.class[0]).to_owned(),
            class(k.class[1]).to_owned(),
        ]
    });
    let u = t.unit.name();
    let head = [
        "Cylinder".to_owned(),
        format!("{}, {u}", visit_name(then)),
        format!("{}, {u}", visit_name(now)),
        format!("Change, {u}"),
        "Finding".to_owned(),
        "Class then".to_owned(),
        "Class now".to_owned(),
    ];
    table(
        "Then and now, against the median of the steady cylinders".to_owned(),
        &head,
        rows.collect(),
        &[4, 5, 6],
    )
}

fn visits(t: &Told<'_>) -> Table {
    let c = t.c;
    let numbers: Vec<u32> = c.trend.iter().map(|d| d.cylinder).collect();
    let u = t.unit.name();
    let mut head: Vec<String> =
        ["Visit", "Hours", "km", "rev/min", "Barometer, kPa"].map(str::to_owned).to_vec();
    head.push(format!("Spread, {u}"));
    head.push("Verdict".to_owned());
    head.extend(numbers.iter().map(|n| format!("Cyl {n}, {u}")));
    let rows = c.visits.iter().map(|v| {
        let mut row = vec![
            visit_name(v),
            cell(v.hours, |h| digits::fixed(h, 0)),
            cell(v.distance_km, |k| digits::fixed(k, 0)),
            cell(v.rpm, |r| digits::fixed(r.value, 0)),
            cell(v.barometer_kpa, |b| digits::fixed(b, 1)),
            cell(v.spread_kpa, |s| t.unit.width_text(s)),
            format!("{}{}", labels::verdict(v.verdict), if v.judged { "" } else { "; not judged here" }),
        ];
        row.extend(numbers.iter().map(|n| {
            let k = v.cylinders.iter().find(|k| k.cylinder == *n).and_then(|k| k.deviation_kpa);
            cell(k, |m| t.unit.deviation_text(m))
        }));
        row
    });
    let rows: Vec<Vec<String>> = rows.collect();
    Table { caption: "All visits".to_owned(), head, rows, text_columns: vec![6], note: None }
        .without_empty_columns()
}

fn noted(v: &ComparedVisit) -> Option<String> {
    let texts: Vec<&str> = [&v.note, &v.work].into_iter().flatten().map(String::as_str).collect();
    (!texts.is_empty()).then(|| format!("{}: {}", visit_name(v), texts.join("; ")))
}

fn changes(t: &Told<'_>) -> Option<Table> {
    let name = |id: &str| t.c.visits.iter().find(|v| v.visit == id).map_or_else(|| id.to_owned(), visit_name);
    let rows = t.c.changes.iter().map(|k| {
        vec![
            k.cylinder.to_string(),
            name(&k.visits[0]),
            name(&k.visits[1]),
            t.unit.deviation_text(k.step_kpa),
            if k.either { "this one or the other of the two" } else { "this one" }.to_owned(),
        ]
    });
    let head = ["Cylinder", "After", "Before", "", "Which"].map(str::to_owned);
    let mut head = head.to_vec();
    head[3] = format!("Change, {}", t.unit.name());
    table("Changes".to_owned(), &head, rows.collect(), &[1, 2, 4])
}

fn trends(t: &Told<'_>) -> Option<Table> {
    if t.c.visits.len() < 3 {
        return None;
    }
    let rows = t.c.trend.iter().map(|d| {
        vec![
            d.cylinder.to_string(),
            cell(d.since.clone(), |s| s),
            d.visits.to_string(),
            cell(d.slope_kpa, |s| t.slope(s, &d.per)),
            cell(d.p, compare_sure::probability),
            if d.significant { "drifts".to_owned() } else { d.why.clone().unwrap_or_default() },
        ]
    });
    let head = ["Cylinder", "Since", "Visits", "Slope", "p", "Finding"].map(str::to_owned);
    table("Trend of each cylinder since its last change".to_owned(), &head, rows.collect(), &[1, 3, 5])
}

fn control(t: &Told<'_>) -> Option<Table> {
    let text = |kpa: f64| digits::signed(t.unit.difference(kpa), t.unit.decimals());
    let rows = t.c.control.iter().map(|l| {
        let (a, b) = if t.unit.vacuum() { (l.high_kpa, l.low_kpa) } else { (l.low_kpa, l.high_kpa) };
        let kind = if l.provisional { " (provisional)" } else { "" };
        vec![
            l.cylinder.to_string(),
            l.visits.to_string(),
            text(l.centre_kpa),
            text(a),
            text(b),
            format!("{}{kind}", if l.outside { "outside" } else { "inside" }),
        ]
    });
    let u = t.unit.name();
    let head = ["Cylinder", "Visits before", "", "", "", "Last visit"].map(str::to_owned);
    let mut head = head.to_vec();
    for (i, what) in [(2, "Centre"), (3, "Lower limit"), (4, "Upper limit")] {
        head[i] = format!("{what}, {u}");
    }
    table("Control limits".to_owned(), &head, rows.collect(), &[5])
}

fn swapped(t: &Told<'_>) -> Option<Table> {
    let s = t.c.swapped.as_ref()?;
    let [a, b] = s.cylinders;
    let word = |differ: bool| if differ { "they differ" } else { "no difference shown" }.to_owned();
    let rows = vec![
        vec![
            format!("Cylinder {a} minus cylinder {b}"),
            t.unit.deviation_text(s.cylinder_difference_kpa),
            word(s.cylinders_differ),
        ],
        vec![
            format!("Sensor {a} minus sensor {b}"),
            t.unit.deviation_text(s.sensor_difference_kpa),
            word(s.sensors_differ),
        ],
    ];
    let head = ["What".to_owned(), format!("Difference, {}", t.unit.name()), "Finding".to_owned()];
    table("Sensor or cylinder".to_owned(), &head, rows, &[2])
}

fn origin(t: &Told<'_>) -> Vec<Fact> {
    let c = t.c;
    let mut out: Vec<Fact> = c
        .visits
        .iter()
        .take(24)
        .map(|v| fact(&visit_name(v), format!("{}, visit {}", v.source, v.visit)))
        .collect();
    if c.visits.len() > 24 {
        out.push(fact("Further visits", format!("{}, in the JSON file", c.visits.len() - 24)));
    }
    out.push(fact("Program", format!("evenpull {}, schema {}", c.version, c.schema)));
    out
}
