//! Where does the level of a series jump?
//!
//! A partition into segments with constant means minimises
//! `sum over channels and segments of sum (x - segment mean)^2 + penalty * (number of jumps)`.
//!
//! * [`partition`]: exact optimum by dynamic programming with pruning (PELT: Killick, Fearnhead & Eckley, JASA 107 (2012)
//!   1590-1598); several channels share their jumps, their costs are added;
//! * [`best_partitions`]: exact optimum for every number of jumps up to a maximum (Bai & Perron, J. Appl. Econ. 18
//!   (2003) 1-22), without penalty;
//! * [`cusum_change`]: the one jump by the largest `|S_k|`, `S_k = sum_{i<=k} (x_i - mean)`; [`sup_f`]: the one jump by
//!   the largest F statistic.
//!
//! With a minimum segment length, a candidate may be dropped only once the better one is long enough itself; pruning at
//! once, as often done, misses the optimum. Jumps are given as the 0-based index of the first sample of the new level.
//! Missing values keep their place and add no cost. A ramp comes out as a staircase: test it against steps first.

mod dense;

use super::error::StatsError;
use super::robust::mad_sigma;

/// Segments of one or several series with common jumps.
#[derive(Debug, Clone, PartialEq)]
pub struct Partition {
    /// First sample of every new level, rising; empty if there is no jump.
    pub changes: Vec<usize>,
    /// Sum of squares left, over all channels.
    pub sse: f64,
    /// `sse + penalty * changes.len()`.
    pub objective: f64,
}

impl Partition {
    /// Start and end (exclusive) of every segment of a series of `n` samples.
    pub fn segments(&self, n: usize) -> Vec<(usize, usize)> {
        let mut edges = vec![0];
        edges.extend(&self.changes);
        edges.push(n);
        edges.windows(2).map(|w| (w[0], w[1])).collect()
    }
}

/// Running sums of every channel about its mean: cost of any segment in constant time.
struct Costs {
    n: usize,
    channels: usize,
    /// Per place and channel: usable count, sum, sum of squares up to there.
    sums: Vec<[f64; 3]>,
}

impl Costs {
    fn new<C: AsRef<[f64]>>(channels: &[C], min_len: usize) -> Result<Self, StatsError> {
        let n = channels.first().map_or(0, |c| c.as_ref().len());
        for c in channels {
            if c.as_ref().len() != n {
                return Err(StatsError::LengthMismatch {
                    what: "channels",
                    left: n,
                    right: c.as_ref().len(),
                });
            }
        }
        if n < min_len.max(1) {
            return Err(StatsError::TooFew { method: "change points", needed: min_len.max(1), found: n });
        }
        let k = channels.len();
        let mut sums = vec![[0.0; 3]; (n + 1) * k];
        for (c, channel) in channels.iter().enumerate() {
            let x = channel.as_ref();
            let centre = super::moments::mean(x).unwrap_or(0.0);
            let mut run = [0.0; 3];
            for (i, v) in x.iter().enumerate() {
                if v.is_finite() {
                    let d = v - centre;
                    run = [run[0] + 1.0, run[1] + d, run[2] + d * d];
                }
                sums[(i + 1) * k + c] = run;
            }
        }
        Ok(Self { n, channels: k, sums })
    }

    /// Sum of squares about the segment means of samples `a..b`, over all channels.
    fn cost(&self, a: usize, b: usize) -> f64 {
        let k = self.channels;
        let (from, to) = (&self.sums[a * k..(a + 1) * k], &self.sums[b * k..(b + 1) * k]);
        let mut total = 0.0;
        for (f, t) in from.iter().zip(to) {
            let count = t[0] - f[0];
            if count > 0.0 {
                let sum = t[1] - f[1];
                total += (t[2] - f[2] - sum * sum / count).max(0.0);
            }
        }
        total
    }

