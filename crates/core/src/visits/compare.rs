//! Visits side by side: the one place where the steps of this room are strung together.

use super::blame::Blame;
use super::calendar::day_number;
use super::change::{Judging, Jump, between, changes};
use super::comparison::{
    COMPARE_SCHEMA, Change, ComparedCylinder, ComparedVisit, Comparison, Latest, LatestCylinder, Slope, Trend,
};
use super::control::limits;
use super::forecast::{Axis, reach};
use super::levels::Levels;
use super::repeats::repeatability;
use super::scatter::own_scatter;
use super::trend::{Line, Trends, trends};
use super::types::Visit;
use super::unlike::unlike;
use crate::result::{Measured, Reference};
use crate::settings::Settings;
use crate::stats::dist::student_quantile;
use crate::stats::robust::median;
use crate::stats::trend::FEWEST_FOR_TREND;

/// How to compare.
#[derive(Debug, Clone, Default)]
pub struct CompareOptions {
    /// Settings; the repeatability in them holds until repeats are known.
    pub settings: Settings,
}

/// Compares visits of one machine, in any order. The result has one entry per visit, sorted by date, hours, distance.
///
/// # Errors
/// None: what cannot be said is `None`, with its reason where the contract has one.
#[must_use]
pub fn compare(visits: &[Visit], options: &CompareOptions) -> Comparison {
    let mut visits = visits.to_vec();
    Visit::sort(&mut visits);
    compare_in_order(&visits, options)
}

