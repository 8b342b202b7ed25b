//! Which cells of the grid are fit to judge, and why the others are not.
//!
//! # Method
//! Speed sorts the cells into off, starting, idle, raised and in between. Among cells of one regime a 41 s running median is
//! the level; an excursion beyond the larger of 5 robust standard deviations and 3 % of the speed (1.5 kPa for the group
//! pressure) is a disturbance, grown until it is back under a third, and widened by 1 s before and 2 s after. A speed whose
//! mean moves by more than 3 % from 10 s to the next is drifting. A throttle held open at idle speed is a load.
//!
//! # Source
//! Own rules on robust statistics; thresholds are common practice, no source.

use super::grid::Grid;
use crate::stats::robust::{mad_sigma, median, running_median};

/// What a cell of the grid is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cell {
    /// Idle, fit so far.
    Idle,
    /// Steady well above idle, fit so far.
    Raised,
    /// Not fit, with the reason as written in the result.
    Out(&'static str),
}

/// Gates that come from the machine file or the settings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gates {
    /// Idle band, rev/min, where the machine file has one.
    pub idle_rpm: Option<(f64, f64)>,
    /// Speed over idle speed from which steady running counts as raised.
    pub raised_factor: f64,
}

const OFF_RPM: f64 = 60.0;
const STARTING_RPM: f64 = 300.0;
/// Throttle over its closed position from which it is held open, per cent.
const HELD_OPEN_PCT: f64 = 1.5;

/// Idle speed of the recording: the middle of the machine's band, else the lowest speed that was held for at least 10 s
/// or a tenth of the running time. `None` when the engine never ran steadily.
#[must_use]
pub fn idle_speed(grid: &Grid, gates: &Gates, usable: impl Fn(usize) -> bool) -> Option<f64> {
    if let Some((low, high)) = gates.idle_rpm {
        return Some(0.5 * (low + high));
    }
    let reach = grid.cells(1.5);
    let steady: Vec<f64> = (0..grid.len())
        .filter(|&i| usable(i) && grid.rpm[i] > STARTING_RPM)
        .filter(|&i| {
            let (a, b) = (grid.rpm[i.saturating_sub(reach)], grid.rpm[(i + reach).min(grid.len() - 1)]);
            (a - b).abs() < 0.05 * grid.rpm[i]
        })
        .map(|i| grid.rpm[i])
        .collect();
    if steady.len() < grid.cells(3.0) {
        return None;
    }
    let need = (grid.cells(10.0)).min(steady.len() / 2).max(steady.len() / 10);
    let bin = |rpm: f64| (rpm.ln() / 0.06).floor() as i64;
    let mut sorted = steady.clone();
    sorted.sort_by(f64::total_cmp);
    for &low in &sorted {
        let near: Vec<f64> = sorted.iter().copied().filter(|&r| (bin(r) - bin(low)).abs() <= 1).collect();
        if near.len() >= need {
            return median(&near);
        }
    }
    median(&sorted)
}

/// Sorts every cell.
///
/// # Shape
/// One [`Cell`] per grid cell.
#[must_use]
pub fn sort(grid: &Grid, gates: &Gates, idle: Option<f64>) -> Vec<Cell> {
    let has_speed = grid.rpm.iter().any(|r| r.is_finite());
    let mut cells: Vec<Cell> = (0..grid.len())
        .map(|i| {
            let rpm = grid.rpm[i];
            if grid.rows[i] == 0 && !rpm.is_finite() {
                Cell::Out("gap")
            } else if !has_speed {
                Cell::Idle
            } else if !rpm.is_finite() {
                Cell::Out("gap")
            } else if rpm < OFF_RPM {
                Cell::Out("engine-off")
            } else {
                by_speed(rpm, gates, idle)
            }
        })
        .collect();
    starting(grid, &mut cells);
    held_open(grid, &mut cells);
    for regime in [Cell::Idle, Cell::Raised] {
        disturbances(grid, &mut cells, regime);
    }
    cells
}

