//! What the figures of a comparison need, in the unit of the page.

use evenpull_core::result::Measured;
use evenpull_core::visits::Comparison;
use evenpull_core::visits::calendar::day_number;
use evenpull_core::visits::comparison::{Change, ComparedVisit, Place, Trend};

use crate::figure::deviations::{Deviations, Row};
use crate::figure::history::{Dot, History, Panel};
use crate::texts::compare::{Told, visit_name};
use crate::texts::page;
use crate::view::figures::MOST;

fn finite(m: &Measured) -> bool {
    m.value.is_finite() && m.u.is_finite()
}

fn of(v: &ComparedVisit, cylinder: u32) -> Option<Measured> {
    v.cylinders.iter().find(|k| k.cylinder == cylinder).and_then(|k| k.deviation_kpa).filter(finite)
}

/// The last two judged visits in order.
pub(crate) fn last_two(c: &Comparison) -> Option<[&ComparedVisit; 2]> {
    let l = c.latest.as_ref()?;
    let find = |id: &str| c.visits.iter().find(|v| v.visit == id);
    Some([find(&l.visits[0])?, find(&l.visits[1])?])
}

/// Then and now; `None` without two visits that can be compared.
pub(crate) fn pair(t: &Told<'_>) -> Option<Deviations> {
    let [then, now] = last_two(t.c)?;
    let latest = t.c.latest.as_ref()?;
    let unit = &t.unit;
    let point = |m: Measured| (unit.difference(m.value), unit.width(m.u));
    let rows: Vec<Row> = latest
        .cylinders
        .iter()
        .take(MOST)
        .map(|k| Row {
            cylinder: k.cylinder,
            value: of(now, k.cylinder).map(point),
            outer: None,
            text: k.change_kpa.filter(finite).map_or("no value".to_owned(), |m| unit.deviation_text(m)),
            found: of(then, k.cylinder).map(point),
            moved: false,
        })
        .collect();
    if !rows.iter().any(|r| r.value.is_some()) {
        return None;
    }
    let thumb = if t.rule_of_thumb() { " (rule of thumb)" } else { "" };
    Some(Deviations {
        rows,
        limit: Some((unit.width(t.c.limit_kpa), format!("limit {}{thumb}", unit.limit_text(t.c.limit_kpa)))),
        axis: page::deviation_axis(unit, "the median of the steady cylinders"),
        reversed: unit.downwards(),
        ends: page::ends(unit),
        column: format!("change, {}", unit.name()),
        words: None,
    })
}

/// Place of every visit on the axis.
fn places(c: &Comparison) -> Vec<f64> {
    let place = |i: usize, v: &ComparedVisit| match c.axis.as_str() {
        "hours" => v.hours,
        "km" => v.distance_km,
        "date" => v.date.as_deref().and_then(day_number).map(f64::from),
        _ => Some(i as f64 + 1.0),
    };
    c.visits.iter().enumerate().map(|(i, v)| place(i, v).unwrap_or(f64::NAN)).collect()
}

fn place_of(p: &Place) -> Option<f64> {
    match p {
        Place::Number(n) => Some(*n).filter(|n| n.is_finite()),
        Place::Date(d) => day_number(d).map(f64::from),
    }
}

/// All visits; `None` with fewer than three.
pub(crate) fn history(t: &Told<'_>) -> Option<History> {
    let c = t.c;
    let x = places(c);
    if c.visits.len() < 3 || x.iter().any(|x| !x.is_finite()) {
        return None;
    }
    let unit = &t.unit;
    let spread: Vec<Dot> = c
        .visits
        .iter()
        .zip(&x)
        .filter_map(|(v, x)| {
            let m = v.spread_kpa.filter(finite)?;
            Some(Dot { x: *x, value: unit.width(m.value), u: unit.width(m.u), judged: v.judged })
        })
        .collect();
    if spread.is_empty() {
        return None;
    }
    let forecast = c.forecast.as_ref().and_then(|f| {
        let end = |p: &Option<Place>| p.as_ref().and_then(place_of);
        let at = place_of(&f.at)?;
        Some((at, end(&f.low).unwrap_or(at), end(&f.high)))
    });
    let (ticks, axis) = axis(c, &x);
    Some(History {
        spread,
        limit: (unit.width(c.limit_kpa), "limit".to_owned()),
        forecast,
        panels: c.trend.iter().take(MOST).map(|d| panel(t, d, &x)).collect(),
        ticks,
        axis: axis.to_owned(),
        spread_title: format!("spread, {}", unit.name()),
        title: format!(
            "{} of each cylinder against the steady ones, {}",
            if unit.vacuum() { "vacuum" } else { "pressure" },
            unit.name()
        ),
        unit: unit.name().to_owned(),
        reversed: unit.downwards(),
    })
}

/// Ticks, where the visits themselves are named, and the name of the axis.
fn axis(c: &Comparison, x: &[f64]) -> (Option<Vec<(f64, String)>>, &'static str) {
    match c.axis.as_str() {
        "hours" => (None, "engine hours"),
        "km" => (None, "distance, km"),
        "date" => (Some(x.iter().copied().zip(c.visits.iter().map(visit_name)).collect()), "date"),
        _ => (Some(x.iter().map(|x| (*x, format!("{x:.0}"))).collect()), "visits in order"),
    }
}

/// One cylinder over all visits; `x` holds their places.
fn panel(t: &Told<'_>, d: &Trend, x: &[f64]) -> Panel {
    let (c, unit) = (t.c, &t.unit);
    let at = |id: &str| c.visits.iter().position(|v| v.visit == id);
    let since = since(c, d.cylinder);
    let trend = d.ends_kpa.filter(|_| d.significant).map(|e| {
        let last = (0..x.len()).rev().find(|i| of(&c.visits[*i], d.cylinder).is_some()).unwrap_or(since);
        [(x[since], unit.difference(e[0])), (x[last], unit.difference(e[1]))]
    });
    let control = c.control.iter().find(|l| l.cylinder == d.cylinder && !d.significant);
    let control = control.map(|l| (unit.difference(l.low_kpa), unit.difference(l.high_kpa), x[since]));
    let between = |k: &Change| Some((x[at(&k.visits[0])?] + x[at(&k.visits[1])?]) / 2.0);
    let dots = c.visits.iter().zip(x).filter_map(|(v, x)| {
        let m = of(v, d.cylinder)?;
        Some(Dot { x: *x, value: unit.difference(m.value), u: unit.width(m.u), judged: v.judged })
    });
    Panel {
        cylinder: d.cylinder,
        dots: dots.collect(),
        control,
        trend,
        changes: c.changes.iter().filter(|k| k.cylinder == d.cylinder).filter_map(between).collect(),
    }
}

/// First visit after the last change of a cylinder that has a figure.
fn since(c: &Comparison, cylinder: u32) -> usize {
    let last = c.changes.iter().rfind(|j| j.cylinder == cylinder).map(|j| &j.visits[1]);
    let from = last.and_then(|id| c.visits.iter().position(|v| v.visit == *id)).unwrap_or(0);
    (from..c.visits.len()).find(|i| of(&c.visits[*i], cylinder).is_some()).unwrap_or(from)
}
