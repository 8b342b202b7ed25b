//! Tables with pressures: per cylinder, per state, against a plain display, pairs, adjustments.

use evenpull_core::Analysis;
use evenpull_core::recording::PressureKind;
use evenpull_core::result::{Class, CylinderResult, Measured, Reference, Review, State};

use crate::digits;
use crate::texts::{labels, page};
use crate::units::DisplayUnit;
use crate::view::Table;

const NONE: &str = "–";

fn cell<T>(value: Option<T>, text: impl Fn(T) -> String) -> String {
    value.map_or_else(|| NONE.to_owned(), text)
}

fn heads(names: &[&str]) -> Vec<String> {
    names.iter().map(|n| (*n).to_owned()).collect()
}

/// Deviation, or the word for the reference itself.
fn deviation(unit: &DisplayUnit, reference: &Reference, cylinder: u32, d: Option<Measured>) -> String {
    if *reference == Reference::Cylinder(cylinder) {
        return "reference".to_owned();
    }
    cell(d, |d| unit.deviation_text(d))
}

/// Result per cylinder.
pub(crate) fn cylinders(r: &Review, unit: &DisplayUnit) -> Option<Table> {
    if r.cylinders.is_empty() {
        return None;
    }
    let u = unit.name();
    let ratio = |m: Option<Measured>| cell(m, |m| digits::plus_minus(m.value, m.u, 3));
    let row = |c: &CylinderResult| {
        vec![
            c.cylinder.to_string(),
            labels::class(c.class, c.basis).to_owned(),
            cell(c.pressure_kpa, |p| unit.level_text(p)),
            deviation(unit, &r.machine.reference, c.cylinder, c.deviation_kpa),
            cell(c.drift_kpa_per_min, |d| unit.rate_text(d)),
            cell(c.bias_removed_kpa, |b| digits::signed(unit.difference(b), unit.decimals())),
            ratio(c.refill_ratio),
            ratio(c.air_ratio),
            ratio(c.lambda),
            cell(c.effective_samples, digits::short),
        ]
    };
    let notes = note(r);
    Some(
        Table {
            caption: format!("Result per cylinder{}", if r.as_found.is_some() { ", as left" } else { "" }),
            head: vec![
                "Cylinder".to_owned(),
                "Class".to_owned(),
                format!("{}, {u}", crate::texts::capital(unit.level_name())),
                format!("Deviation, {u}"),
                format!("Drift, {u} a minute"),
                format!("Zero error removed, {u}"),
                "Refill rate, ratio".to_owned(),
                "Air, ratio".to_owned(),
                "Lambda".to_owned(),
                "Worth samples".to_owned(),
            ],
            rows: r.cylinders.iter().map(row).collect(),
            text_columns: vec![1],
            note: notes,
        }
        .without_empty_columns(),
    )
}

fn note(r: &Review) -> Option<String> {
    let inferred = r.cylinders.iter().any(|c| {
        matches!(c.class, Class::Lean | Class::Rich) && c.basis != evenpull_core::result::Basis::Measured
    });
    let mut parts = Vec::new();
    if inferred {
        parts.push("“Inferred”: nothing in this recording measured the mixture; the word follows from the air alone.");
    }
    if r.cylinders.iter().any(|c| c.refill_ratio.is_some() || c.air_ratio.is_some()) {
        parts.push("Ratios are against the median cylinder.");
    }
    (!parts.is_empty()).then(|| parts.join(" "))
}

/// What a plain display would have shown, what was removed, what is left.
pub(crate) fn display(analysis: &Analysis, unit: &DisplayUnit) -> Option<(String, Table)> {
    let r = &analysis.review;
    let shown = &analysis.context.display_mean_kpa;
    if !shown.iter().any(Option::is_some) || !r.cylinders.iter().any(|c| c.pressure_kpa.is_some()) {
        return None;
    }
    let places = unit.decimals();
    let bias = r.cylinders.iter().any(|c| c.bias_removed_kpa.is_some());
    let rows = r.cylinders.iter().zip(shown).map(|(c, s)| {
        let here = c.pressure_kpa.map(|p| unit.level(p.value)).filter(|v| v.is_finite());
        let seen = s.map(|v| unit.as_logged(v)).filter(|v| v.is_finite());
        let zero = c.bias_removed_kpa.map(|b| unit.difference(b)).filter(|v| v.is_finite());
        let rest = match (here, seen) {
            (Some(h), Some(s)) => Some(s - zero.unwrap_or(0.0) - h),
            _ => None,
        };
        vec![
            c.cylinder.to_string(),
            cell(seen, |v| digits::fixed(v, places)),
            cell(zero, |v| digits::signed(v, places)),
            cell(rest, |v| digits::signed(v, places)),
            cell(here, |v| digits::fixed(v, places)),
        ]
    });
    let u = unit.name();
    let table = Table {
        caption: format!(
            "From a plain display to this page, {} in {u}",
            kind_word(analysis.context.pressure_kind)
        ),
        head: heads(&["Cylinder", "Display", "Zero error", "Rest", "This page"]),
        rows: rows.collect(),
        text_columns: vec![],
        note: Some("Display, less what stands between it and the last column, gives the last column; each figure is rounded by itself.".to_owned()),
    }
    .without_empty_columns();
    Some((page::display_intro(bias), table))
}

