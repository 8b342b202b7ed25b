//! One pass of holding the phase on the pulses: blocks moved towards a common waveform.

use pulp::{Arch, NullaryFnOnce};
use rayon::prelude::*;

use super::super::harmonics::tile::{Part, Tile};
use super::super::harmonics::turns::{Lane, ROWS, turn};
use super::super::harmonics::{self, Design, Fit, Readings};
use super::{LOCK_HARMONICS, PRIOR_CYCLE, Signal};

/// One Gauss-Newton pass towards a common waveform: how far to turn at which times, and the share of variance that the
/// waveform explains. `None` where the blocks are too short for the row rate: they would explain noise, not pulses.
pub(super) fn refine(
    time_s: &[f64],
    phases: &[f64],
    signals: &[Signal<'_>],
    rows: &[usize],
    blocks: &[(usize, usize)],
) -> Option<(Vec<(f64, f64)>, f64)> {
    let design = Design { harmonics: LOCK_HARMONICS };
    let channels: Vec<Readings<'_>> =
        signals.iter().map(|s| Readings { values: s.values, weights: s.weights, prior_sd: None }).collect();
    let fits = harmonics::fit(design, phases, &channels, rows);
    let looked: Vec<Vec<Looked>> = blocks
        .par_iter()
        .map(|&(a, b)| {
            Arch::new().dispatch(Look { phases, channels: &channels, fits: &fits, rows: &rows[a..b] })
        })
        .collect();
    let noise: Vec<f64> = (0..signals.len()).map(|at| noise(looked.iter().map(|block| &block[at]))).collect();
    let mut knots = Vec::with_capacity(blocks.len());
    let (mut total, mut left, mut readings) = (0.0, 0.0, 0.0);
    for (&(a, b), block) in blocks.iter().zip(&looked) {
        let (mut gg, mut gr) = (0.0, 0.0);
        for (one, noise) in block.iter().zip(&noise) {
            gg += one.slopes / noise;
            gr += one.slope_rest / noise;
            total += one.total / noise;
            left += one.left / noise;
            readings += one.readings;
        }
        let step = gr / (gg + 1.0 / (PRIOR_CYCLE * PRIOR_CYCLE));
        knots.push((0.5 * (time_s[rows[a]] + time_s[rows[b - 1]]), step.clamp(-0.1, 0.1)));
    }
    // What a waveform and an offset a block explain by chance does not count.
    let free =
        (signals.len() * (2 * LOCK_HARMONICS + 1)) as f64 + (1 + signals.len()) as f64 * blocks.len() as f64;
    if total <= 0.0 || readings <= 2.0 * free {
        return None;
    }
    let strength = 1.0 - left / total * readings / (readings - free);
    (strength > 0.0).then_some((knots, strength))
}

/// Variance inside the blocks that the waveform leaves of a channel: slow movement of the level is not noise here.
fn noise<'a>(blocks: impl Iterator<Item = &'a Looked>) -> f64 {
    let (left, readings) =
        blocks.fold((0.0, 0.0), |(left, n), block| (left + block.left, n + block.readings));
    if readings > 0.0 { (left / readings).max(1e-12) } else { 1.0 }
}

/// What one block of one channel says about its phase, its level taken off.
#[derive(Debug, Clone, Copy, Default)]
struct Looked {
    /// Sum of the squared slopes of the waveform.
    slopes: f64,
    /// Sum of the slopes times what the waveform leaves.
    slope_rest: f64,
    /// Sum of squares of the readings.
    total: f64,
    /// Sum of squares of what the waveform leaves.
    left: f64,
    readings: f64,
}

/// Looks at one block of every channel.
struct Look<'a> {
    phases: &'a [f64],
    channels: &'a [Readings<'a>],
    fits: &'a [Option<Fit>],
    rows: &'a [usize],
}

impl NullaryFnOnce for Look<'_> {
    type Output = Vec<Looked>;

    #[inline(always)]
    #[allow(clippy::needless_range_loop)]
    fn call(self) -> Vec<Looked> {
        let mut sums = vec![BlockSums::default(); self.channels.len()];
        let (mut cycles, mut sine, mut cosine) = ([0.0; ROWS], [0.0; ROWS], [0.0; ROWS]);
        let (mut tile, mut part) = (Tile::NONE, Part::NONE);
        let mut rows = self.rows.iter().copied();
        loop {
            tile.fill(&mut rows);
            if tile.used == 0 {
                break;
            }
            tile.take(self.phases, &mut cycles);
            turn(&cycles, &mut sine, &mut cosine);
            for i in 0..sums.len() {
                let Some(fit) = &self.fits[i] else { continue };
                part.set(&self.channels[i], fit.mean, &tile);
                sums[i].add(&part, fit, &sine, &cosine);
            }
        }
        sums.iter().map(BlockSums::about_their_level).collect()
    }
}

/// Sums over one block of one channel, one for each place of a tile; readings count from the mean of the fit, so that they
/// stay small.
#[derive(Debug, Clone, Copy, Default)]
struct BlockSums {
    n: Lane,
    w: Lane,
    /// Weighted sum of the rest.
    wr: Lane,
    r: Lane,
    rr: Lane,
    y: Lane,
    yy: Lane,
    g: Lane,
    gg: Lane,
    gr: Lane,
}