    /// Whether nothing is missing.
    fn is_dense(&self) -> bool {
        self.sums[self.n * self.channels..].iter().all(|run| run[0] == self.n as f64)
    }

    /// Sum of each channel up to a place, and the sum of squares of all.
    fn up_to(&self, at: usize) -> (impl Iterator<Item = f64> + '_, f64) {
        let place = &self.sums[at * self.channels..(at + 1) * self.channels];
        (place.iter().map(|run| run[1]), place.iter().map(|run| run[2]).sum())
    }

    fn finish(&self, changes: Vec<usize>, penalty: f64) -> Partition {
        let mut p = Partition { changes, sse: 0.0, objective: 0.0 };
        p.sse = p.segments(self.n).iter().map(|&(a, b)| self.cost(a, b)).sum();
        p.objective = if p.changes.is_empty() { p.sse } else { p.sse + penalty * p.changes.len() as f64 };
        p
    }
}

/// Exact optimal partition with a penalty per jump.
///
/// # Shape
/// `channels`: one slice per channel, all of one length; a jump is common to all. Scale the channels beforehand if their
/// noise differs. `min_len`: samples in the shortest segment (at least 1).
///
/// # Errors
/// `LengthMismatch`; `TooFew` for fewer samples than `min_len`; `Parameter` for a penalty that is negative or missing.
pub fn partition<C: AsRef<[f64]>>(
    channels: &[C],
    penalty: f64,
    min_len: usize,
) -> Result<Partition, StatsError> {
    if penalty.is_nan() || penalty < 0.0 {
        return Err(StatsError::Parameter { name: "penalty", value: penalty, rule: "must not be negative" });
    }
    let costs = Costs::new(channels, min_len)?;
    let (n, m) = (costs.n, min_len.max(1));
    let last = if costs.is_dense() {
        dense::last_starts(&costs, penalty, m)
    } else {
        last_starts(&costs, penalty, m)
    };
    let mut changes = Vec::new();
    let mut t = last[n];
    while t > 0 {
        changes.push(t);
        t = last[t];
    }
    changes.reverse();
    Ok(costs.finish(changes, penalty))
}

/// Start of the last segment of the optimum up to each place.
fn last_starts(costs: &Costs, penalty: f64, m: usize) -> Vec<usize> {
    let n = costs.n;
    // best[t]: optimum of the first t samples, plus one penalty per segment; last[t]: start of its last segment.
    let mut best = vec![f64::INFINITY; n + 1];
    let mut last = vec![0; n + 1];
    best[0] = 0.0;
    // Candidate starts with the time from which they can no longer win.
    let mut alive: Vec<(usize, usize)> = vec![(0, usize::MAX)];
    let mut so_far: Vec<f64> = Vec::new();
    for t in m..=n {
        if t >= 2 * m {
            alive.push((t - m, usize::MAX));
        }
        alive.retain(|&(_, dies)| dies > t);
        so_far.clear();
        for &(s, _) in &alive {
            let cost = best[s] + costs.cost(s, t);
            so_far.push(cost);
            if cost + penalty < best[t] {
                (best[t], last[t]) = (cost + penalty, s);
            }
        }
        for ((_, dies), cost) in alive.iter_mut().zip(&so_far) {
            if *dies == usize::MAX && *cost > best[t] {
                *dies = t + m;
            }
        }
    }
    last
}

