//! Engine speed and group pressure on a coarse even grid, the pulse averaged away: what the window rules look at.

use std::ops::Range;

use rayon::prelude::*;

use crate::prepare::Prepared;
use crate::stats::lanes;

/// Coarse series.
///
/// # Shape
/// All vectors have one value per cell; cell `i` is centred at `(i + 0.5) * cell_s`. `NaN` = nothing there.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Length of a cell, s.
    pub cell_s: f64,
    /// Engine speed, rev/min.
    pub rpm: Vec<f64>,
    /// Mean of the live cylinders, kPa.
    pub group_kpa: Vec<f64>,
    /// Coolant, deg C; empty when not logged.
    pub coolant_c: Vec<f64>,
    /// Throttle, per cent; empty when not logged.
    pub throttle: Vec<f64>,
    /// Rows in each cell.
    pub rows: Vec<u32>,
}

impl Grid {
    /// Number of cells.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rpm.len()
    }

    /// Whether there is no cell.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rpm.is_empty()
    }

    /// Cells in a stretch of some seconds, at least one.
    #[must_use]
    pub fn cells(&self, seconds: f64) -> usize {
        ((seconds / self.cell_s).round() as usize).max(1)
    }

    /// Ranges of rows in the cells that are `wanted`.
    pub(crate) fn ranges(&self, wanted: impl Fn(usize) -> bool) -> Vec<Range<usize>> {
        let mut out: Vec<Range<usize>> = Vec::new();
        for (_, range) in edges(&self.rows).enumerate().filter(|(i, range)| !range.is_empty() && wanted(*i)) {
            match out.last_mut() {
                Some(last) if last.end == range.start => last.end = range.end,
                _ => out.push(range),
            }
        }
        out
    }
}

/// Rows of each cell, from how many there are in each.
fn edges(rows: &[u32]) -> impl Iterator<Item = Range<usize>> + '_ {
    let mut start = 0;
    rows.iter().map(move |count| {
        let range = start..start + *count as usize;
        start = range.end;
        range
    })
}

/// Most cells: over five days of quarter seconds.
const MOST_CELLS: f64 = 2e6;

/// Builds the grid: quarter-second cells, smoothed over one second; coarser where the rows are.
#[must_use]
pub fn grid(prepared: &Prepared<'_>) -> Grid {
    let t = prepared.time_s;
    // However far apart the rows are, there are not more cells than anybody could look at.
    let widest = t.last().map_or(0.0, |end| end / MOST_CELLS);
    let cell_s = 0.25_f64.max(prepared.step_s.unwrap_or(1.0)).max(widest);
    let cells = t.last().map_or(0, |end| (end / cell_s).floor() as usize + 1);
    let cell_of = |time: f64| ((time / cell_s) as usize).min(cells.saturating_sub(1));
    let mut rows = vec![0u32; cells];
    t.iter().for_each(|&time| rows[cell_of(time)] += 1);
    let mean = |values: &[f64], weigh: Option<&[f64]>| -> Vec<f64> {
        let (sum, n): (Vec<f64>, Vec<f64>) = edges(&rows)
            .map(|range| match weigh {
                Some(weights) => lanes::sum_weighing(&values[range.clone()], &weights[range]),
                None => lanes::sum(&values[range]),
            })
            .unzip();
        smooth(&sum, &n, (0.5 / cell_s).round() as usize)
    };
    let of_cylinders = || -> Vec<Vec<f64>> {
        let live = prepared.cylinders.par_iter().filter(|c| c.alive);
        live.map(|c| filled(&mean(&c.values, Some(&c.weights)), cell_s)).collect()
    };
    let of_speed = || prepared.rpm.as_ref().map_or_else(|| vec![f64::NAN; cells], |r| mean(r, None));
    let (live, rpm) = rayon::join(of_cylinders, of_speed);
    Grid {
        cell_s,
        rpm,
        group_kpa: (0..cells)
            .map(|i| live.iter().map(|c| c[i]).sum::<f64>() / live.len().max(1) as f64)
            .map(|v| if live.is_empty() { f64::NAN } else { v })
            .collect(),
        coolant_c: prepared.coolant_c.as_ref().map_or_else(Vec::new, |c| mean(c, None)),
        throttle: prepared.throttle.as_ref().map_or_else(Vec::new, |c| mean(c, None)),
        rows,
    }
}

/// Mean over `reach` cells to either side, from sums and counts.
fn smooth(sum: &[f64], n: &[f64], reach: usize) -> Vec<f64> {
    (0..sum.len())
        .map(|i| {
            let range = i.saturating_sub(reach)..(i + reach + 1).min(sum.len());
            let count: f64 = n[range.clone()].iter().sum();
            if count > 0.0 { sum[range].iter().sum::<f64>() / count } else { f64::NAN }
        })
        .collect()
}

/// Holes of up to two seconds take the last value: a channel polled in turn is not missing between its readings.
fn filled(values: &[f64], cell_s: f64) -> Vec<f64> {
    let reach = (2.0 / cell_s).ceil() as usize;
    let mut out = values.to_vec();
    let mut since = usize::MAX;
    let mut last = f64::NAN;
    for v in &mut out {
        if v.is_finite() {
            last = *v;
            since = 0;
        } else if since < reach {
            since += 1;
            *v = last;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_wanted_cells_are_joined() {
        let grid = Grid {
            cell_s: 0.25,
            rpm: vec![900.0; 6],
            group_kpa: vec![40.0; 6],
            coolant_c: Vec::new(),
            throttle: Vec::new(),
            rows: vec![3, 0, 2, 4, 0, 1],
        };
        // Cells hold the rows 0..3, none, 3..5, 5..9, none, 9..10.
        assert_eq!(grid.ranges(|_| true), vec![0..10]);
        assert_eq!(grid.ranges(|i| i != 2), vec![0..3, 5..10]);
        assert_eq!(grid.ranges(|i| i == 1), Vec::<Range<usize>>::new());
    }
}
