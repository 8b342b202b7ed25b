//! Which machine first, why, and how sure.
//!
//! 1. Each machine's visits are compared ([`super::compare`]).
//! 2. The scatter between visits is taken from the whole fleet: most machines have nothing done between two visits.
//! 3. Spread over limit is drawn toward the fleet's mean by what its uncertainty leaves open; being outside and
//!    drifting are tested with control of the false-discovery rate over all machines and cylinders.
//! 4. Order: act, watch, measure again, fine; within each by the shrunken ratio that the next visit would show.
//!
//! Visits without a machine id are listed and never merged.

use super::compare::{CompareOptions, compare};
use super::comparison::Comparison;
use super::fleet_rank::{OUTLIER_Z, Ratios, ratios, robust_z};
use super::fleet_result::{
    Attention, FLEET_SCHEMA, Fleet, FleetChange, FleetDrift, FleetMachine, FleetModel, Sisters, Unnamed,
};
use super::fleet_rows::{Drift, deviation, drifts, fleet_repeatability, level};
use super::fleet_words::why;
use super::types::Visit;
use crate::result::{Measured, Verdict};
use crate::stats::fleet::benjamini_hochberg;

/// How to rank.
#[derive(Debug, Clone)]
pub struct FleetOptions {
    /// How visits of one machine are compared.
    pub compare: CompareOptions,
    /// Accepted share of false alarms among the flagged.
    pub false_discovery_rate: f64,
}

impl Default for FleetOptions {
    fn default() -> Self {
        Self { compare: CompareOptions::default(), false_discovery_rate: 0.05 }
    }
}

/// A ranking with the comparisons that it came from, in the order of the ranking.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// The result, as written to disk.
    pub fleet: Fleet,
    /// One comparison per machine, same order as `fleet.machines`.
    pub comparisons: Vec<Comparison>,
}

/// Share of the limit under which a movement is not worth a look.
const SMALL_SHARE: f64 = 0.2;