/// Exact optimal partitions with 0, 1, ... `max_changes` jumps (fewer if the series is too short for more).
///
/// Time `O(max_changes n^2)`: for up to a few thousand samples.
///
/// # Errors
/// `LengthMismatch`; `TooFew` for fewer samples than `min_len`.
pub fn best_partitions<C: AsRef<[f64]>>(
    channels: &[C],
    max_changes: usize,
    min_len: usize,
) -> Result<Vec<Partition>, StatsError> {
    let costs = Costs::new(channels, min_len)?;
    let (n, m) = (costs.n, min_len.max(1));
    let mut level: Vec<f64> =
        (0..=n).map(|t| if t >= m { costs.cost(0, t) } else { f64::INFINITY }).collect();
    let mut back: Vec<Vec<usize>> = Vec::new();
    let mut out = vec![costs.finish(Vec::new(), 0.0)];
    for k in 1..=max_changes {
        if (k + 1).saturating_mul(m) > n {
            break;
        }
        let mut next = vec![f64::INFINITY; n + 1];
        let mut from = vec![0; n + 1];
        for t in (k + 1) * m..=n {
            for (s, before) in level.iter().enumerate().take(t - m + 1).skip(k * m) {
                let total = before + costs.cost(s, t);
                if total < next[t] {
                    (next[t], from[t]) = (total, s);
                }
            }
        }
        level = next;
        back.push(from);
        let (mut changes, mut t) = (Vec::new(), n);
        for from in back.iter().rev() {
            t = from[t];
            changes.push(t);
        }
        changes.reverse();
        out.push(costs.finish(changes, 0.0));
    }
    Ok(out)
}

/// One jump found without a model of the noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SingleChange {
    /// First sample of the new level.
    pub index: usize,
    /// Largest value of the statistic.
    pub statistic: f64,
}

/// The jump at which `|S_k|` is largest. `None` for fewer than two usable values or a constant series.
///
/// Missing values add nothing to `S_k`.
pub fn cusum_change(x: &[f64]) -> Option<SingleChange> {
    let m = super::moments::moments(x).filter(|m| m.n > 1 && m.sd > 0.0)?;
    let (mut sum, mut best) = (0.0, SingleChange { index: 0, statistic: 0.0 });
    for (i, v) in x.iter().enumerate().take(x.len() - 1).filter(|(_, v)| v.is_finite()) {
        sum += v - m.mean;
        if sum.abs() > best.statistic {
            best = SingleChange { index: i + 1, statistic: sum.abs() };
        }
    }
    (best.index > 0).then_some(best)
}

/// The jump with the largest `F = (RSS0 - RSS1) / (RSS1 / (n - 2))`, both segments at least `min_len` long.
///
/// `None` if the series is too short, or has fewer than three usable values.
pub fn sup_f(x: &[f64], min_len: usize) -> Option<SingleChange> {
    let usable = x.iter().filter(|v| v.is_finite()).count();
    let costs = Costs::new(&[x], min_len).ok().filter(|_| usable > 2)?;
    let m = min_len.max(1);
    let whole = costs.cost(0, costs.n);
    (m..=costs.n.checked_sub(m)?)
        .filter(|&t| t < costs.n)
        .map(|t| {
            let split = costs.cost(0, t) + costs.cost(t, costs.n);
            SingleChange { index: t, statistic: (whole - split) / (split / (usable as f64 - 2.0)) }
        })
        .filter(|c| !c.statistic.is_nan())
        .reduce(|a, b| if b.statistic > a.statistic { b } else { a })
}

/// Noise of a series that may jump: `MAD sigma of the first differences / sqrt 2`. `None` without two neighbours.
pub fn difference_sigma(x: &[f64]) -> Option<f64> {
    let d: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    mad_sigma(&d).map(|s| s / 2f64.sqrt())
}

/// Penalty per jump, `factor * variance * channels * ln n * (1 + r1)/(1 - r1)`: 2 to 3 is the usual factor; `r1` is the
/// lag-one autocorrelation of the noise (0 for independent noise, negative values count as 0, at most 0.98).
pub fn step_penalty(factor: f64, variance: f64, channels: usize, n: usize, r1: f64) -> f64 {
    let r = if r1.is_nan() { 0.0 } else { r1.clamp(0.0, 0.98) };
    factor * variance * channels as f64 * (n.max(2) as f64).ln() * (1.0 + r) / (1.0 - r)
}

#[cfg(test)]
#[path = "change_points_tests.rs"]
mod tests;
