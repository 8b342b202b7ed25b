//! Tables in which every group of columns has a time of its own: `time 1, map 1, time 2, rpm`.
//!
//! Some loggers write channels of different rates side by side. The rows then mean nothing: each value belongs to
//! the time column to its left.

use super::notes::Notes;
use super::plan::{Form, Plan, TimeSource};
use super::rounds::Events;
use super::rows::Rows;
use super::time_order::TimeKind;
use super::{time_unit, words};
use crate::recording::Quantity;

/// The time columns, where there are several with channels between them; else nothing.
pub(crate) fn time_columns(plans: &[Plan], source: TimeSource) -> Vec<usize> {
    let TimeSource::Column(first) = source else { return Vec::new() };
    let like_first = |plan: &Plan| {
        !plan.ruled
            && plan.form == Form::Figures
            && words::time_rank(&plan.header) >= 2
            && plan.header.words.first() == plans[first].header.words.first()
            && plan.unit == plans[first].unit
    };
    let found: Vec<usize> = (0..plans.len()).filter(|at| like_first(&plans[*at])).collect();
    let channel_between = |from: usize, to: usize| plans[from + 1..to].iter().any(is_channel);
    let parted = found.windows(2).all(|w| channel_between(w[0], w[1]))
        && found.last().is_some_and(|last| channel_between(*last, plans.len()));
    if found.len() > 1 && found[0] == first && parted { found } else { Vec::new() }
}

fn is_channel(plan: &Plan) -> bool {
    plan.quantity.is_some_and(|q| !matches!(q, Quantity::Ignored | Quantity::Time))
}

/// The values with the times of their groups, in order of time; `None` where all groups have the same times.
pub(crate) fn events(plans: &[Plan], rows: &Rows, times: &[usize], notes: &mut Notes) -> Option<Events> {
    let first = *times.first()?;
    let differs = |at: &usize| {
        let pairs = rows.values[first].iter().zip(&rows.values[*at]);
        pairs.filter(|(a, b)| (*a - *b).abs() > 1e-9 || a.is_nan() != b.is_nan()).count() > 0
    };
    if !times.iter().skip(1).any(differs) {
        return None;
    }
    let unit_s = time_unit::size(&plans[first], &rows.values[first], notes);
    let mut list: Vec<(f64, u16, f64, u64)> = Vec::new();
    for (at, plan) in plans.iter().enumerate().filter(|(_, plan)| is_channel(plan)) {
        let Some(time) = times.iter().rev().find(|time| **time < at) else { continue };
        let values = rows.values[*time].iter().zip(&rows.values[at]).enumerate();
        list.extend(values.filter(|(_, (t, v))| t.is_finite() && v.is_finite()).map(|(row, (t, v))| {
            (*t, u16::try_from(at).unwrap_or(u16::MAX), *v, rows.lines.get(row).unwrap_or(0))
        }));
        debug_assert!(plan.quantity.is_some());
    }
    list.sort_by(|a, b| a.0.total_cmp(&b.0));
    let base = list.first().map_or(0.0, |event| event.0);
    let mut events = Events {
        kind: TimeKind { clock: false, unit_s, equal_ok: true },
        plans: plans.to_vec(),
        skipped: rows.skipped,
        ..Events::default()
    };
    for (time, signal, value, line) in list {
        events.push(time, signal, value, line);
    }
    time_unit::scale(&mut events.time_raw, base, unit_s);
    for at in times {
        events.plans[*at].quantity = Some(Quantity::Time);
        events.plans[*at].why = vec!["the time of the columns behind it".to_owned()];
    }
    Some(events)
}
