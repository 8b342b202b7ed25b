//! The page of a ranking as finished strings.

use evenpull_core::visits::Ranked;
use evenpull_core::visits::calendar::day_number;
use evenpull_core::visits::comparison::{ComparedVisit, Comparison, Place};
use evenpull_core::visits::fleet_result::{Attention, Fleet, FleetMachine};
use serde::Serialize;

use crate::cautions;
use crate::digits;
use crate::figure::fleet::Strip;
use crate::texts::{compare, fleet as words, labels, page};
use crate::units::DisplayUnit;
use crate::view::{Answer, Fact, Table};

/// Machines that the table of the page holds; CSV, Parquet and JSON have all.
pub(crate) const ROWS: usize = 120;

/// Machines with a strip.
pub(crate) const STRIPS: usize = 48;

/// Lines of each list of files.
const LISTED: usize = 100;

/// One line of the ranking.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Line {
    rank: usize,
    machine: String,
    /// Address of its own page.
    href: Option<String>,
    attention: &'static str,
    /// Stable key of the attention for styles.
    key: &'static str,
    why: String,
    spread: String,
    limit: String,
    sure: String,
    visits: usize,
    last: String,
}

/// The page of a ranking.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct FleetView {
    /// Title of the document.
    pub(crate) title: String,
    /// Line over the headline.
    pub(crate) kicker: String,
    /// Headline.
    pub(crate) headline: String,
    facts: Vec<Fact>,
    answers: Vec<Answer>,
    checked: &'static str,
    lines: Vec<Line>,
    unit: &'static str,
    more: Option<String>,
    means: Vec<(&'static str, &'static str)>,
    sisters: Option<Table>,
    drifts: Option<Table>,
    unnamed: Option<Table>,
    failed: Option<Table>,
    method: Vec<String>,
    cautions: Vec<cautions::Caution>,
    origin: Vec<Fact>,
}

/// Builds the view model.
pub(crate) fn fleet(ranked: &Ranked, unit: &DisplayUnit) -> FleetView {
    let f = &ranked.fleet;
    let answer = |question, key, lines| Answer { question, key, lines };
    let headline = words::headline(f);
    let more = f
        .machines
        .len()
        .checked_sub(ROWS + 1)
        .map(|m| format!("{} more machines stand in fleet.csv, fleet.parquet and fleet.json.", m + 1));
    FleetView {
        title: format!("Fleet: {headline}"),
        kicker: format!("Ranking of {}", words::machines(f.machines.len())),
        headline,
        facts: facts(f),
        answers: vec![
            answer("Which machine first?", "first", words::first(f)),
            answer("Why?", "why", words::reasons(f, unit)),
            answer("How sure?", "how-sure", words::how_sure(f, unit)),
            answer("What next?", "next", words::next(f)),
            answer("What not to do?", "not", words::not_to_do(f)),
        ],
        checked: page::CHECKED,
        lines: f.machines.iter().take(ROWS).map(|m| line(m, unit)).collect(),
        unit: unit.name(),
        more,
        means: words::ATTENTIONS.iter().map(|a| (words::attention(*a), words::attention_means(*a))).collect(),
        sisters: sisters(f),
        drifts: drifts(f, unit),
        unnamed: unnamed(f),
        failed: failed(f),
        method: words::method(),
        cautions: cautions::LINES.to_vec(),
        origin: vec![
            fact("Program", format!("evenpull {}, schema {}", f.version, f.schema)),
            fact("Beside this page", "fleet.csv, fleet.parquet, fleet.json".to_owned()),
        ],
    }
}

fn fact(label: &str, value: String) -> Fact {
    Fact { label: label.to_owned(), value }
}

fn facts(f: &Fleet) -> Vec<Fact> {
    let dates = |last: usize| f.machines.iter().filter_map(move |m| m.dates[last].clone());
    let visits: usize = f.machines.iter().map(|m| m.visits).sum();
    let mut out = vec![
        fact("Machines", digits::whole(f.machines.len() as u64)),
        fact("Visits", digits::whole(visits as u64)),
    ];
    if let (Some(a), Some(b)) = (dates(0).min(), dates(1).max()) {
        out.push(fact("Dates", if a == b { a } else { format!("{a} to {b}") }));
    }
    for a in words::ATTENTIONS {
        out.push(fact(&crate::texts::capital(words::attention(a)), words::count(f, a).to_string()));
    }
    if !f.unnamed.is_empty() {
        out.push(fact("Without a machine", f.unnamed.len().to_string()));
    }
    if !f.failed.is_empty() {
        out.push(fact("Failed", f.failed.len().to_string()));
    }
    out
}

fn line(m: &FleetMachine, unit: &DisplayUnit) -> Line {
    Line {
        rank: m.rank,
        machine: m.machine.clone(),
        href: m.report.clone(),
        attention: words::attention(m.attention),
        key: match m.attention {
            Attention::Act => "act",
            Attention::Watch => "watch",
            Attention::MeasureAgain => "again",
            Attention::Fine => "fine",
        },
        why: words::why(m, unit),
        spread: m.spread_kpa.map_or("–".to_owned(), |s| unit.width_text(s)),
        limit: digits::short(unit.width(m.limit_kpa)),
        sure: words::sure(m),
        visits: m.visits,
        last: m.dates[1].clone().unwrap_or_else(|| "–".to_owned()),
    }
}

