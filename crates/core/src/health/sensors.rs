//! Dead or doubtful sensors: railed, stuck, dropped out, coarse, duplicated.
//!
//! # Method
//! *Railed*: above 1.15 times the barometer or under 3 kPa absolute for at least 0.2 s. *Stuck*: one value for at least
//! 3 s, 20 rows and 8 of the channel's own usual repeats, while another channel moves by more than 3 steps in more than
//! 30 % of the rows. *Drop-out*: a hole of more than a second in one channel while others go on. A sensor that is railed or stuck for more than
//! half of the running time takes its cylinder out; a shorter fault takes only the stretch out.
//!
//! # Source
//! Common practice, no source.

use rayon::prelude::*;

use crate::prepare::Prepared;
use crate::stats::lanes;

/// Why a stretch of a channel is not believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// At the end of the sensor's range.
    Railed,
    /// One value while others move.
    Stuck,
    /// No values.
    DropOut,
}

/// A stretch of one cylinder's channel that is not believed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BadStretch {
    /// Index into the prepared cylinders.
    pub cylinder: usize,
    /// Why.
    pub fault: Fault,
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
}

/// Finds bad stretches among running rows. `absolute` tells whether the values are absolute pressures; `running` marks rows
/// with the engine turning.
#[must_use]
pub fn bad_stretches(
    prepared: &Prepared<'_>,
    barometer_kpa: f64,
    absolute: bool,
    running: &[bool],
) -> Vec<BadStretch> {
    let one = |index: usize| {
        let mut out = Vec::new();
        if absolute {
            railed(prepared, index, barometer_kpa, &mut out);
        }
        stuck(prepared, index, running, &mut out);
        drop_out(prepared, index, &mut out);
        out
    };
    (0..prepared.cylinders.len()).into_par_iter().flat_map_iter(one).collect()
}

fn railed(prepared: &Prepared<'_>, index: usize, barometer_kpa: f64, out: &mut Vec<BadStretch>) {
    let values = &prepared.cylinders[index].values;
    let bad = |v: f64| v.is_finite() && (v > 1.15 * barometer_kpa || v < 3.0);
    // Most channels never come near either end.
    let (low, high) = lanes::extremes(values);
    if low > high || !(bad(low) || bad(high)) {
        return;
    }
    runs(
        prepared.time_s,
        |k| bad(values[k]),
        |start_s, end_s, _| {
            if end_s - start_s >= 0.2 {
                out.push(BadStretch { cylinder: index, fault: Fault::Railed, start_s, end_s });
            }
        },
    );
}

fn stuck(prepared: &Prepared<'_>, index: usize, running: &[bool], out: &mut Vec<BadStretch>) {
    let t = prepared.time_s;
    let values = &prepared.cylinders[index].values;
    let least = 3.0_f64.max(20.0 * prepared.step_s.unwrap_or(0.0));
    if !stands(t, values, least) {
        return;
    }
    // Asked only where a run is long enough to be stuck at all: most channels have none.
    let mut usual: Option<f64> = None;
    let mut k = 0;
    while k < t.len() {
        if !running[k] || !values[k].is_finite() {
            k += 1;
            continue;
        }
        let (start, mut last) = (k, k);
        while k + 1 < t.len()
            && running[k + 1]
            && (values[k + 1] == values[start] || !values[k + 1].is_finite())
        {
            k += 1;
            if values[k].is_finite() {
                last = k;
            }
        }
        let length = t[last] - t[start];
        k += 1;
        if length < least
            || length < 8.0 * *usual.get_or_insert_with(|| usual_repeat(t, values, running))
            || !others_move(prepared, index, start, last)
        {
            continue;
        }
        // A hole at the end is a drop-out, and what is railed is named so: neither is stuck.
        let railed = out.iter().any(|b| {
            b.cylinder == index && b.fault == Fault::Railed && b.start_s <= t[start] && b.end_s >= t[last]
        });
        if !railed {
            out.push(BadStretch { cylinder: index, fault: Fault::Stuck, start_s: t[start], end_s: t[last] });
        }
    }
}

/// Whether one value stands for so long anywhere, holes taken for the value before them: most channels never do.
fn stands(t: &[f64], values: &[f64], least: f64) -> bool {
    let (mut since, mut before) = (0.0, f64::NAN);
    for (&t, &v) in t.iter().zip(values) {
        let moves = v != before && v.is_finite();
        since = if moves { t } else { since };
        before = if moves { v } else { before };
        if t - since >= least {
            return true;
        }
    }
    false
}