fn by_speed(rpm: f64, gates: &Gates, idle: Option<f64>) -> Cell {
    if rpm < STARTING_RPM {
        return Cell::Out("starting");
    }
    let Some(idle) = idle else { return Cell::Out("speed") };
    let band = gates.idle_rpm.unwrap_or((0.8 * idle, 1.25 * idle));
    if rpm >= band.0 && rpm <= band.1 {
        Cell::Idle
    } else if rpm > gates.raised_factor * idle {
        Cell::Raised
    } else {
        Cell::Out("speed")
    }
}

/// The five seconds after the engine was started settle and are not judged.
fn starting(grid: &Grid, cells: &mut [Cell]) {
    let reach = grid.cells(5.0);
    let mut left = 0;
    for cell in cells.iter_mut() {
        match cell {
            Cell::Out("engine-off" | "starting") => left = reach,
            _ if left > 0 => {
                left -= 1;
                *cell = Cell::Out("starting");
            }
            _ => {}
        }
    }
}

/// A throttle held open at idle speed carries a load: then the linkage sets the balance, not the idle stops. Closed is the
/// lowest tenth of the idle; an idle control that works the plate itself stays under the bound (common practice, no source).
fn held_open(grid: &Grid, cells: &mut [Cell]) {
    let idle: Vec<usize> = (0..cells.len())
        .filter(|&i| cells[i] == Cell::Idle && grid.throttle.get(i).is_some_and(|t| t.is_finite()))
        .collect();
    let mut sorted: Vec<f64> = idle.iter().map(|&i| grid.throttle[i]).collect();
    sorted.sort_by(f64::total_cmp);
    let Some(closed) = sorted.get(sorted.len() / 10).copied() else { return };
    let settle = grid.cells(2.0);
    for i in idle.into_iter().filter(|&i| grid.throttle[i] > closed + HELD_OPEN_PCT) {
        for cell in cells.iter_mut().take(i + settle + 1).skip(i) {
            if *cell == Cell::Idle {
                *cell = Cell::Out("load");
            }
        }
    }
}

/// Takes blips, load steps and a drifting level out of one regime.
fn disturbances(grid: &Grid, cells: &mut [Cell], regime: Cell) {
    let members: Vec<usize> = (0..cells.len()).filter(|&i| cells[i] == regime).collect();
    if members.len() < 8 {
        return;
    }
    let rpm: Vec<f64> = members.iter().map(|&i| grid.rpm[i]).collect();
    let group: Vec<f64> = members.iter().map(|&i| grid.group_kpa[i]).collect();
    let speed_floor = 0.03 * median(&rpm).unwrap_or(0.0);
    let window = grid.cells(41.0);
    let mut bad = vec![false; members.len()];
    for (series, floor) in [(&rpm, speed_floor), (&group, 1.5)] {
        if series.iter().all(|v| v.is_finite()) {
            excursions(series, floor, window, &mut bad);
            moves(series, floor, grid, &members, &mut bad);
        }
    }
    // Widen, in time, not in member numbers.
    let (before, after) = (grid.cells(1.0), grid.cells(2.0));
    let marked: Vec<usize> = members.iter().zip(&bad).filter(|(_, b)| **b).map(|(i, _)| *i).collect();
    for &i in &marked {
        for cell in cells.iter_mut().take((i + after + 1).min(grid.len())).skip(i.saturating_sub(before)) {
            if *cell == regime {
                *cell = Cell::Out("blip");
            }
        }
    }
    // What the regime loses to a change of speed next to it settles as well.
    edges(grid, cells, regime);
    drifting(grid, cells, regime);
    slides(grid, cells);
}

/// A long disturbance that ends at another speed than it began is a slide, not a blip.
fn slides(grid: &Grid, cells: &mut [Cell]) {
    let (long, reach) = (grid.cells(8.0), grid.cells(2.0));
    let mut i = 0;
    while i < cells.len() {
        let start = i;
        while i < cells.len() && cells[i] == cells[start] {
            i += 1;
        }
        if cells[start] != Cell::Out("blip") || i - start < long || start < reach || i + reach > cells.len() {
            continue;
        }
        let before = median(&grid.rpm[start - reach..start]);
        let after = median(&grid.rpm[i..i + reach]);
        if let (Some(a), Some(b)) = (before, after)
            && (b - a).abs() > 0.03 * a
        {
            cells[start..i].fill(Cell::Out("drifting"));
        }
    }
}

