//! What each figure needs, taken from a result and turned into the unit of the page.

use evenpull_core::Analysis;
use evenpull_core::analysis::AveragedPulse;
use evenpull_core::result::{Measured, Regime, Signal};

use crate::digits;
use crate::figure::deviations::{Deviations, Row, band_place};
use crate::figure::marks::cylinder_label;
use crate::figure::pulse::{Pulse, Pulses};
use crate::figure::timeline::{Course, Timeline};
use crate::figure::trace::{Panel, Series, Stretch, Trace};
use crate::texts::{labels, page};
use crate::units::DisplayUnit;

/// Cylinders that a figure can hold; further ones stay in the tables.
const MOST: usize = 24;

/// First figure; `None` without a deviation.
pub(crate) fn deviations(analysis: &Analysis, unit: &DisplayUnit) -> Option<Deviations> {
    let r = &analysis.review;
    let finite = |m: Measured| m.value.is_finite() && m.u.is_finite();
    let point = |m: Measured| finite(m).then(|| (unit.difference(m.value), unit.width(m.u)));
    let found = |c: u32| {
        r.as_found.iter().flat_map(|s| &s.cylinders).find(|x| x.cylinder == c).and_then(|x| x.deviation_kpa)
    };
    if !r.cylinders.iter().any(|c| c.deviation_kpa.is_some_and(finite)) {
        return None;
    }
    let reference = labels::reference(&r.machine.reference);
    // Two standard uncertainties, added in squares like any other (JCGM 100, 5.1.2).
    let gain = 2.0 * analysis.context.gain_allowance_kpa;
    let gain = if gain.is_finite() { gain } else { 0.0 };
    let rows = r.cylinders.iter().take(MOST).map(|c| Row {
        cylinder: c.cylinder,
        value: c.deviation_kpa.and_then(point),
        outer: c.deviation_kpa.filter(|d| finite(*d) && gain > 0.0).map(|d| unit.width(d.u.hypot(gain))),
        text: match c.deviation_kpa.filter(|d| finite(*d)) {
            Some(d) if d.u == 0.0 && d.value == 0.0 => "reference".to_owned(),
            Some(d) => unit.deviation_text(d),
            None => "no value".to_owned(),
        },
        found: found(c.cylinder).and_then(point),
    });
    let limit = r.machine.limit_kpa;
    let thumb = if r.machine.limit_source == "machine-file" { "" } else { " (rule of thumb)" };
    Some(Deviations {
        rows: rows.collect(),
        limit: (limit.is_finite() && limit > 0.0)
            .then(|| (unit.width(limit), format!("limit {}{thumb}", unit.limit_text(limit)))),
        axis: page::deviation_axis(unit, &reference),
        reversed: unit.downwards(),
        ends: page::ends(unit),
        column: unit.name().to_owned(),
    })
}

/// Trace; `None` for a recording without length.
pub(crate) fn trace(analysis: &Analysis, unit: &DisplayUnit) -> Option<Trace> {
    let (r, t) = (&analysis.review, &analysis.traces);
    let duration_s = r.source.duration_s;
    if !(duration_s.is_finite() && duration_s > 0.0) || t.time_s.is_empty() {
        return None;
    }
    let lines = |all: &[(u32, Vec<f64>)], n: usize| -> Vec<Series> {
        all.iter()
            .take(MOST)
            .filter(|(_, v)| v.len() == n)
            .map(|(c, v)| Series { cylinder: Some(*c), values: v.iter().map(|x| unit.level(*x)).collect() })
            .collect()
    };
    let tall = (t.pressure_kpa.len().clamp(t.level_kpa.len(), MOST.max(t.level_kpa.len())) as f64 * 17.0
        + 16.0)
        .max(220.0);
    let has_level = t.level_kpa.iter().any(|(_, v)| v.iter().any(|x| x.is_finite()));
    let panel = |title: String, time: &[f64], series, height, zoomed| Panel {
        title,
        unit: unit.name().to_owned(),
        time_s: time.to_vec(),
        series,
        height,
        reversed: unit.downwards(),
        zoomed,
        filled: !zoomed && height < tall,
    };
    let mut panels = Vec::new();
    let (level, name) = (unit.level_name(), unit.name());
    if has_level {
        let series = lines(&t.level_kpa, t.level_time_s.len());
        panels.push(panel(
            format!("level of each cylinder, {level}, {name}"),
            &t.level_time_s,
            series,
            tall,
            true,
        ));
        if r.pulse.as_ref().is_some_and(|p| p.signal != Signal::Averaged) {
            let series = lines(&t.pressure_kpa, t.time_s.len());
            panels.push(panel(
                format!("values as logged, all cylinders, {name}"),
                &t.time_s,
                series,
                84.0,
                false,
            ));
        }
    } else {
        let series = lines(&t.pressure_kpa, t.time_s.len());
        panels.push(panel(format!("as logged, {level}, {name}"), &t.time_s, series, tall, false));
    }
    if t.rpm.len() == t.time_s.len() && t.rpm.iter().any(|v| v.is_finite()) {
        panels.push(Panel {
            title: "engine speed, rev/min".to_owned(),
            unit: "rev/min".to_owned(),
            time_s: t.time_s.clone(),
            series: vec![Series { cylinder: None, values: t.rpm.clone() }],
            height: 96.0,
            reversed: false,
            zoomed: false,
            filled: false,
        });
    }
    Some(Trace {
        duration_s,
        panels,
        windows: r.windows.iter().map(|w| stretch(w.start_s, w.end_s, labels::regime(w.regime))).collect(),
        excluded: r
            .excluded
            .iter()
            .map(|e| stretch(e.start_s, e.end_s, labels::excluded(&e.reason)))
            .collect(),
        turns: r
            .adjustments
            .iter()
            .filter(|a| a.time_s.is_finite())
            .map(|a| (a.time_s, format!("cyl {}", a.cylinder)))
            .collect(),
        time_name: "time from the first row".to_owned(),
    })
}

