//! From channels to cylinders: the pressure of each cylinder on one axis, engine speed without holes, and what else the
//! review looks at. Nothing is judged here.

use std::borrow::Cow;
use std::sync::{Arc, OnceLock};

use rayon::prelude::*;

use crate::machine::Machine;
use crate::recording::{Channel, PressureKind, Quantity, Recording};
use crate::stats::lanes;

/// One cylinder's pressure and what is known of its sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct Cylinder<'a> {
    /// Cylinder, counted from 1.
    pub number: u32,
    /// Index of its channel in the recording.
    pub channel: usize,
    /// kPa, one per row, `NaN` = missing. As logged until [`crate::health::ambient`] turned it absolute.
    pub values: Cow<'a, [f64]>,
    /// Seconds that each row stands for; 0 where the row is missing or only repeats an older reading. Channels without a
    /// hole share one list.
    pub weights: Arc<[f64]>,
    /// Smallest step of the values, kPa.
    pub resolution_kpa: Option<f64>,
    /// What it is measured against, where the file or machine file says.
    pub kind: Option<PressureKind>,
    /// Still believed after the sensor checks.
    pub alive: bool,
    /// Fresh readings a second.
    pub update_hz: f64,
}

/// A recording made ready for the review.
#[derive(Debug, Clone)]
pub struct Prepared<'a> {
    /// Seconds from the first row.
    pub time_s: &'a [f64],
    /// Median step of the time, s; `None` for fewer than two rows.
    pub step_s: Option<f64>,
    /// Engine speed without holes, rev/min; `None` when not logged.
    pub rpm: Option<Cow<'a, [f64]>>,
    /// Cylinders, ordered by number.
    pub cylinders: Vec<Cylinder<'a>>,
    /// Coolant temperature, filled forwards, deg C.
    pub coolant_c: Option<Vec<f64>>,
    /// Throttle, filled forwards, per cent.
    pub throttle: Option<Vec<f64>>,
    /// Mark on crank or camshaft as logged, `NaN` = missing.
    pub mark: Option<&'a [f64]>,
    /// Engine speed as logged, with its holes.
    pub logged_rpm: Option<&'a [f64]>,
    /// Logged barometer, kPa (median of the channel).
    pub barometer_kpa: Option<f64>,
    /// Strokes per cycle.
    pub strokes: u8,
}

/// Collects what the review needs from a recording.
#[must_use]
pub fn prepare<'a>(recording: &'a Recording, machine: &Machine) -> Prepared<'a> {
    let time_s = recording.time_s.as_slice();
    let rpm = recording.first(Quantity::EngineSpeed).and_then(|c| without_holes(time_s, &c.values));
    let step_s = median_step(time_s);
    let complete = OnceLock::new();
    let mut cylinders: Vec<Cylinder<'_>> = recording
        .channels
        .par_iter()
        .enumerate()
        .filter(|(_, c)| c.quantity == Quantity::ManifoldPressure)
        .filter_map(|(i, c)| c.cylinder.map(|number| cylinder((time_s, step_s), i, number, c, &complete)))
        .collect();
    cylinders.sort_by_key(|c| c.number);
    cylinders.dedup_by_key(|c| c.number);
    steps_of_the_still(&mut cylinders);
    Prepared {
        time_s,
        step_s,
        rpm,
        cylinders,
        coolant_c: recording.first(Quantity::CoolantTemperature).and_then(|c| forward(&c.values)),
        throttle: recording.first(Quantity::Throttle).and_then(|c| forward(&c.values)),
        mark: recording.first(Quantity::CrankMark).map(|c| c.values.as_slice()),
        logged_rpm: recording.first(Quantity::EngineSpeed).map(|c| c.values.as_slice()),
        barometer_kpa: recording
            .first(Quantity::Barometer)
            .and_then(|c| crate::stats::robust::median(&finite(&c.values)))
            .or(recording.preamble.barometer_kpa),
        strokes: machine.strokes,
    }
}

fn cylinder<'a>(
    (time_s, step_s): (&[f64], Option<f64>),
    channel: usize,
    number: u32,
    c: &'a Channel,
    complete: &OnceLock<(Arc<[f64]>, usize)>,
) -> Cylinder<'a> {
    let (weights, fresh) = if lanes::all_finite(&c.values) {
        complete.get_or_init(|| counted(weights_of_all(time_s, step_s))).clone()
    } else {
        let all: Vec<usize> = (0..time_s.len()).collect();
        counted(weights(time_s, &c.values, &all).into())
    };
    let span = time_s.last().copied().unwrap_or(0.0).max(1e-9);
    Cylinder {
        number,
        channel,
        values: Cow::Borrowed(&c.values),
        weights,
        resolution_kpa: c.resolution,
        kind: c.kind,
        alive: fresh > 0,
        update_hz: fresh as f64 / span,
    }
}