fn kind_word(kind: Option<PressureKind>) -> &'static str {
    kind.map_or("as logged,", labels::kind)
}

/// As found, as left and raised side by side.
pub(crate) fn states(r: &Review, unit: &DisplayUnit) -> Option<Table> {
    let mut columns: Vec<(String, &State)> = Vec::new();
    if let Some(found) = &r.as_found {
        columns.push(("as found".to_owned(), found));
    }
    for s in &r.regimes {
        let name = match (s.regime, r.as_found.is_some()) {
            (evenpull_core::result::Regime::Idle, true) => "as left",
            (regime, _) => labels::regime(regime),
        };
        columns.push((name.to_owned(), s));
    }
    if columns.len() < 2 {
        return None;
    }
    let line = |name: &str, f: &dyn Fn(&State) -> String| {
        let mut row = vec![name.to_owned()];
        row.extend(columns.iter().map(|(_, s)| f(s)));
        row
    };
    let mut rows = vec![
        line("Engine speed, rev/min", &|s| digits::plus_minus(s.rpm.value, s.rpm.u, 0)),
        line("Judged", &|s| format!("{}, {} cycles", digits::duration(s.seconds), digits::whole(s.cycles))),
    ];
    for c in &r.cylinders {
        rows.push(line(&format!("Cylinder {}", c.cylinder), &|s| {
            let d = s.cylinders.iter().find(|x| x.cylinder == c.cylinder).and_then(|x| x.deviation_kpa);
            deviation(unit, &r.machine.reference, c.cylinder, d)
        }));
    }
    rows.push(line("Spread", &|s| cell(s.spread_kpa, |m| unit.width_text(m))));
    rows.push(line("Verdict", &|s| labels::verdict(s.verdict).to_owned()));
    let mut head = vec![format!("Deviation, {}", unit.name())];
    head.extend(columns.iter().map(|(n, _)| n.clone()));
    Some(Table { caption: "States of the engine".to_owned(), head, rows, text_columns: vec![], note: None })
}

/// Screws turned while recording.
pub(crate) fn adjustments(r: &Review, unit: &DisplayUnit) -> Option<Table> {
    let rows: Vec<Vec<String>> = r
        .adjustments
        .iter()
        .take(60)
        .map(|a| vec![digits::clock(a.time_s), a.cylinder.to_string(), unit.deviation_text(a.step_kpa)])
        .collect();
    (!rows.is_empty()).then(|| Table {
        caption: "Screws turned while recording".to_owned(),
        head: vec![
            "Moment".to_owned(),
            "Cylinder".to_owned(),
            format!("Step against the others, {}", unit.name()),
        ],
        rows,
        text_columns: vec![],
        note: None,
    })
}

/// Pairs that are printed: those of six cylinders; beyond that the table is longer than useful.
const PAIRS: usize = 15;

/// Differences between pairs of cylinders.
pub(crate) fn pairs(analysis: &Analysis, unit: &DisplayUnit) -> Option<Table> {
    let rows: Vec<Vec<String>> = analysis
        .context
        .pairs
        .iter()
        .map(|p| {
            let m = Measured { value: p.difference_kpa, u: 2.0 * p.u_kpa };
            vec![format!("{} − {}", p.first, p.second), unit.deviation_text(m)]
        })
        .collect();
    (2..=PAIRS).contains(&rows.len()).then(|| Table {
        caption: "Differences between pairs".to_owned(),
        head: vec!["Pair".to_owned(), format!("Difference, {}", unit.name())],
        rows,
        text_columns: vec![],
        note: Some(
            "95 % interval of each difference, from its own series; gain errors of the sensors not included."
                .to_owned(),
        ),
    })
}
