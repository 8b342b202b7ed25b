//! Screws turned while recording: steps of one cylinder against the others.
//!
//! # Method
//! Pulse-free blocks of every cylinder, less the mean of all, are cut by one exact optimal partition that all cylinders
//! share (least squares, at least 4 blocks a part, penalty `3 K ln n (1 + r1) / (1 - r1)` in units of the noise variance, so
//! that autocorrelated wander does not pass for steps). A cut counts when the shift of a cylinder against the median shift
//! exceeds the larger of 4 standard uncertainties and a fifth of the limit, and when a step explains the blocks around it better
//! than a straight line does: a slow drift must not come out as a staircase. The cylinder is the one with the largest
//! shift against the median. In a twin both shifts look alike against their mean: there the screw is on the side that moved
//! the way the speed did and, where the speed was held, on the side whose own pressure moved most. A smaller step of the same
//! cylinder within 8 s is part of the same turn.
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
    /// Centres of the last block before and the first one after, s; far apart where the turn itself was left out as a
    /// disturbance.
    pub between_s: (f64, f64),
    /// Pressure of the cylinder against the others before and after, kPa.
    pub levels_kpa: (f64, f64),
}

/// Places a step inside the disturbance that it made: where the blocks in it change over from one level to the other.
pub fn place(step: &mut Step, inside: &Blocks, live: &[usize]) {
    let Some(pick) = live.iter().position(|&i| i == step.cylinder) else { return };
    let (low, high) = step.levels_kpa;
    let mut cost: f64 = 0.0;
    let mut best = (0.0, step.between_s.0 + 0.5 * inside.length_s);
    for (b, t) in inside.time_s.iter().enumerate() {
        let y = inside.kpa[step.cylinder][b] - others(inside, live, pick, b);
        if y.is_finite() {
            cost += (y - low).powi(2) - (y - high).powi(2);
            if cost < best.0 {
                best = (cost, t + 0.5 * inside.length_s);
            }
        }
    }
    step.time_s = best.1;
}

const LEAST_BLOCKS: usize = 4;
/// Steps of one cylinder closer together than this may be one turn, s.
const SETTLES_S: f64 = 8.0;

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
        if let Some(weak) = judged.iter().position(Option::is_none) {
            cuts.remove(weak);
            continue;
        }
        let found: Vec<Step> = judged.into_iter().flatten().collect();
        let Some(part) = part_of_a_neighbour(&found) else { return found };
        cuts.remove(part);
    }
}

/// A screw turned over some seconds, or a speed that settles after the turn, looks like a second and smaller step of the
/// same cylinder in the same direction: it belongs to its neighbour.
fn part_of_a_neighbour(found: &[Step]) -> Option<usize> {
    found
        .windows(2)
        .position(|w| {
            w[0].cylinder == w[1].cylinder
                && w[0].shift_kpa * w[1].shift_kpa > 0.0
                && w[1].time_s - w[0].time_s < SETTLES_S
        })
        .and_then(|k| {
            let (a, b) = (found[k].shift_kpa.abs(), found[k + 1].shift_kpa.abs());
            (a.min(b) < 0.5 * a.max(b)).then_some(if a < b { k } else { k + 1 })
        })
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
    // Slow wander passes the difference of neighbours; what the levels leave over the whole recording shows it.
    let u_one = (sd * inflate).max(left_over(blocks, live, pick, whole, cuts));
    let u = u_one * (1.0 / before.len() as f64 + 1.0 / after.len() as f64).sqrt();
    // The best of many places for a cut: by chance alone the largest of a hundred is near 3 u.
    let big = moved.abs() > (4.0 * u).max(limit_kpa / 5.0);
    (big && step_beats_line(&series, split)).then(|| Step {
        time_s: 0.5 * (blocks.time_s[before[before.len() - 1]] + blocks.time_s[after[0]]),
        between_s: (blocks.time_s[before[before.len() - 1]], blocks.time_s[after[0]]),
        levels_kpa: (
            series[..split].iter().sum::<f64>() / split as f64,
            series[split..].iter().sum::<f64>() / (series.len() - split) as f64,
        ),
        cylinder: live[pick],
        shift_kpa: moved,
        u_kpa: u,
    })
}

/// Standard deviation of one cylinder against the others about the levels between all cuts, widened for its lag-one
/// correlation: the standard uncertainty of a single block.
fn left_over(blocks: &Blocks, live: &[usize], pick: usize, whole: &[usize], cuts: &[usize]) -> f64 {
    let y: Vec<f64> =
        whole.iter().map(|&b| blocks.kpa[live[pick]][b] - others(blocks, live, pick, b)).collect();
    let mut rest = Vec::with_capacity(y.len());
    let mut from = 0;
    for to in cuts.iter().copied().chain([y.len()]) {
        let level = y[from..to].iter().sum::<f64>() / (to - from).max(1) as f64;
        rest.extend(y[from..to].iter().map(|v| v - level));
        from = to;
    }
    let r = autocorrelation(&rest, 1).unwrap_or(0.0).clamp(0.0, 0.9);
    crate::stats::moments::sd(&rest).unwrap_or(0.0) * ((1.0 + r) / (1.0 - r)).sqrt()
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

/// Which of two cylinders was turned: opening raises its own pressure against the other's and the speed, closing lowers
/// both. Where the speed is held (idle control) the one that moved more. The other one moves too, and in a twin by as much.
fn twin(blocks: &Blocks, shift: &[f64], before: &[usize], after: &[usize]) -> usize {
    let speed = |at: &[usize]| {
        let v: Vec<f64> = at.iter().map(|&b| blocks.rpm[b]).collect();
        let mean = v.iter().sum::<f64>() / v.len() as f64;
        (mean, crate::stats::moments::sd(&v).unwrap_or(f64::NAN).powi(2) / v.len() as f64)
    };
    let ((slow, a), (fast, b)) = (speed(before), speed(after));
    let (faster, u) = (fast - slow, (a + b).sqrt());
    if faster.abs() > (4.0 * u).max(0.004 * slow) {
        return usize::from((shift[0] - shift[1]) * faster < 0.0);
    }
    usize::from(shift[1].abs() > shift[0].abs())
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
