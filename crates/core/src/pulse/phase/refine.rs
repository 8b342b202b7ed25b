//! One pass of holding the phase on the pulses: blocks moved towards a common waveform.

use rayon::prelude::*;

use super::super::harmonics::{self, Design, Readings};
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
    // One sine and cosine a row serves all channels and all passes over them.
    let turned: Vec<(f64, f64)> = rows.par_iter().map(|&k| harmonics::turned(phases[k])).collect();
    let noise = block_noise(&turned, signals, &fits, rows, blocks);
    let sums: Vec<BlockSums> =
        blocks.par_iter().map(|&block| block_sums(block, &turned, signals, &fits, &noise, rows)).collect();
    let mut knots = Vec::with_capacity(blocks.len());
    let (mut total, mut left, mut readings) = (0.0, 0.0, 0.0);
    for (&(a, b), sum) in blocks.iter().zip(&sums) {
        let step = sum.gr / (sum.gg + 1.0 / (PRIOR_CYCLE * PRIOR_CYCLE));
        knots.push((0.5 * (time_s[rows[a]] + time_s[rows[b - 1]]), step.clamp(-0.1, 0.1)));
        total += sum.total;
        left += sum.left;
        readings += sum.readings;
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

/// What one block says about its phase.
#[derive(Debug, Clone, Copy, Default)]
struct BlockSums {
    gg: f64,
    gr: f64,
    total: f64,
    left: f64,
    readings: f64,
}

fn block_sums(
    (a, b): (usize, usize),
    turned: &[(f64, f64)],
    signals: &[Signal<'_>],
    fits: &[Option<harmonics::Fit>],
    noise: &[f64],
    rows: &[usize],
) -> BlockSums {
    let mut sum = BlockSums::default();
    for ((s, fit), noise) in signals.iter().zip(fits).zip(noise) {
        let Some(fit) = fit else { continue };
        let level = block_level(&turned[a..b], s, fit, &rows[a..b]);
        for (&k, &phase) in rows[a..b].iter().zip(&turned[a..b]) {
            let y = s.values[k];
            if s.weights[k] <= 0.0 || !y.is_finite() {
                continue;
            }
            let (value, slope) = fit.at(phase);
            let r = y - level - value;
            sum.gg += slope * slope / noise;
            sum.gr += slope * r / noise;
            sum.total += (y - level) * (y - level) / noise;
            sum.left += r * r / noise;
            sum.readings += 1.0;
        }
    }
    sum
}

/// Variance inside the blocks that the waveform leaves, per channel: slow movement of the level is not noise here.
fn block_noise(
    turned: &[(f64, f64)],
    signals: &[Signal<'_>],
    fits: &[Option<harmonics::Fit>],
    rows: &[usize],
    blocks: &[(usize, usize)],
) -> Vec<f64> {
    let one = |s: &Signal<'_>, fit: &harmonics::Fit| {
        let (mut sum, mut n) = (0.0, 0.0);
        for &(a, b) in blocks {
            let level = block_level(&turned[a..b], s, fit, &rows[a..b]);
            for (&k, &phase) in rows[a..b].iter().zip(&turned[a..b]) {
                if s.weights[k] > 0.0 && s.values[k].is_finite() {
                    let r = s.values[k] - level - fit.at(phase).0;
                    sum += r * r;
                    n += 1.0;
                }
            }
        }
        if n > 0.0 { (sum / n).max(1e-12) } else { 1.0 }
    };
    signals.par_iter().zip(fits).map(|(s, f)| f.as_ref().map_or(1.0, |f| one(s, f))).collect()
}

/// Mean of what the waveform leaves over a block: the slow level of the channel there.
fn block_level(turned: &[(f64, f64)], s: &Signal<'_>, fit: &harmonics::Fit, rows: &[usize]) -> f64 {
    let (mut w, mut sum) = (0.0, 0.0);
    for (&k, &phase) in rows.iter().zip(turned) {
        if s.weights[k] > 0.0 && s.values[k].is_finite() {
            w += s.weights[k];
            sum += s.weights[k] * (s.values[k] - fit.at(phase).0);
        }
    }
    if w > 0.0 { sum / w } else { fit.mean }
}