fn stretch(start_s: f64, end_s: f64, word: &str) -> Stretch {
    Stretch { start_s, end_s, word: word.to_owned() }
}

/// Averaged pulse with whether it was aligned at the refill; `None` without pulses.
pub(crate) fn pulses(analysis: &Analysis, unit: &DisplayUnit) -> Option<(Pulses, bool)> {
    let all: Vec<&AveragedPulse> =
        analysis.pulses.iter().filter(|p| p.mean_kpa.iter().any(|v| v.is_finite())).collect();
    if all.is_empty() {
        return None;
    }
    let cycle = if analysis.review.machine.strokes == 2 { 360.0 } else { 720.0 };
    let aligned = all.iter().all(|p| p.refill_deg.is_some_and(|(a, b)| a.is_finite() && b.is_finite()));
    // A quarter of the cycle stands before the start of the refill, so that the dip is seen whole.
    let before = cycle / 4.0;
    let pulses = all.iter().take(MOST).map(|p| {
        let start = p.refill_deg.filter(|_| aligned).map_or_else(|| lowest(p), |d| d.0);
        let moved = |deg: f64| (deg - start + before).rem_euclid(cycle) - before;
        let mut points: Vec<(f64, f64, f64)> = p
            .phase_deg
            .iter()
            .enumerate()
            .filter(|(_, d)| d.is_finite())
            .map(|(i, d)| (moved(*d), value(&p.mean_kpa, i), value(&p.sd_kpa, i)))
            .collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let refill = p.refill_deg.filter(|_| aligned).map(|(a, b)| (0.0, (b - a).rem_euclid(cycle)));
        Pulse {
            cylinder: p.cylinder,
            phase_deg: points.iter().map(|x| x.0).collect(),
            mean: points.iter().map(|x| unit.level(x.1)).collect(),
            sd: points.iter().map(|x| unit.width(x.2)).collect(),
            refill_deg: refill,
        }
    });
    let data = Pulses {
        pulses: pulses.collect(),
        range_deg: (-before, cycle - before),
        title: format!("averaged pulse, {}, {}", unit.level_name(), unit.name()),
        unit: unit.name().to_owned(),
        axis: if aligned {
            "crank degrees after the refill begins"
        } else {
            "crank degrees after the lowest point"
        }
        .to_owned(),
        reversed: unit.downwards(),
        refill: "refill".to_owned(),
    };
    Some((data, aligned))
}

/// Phase of the lowest pressure of a pulse.
fn lowest(p: &AveragedPulse) -> f64 {
    let pairs = p.phase_deg.iter().zip(&p.mean_kpa).filter(|(d, v)| d.is_finite() && v.is_finite());
    pairs.min_by(|a, b| a.1.total_cmp(b.1)).map_or(0.0, |(d, _)| *d)
}

fn value(values: &[f64], i: usize) -> f64 {
    values.get(i).copied().unwrap_or(f64::NAN)
}

/// Turns that the adjusting figure can hold.
const MOST_TURNS: usize = 24;