/// The same for visits that stand in the order in which they are to be compared (before, after).
#[must_use]
pub fn compare_in_order(visits: &[Visit], options: &CompareOptions) -> Comparison {
    let settings = &options.settings;
    let levels = Levels::new(visits, settings.coverage);
    let repeatability = repeatability(visits, &levels, settings.repeatability_kpa, settings.coverage);
    let k = repeatability.degrees_of_freedom.map_or(settings.coverage, |df| student_quantile(0.975, df));
    let reference = visits.last().and_then(|v| match v.reference {
        Reference::Cylinder(n) => levels.numbers.iter().position(|m| *m == n),
        Reference::Group(_) => None,
    });
    let judging = Judging { repeatability: repeatability.value, k: k.max(settings.coverage), reference };
    let (axis, t) = axis(visits);
    let jumps = changes(&levels, &t, &judging);
    let found = trends(&levels, &jumps, &t, &judging);
    let steady = steady(&levels, &jumps, &found);
    let limit_kpa = visits.last().map_or(settings.limit_kpa, |v| v.limit_kpa);
    let (forecast, no_forecast_because) = match reach(&levels, &found, &t, axis, limit_kpa) {
        Ok(f) => (Some(f), None),
        Err(reason) => (None, Some(reason)),
    };
    Comparison {
        schema: COMPARE_SCHEMA.to_owned(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        machine: machine(visits),
        limit_kpa,
        limit_source: visits.last().map_or_else(|| "default".to_owned(), |v| v.limit_source.clone()),
        axis: axis.name().to_owned(),
        visits: (0..visits.len()).map(|v| compared(visits, &levels, v, &steady, settings.coverage)).collect(),
        changes: jumps.iter().map(|j| change(visits, &levels, j, judging.k)).collect(),
        trend: (0..levels.numbers.len())
            .map(|i| {
                let y: Vec<f64> = (0..visits.len())
                    .map(|v| levels.deviation(v, i, &steady).map_or(f64::NAN, |d| d.0))
                    .collect();
                trend(visits, &found, (i, levels.numbers[i]), axis, &ends_of(&found.lines[i], &t, &y))
            })
            .collect(),
        forecast,
        no_forecast_because,
        repeatability_kpa: repeatability,
        scatter_kpa: own_scatter(&levels).map(|s| s.sd),
        judged_against: steady.iter().map(|&i| levels.numbers[i]).collect(),
        latest: latest(visits, &levels, &judging, &steady, settings.coverage),
        unlike: unlike(visits, &levels.judged),
        control: limits(&levels, &jumps, &steady),
        swapped: None,
    }
}

/// The best axis that every visit has and that never runs backwards.
fn axis(visits: &[Visit]) -> (Axis, Vec<f64>) {
    let all = |of: &dyn Fn(&Visit) -> Option<f64>| -> Option<Vec<f64>> {
        let t: Vec<f64> = visits.iter().map(of).collect::<Option<_>>()?;
        let moves = t.windows(2).all(|w| w[1] >= w[0]) && t.last() > t.first();
        (moves || visits.len() < 2).then_some(t)
    };
    if let Some(t) = all(&|v| v.facts.hours) {
        return (Axis::Hours, t);
    }
    if let Some(t) = all(&|v| v.facts.distance_km) {
        return (Axis::Km, t);
    }
    if let Some(t) = all(&|v| v.facts.date.as_deref().and_then(day_number).map(f64::from)) {
        return (Axis::Date, t);
    }
    (Axis::Order, (0..visits.len()).map(|v| v as f64).collect())
}

fn machine(visits: &[Visit]) -> Option<String> {
    let first = visits.first()?;
    let same = visits.iter().all(|v| v.machine == first.machine) && !first.machine.is_empty();
    same.then(|| first.machine.clone())
}

/// Cylinders that neither changed nor drift; all of them where fewer than two are left.
fn steady(levels: &Levels, jumps: &[Jump], found: &Trends) -> Vec<usize> {
    let n = levels.numbers.len();
    let quiet: Vec<usize> =
        (0..n).filter(|i| !found.drifting.contains(i) && jumps.iter().all(|j| j.cylinder != *i)).collect();
    let without_drift: Vec<usize> = (0..n).filter(|i| !found.drifting.contains(i)).collect();
    [quiet, without_drift].into_iter().find(|s| s.len() >= 2).unwrap_or_else(|| (0..n).collect())
}

fn compared(visits: &[Visit], levels: &Levels, v: usize, steady: &[usize], coverage: f64) -> ComparedVisit {
    let visit = &visits[v];
    let cylinders = visit
        .cylinders
        .iter()
        .map(|c| {
            let at = levels.numbers.iter().position(|n| *n == c.cylinder);
            let judged = at.and_then(|i| levels.deviation(v, i, steady));
            ComparedCylinder {
                cylinder: c.cylinder,
                deviation_kpa: judged.map(|(value, u)| Measured { value, u: coverage * u }),
                reviewed_kpa: c.deviation_kpa,
                class: c.class,
            }
        })
        .collect();
    ComparedVisit {
        visit: visit.visit.clone(),
        source: visit.source.clone(),
        date: visit.facts.date.clone(),
        hours: visit.facts.hours,
        distance_km: visit.facts.distance_km,
        barometer_kpa: visit.barometer_kpa,
        rpm: visit.rpm,
        verdict: visit.verdict,
        spread_kpa: visit.spread_kpa,
        note: visit.facts.note.clone(),
        work: visit.facts.work.clone(),
        judged: levels.judged[v],
        scale: levels.scale[v],
        cylinders,
    }
}

fn change(visits: &[Visit], levels: &Levels, j: &Jump, k: f64) -> Change {
    Change {
        between: [j.from, j.to].map(|v| visits[v].facts.date.clone()),
        visits: [j.from, j.to].map(|v| visits[v].visit.clone()),
        cylinder: levels.numbers[j.cylinder],
        step_kpa: Measured { value: j.step, u: k * j.u },
        either: j.either,
    }
}

/// The fitted line at the first and the last visit since the last change, on the deviations that are shown.
fn ends_of(line: &Line, t: &[f64], y: &[f64]) -> Option<[f64; 2]> {
    let fit = line.fit.as_ref()?;
    let (places, values): (Vec<f64>, Vec<f64>) =
        t.iter().copied().zip(y.iter().copied()).skip(line.since).filter(|p| p.1.is_finite()).unzip();
    let (middle, level) = median(&places).zip(median(&values))?;
    let at = |t: f64| level + fit.slope * (t - middle);
    Some([at(*places.first()?), at(*places.last()?)])
}

fn trend(
    visits: &[Visit],
    found: &Trends,
    (i, cylinder): (usize, u32),
    axis: Axis,
    ends_kpa: &Option<[f64; 2]>,
) -> Trend {
    let line = &found.lines[i];
    let (per, factor) = axis.per();
    let slope = line.fit.as_ref().filter(|_| axis != Axis::Order).map(|f| Slope {
        value: f.slope * factor,
        low: f.slope_low * factor,
        high: f.slope_high * factor,
    });
    let why = if line.significant {
        None
    } else if line.visits < FEWEST_FOR_TREND {
        Some(format!("too few visits ({}, five are needed)", line.visits))
    } else if line.too_small {
        Some("smaller than what visits differ by anyway".to_owned())
    } else {
        Some("no trend shown".to_owned())
    };
    let slope_kpa = slope.filter(|s| s.low.is_finite() && s.high.is_finite());
    Trend {
        cylinder,
        since: visits.get(line.since).and_then(|v| v.facts.date.clone()),
        visits: line.visits,
        per: per.to_owned(),
        slope_kpa,
        p: line.fit.as_ref().map(|f| f.trend.p()),
        significant: line.significant,
        why,
        either: found.either && line.significant,
        ends_kpa: ends_kpa.filter(|_| slope_kpa.is_some()),
    }
}

/// The last two judged visits, cylinder by cylinder.
fn latest(
    visits: &[Visit],
    levels: &Levels,
    judging: &Judging,
    steady: &[usize],
    coverage: f64,
) -> Option<Latest> {
    let b = (0..visits.len()).rev().find(|&v| levels.judged[v])?;
    let a = (0..b).rev().find(|&v| levels.judged[v])?;
    let (Blame { blamed, .. }, moves) = between(levels, a, b, judging, steady);
    let cylinders = levels
        .numbers
        .iter()
        .enumerate()
        .filter_map(|(i, &cylinder)| {
            let class = [visits[a].cylinder(cylinder)?.class, visits[b].cylinder(cylinder)?.class];
            let (value, u) = moves[i];
            let change_kpa = value.is_finite().then_some(Measured { value, u: judging.k * u });
            let significant = blamed.iter().any(|m| m.0 == i);
            Some(LatestCylinder { cylinder, change_kpa, significant, class })
        })
        .collect();
    let spread = visits[a].spread_kpa.zip(visits[b].spread_kpa).map(|(s, t)| {
        let u2 = (s.u / coverage).powi(2) + (t.u / coverage).powi(2) + judging.repeatability.powi(2);
        Measured { value: t.value - s.value, u: judging.k * u2.sqrt() }
    });
    Some(Latest {
        visits: [a, b].map(|v| visits[v].visit.clone()),
        verdict: [a, b].map(|v| visits[v].verdict),
        spread_change_kpa: spread,
        cylinders,
    })
}

#[cfg(test)]
#[path = "compare_tests.rs"]
mod tests;
