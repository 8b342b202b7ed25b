//! Stretches fit to judge, and the reason for every other one.

pub mod gates;
pub mod grid;
pub mod warm;

use crate::result::{Excluded, Regime, Window};
use gates::Cell;
use grid::Grid;

/// A stretch that something outside the speed and pressure rules takes out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cut {
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
    /// Reason as written in the result.
    pub reason: &'static str,
}

/// Lays cuts over sorted cells; a cut replaces a fit cell, never the reason of an unfit one.
pub fn lay(grid: &Grid, cells: &mut [Cell], cuts: &[Cut]) {
    for cut in cuts {
        let from = (cut.start_s / grid.cell_s).floor().max(0.0) as usize;
        let to = ((cut.end_s / grid.cell_s).ceil() as usize).min(cells.len());
        for cell in cells.iter_mut().take(to).skip(from) {
            if !matches!(cell, Cell::Out(_)) {
                *cell = Cell::Out(cut.reason);
            }
        }
    }
}

/// Gaps of the time axis longer than the larger of 5 usual steps and 0.5 s.
#[must_use]
pub fn gaps(time_s: &[f64], usual_step_s: Option<f64>) -> Vec<Cut> {
    let Some(usual) = usual_step_s else { return Vec::new() };
    let limit = (5.0 * usual).max(0.5);
    time_s
        .windows(2)
        .filter(|w| w[1] - w[0] > limit)
        .map(|w| Cut { start_s: w[0], end_s: w[1], reason: "gap" })
        .collect()
}

/// Windows and exclusions of a recording.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stretches {
    /// Fit to judge, in order of time.
    pub windows: Vec<Window>,
    /// Not judged, in order of time; together with the windows they cover the recording.
    pub excluded: Vec<Excluded>,
}

/// Turns cells into windows and exclusions.
///
/// Runs shorter than `least_s` or `least_cycles` engine cycles are excluded as `too-short`. `cycle_hz` gives engine cycles a second at a speed.
#[must_use]
pub fn stretches(
    grid: &Grid,
    cells: &[Cell],
    end_s: f64,
    least: (f64, f64),
    cycle_hz: impl Fn(f64) -> f64,
) -> Stretches {
    let mut out = Stretches::default();
    let mut i = 0;
    while i < cells.len() {
        let start = i;
        while i < cells.len() && cells[i] == cells[start] {
            i += 1;
        }
        let ms = |t: f64| (t * 1000.0).round() / 1000.0;
        let (a, b) = (ms(start as f64 * grid.cell_s), ms((i as f64 * grid.cell_s).min(end_s)));
        if b <= a {
            continue;
        }
        let regime = match cells[start] {
            Cell::Idle => Regime::Idle,
            Cell::Raised => Regime::Raised,
            Cell::Out(reason) => {
                out.excluded.push(Excluded { start_s: a, end_s: b, reason: reason.to_owned() });
                continue;
            }
        };
        let speeds: Vec<f64> = grid.rpm[start..i].iter().copied().filter(|r| r.is_finite()).collect();
        let rpm = if speeds.is_empty() { f64::NAN } else { speeds.iter().sum::<f64>() / speeds.len() as f64 };
        let cycles = if speeds.is_empty() { f64::INFINITY } else { cycle_hz(rpm) * (b - a) };
        if b - a >= least.0 - grid.cell_s && cycles >= least.1 {
            out.windows.push(Window { start_s: a, end_s: b, rpm, regime });
        } else {
            out.excluded.push(Excluded { start_s: a, end_s: b, reason: "too-short".to_owned() });
        }
    }
    out
}