fn table(caption: &str, head: &[&str], rows: Vec<Vec<String>>, text_columns: &[usize]) -> Option<Table> {
    let all = rows.len();
    let note = (all > LISTED).then(|| format!("The first {LISTED} of {all}; fleet.json has them all."));
    (all > 0).then(|| Table {
        caption: caption.to_owned(),
        head: head.iter().map(|h| (*h).to_owned()).collect(),
        rows: rows.into_iter().take(LISTED).collect(),
        text_columns: text_columns.to_vec(),
        note,
    })
}

fn sisters(f: &Fleet) -> Option<Table> {
    let z = |z: Option<f64>| z.map_or("–".to_owned(), |z| digits::signed(z, 1));
    let rows = f.machines.iter().filter_map(|m| {
        let s = m.sisters.as_ref().filter(|s| s.outlier)?;
        Some(vec![m.machine.clone(), s.machines.to_string(), z(s.spread_z), z(s.level_z)])
    });
    let head = ["Machine", "Sisters", "Spread, robust z", "Idle pressure, robust z"];
    table("Stands out among machines with as many cylinders", &head, rows.collect(), &[])
}

fn drifts(f: &Fleet, unit: &DisplayUnit) -> Option<Table> {
    let rows = f.machines.iter().filter_map(|m| {
        let d = m.drift.as_ref().filter(|d| d.significant)?;
        let at = |p: &Place, unit: &str| compare::place(p, unit);
        let forecast = m.forecast.as_ref().map_or("none that is honest".to_owned(), |f| {
            let or = |p: &Option<Place>| p.as_ref().map_or("not in sight".to_owned(), |p| at(p, &f.unit));
            format!("{} ({} to {})", at(&f.at, &f.unit), or(&f.low), or(&f.high))
        });
        Some(vec![
            m.machine.clone(),
            d.cylinder.to_string(),
            format!("{} {} per {}", unit.deviation_text(d.slope_kpa), unit.name(), d.per),
            words::way(d.outward).to_owned(),
            forecast,
        ])
    });
    let head = ["Machine", "Cylinder", "Drift", "Way", "Reaches the limit"];
    table("Drifting", &head, rows.collect(), &[2, 3, 4])
}

fn unnamed(f: &Fleet) -> Option<Table> {
    let rows = f.unnamed.iter().map(|u| {
        vec![
            u.source.clone(),
            u.date.clone().unwrap_or_else(|| "–".to_owned()),
            labels::verdict(u.verdict).to_owned(),
            u.key.chars().take(12).collect(),
        ]
    });
    let head = ["Recording", "Date", "Verdict alone", "SHA-256 begins"];
    table("Recordings that name no machine: listed, never merged", &head, rows.collect(), &[1, 2, 3])
}

fn failed(f: &Fleet) -> Option<Table> {
    let rows = f.failed.iter().map(|x| vec![x.path.clone(), x.reason.clone()]);
    table("Files and rows that gave no visit", &["File", "Place and reason"], rows.collect(), &[1])
}

/// The small strips, in the order of the ranking.
pub(crate) fn strips(ranked: &Ranked, unit: &DisplayUnit) -> Vec<Strip> {
    ranked
        .fleet
        .machines
        .iter()
        .zip(&ranked.comparisons)
        .take(STRIPS)
        .map(|(m, c)| Strip {
            name: format!("{}  {}", m.rank, m.machine),
            word: words::attention(m.attention).to_owned(),
            cylinder: m.cylinder,
            lines: lines_of(c, unit),
        })
        .collect()
}

fn lines_of(c: &Comparison, unit: &DisplayUnit) -> Vec<(u32, Vec<(f64, f64)>)> {
    let place = |i: usize, v: &ComparedVisit| match c.axis.as_str() {
        "hours" => v.hours,
        "km" => v.distance_km,
        "date" => v.date.as_deref().and_then(day_number).map(f64::from),
        _ => Some(i as f64),
    };
    let x: Vec<f64> = c.visits.iter().enumerate().map(|(i, v)| place(i, v).unwrap_or(f64::NAN)).collect();
    let (from, to) = (x.first().copied().unwrap_or(0.0), x.last().copied().unwrap_or(0.0));
    let span = if to > from { to - from } else { 1.0 };
    let limit = unit.width(c.limit_kpa);
    let value = |v: &ComparedVisit, n: u32| {
        v.cylinders.iter().find(|k| k.cylinder == n).and_then(|k| k.deviation_kpa).map(|m| m.value)
    };
    let one = |n: u32| -> Vec<(f64, f64)> {
        let points = c.visits.iter().zip(&x).filter(|(_, x)| x.is_finite());
        points
            .filter_map(|(v, x)| Some(((x - from) / span, unit.difference(value(v, n)?) / limit)))
            .filter(|p| p.1.is_finite())
            .collect()
    };
    c.trend.iter().take(12).map(|t| (t.cylinder, one(t.cylinder))).collect()
}
