//! What each figure needs, taken from a result and turned into the unit of the page.

use evenpull_core::Analysis;
use evenpull_core::analysis::AveragedPulse;
use evenpull_core::result::Measured;

use crate::digits;
use crate::figure::deviations::{Deviations, Row};
use crate::figure::pulse::{Pulse, Pulses};
use crate::texts::{labels, page};
use crate::units::DisplayUnit;

/// Cylinders that a figure can hold; further ones stay in the tables.
pub(crate) const MOST: usize = 24;

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
        moved: false,
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
        words: None,
    })
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

/// Alt text of the first figure: the finding, then the values.
pub(crate) fn deviations_alt(headline: &str, data: &Deviations) -> String {
    let rows: Vec<String> = data.rows.iter().map(|r| format!("cylinder {} {}", r.cylinder, r.text)).collect();
    let limit = data.limit.as_ref().map(|l| format!(" {}.", crate::texts::capital(&l.1))).unwrap_or_default();
    format!("{headline}. Deviations, {}: {}.{limit}", data.axis, rows.join("; "))
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