/// Adjusting step by step; `None` without turns or without a state as found.
pub(crate) fn timeline(analysis: &Analysis, unit: &DisplayUnit) -> Option<Timeline> {
    let r = &analysis.review;
    let found = r.as_found.as_ref()?;
    let turns: Vec<_> =
        r.adjustments.iter().filter(|a| a.time_s.is_finite() && a.step_kpa.value.is_finite()).collect();
    if turns.is_empty() || turns.len() > MOST_TURNS {
        return None;
    }
    let mut columns = vec![("as found".to_owned(), digits::clock(found.start_s))];
    columns.extend(turns.iter().map(|a| (cylinder_label(a.cylinder), digits::clock(a.time_s))));
    let left = r.regimes.iter().find(|s| s.regime == Regime::Idle);
    columns.push(("as left".to_owned(), left.map_or_else(String::new, |s| digits::clock(s.start_s))));
    let measured = |m: Option<Measured>| {
        let m = m.filter(|m| m.value.is_finite() && m.u.is_finite())?;
        Some((unit.difference(m.value), Some(unit.width(m.u))))
    };
    let courses: Vec<Course> = r
        .cylinders
        .iter()
        .take(MOST)
        .map(|c| {
            let start =
                found.cylinders.iter().find(|x| x.cylinder == c.cylinder).and_then(|x| x.deviation_kpa);
            let mut values = vec![measured(start)];
            let mut here = start.map(|m| m.value).filter(|v| v.is_finite());
            for turn in &turns {
                if turn.cylinder == c.cylinder {
                    here = here.map(|v| v + turn.step_kpa.value);
                }
                values.push(here.map(|v| (unit.difference(v), None)));
            }
            values.push(measured(c.deviation_kpa));
            Course { cylinder: c.cylinder, values }
        })
        .collect();
    let band = deviations(analysis, unit).and_then(|d| band_place(&d));
    Some(Timeline {
        columns,
        courses,
        band,
        title: page::deviation_axis(unit, &labels::reference(&r.machine.reference)),
        reversed: unit.downwards(),
    })
}

/// Alt text of the adjusting figure.
pub(crate) fn timeline_alt(analysis: &Analysis, unit: &DisplayUnit, data: &Timeline) -> String {
    let spread = |m: Option<Measured>| m.map_or_else(|| "unknown".to_owned(), |m| unit.width_text(m));
    format!(
        "Deviation of each cylinder as found, after each of {} turns, and as left. Spread as found {}, as left {} {}.",
        data.columns.len().saturating_sub(2),
        spread(analysis.review.as_found.as_ref().and_then(|s| s.spread_kpa)),
        spread(analysis.review.spread_kpa),
        unit.name()
    )
}

/// Alt text of the first figure: the finding, then the values.
pub(crate) fn deviations_alt(headline: &str, data: &Deviations) -> String {
    let rows: Vec<String> = data.rows.iter().map(|r| format!("cylinder {} {}", r.cylinder, r.text)).collect();
    let limit = data.limit.as_ref().map(|l| format!(" {}.", crate::texts::capital(&l.1))).unwrap_or_default();
    format!("{headline}. Deviations, {}: {}.{limit}", data.axis, rows.join("; "))
}

/// Alt text of the trace.
pub(crate) fn trace_alt(data: &Trace) -> String {
    let judged: f64 = data.windows.iter().map(|w| w.end_s - w.start_s).sum();
    let mut reasons: Vec<&str> = data.excluded.iter().map(|e| e.word.as_str()).collect();
    reasons.sort_unstable();
    reasons.dedup();
    let rest =
        if reasons.is_empty() { String::new() } else { format!(" Not judged: {}.", reasons.join(", ")) };
    let turned = match data.turns.len() {
        0 => String::new(),
        1 => " One turn of a screw is marked.".to_owned(),
        n => format!(" {n} turns of screws are marked."),
    };
    format!(
        "The recording over time, {}, of which {} in {} {} judged.{rest}{turned}",
        digits::duration(data.duration_s),
        digits::duration(judged),
        data.windows.len(),
        if data.windows.len() == 1 { "stretch was" } else { "stretches were" }
    )
}

/// Alt text of the averaged pulse.
pub(crate) fn pulse_alt(analysis: &Analysis, data: &Pulses) -> String {
    let ratios: Vec<String> = analysis
        .review
        .cylinders
        .iter()
        .filter_map(|c| {
            c.refill_ratio.map(|m| format!("cylinder {} {}", c.cylinder, digits::plus_minus(m.value, m.u, 3)))
        })
        .collect();
    let ratios = if ratios.is_empty() {
        String::new()
    } else {
        format!(" Refill rate against the median cylinder: {}.", ratios.join("; "))
    };
    format!("Averaged pulse of {} cylinders over one engine cycle.{ratios}", data.pulses.len())
}
