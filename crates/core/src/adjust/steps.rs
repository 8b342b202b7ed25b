//! Screws turned while recording: steps of one cylinder against the others.
//!
//! # Method
//! Pulse-free blocks of every cylinder, less the mean of all, are cut by one exact optimal partition that all cylinders
//! share (least squares, at least 4 blocks a part, penalty `3 K ln n (1 + r1) / (1 - r1)` in units of the noise variance, so
//! that autocorrelated wander does not pass for steps). A cut counts when the shift of a cylinder against the median shift
//! exceeds the larger of 3 standard uncertainties and a fifth of the limit, and when a step explains the blocks around it better
//! than a straight line does: a slow drift must not come out as a staircase. The cylinder is the one with the largest
//! shift against the median. In a twin both shifts look alike against their mean: there the screw is on the side whose own
//! pressure moved most, and where both moved the same, on the side that moved the way the speed did.
//!
//! # Source
//! R. Killick, P. Fearnhead, I. Eckley, JASA 107 (2012) 1590 (exact partition); thresholds are own rules.

use crate::balance::series::Blocks;
use crate::stats::autocorr::autocorrelation;
use crate::stats::robust::{mad_sigma, median};

/// One step found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// When, s: half way between the blocks on either side.
    pub time_s: f64,
    /// Index of the cylinder.
    pub cylinder: usize,
    /// Shift of its pressure against the others, kPa.
    pub shift_kpa: f64,
    /// Standard uncertainty, kPa.
    pub u_kpa: f64,
}

const LEAST_BLOCKS: usize = 4;

/// Finds steps. `live` are the indices of the cylinders to look at.
#[must_use]
pub fn steps(blocks: &Blocks, live: &[usize], limit_kpa: f64) -> Vec<Step> {
    let whole: Vec<usize> =
        (0..blocks.time_s.len()).filter(|&b| live.iter().all(|&i| blocks.kpa[i][b].is_finite())).collect();
    if live.len() < 2 || whole.len() < 3 * LEAST_BLOCKS {
        return Vec::new();
    }
    let level = |b: usize| live.iter().map(|&i| blocks.kpa[i][b]).sum::<f64>() / live.len() as f64;
    let mut series: Vec<Vec<f64>> =
        live.iter().map(|&i| whole.iter().map(|&b| blocks.kpa[i][b] - level(b)).collect()).collect();
    let noise: Vec<f64> = series.iter().map(|s| noise(s)).collect();
    let r1 = series.iter().map(|s| short_memory(s)).fold(0.0, f64::max).clamp(0.0, 0.9);
    for (s, n) in series.iter_mut().zip(&noise) {
        s.iter_mut().for_each(|v| *v /= n);
    }
    let n = whole.len() as f64;
    let penalty = 3.0 * live.len() as f64 * n.ln() * (1.0 + r1) / (1.0 - r1);
    let channels: Vec<&[f64]> = series.iter().map(Vec::as_slice).collect();
    let Ok(partition) = crate::stats::change_points::partition(&channels, penalty, LEAST_BLOCKS) else {
        return Vec::new();
    };
    let mut cuts = partition.changes;
    // Weakest cut first: taking one out changes its neighbours.
    loop {
        let judged: Vec<Option<Step>> =
            (0..cuts.len()).map(|c| judge(blocks, live, &whole, &cuts, c, limit_kpa, r1)).collect();
        let Some(weak) = judged.iter().position(Option::is_none) else {
            return judged.into_iter().flatten().collect();
        };
        cuts.remove(weak);
    }
}

/// Noise of a series from its first differences; never 0.
fn noise(s: &[f64]) -> f64 {
    let d: Vec<f64> = s.windows(2).map(|w| w[1] - w[0]).collect();
    let robust = mad_sigma(&d).unwrap_or(0.0) / std::f64::consts::SQRT_2;
    let plain = (d.iter().map(|v| v * v).sum::<f64>() / (2.0 * d.len().max(1) as f64)).sqrt();
    robust.max(0.3 * plain).max(1e-4)
}

