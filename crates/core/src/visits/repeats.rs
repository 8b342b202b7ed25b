//! How far two visits differ with nothing done.
//!
//! Recordings of the same day with nothing done in between are repeats. One-way analysis of variance (cylinders within
//! days): the sum of squares of each cylinder's deviation about its mean of the day, pooled over cylinders and days,
//! over `(recordings - 1)(cylinders - 1)` degrees of freedom a day, because the deviations of a day share one reference.
//! The change between two visits is a difference of two such deviations, hence sqrt 2. It is the repeatability part of a
//! gauge study (AIAG MSA, 4th ed.) with cylinders as parts. Repeats of one day keep the sensors in place and so
//! understate what happens between days; the settings' default holds until there are enough of them.

use super::blame::{Moves, blame};
use super::comparison::{Repeatability, RepeatabilitySource};
use super::levels::Levels;
use super::types::Visit;

/// Degrees of freedom below which repeats are too few to replace the default.
const FEWEST_DF: f64 = 4.0;

/// From repeats if there are enough, else the default.
///
/// Same-day visits between which a cylinder changed by more than the default allows, or where work or turned screws
/// were noted, are no repeats.
pub(crate) fn repeatability(visits: &[Visit], levels: &Levels, default_kpa: f64, k: f64) -> Repeatability {
    let (mut squares, mut df) = (0.0, 0.0);
    let mut start = 0;
    while start < visits.len() {
        let mut end = start + 1;
        while end < visits.len() && untouched(visits, levels, end, default_kpa, k) {
            end += 1;
        }
        let (s, d) = within(levels, start, end);
        squares += s;
        df += d;
        start = end;
    }
    if df < FEWEST_DF {
        let source = RepeatabilitySource::Default;
        return Repeatability { value: default_kpa, source, degrees_of_freedom: None };
    }
    let value = (2.0 * squares / df).sqrt();
    Repeatability { value, source: RepeatabilitySource::Repeats, degrees_of_freedom: Some(df) }
}

/// Whether visit `v` repeats the one before it.
fn untouched(visits: &[Visit], levels: &Levels, v: usize, default_kpa: f64, k: f64) -> bool {
    let (a, b) = (&visits[v - 1].facts, &visits[v].facts);
    let same_day = a.date.is_some() && a.date == b.date && a.hours.unwrap_or(0.0) == b.hours.unwrap_or(0.0);
    let handled = [a, b].iter().any(|f| !f.turns.is_empty()) || b.work.is_some();
    if !same_day || handled {
        return false;
    }
    let n = levels.numbers.len();
    let delta: Vec<f64> = (0..n).map(|i| levels.x[v][i] - levels.x[v - 1][i]).collect();
    let variance: Vec<f64> = (0..n).map(|i| levels.u[v][i].powi(2) + levels.u[v - 1][i].powi(2)).collect();
    let moves = Moves { delta: &delta, variance: &variance, repeatability: default_kpa, k, reference: None };
    blame(&moves).blamed.is_empty()
}

/// Sum of squares within one day and its degrees of freedom, over cylinders live in all of its recordings.
fn within(levels: &Levels, start: usize, end: usize) -> (f64, f64) {
    let m = end - start;
    let live: Vec<usize> =
        (0..levels.numbers.len()).filter(|&i| (start..end).all(|v| levels.x[v][i].is_finite())).collect();
    if m < 2 || live.len() < 2 {
        return (0.0, 0.0);
    }
    let group: Vec<f64> =
        (start..end).map(|v| live.iter().map(|&i| levels.x[v][i]).sum::<f64>() / live.len() as f64).collect();
    let mut squares = 0.0;
    for &i in &live {
        let d: Vec<f64> = (start..end).map(|v| levels.x[v][i] - group[v - start]).collect();
        let mean = d.iter().sum::<f64>() / m as f64;
        squares += d.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
    }
    // Deviations from the mean of n keep (n-1)/n of a cylinder's variance; (m-1)(n-1) independent ones give the
    // variance of one cylinder, and its deviation from the median of the others has 1 + var(median) of it.
    let others = live.len() - 1;
    let to_deviation = 1.0 + super::levels::median_variance(others);
    (squares * to_deviation, ((m - 1) * others) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::ar1;
    use crate::visits::story::{Story, visit};

    #[test]
    fn repeats_of_known_scatter_give_it_back() {
        // 12 days of 3 recordings of a four; private scatter 0.05 a recording: a deviation from the median of the
        // three others changes by 0.05 sqrt(2 (1 + 0.4487)) = 0.0851.
        let raw = ar1(12 * 3 * 4, 0.0, 5);
        let sd = (raw.iter().map(|d| d * d).sum::<f64>() / raw.len() as f64).sqrt();
        let visits: Vec<_> = (0..36)
            .map(|v| {
                let levels: Vec<f64> =
                    (0..4).map(|i| 0.1 * f64::from(i) + 0.05 * raw[v * 4 + i as usize] / sd).collect();
                visit(&format!("2025-{:02}-10", v / 3 + 1), None, &levels)
            })
            .collect();
        let levels = Levels::new(&visits, 2.0);
        let r = repeatability(&visits, &levels, 0.3, 2.0);
        assert_eq!((r.source, r.degrees_of_freedom), (RepeatabilitySource::Repeats, Some(72.0)));
        assert!((r.value / 0.0851 - 1.0).abs() < 0.15, "{}", r.value);
        // One recording a day: nothing to learn from.
        let single: Vec<_> = visits.into_iter().step_by(3).collect();
        let r = repeatability(&single, &Levels::new(&single, 2.0), 0.3, 2.0);
        assert_eq!((r.source, r.value), (RepeatabilitySource::Default, 0.3));
    }

    #[test]
    fn a_repair_between_two_recordings_of_a_day_is_no_repeat() {
        let mut visits =
            Story::new(4).day("2025-05-01", &[0.0; 4]).day("2025-05-01", &[0.0, 1.5, 0.0, 0.0]).visits;
        visits.extend(Story::new(4).day("2025-06-01", &[0.0; 4]).day("2025-06-01", &[0.01; 4]).visits);
        let r = repeatability(&visits, &Levels::new(&visits, 2.0), 0.3, 2.0);
        assert_eq!(r.source, RepeatabilitySource::Default);
    }
}
