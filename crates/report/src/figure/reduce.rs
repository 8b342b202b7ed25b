//! Dense series for drawing: the lowest and the highest value of each pixel column.

use crate::figure::scale::Scale;

/// One pixel column of a series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Column {
    /// Pixel of its middle.
    pub(crate) x: f64,
    /// Lowest value.
    pub(crate) low: f64,
    /// Highest value.
    pub(crate) high: f64,
}

/// Runs of neighbouring columns; a missing value or an empty stretch longer than `gap_s` ends a run. Several series
/// give the extremes over all of them.
///
/// # Shape
/// `time_s` rises; each series is as long, further values are not looked at.
pub(crate) fn columns(
    time_s: &[f64],
    series: &[&[f64]],
    scale: &Scale,
    width: f64,
    gap_s: f64,
) -> Vec<Vec<Column>> {
    let mut runs: Vec<Vec<Column>> = Vec::new();
    let mut last: Option<(f64, f64)> = None;
    for (i, t) in time_s.iter().enumerate() {
        let here = series.iter().filter_map(|s| s.get(i)).filter(|v| v.is_finite());
        let ends = here.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| (lo.min(*v), hi.max(*v)));
        if ends.0 > ends.1 || !scale.holds(*t) {
            last = None;
            continue;
        }
        let column = ((scale.px(*t) - scale.from) / width).floor();
        let joined = last.filter(|(before, _)| t - before <= gap_s);
        match (joined, runs.last_mut()) {
            (Some((_, at)), Some(run)) => match run.last_mut() {
                Some(c) if at == column => {
                    c.low = c.low.min(ends.0);
                    c.high = c.high.max(ends.1);
                }
                _ => run.push(at_column(column, ends, scale, width)),
            },
            _ => runs.push(vec![at_column(column, ends, scale, width)]),
        }
        last = Some((*t, column));
    }
    runs
}

fn at_column(column: f64, (low, high): (f64, f64), scale: &Scale, width: f64) -> Column {
    Column { x: scale.from + (column + 0.5) * width, low, high }
}

/// Whether a series has so many values that its columns must be drawn as an area.
pub(crate) fn dense(samples: usize, pixels: f64) -> bool {
    samples as f64 > 2.0 * pixels
}

/// Step beyond which two values are not joined: five typical steps.
pub(crate) fn gap_s(time_s: &[f64]) -> f64 {
    let n = time_s.len();
    if n < 2 {
        return f64::INFINITY;
    }
    let mean = (time_s[n - 1] - time_s[0]) / (n - 1) as f64;
    (5.0 * mean).max(0.5)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn columns_keep_every_extreme() {
        let time: Vec<f64> = (0..10_000).map(|i| f64::from(i) * 0.01).collect();
        let mut values: Vec<f64> = time.iter().map(|t| 40.0 + (t * 55.0).sin()).collect();
        values[5_003] = 99.0;
        let scale = Scale::new("t", (0.0, 100.0), (0.0, 500.0)).unwrap();
        let runs = columns(&time, &[&values], &scale, 1.0, 1.0);
        assert_eq!(runs.len(), 1);
        assert!(runs[0].len() <= 501);
        // Taking every n-th value would lose the spike.
        assert!(runs[0].iter().any(|c| c.high == 99.0));
    }

    #[test]
    fn missing_values_and_gaps_end_a_run() {
        let scale = Scale::new("t", (0.0, 10.0), (0.0, 100.0)).unwrap();
        let time = [0.0, 1.0, 2.0, 3.0, 9.0];
        let runs = columns(&time, &[&[1.0, 1.0, f64::NAN, 1.0, 1.0]], &scale, 1.0, 2.0);
        assert_eq!(runs.len(), 3);
        let both = columns(&time[..2], &[&[1.0, 2.0], &[5.0, f64::NAN]], &scale, 50.0, 2.0);
        assert_eq!((both[0][0].low, both[0][0].high), (1.0, 5.0));
    }
}