/// Median length of the runs of equal values that end in a change; 0 when there are fewer than four.
fn usual_repeat(t: &[f64], values: &[f64], running: &[bool]) -> f64 {
    let mut lengths = Vec::new();
    let mut start: Option<(f64, f64)> = None;
    for k in 0..t.len() {
        if !running[k] || !values[k].is_finite() {
            continue;
        }
        match start {
            Some((_, v)) if v == values[k] => {}
            Some((since, _)) => {
                lengths.push(t[k] - since);
                start = Some((t[k], values[k]));
            }
            None => start = Some((t[k], values[k])),
        }
    }
    if lengths.len() < 4 { 0.0 } else { crate::stats::robust::median(&lengths).unwrap_or(0.0) }
}

fn others_move(prepared: &Prepared<'_>, index: usize, from: usize, to: usize) -> bool {
    prepared.cylinders.iter().enumerate().any(|(i, other)| {
        if i == index {
            return false;
        }
        let step = other.resolution_kpa.unwrap_or(0.0);
        let rows: Vec<f64> = (from..=to)
            .filter(|&k| other.weights[k] > 0.0 && other.values[k].is_finite())
            .map(|k| other.values[k])
            .collect();
        let moved = rows.windows(2).filter(|w| (w[1] - w[0]).abs() > 3.0 * step + 1e-9).count();
        rows.len() > 4 && moved as f64 > 0.3 * (rows.len() - 1) as f64
    })
}

fn drop_out(prepared: &Prepared<'_>, index: usize, out: &mut Vec<BadStretch>) {
    let t = prepared.time_s;
    let c = &prepared.cylinders[index];
    // Without a hole there is nothing to look for.
    if lanes::all_finite(&c.values) {
        return;
    }
    let rows: Vec<usize> = (0..t.len()).filter(|&k| c.values[k].is_finite()).collect();
    let (Some(&first), Some(&last)) = (rows.first(), rows.last()) else {
        if let (Some(&start_s), Some(&end_s)) = (t.first(), t.last()) {
            out.push(BadStretch { cylinder: index, fault: Fault::DropOut, start_s, end_s });
        }
        return;
    };
    let usual: Vec<f64> = rows.windows(2).map(|w| t[w[1]] - t[w[0]]).collect();
    let hole = 1.0_f64.max(5.0 * crate::stats::robust::median(&usual).unwrap_or(0.0));
    let mut push = |a: f64, b: f64| {
        if b - a > hole {
            out.push(BadStretch { cylinder: index, fault: Fault::DropOut, start_s: a, end_s: b });
        }
    };
    push(t[0], t[first]);
    for w in rows.windows(2) {
        // A gap of the whole recording is not this sensor's doing.
        if w[1] - w[0] > 1 {
            push(t[w[0]], t[w[1]]);
        }
    }
    push(t[last], t[t.len() - 1]);
}

/// Calls `each(start_s, end_s, rows)` for every run of rows that hold `is`.
pub fn runs(t: &[f64], is: impl Fn(usize) -> bool, mut each: impl FnMut(f64, f64, usize)) {
    let mut k = 0;
    while k < t.len() {
        if !is(k) {
            k += 1;
            continue;
        }
        let start = k;
        while k < t.len() && is(k) {
            k += 1;
        }
        let end_s = if k < t.len() { t[k] } else { t[k - 1] };
        each(t[start], end_s, k - start);
    }
}

/// Pairs of cylinders whose channels are the same to the last digit in nearly all rows: one sensor logged twice.
#[must_use]
pub fn duplicates(prepared: &Prepared<'_>) -> Vec<(u32, u32)> {
    let all = &prepared.cylinders;
    let pairs: Vec<_> = (0..all.len()).flat_map(|i| (i + 1..all.len()).map(move |j| (i, j))).collect();
    let same = |&(i, j): &(usize, usize)| same_sensor(&all[i].values, &all[j].values);
    pairs.into_par_iter().filter(same).map(|(i, j)| (all[i].number, all[j].number)).collect()
}

fn same_sensor(a: &[f64], b: &[f64]) -> bool {
    let (mut both, mut same) = (0usize, 0usize);
    for (x, y) in a.iter().zip(b).filter(|(x, y)| x.is_finite() && y.is_finite()) {
        both += 1;
        same += usize::from(x == y);
        // Most pairs are told apart by their first rows.
        if both - same > a.len() / 50 {
            return false;
        }
    }
    both >= 50
        && same as f64 > 0.98 * both as f64
        && a.windows(2).filter(|w| w[0] != w[1]).take(20).count() == 20
}