/// A channel that shows one value alone does not tell its step, and is not certain for that: it gets the largest step of the
/// other channels, which came the same way; where none of them moves, the coarsest power of ten that its values are whole
/// multiples of.
fn steps_of_the_still(cylinders: &mut [Cylinder<'_>]) {
    let others = cylinders.iter().filter_map(|c| c.resolution_kpa).reduce(f64::max);
    let written = |step: &f64| {
        let whole = |v: &f64| ((v / step).round() * step - v).abs() < 1e-6 * step;
        cylinders.iter().flat_map(|c| c.values.iter()).filter(|v| v.is_finite()).all(whole)
    };
    let step = others.or_else(|| [1.0, 0.1, 0.01, 0.001].into_iter().find(written));
    for c in cylinders.iter_mut().filter(|c| c.resolution_kpa.is_none()) {
        c.resolution_kpa = step;
    }
}

/// Median step of the time, s.
fn median_step(time_s: &[f64]) -> Option<f64> {
    crate::stats::robust::median_of_scratch(&mut crate::recording::steps(time_s))
}

/// Finite values only.
#[must_use]
pub fn finite(x: &[f64]) -> Vec<f64> {
    x.iter().copied().filter(|v| v.is_finite()).collect()
}

/// Seconds that each of `rows` stands for: half the way to its neighbours that have a value, capped at 2.5 times the
/// median step so that a gap gives nobody extra weight. Rows that are not listed or have no value weigh 0.
///
/// # Shape
/// One weight per row of `time_s`; `rows` rise.
#[must_use]
pub fn weights(time_s: &[f64], values: &[f64], rows: &[usize]) -> Vec<f64> {
    let mut out = vec![0.0; time_s.len()];
    let kept = || rows.iter().copied().filter(|&k| values[k].is_finite());
    let (Some(first), Some(second)) = (kept().next(), kept().nth(1)) else { return out };
    let steps: Vec<f64> = kept().zip(kept().skip(1)).map(|(a, b)| time_s[b] - time_s[a]).collect();
    let cap = 2.5 * crate::stats::robust::median(&steps).unwrap_or(1.0);
    let mut before = time_s[second] - time_s[first];
    let mut list = kept().peekable();
    while let Some(k) = list.next() {
        let after = list.peek().map_or(before, |next| time_s[*next] - time_s[k]);
        out[k] = 0.5 * (before.min(cap) + after.min(cap));
        before = after;
    }
    out
}

/// Weights with the number of rows that have one.
fn counted(weights: Arc<[f64]>) -> (Arc<[f64]>, usize) {
    let fresh = weights.iter().filter(|w| **w > 0.0).count();
    (weights, fresh)
}

/// As [`weights`], where every row has a value; `step_s` is the median step.
fn weights_of_all(time_s: &[f64], step_s: Option<f64>) -> Arc<[f64]> {
    let n = time_s.len();
    let Some(cap) = step_s.map(|step| 2.5 * step) else { return vec![0.0; n].into() };
    let step = |pair: &[f64]| (pair[1] - pair[0]).min(cap);
    let inner = time_s.windows(3).map(|three| 0.5 * (step(&three[..2]) + step(&three[1..])));
    std::iter::once(step(&time_s[..2])).chain(inner).chain(std::iter::once(step(&time_s[n - 2..]))).collect()
}

/// As [`interpolate`]; a channel without holes is taken as it is.
fn without_holes<'a>(time_s: &[f64], values: &'a [f64]) -> Option<Cow<'a, [f64]>> {
    if !values.is_empty() && lanes::all_finite(values) {
        return Some(Cow::Borrowed(values));
    }
    interpolate(time_s, values).map(Cow::Owned)
}

/// Linear interpolation over missing values, flat at the ends; `None` when nothing is there.
#[must_use]
pub fn interpolate(time_s: &[f64], values: &[f64]) -> Option<Vec<f64>> {
    let known: Vec<usize> = (0..values.len()).filter(|&k| values[k].is_finite()).collect();
    let (first, last) = (*known.first()?, *known.last()?);
    let mut out = values.to_vec();
    out[..first].fill(values[first]);
    out[last..].fill(values[last]);
    for pair in known.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        for k in a + 1..b {
            let x = (time_s[k] - time_s[a]) / (time_s[b] - time_s[a]);
            out[k] = values[a] + x * (values[b] - values[a]);
        }
    }
    Some(out)
}

/// Last known value, the first one backwards to the start; `None` when nothing is there.
#[must_use]
pub fn forward(values: &[f64]) -> Option<Vec<f64>> {
    let mut last = *values.iter().find(|v| v.is_finite())?;
    Some(
        values
            .iter()
            .map(|&v| {
                if v.is_finite() {
                    last = v;
                }
                last
            })
            .collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_step_of_a_long_recording_does_not_fall_in_with_its_rhythm() {
        // Nine rows at 10 ms, then a pause of half a second; every hundredth step would be such a pause.
        let mut time = vec![0.0];
        for k in 1..2_000_000 {
            time.push(time[k - 1] + if k % 10 == 1 { 0.5 } else { 0.01 });
        }
        assert!(median_step(&time).is_some_and(|s| (s - 0.01).abs() < 1e-6));
        let naive: Vec<f64> = (0..19_000).map(|k| time[100 * k + 1] - time[100 * k]).collect();
        assert!(crate::stats::robust::median(&naive).is_some_and(|s| s > 0.4));
        // A short one is taken whole.
        assert_eq!(median_step(&[0.0, 1.0, 3.0, 7.0]), Some(2.0));
        assert_eq!(median_step(&[0.0]), None);
    }

    #[test]
    fn the_short_way_gives_the_weights_of_the_long_one() {
        let time = [0.0, 0.1, 0.2, 0.35, 5.0, 5.1];
        let all: Vec<usize> = (0..time.len()).collect();
        let steps: Vec<f64> = time.windows(2).map(|w| w[1] - w[0]).collect();
        let long = weights(&time, &[1.0; 6], &all);
        assert_eq!(*weights_of_all(&time, crate::stats::robust::median(&steps)), *long);
        // A gap gives nobody its whole length.
        assert!(long.iter().all(|w| *w < 0.3), "{long:?}");
    }
}