fn excursions(series: &[f64], floor: f64, window: usize, bad: &mut [bool]) {
    let level = running_median(series, window | 1);
    let off: Vec<f64> = series.iter().zip(&level).map(|(v, l)| v - l).collect();
    let limit = (5.0 * mad_sigma(&off).unwrap_or(0.0)).max(floor);
    for seed in 0..off.len() {
        if off[seed].abs() <= limit {
            continue;
        }
        let mut grow = |range: &mut dyn Iterator<Item = usize>| {
            for k in range {
                if off[k].abs() < limit / 3.0 {
                    break;
                }
                bad[k] = true;
            }
        };
        grow(&mut (0..=seed).rev());
        grow(&mut (seed..off.len()));
    }
}

/// A level that steps: the means of 3 s before and after differ by more than a third of an excursion and 5 of its own
/// robust standard deviations.
fn moves(series: &[f64], floor: f64, grid: &Grid, members: &[usize], bad: &mut [bool]) {
    let reach = grid.cells(3.0);
    let mut difference = vec![f64::NAN; series.len()];
    let mut sum = vec![0.0; series.len() + 1];
    for (k, v) in series.iter().enumerate() {
        sum[k + 1] = sum[k] + v;
    }
    for k in reach..series.len().saturating_sub(reach) {
        if members[k + reach - 1] - members[k - reach] <= 2 * reach + grid.cells(1.0) {
            difference[k] = (sum[k + reach] - 2.0 * sum[k] + sum[k - reach]) / reach as f64;
        }
    }
    let known: Vec<f64> = difference.iter().copied().filter(|d| d.is_finite()).collect();
    let limit = (5.0 * mad_sigma(&known).unwrap_or(0.0)).max(0.6 * floor);
    for k in 0..series.len() {
        if difference[k].abs() > limit && peak(&difference, k, reach) {
            bad[k.saturating_sub(1)..(k + 2).min(series.len())].fill(true);
        }
    }
}

fn peak(x: &[f64], k: usize, reach: usize) -> bool {
    let range = k.saturating_sub(reach)..(k + reach + 1).min(x.len());
    x[range].iter().all(|v| !v.is_finite() || v.abs() <= x[k].abs())
}

/// Four seconds after and one second before any other speed are not judged: closed throttles and the idle control settle.
fn edges(grid: &Grid, cells: &mut [Cell], regime: Cell) {
    let (before, after) = (grid.cells(1.0), grid.cells(4.0));
    let other: Vec<usize> = (0..cells.len())
        .filter(|&i| matches!(cells[i], Cell::Out("speed")) || (regime != cells[i] && is_regime(cells[i])))
        .collect();
    for i in other {
        for cell in cells.iter_mut().take((i + after + 1).min(grid.len())).skip(i.saturating_sub(before)) {
            if *cell == regime {
                *cell = Cell::Out("blip");
            }
        }
    }
}

fn is_regime(cell: Cell) -> bool {
    matches!(cell, Cell::Idle | Cell::Raised)
}

/// Means of 10 s on either side, without a disturbance between, that differ by more than 3 % or by more than three times
/// what they usually do.
fn drifting(grid: &Grid, cells: &mut [Cell], regime: Cell) {
    let half = grid.cells(10.0);
    let mean = |part: &mut dyn Iterator<Item = usize>, cells: &[Cell]| {
        let (mut sum, mut count) = (0.0, 0usize);
        for k in part.take_while(|&k| cells[k] == regime && grid.rpm[k].is_finite()) {
            sum += grid.rpm[k];
            count += 1;
        }
        (count > half / 2).then(|| sum / count as f64)
    };
    let mut change = Vec::new();
    for i in (0..grid.len()).filter(|&i| cells[i] == regime) {
        let before = mean(&mut (i.saturating_sub(half)..i).rev(), cells);
        let after = mean(&mut (i..(i + half).min(cells.len())), cells);
        if let (Some(a), Some(b)) = (before, after) {
            change.push((i, (b - a) / grid.rpm[i]));
        }
    }
    let usual = mad_sigma(&change.iter().map(|c| c.1).collect::<Vec<_>>()).unwrap_or(0.0);
    for (i, _) in change.into_iter().filter(|c| c.1.abs() > (3.0 * usual).max(0.03)) {
        cells[i] = Cell::Out("drifting");
    }
}
