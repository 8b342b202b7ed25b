//! How the pulse shows in the values, decided from the data.
//!
//! # Method
//! `b10` is the worst error that the mean of 10 s of plain rows takes from harmonics above half the rate of fresh readings:
//! for each such harmonic its amplitude times the part that a 10 s mean leaves of it. Where the phase is held on the pulses,
//! amplitudes and phases are the measured ones; else the amplitudes come from the fast scatter, falling as m^-1.5, and the
//! mean square over speeds within 2 % is taken. A control unit's averages scatter by a few tenths of a kPa and pass; undamped sensors at
//! the same row rate scatter by 10 kPa and do not. The flag speaks of what a person sees in 10 s; the uncertainty
//! carries the length of the recording.
//!
//! # Source
//! Sampling theorem and the Dirichlet kernel, any text on signals; Oppenheim and Schafer, Discrete-Time Signal Processing.

use std::ops::Range;

use crate::prepare::Cylinder;

use super::measure::StateData;

/// What the sampling does to the pulse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampling {
    /// Pulses a second of one cylinder.
    pub pulse_hz: f64,
    /// Fresh readings a cycle, of the slowest cylinder.
    pub per_cycle: f64,
    /// Worst error of a 10 s mean, kPa.
    pub b10_kpa: f64,
    /// Largest first-harmonic amplitude, kPa.
    pub first_kpa: f64,
    /// Pulses are seen in the values.
    pub pulses_seen: bool,
}

/// Explained share of the fast variance from which the phase counts as held on the pulses.
pub const HELD: f64 = 0.5;

/// Examines one state.
#[must_use]
pub fn examine(
    state: &StateData,
    cylinders: &[Cylinder],
    time_s: &[f64],
    cycles: &[f64],
    strength: f64,
) -> Option<Sampling> {
    let (first, last) = (state.rows.first()?.start, state.rows.last()?.end - 1);
    let pulse_hz = span(cycles, &state.rows) / span(time_s, &state.rows).max(1e-9);
    if pulse_hz.is_nan() || pulse_hz <= 0.5 || last <= first {
        return None;
    }
    let live = state.live();
    if live.is_empty() {
        return None;
    }
    let slowest = live.iter().map(|&i| cylinders[i].update_hz).fold(f64::INFINITY, f64::min);
    let held = strength > HELD;
    let mut b10 = 0.0_f64;
    let mut first_kpa = 0.0_f64;
    let mut seen = false;
    for &i in &live {
        let Some(fit) = &state.fits[i] else { continue };
        let fs = cylinders[i].update_hz;
        let chance = fit.residual_sd * (2.0 / fit.effective_rows.max(1.0)).sqrt();
        first_kpa = first_kpa.max(fit.amplitude(1));
        // With a held phase the pulse must stand well clear of what noise fits by chance.
        seen |= strength > 0.25 && fit.amplitude(1) > 4.0 * chance;
        let mut sum = 0.0;
        for m in 1..=8usize {
            if m as f64 * pulse_hz <= 0.5 * fs {
                continue;
            }
            let guess = std::f64::consts::SQRT_2 * state.fast_sd[i] * (m as f64).powf(-1.5);
            let (amplitude, left) = if held {
                (fit.amplitude(m), measured_left(cylinders, i, time_s, cycles, &state.rows, m))
            } else {
                (guess, usual_left(m as f64 * pulse_hz, fs))
            };
            sum += (amplitude * left).powi(2);
        }
        b10 = b10.max(sum.sqrt());
    }
    Some(Sampling { pulse_hz, per_cycle: slowest / pulse_hz, b10_kpa: b10, first_kpa, pulses_seen: seen })
}

/// How far a rising series goes inside some ranges of rows.
fn span(series: &[f64], parts: &[Range<usize>]) -> f64 {
    parts.iter().map(|part| series[part.end - 1] - series[part.start]).sum()
}

/// Largest share of harmonic `m` that the mean of a 10 s block of this cylinder's readings leaves.
fn measured_left(
    cylinders: &[Cylinder],
    i: usize,
    time_s: &[f64],
    cycles: &[f64],
    parts: &[Range<usize>],
    m: usize,
) -> f64 {
    let c = &cylinders[i];
    let mut worst = 0.0_f64;
    let (mut re, mut im, mut n, mut start) = (0.0, 0.0, 0.0, f64::NEG_INFINITY);
    for k in parts.iter().cloned().flatten() {
        if c.weights[k] <= 0.0 || !c.values[k].is_finite() {
            continue;
        }
        if time_s[k] - start > 10.0 {
            (re, im, n, start) = (0.0, 0.0, 0.0, time_s[k]);
        }
        let (s, co) = (std::f64::consts::TAU * (m as f64 * cycles[k]).fract()).sin_cos();
        re += co;
        im += s;
        n += 1.0;
        if time_s[k] - start > 9.5 {
            worst = worst.max(f64::hypot(re, im) / n);
        }
    }
    if worst > 0.0 || n == 0.0 { worst } else { f64::hypot(re, im) / n }
}

/// Share (root mean square) that 10 s of even sampling leave of a frequency that lies anywhere within 2 %.
fn usual_left(f: f64, fs: f64) -> f64 {
    let n = (10.0 * fs).round().max(1.0);
    let squares: f64 = (-20..=20)
        .map(|k| f * (1.0 + 0.001 * f64::from(k)))
        .map(|f| {
            let alias = (f - fs * (f / fs).round()).abs();
            let x = std::f64::consts::PI * alias / fs;
            if x.sin().abs() < 1e-12 { 1.0 } else { ((n * x).sin() / (n * x.sin())).powi(2) }
        })
        .sum();
    (squares / 41.0).sqrt()
}