/// Lag-one correlation of a series after a running median took steps and drift out.
fn short_memory(s: &[f64]) -> f64 {
    let level = crate::stats::robust::running_median(s, 15);
    let rest: Vec<f64> = s.iter().zip(&level).map(|(v, l)| v - l).collect();
    // The running median takes part of the memory with it; a small allowance gives it back.
    autocorrelation(&rest, 1).unwrap_or(0.0) + 0.1
}

fn judge(
    blocks: &Blocks,
    live: &[usize],
    whole: &[usize],
    cuts: &[usize],
    c: usize,
    limit_kpa: f64,
    r1: f64,
) -> Option<Step> {
    let from = if c == 0 { 0 } else { cuts[c - 1] };
    let to = cuts.get(c + 1).copied().unwrap_or(whole.len());
    let (before, after) = (&whole[from..cuts[c]], &whole[cuts[c]..to]);
    let mean = |i: usize, at: &[usize]| at.iter().map(|&b| blocks.kpa[i][b]).sum::<f64>() / at.len() as f64;
    let shift: Vec<f64> = live.iter().map(|&i| mean(i, after) - mean(i, before)).collect();
    let middle = median(&shift)?;
    let pick = if live.len() == 2 { twin(blocks, &shift, before, after) } else { largest(&shift, middle) };
    let moved = if live.len() == 2 { shift[pick] - shift[1 - pick] } else { shift[pick] - middle };
    let series: Vec<f64> =
        whole[from..to].iter().map(|&b| blocks.kpa[live[pick]][b] - others(blocks, live, pick, b)).collect();
    let split = cuts[c] - from;
    let sd = noise(&series);
    let inflate = ((1.0 + r1) / (1.0 - r1)).sqrt();
    let u = sd * inflate * (1.0 / before.len() as f64 + 1.0 / after.len() as f64).sqrt();
    let big = moved.abs() > (3.0 * u).max(limit_kpa / 5.0);
    (big && step_beats_line(&series, split)).then(|| Step {
        time_s: 0.5 * (blocks.time_s[before[before.len() - 1]] + blocks.time_s[after[0]]),
        cylinder: live[pick],
        shift_kpa: moved,
        u_kpa: u,
    })
}

fn others(blocks: &Blocks, live: &[usize], pick: usize, b: usize) -> f64 {
    let rest: Vec<f64> =
        live.iter().enumerate().filter(|(n, _)| *n != pick).map(|(_, &i)| blocks.kpa[i][b]).collect();
    median(&rest).unwrap_or(0.0)
}

fn largest(shift: &[f64], middle: f64) -> usize {
    (0..shift.len())
        .max_by(|&a, &b| (shift[a] - middle).abs().total_cmp(&(shift[b] - middle).abs()))
        .unwrap_or(0)
}

/// Which of two cylinders was turned.
fn twin(blocks: &Blocks, shift: &[f64], before: &[usize], after: &[usize]) -> usize {
    let speed = |at: &[usize]| at.iter().map(|&b| blocks.rpm[b]).sum::<f64>() / at.len() as f64;
    let faster = speed(after) - speed(before);
    let (a, b) = (shift[0].abs(), shift[1].abs());
    if a > 1.5 * b {
        0
    } else if b > 1.5 * a || !faster.is_finite() {
        usize::from(b > a)
    } else {
        // Opening raises its own pressure and the speed; closing lowers both.
        usize::from(shift[1] * faster > shift[0] * faster)
    }
}

/// Whether two levels explain a series better than one straight line.
fn step_beats_line(y: &[f64], split: usize) -> bool {
    let n = y.len() as f64;
    let rss_level = |part: &[f64]| {
        let m = part.iter().sum::<f64>() / part.len() as f64;
        part.iter().map(|v| (v - m) * (v - m)).sum::<f64>()
    };
    let step = rss_level(&y[..split]) + rss_level(&y[split..]);
    let (mx, my) = ((n - 1.0) / 2.0, y.iter().sum::<f64>() / n);
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for (k, v) in y.iter().enumerate() {
        sxx += (k as f64 - mx).powi(2);
        sxy += (k as f64 - mx) * (v - my);
    }
    let line: f64 = y.iter().enumerate().map(|(k, v)| (v - my - sxy / sxx * (k as f64 - mx)).powi(2)).sum();
    // A line through a clean step leaves a quarter of its variance; through a ramp it leaves the noise.
    step < 0.8 * line
}
