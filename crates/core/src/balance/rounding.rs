//! What the step of the logged values leaves open in a mean.

use std::ops::Range;

use crate::prepare::Cylinder;
use crate::pulse::harmonics::Fit;

/// How far the values of a channel spread over its steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpreadOfValues {
    /// Standard deviation of the values, kPa.
    pub sd: f64,
    /// Standard deviation of what the waveform leaves, kPa.
    pub noise_sd: f64,
    /// Share of the values that sit on the two most frequent steps.
    pub two_steps: f64,
    /// How much more of these sit on one of the two than on the other: 0 evenly on both, 1 all on one.
    pub lean: f64,
}

/// Rounding error of a mean, kPa.
///
/// `q / sqrt 12` while all values sit on one step. On two steps, a share `p` on the more frequent one: with noise that is
/// symmetric the true mean lies between their middle (no noise) and the mean of the rounded values (much noise), so the
/// error is at most `q (p - 1/2)`, and `q (2 p - 1) / sqrt 12` its standard uncertainty. Beyond, noise of standard deviation `s` leaves
/// `q / (pi sqrt 2) exp(-2 pi^2 s^2 / q^2)` (first term of the characteristic function at `1/q`, root mean square over where
/// the mean lies between two steps), a pulse that spans `W` steps by `W^-2`.
///
/// # Source
/// JCGM 100:2008, F.2.2.1; B. Widrow, I. Kollar, Quantization Noise (2008), chapter 4 (from memory).
#[must_use]
pub fn step_term(step: Option<f64>, spread: &SpreadOfValues) -> f64 {
    let q = step.unwrap_or(0.0);
    if q <= 0.0 {
        return 0.0;
    }
    let full = q / 12.0_f64.sqrt();
    if spread.two_steps > 0.985 {
        return full * spread.lean.clamp(0.0, 1.0);
    }
    let own = (spread.noise_sd.powi(2) - q * q / 12.0).max(0.0);
    let noise = q / (std::f64::consts::PI * std::f64::consts::SQRT_2)
        * (-2.0 * std::f64::consts::PI.powi(2) * own / (q * q)).exp();
    let span = (12.0_f64.sqrt() * spread.sd / q).max(1.0);
    noise.min(full * span.powi(-2))
}

/// Spread of one channel over its steps, inside some ranges of rows.
#[must_use]
pub fn spread_of_values(c: &Cylinder, fit: Option<&Fit>, parts: &[Range<usize>]) -> SpreadOfValues {
    let read = |part: &Range<usize>| c.weights[part.clone()].iter().zip(&c.values[part.clone()]);
    let readings =
        || parts.iter().flat_map(read).filter(|(w, v)| **w > 0.0 && v.is_finite()).map(|(_, v)| *v);
    let sd = sd(readings().next().unwrap_or(0.0), parts.iter().map(read));
    let q = c.resolution_kpa.unwrap_or(1.0).max(1e-9);
    let mut steps = std::collections::BTreeMap::<i64, usize>::new();
    for value in readings() {
        *steps.entry((value / q).round() as i64).or_default() += 1;
        if steps.len() >= 8 {
            break;
        }
    }
    let mut counts: Vec<usize> = steps.values().copied().collect();
    counts.sort_unstable_by(|a, b| b.cmp(a));
    let total = counts.iter().sum::<usize>().max(1) as f64;
    SpreadOfValues {
        sd,
        noise_sd: fit.map_or(0.0, |f| f.residual_sd),
        lean: match counts[..] {
            [first, second, ..] => (first - second) as f64 / (first + second) as f64,
            _ => 1.0,
        },
        two_steps: if counts.len() >= 8 { 0.0 } else { counts.iter().take(2).sum::<usize>() as f64 / total },
    }
}

/// Standard deviation of readings, counted `from` one of them so that the squares stay small.
fn sd<'a>(from: f64, parts: impl Iterator<Item = impl Iterator<Item = (&'a f64, &'a f64)>>) -> f64 {
    let (mut sum, mut squares, mut n) = (0.0, 0.0, 0.0);
    for part in parts {
        for (w, v) in part {
            let (rest, one) = if *w > 0.0 && v.is_finite() { (v - from, 1.0) } else { (0.0, 0.0) };
            sum += rest;
            squares += rest * rest;
            n += one;
        }
    }
    if n > 1.0 { ((squares - sum * sum / n).max(0.0) / (n - 1.0)).sqrt() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::dist;

    /// Mean of values of mean `at` with normal noise `sd`, rounded to whole steps of 1, and the shares of the steps: summed over
    /// the steps with the normal distribution, nothing drawn.
    fn rounded(at: f64, sd: f64) -> (f64, Vec<f64>) {
        let below = |x: f64| dist::normal_cdf((x - at) / sd);
        let shares: Vec<f64> =
            (-6..=6).map(|k| below(f64::from(k) + 0.5) - below(f64::from(k) - 0.5)).collect();
        let mean = (-6..=6).zip(&shares).map(|(k, s)| f64::from(k) * s).sum();
        (mean, shares)
    }

    #[test]
    fn on_two_steps_the_error_is_bounded_by_how_they_are_shared() {
        let mut naive_excess: f64 = 0.0;
        for sd in [0.01, 0.03, 0.06, 0.1, 0.14] {
            for k in 0..=50 {
                let at = f64::from(k) * 0.01;
                let (mean, mut shares) = rounded(at, sd);
                shares.sort_by(|a, b| b.total_cmp(a));
                let two = shares[0] + shares[1];
                if two < 0.985 {
                    continue;
                }
                let spread = SpreadOfValues {
                    sd: 0.0,
                    noise_sd: 0.0,
                    two_steps: two,
                    lean: (shares[0] - shares[1]) / two,
                };
                // The bound is the half-width of a rectangular distribution.
                let half_width = step_term(Some(1.0), &spread) * 3.0_f64.sqrt();
                let error = (mean - at).abs();
                assert!(error <= half_width + 1e-3, "at {at}, sd {sd}: {error} beyond {half_width}");
                naive_excess = naive_excess.max(0.5 - half_width);
            }
        }
        // Naive: half a step whatever the shares.
        assert!(naive_excess > 0.45);
    }
}