impl BlockSums {
    #[inline(always)]
    #[allow(clippy::needless_range_loop)]
    fn add(&mut self, part: &Part, fit: &Fit, sine: &Lane, cosine: &Lane) {
        let (mut c, mut s) = (*cosine, *sine);
        let (mut value, mut slope) = ([0.0; ROWS], [0.0; ROWS]);
        for (m, (a, b)) in fit.waves.iter().enumerate() {
            let size = (m + 1) as f64 * std::f64::consts::TAU;
            for j in 0..ROWS {
                value[j] += a * c[j] + b * s[j];
                slope[j] += size * (b * c[j] - a * s[j]);
                let (next_c, next_s) = (c[j] * cosine[j] - s[j] * sine[j], s[j] * cosine[j] + c[j] * sine[j]);
                (c[j], s[j]) = (next_c, next_s);
            }
        }
        for j in 0..ROWS {
            let y = part.rest[j];
            let (r, g) = (part.reads[j] * (y - value[j]), part.reads[j] * slope[j]);
            self.n[j] += part.reads[j];
            self.w[j] += part.weights[j];
            self.wr[j] += part.weights[j] * r;
            self.r[j] += r;
            self.rr[j] += r * r;
            self.y[j] += y;
            self.yy[j] += y * y;
            self.g[j] += g;
            self.gg[j] += g * g;
            self.gr[j] += g * r;
        }
    }

    /// The sums with the slow level taken off: the mean of what the waveform leaves.
    fn about_their_level(&self) -> Looked {
        let sum = |lane: &Lane| lane.iter().sum::<f64>();
        let (w, n) = (sum(&self.w), sum(&self.n));
        let level = if w > 0.0 { sum(&self.wr) / w } else { 0.0 };
        let about = |sum: f64, squares: f64| (squares - 2.0 * level * sum + n * level * level).max(0.0);
        Looked {
            slopes: sum(&self.gg),
            slope_rest: sum(&self.gr) - level * sum(&self.g),
            total: about(sum(&self.y), sum(&self.yy)),
            left: about(sum(&self.r), sum(&self.rr)),
            readings: n,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The naive twin goes over the rows of each channel four times: level, rest, slope, sums.
    #[test]
    fn one_pass_is_as_four() {
        let n = 500;
        let phases: Vec<f64> = (0..n).map(|k| k as f64 * 0.0371 + 0.01 * (k as f64 * 0.1).sin()).collect();
        let pulse = |k: usize, a: f64| a * (std::f64::consts::TAU * phases[k]).cos();
        let wander = |k: usize| 0.4 * (k as f64 * 0.013).sin();
        let first: Vec<f64> = (0..n).map(|k| 40.0 + pulse(k, 6.0) + wander(k)).collect();
        let mut second: Vec<f64> = (0..n).map(|k| 43.0 + pulse(k, 3.0) - wander(k)).collect();
        second[50..90].fill(f64::NAN);
        let even = vec![0.01; n];
        let uneven: Vec<f64> =
            (0..n).map(|k| if k % 3 == 0 { 0.0 } else { 0.01 + 0.001 * (k % 5) as f64 }).collect();
        let channels = [(&first, &even), (&second, &uneven)].map(|(values, weights)| Readings {
            values,
            weights,
            prior_sd: Some(5.0),
        });
        let rows: Vec<usize> = (0..n).collect();
        let fits = harmonics::fit(Design { harmonics: 4 }, &phases, &channels, &rows);
        let block = &rows[30..347];
        let found =
            Arch::new().dispatch(Look { phases: &phases, channels: &channels, fits: &fits, rows: block });
        for ((channel, fit), found) in channels.iter().zip(&fits).zip(&found) {
            let Some(fit) = fit else { panic!("no fit") };
            let read: Vec<usize> = block
                .iter()
                .copied()
                .filter(|k| channel.weights[*k] > 0.0 && channel.values[*k].is_finite())
                .collect();
            let weight: f64 = read.iter().map(|k| channel.weights[*k]).sum();
            let left = |k: usize| channel.values[k] - fit.pulse_and_slope(phases[k]).0;
            let level = read.iter().map(|k| channel.weights[*k] * left(*k)).sum::<f64>() / weight;
            let slope = |k: usize| fit.pulse_and_slope(phases[k]).1;
            let sum = |f: &dyn Fn(usize) -> f64| read.iter().map(|k| f(*k)).sum::<f64>();
            for (found, want) in [
                (found.slopes, sum(&|k| slope(k).powi(2))),
                (found.slope_rest, sum(&|k| slope(k) * (left(k) - level))),
                (found.total, sum(&|k| (channel.values[k] - level).powi(2))),
                (found.left, sum(&|k| (left(k) - level).powi(2))),
                (found.readings, read.len() as f64),
            ] {
                assert!((found - want).abs() < 1e-8 * want.abs().max(1.0), "{found} {want}");
            }
        }
    }
}
