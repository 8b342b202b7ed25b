//! The series that figures draw: as logged, and the levels; long recordings thinned to the extremes of short stretches.

use rayon::prelude::*;

use crate::analysis::Traces;
use crate::balance::series;
use crate::prepare::Prepared;
use crate::stats::lanes;

use super::found::Found;

/// Rows beyond which a recording is thinned: a figure is some thousand pixels wide.
const MOST_ROWS: usize = 200_000;

/// Collects the series.
pub(super) fn traces(prepared: &Prepared<'_>, found: &Found) -> Traces {
    let fits: Vec<Option<crate::pulse::harmonics::Fit>> = match found.left.as_ref().or(found.raised.as_ref())
    {
        Some(m) => m.data.fits.clone(),
        None => prepared.cylinders.iter().map(|_| Some(crate::pulse::harmonics::Fit::flat())).collect(),
    };
    let end = prepared.time_s.last().copied().unwrap_or(0.0);
    let length = found.left.as_ref().map_or(1.0, |m| m.data.blocks.length_s);
    let rows = series::Rows {
        time_s: prepared.time_s,
        cycles: &found.cycles,
        rpm: prepared.rpm.as_deref(),
        stretches: &[(0.0, end)],
    };
    let blocks = series::blocks(rows, &prepared.cylinders, &fits, length);
    let t = prepared.time_s;
    let thin = |values: &[f64]| thinned(values, t.len());
    Traces {
        time_s: moments(t),
        // Sums are made of the speed further on: it keeps its means, not its extremes.
        rpm: prepared.rpm.as_deref().map(halves).unwrap_or_default(),
        coolant_c: prepared.coolant_c.as_deref().map(halves).unwrap_or_default(),
        pressure_kpa: prepared.cylinders.par_iter().map(|c| (c.number, thin(&c.values))).collect(),
        level_time_s: blocks.time_s,
        level_kpa: prepared.cylinders.iter().zip(blocks.kpa).map(|(c, v)| (c.number, v)).collect(),
    }
}

/// Rows that each stretch of a thinned series stands for; 1 where the recording is kept as it is.
fn stretch(rows: usize) -> usize {
    if rows <= MOST_ROWS { 1 } else { rows.div_ceil(MOST_ROWS / 2) }
}

/// Two moments for each stretch: a third and two thirds of its rows in.
fn moments(time_s: &[f64]) -> Vec<f64> {
    let size = stretch(time_s.len());
    if size == 1 {
        return time_s.to_vec();
    }
    time_s.chunks(size).flat_map(|part| [part[part.len() / 3], part[2 * part.len() / 3]]).collect()
}

/// The lowest and the highest value of each stretch in the order in which they came; `NaN` where there is none.
fn thinned(values: &[f64], rows: usize) -> Vec<f64> {
    let size = stretch(rows);
    if size == 1 {
        return values.to_vec();
    }
    let ends = |part: &[f64]| {
        let (low, high) = lanes::extremes(part);
        if low > high {
            return [f64::NAN; 2];
        }
        let at = |end: f64| part.iter().position(|v| *v == end);
        if at(low) <= at(high) { [low, high] } else { [high, low] }
    };
    values.chunks(size).flat_map(ends).collect()
}

/// The means of both halves of each stretch; `NaN` where there is none.
fn halves(values: &[f64]) -> Vec<f64> {
    let size = stretch(values.len());
    if size == 1 {
        return values.to_vec();
    }
    let mean = |part: &[f64]| lanes::mean(std::iter::once(part)).unwrap_or(f64::NAN);
    let both = |part: &[f64]| {
        let (a, b) = part.split_at(part.len().div_ceil(2));
        [mean(a), if b.is_empty() { mean(a) } else { mean(b) }]
    };
    values.par_chunks(size).flat_map_iter(both).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_series_keeps_its_peaks_where_every_nth_row_would_lose_them() {
        let rows = 4 * MOST_ROWS + 7;
        let mut values: Vec<f64> = (0..rows).map(|k| (k % 10) as f64).collect();
        values[123_457] = 99.0;
        values[rows - 1] = -50.0;
        let time: Vec<f64> = (0..rows).map(|k| k as f64).collect();
        let (thin, at) = (thinned(&values, rows), moments(&time));
        assert_eq!(thin.len(), at.len());
        assert!(thin.len() <= MOST_ROWS + 2);
        assert!(at.windows(2).all(|w| w[0] <= w[1]));
        let highest = (0..thin.len()).max_by(|a, b| thin[*a].total_cmp(&thin[*b])).map(|k| (thin[k], at[k]));
        assert!(highest.is_some_and(|(v, t)| v == 99.0 && (t - 123_457.0).abs() < 10.0), "{highest:?}");
        assert_eq!(thin.iter().copied().fold(f64::INFINITY, f64::min), -50.0);
        // The naive way loses both.
        assert!(values.iter().step_by(9).all(|v| *v != 99.0 && *v != -50.0));
    }

    #[test]
    fn a_thinned_speed_keeps_its_mean() {
        // A skewed ripple: the middle between lowest and highest is not its mean, which is 1000.
        let rpm = |k: usize| {
            let x = k as f64 * std::f64::consts::TAU / 100.0;
            1000.0 + 20.0 * (x.cos() + 0.5 * (2.0 * x).cos())
        };
        let values: Vec<f64> = (0..10 * MOST_ROWS).map(rpm).collect();
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        assert!((mean(&halves(&values)) - 1000.0).abs() < 0.01);
        let size = 100;
        let naive: Vec<f64> = values
            .chunks(size)
            .map(|p| p.iter().fold((f64::MAX, f64::MIN), |e, v| (e.0.min(*v), e.1.max(*v))))
            .map(|(low, high)| 0.5 * (low + high))
            .collect();
        assert!((mean(&naive) - 1000.0).abs() > 5.0);
    }

    #[test]
    fn holes_stay_holes_and_short_series_stay_as_they_are() {
        let mut values = vec![f64::NAN; 3 * MOST_ROWS];
        values[0] = 1.0;
        let thin = thinned(&values, values.len());
        assert_eq!(&thin[..2], &[1.0, 1.0]);
        assert!(thin[2..].iter().all(|v| v.is_nan()));
        assert_eq!(thinned(&[3.0, 1.0], 2), [3.0, 1.0]);
    }
}