/// Ranks the machines of some visits, in any order.
///
/// # Errors
/// None: a machine about which nothing can be said stands under *measure again*.
#[must_use]
pub fn fleet(visits: &[Visit], options: &FleetOptions) -> Ranked {
    let (named, unnamed): (Vec<&Visit>, Vec<&Visit>) = visits.iter().partition(|v| !v.machine.is_empty());
    let groups = by_machine(&named);
    let comparisons: Vec<Comparison> = groups.iter().map(|g| compare(g, &options.compare)).collect();
    let (own, pairs) = fleet_repeatability(&comparisons);
    let repeatability = own.unwrap_or(options.compare.settings.repeatability_kpa);
    let spreads: Vec<Option<Measured>> = groups.iter().map(|g| last(g).and_then(|v| v.spread_kpa)).collect();
    let limits: Vec<f64> = comparisons.iter().map(|c| c.limit_kpa).collect();
    let ratios = ratios(&spreads, &limits, repeatability);
    let drifts: Vec<Vec<Drift>> = comparisons.iter().map(|c| drifts(c, repeatability)).collect();
    let drift_q = benjamini_hochberg(&drifts.iter().flatten().map(|d| d.p).collect::<Vec<_>>());
    let sisters = sisters(&groups, &ratios.raw);
    let mut offset = 0;
    let mut rows: Vec<(FleetMachine, Comparison)> = Vec::with_capacity(groups.len());
    for (m, comparison) in comparisons.into_iter().enumerate() {
        let own_q = &drift_q[offset..offset + drifts[m].len()];
        offset += drifts[m].len();
        let drift = worst_drift(&comparison, &drifts[m], own_q, options.false_discovery_rate);
        let row = machine(&groups[m], &comparison, &ratios, m, drift, sisters[m].clone(), options);
        rows.push((row, comparison));
    }
    rows.sort_by(|(a, _), (b, _)| {
        (a.attention, b.score, &a.machine)
            .partial_cmp(&(b.attention, a.score, &b.machine))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    rows.iter_mut().enumerate().for_each(|(i, (row, _))| row.rank = i + 1);
    let (machines, comparisons) = rows.into_iter().unzip();
    let model = FleetModel {
        machines: ratios.raw.iter().filter(|r| r.is_finite()).count(),
        mean_ratio: ratios.shrunken.as_ref().map(|s| s.mean),
        between_machines: ratios.shrunken.as_ref().map(|s| s.tau2.sqrt()),
        false_discovery_rate: options.false_discovery_rate,
        repeatability_kpa: repeatability,
        repeatability_source: if own.is_some() { "fleet" } else { "default" }.to_owned(),
        pairs,
    };
    let fleet = Fleet {
        schema: FLEET_SCHEMA.to_owned(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        machines,
        unnamed: unnamed.into_iter().map(listed).collect(),
        failed: Vec::new(),
        model,
    };
    Ranked { fleet, comparisons }
}

fn listed(v: &Visit) -> Unnamed {
    Unnamed { source: v.source.clone(), key: v.key.clone(), date: v.facts.date.clone(), verdict: v.verdict }
}

/// Visits by machine, each sorted; machines by id.
fn by_machine(visits: &[&Visit]) -> Vec<Vec<Visit>> {
    let mut groups: std::collections::BTreeMap<&str, Vec<Visit>> = std::collections::BTreeMap::new();
    for v in visits {
        groups.entry(&v.machine).or_default().push((*v).clone());
    }
    let mut groups: Vec<Vec<Visit>> = groups.into_values().collect();
    groups.iter_mut().for_each(|g| Visit::sort(g));
    groups
}

fn last(group: &[Visit]) -> Option<&Visit> {
    group.last()
}

/// Robust z of spread and idle level among machines with as many cylinders.
fn sisters(groups: &[Vec<Visit>], ratio: &[f64]) -> Vec<Option<Sisters>> {
    let kind: Vec<usize> = groups.iter().map(|g| last(g).map_or(0, |v| v.cylinders.len())).collect();
    let levels: Vec<f64> = groups.iter().map(|g| last(g).and_then(level).unwrap_or(f64::NAN)).collect();
    let (spread_z, level_z) = (robust_z(ratio, &kind), robust_z(&levels, &kind));
    let some = |z: f64| z.is_finite().then_some(z);
    (0..groups.len())
        .map(|m| {
            let machines = kind.iter().filter(|k| **k == kind[m]).count();
            let outlier = spread_z[m] > OUTLIER_Z || level_z[m].abs() > OUTLIER_Z;
            let s = Sisters { machines, spread_z: some(spread_z[m]), level_z: some(level_z[m]), outlier };
            (s.spread_z.is_some() || s.level_z.is_some()).then_some(s)
        })
        .collect()
}

/// The drift with the smallest p.
fn worst_drift(c: &Comparison, drifts: &[Drift], q: &[f64], rate: f64) -> Option<FleetDrift> {
    let (d, q) = drifts.iter().zip(q).min_by(|a, b| a.0.p.total_cmp(&b.0.p))?;
    let t = c.trend.iter().find(|t| t.cylinder == d.cylinder)?;
    let factor = match t.per.as_str() {
        "100 h" => 100.0,
        "1000 km" => 1000.0,
        _ => super::calendar::DAYS_PER_YEAR,
    };
    Some(FleetDrift {
        cylinder: d.cylinder,
        per: t.per.clone(),
        slope_kpa: Measured { value: d.slope * factor, u: 2.0 * d.u * factor },
        way_kpa: d.way,
        p: d.p,
        q: *q,
        significant: *q <= rate && d.way.abs() > SMALL_SHARE * c.limit_kpa,
        outward: d.outward,
    })
}

/// The largest change into the last visit.
fn latest_change(c: &Comparison) -> Option<FleetChange> {
    let last = c.visits.last()?;
    let into = c.changes.iter().filter(|j| j.visits[1] == last.visit);
    let j = into.max_by(|a, b| a.step_kpa.value.abs().total_cmp(&b.step_kpa.value.abs()))?;
    let now = deviation(last, j.cylinder).map_or(0.0, |m| m.value);
    let worse = now.abs() > (now - j.step_kpa.value).abs();
    Some(FleetChange { cylinder: j.cylinder, between: j.between.clone(), step_kpa: j.step_kpa, worse })
}

fn machine(
    group: &[Visit],
    c: &Comparison,
    ratios: &Ratios,
    m: usize,
    drift: Option<FleetDrift>,
    sisters: Option<Sisters>,
    options: &FleetOptions,
) -> FleetMachine {
    let some = |v: f64| v.is_finite().then_some(v);
    let last_visit = last(group);
    let verdict = last_visit.map_or(Verdict::NotApplicable, |v| v.verdict);
    let change = latest_change(c);
    let shrunken = ratios.shrunken.as_ref().and_then(|s| some(s.estimates[m])).or(some(ratios.raw[m]));
    let ahead = drift
        .as_ref()
        .filter(|d| d.significant && d.outward)
        .map_or(0.0, |d| d.way_kpa.abs() / (group.len().max(2) - 1) as f64 / c.limit_kpa);
    let off = c.visits.last().and_then(|v| {
        v.cylinders
            .iter()
            .filter_map(|k| k.deviation_kpa.map(|d| (k.cylinder, d)))
            .max_by(|a, b| a.1.value.abs().total_cmp(&b.1.value.abs()))
    });
    let mut row = FleetMachine {
        rank: 0,
        machine: group.first().map(|v| v.machine.clone()).unwrap_or_default(),
        attention: attention(verdict, ratios.q[m], &drift, &change, options.false_discovery_rate),
        why: Vec::new(),
        visits: group.len(),
        dates: [group.first(), group.last()].map(|v| v.and_then(|v| v.facts.date.clone())),
        verdict,
        spread_kpa: last_visit.and_then(|v| v.spread_kpa),
        limit_kpa: c.limit_kpa,
        limit_source: c.limit_source.clone(),
        ratio: some(ratios.raw[m]),
        shrunken_ratio: shrunken,
        kept: ratios.shrunken.as_ref().and_then(|s| some(s.factors[m])),
        p_outside: some(ratios.p[m]),
        q_outside: some(ratios.q[m]),
        score: shrunken.unwrap_or(0.0) + ahead,
        cylinder: off.map(|o| o.0),
        deviation_kpa: off.map(|o| o.1),
        drift,
        change,
        forecast: c.forecast.clone(),
        sisters,
        notices: last_visit.map(|v| v.notices.clone()).unwrap_or_default(),
        report: None,
    };
    row.why = why(&row, c);
    row
}

fn attention(
    verdict: Verdict,
    q: f64,
    drift: &Option<FleetDrift>,
    change: &Option<FleetChange>,
    rate: f64,
) -> Attention {
    let worse = change.as_ref().is_some_and(|c| c.worse);
    let drifting = drift.as_ref().is_some_and(|d| d.significant && d.outward);
    match verdict {
        Verdict::Outside if q <= rate => Attention::Act,
        Verdict::Outside => Attention::Watch,
        _ if worse || drifting => Attention::Watch,
        Verdict::Within => Attention::Fine,
        Verdict::CannotTell | Verdict::NotApplicable => Attention::MeasureAgain,
    }
}

#[cfg(test)]
#[path = "fleet_tests.rs"]
mod tests;
