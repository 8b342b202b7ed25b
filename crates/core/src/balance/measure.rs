//! Means over whole engine cycles in one state, and the uncertainty of every linear combination of them.
//!
//! # Method
//! One regression per cylinder ([`crate::pulse::harmonics`]) gives its time mean. A deviation or a pair is a linear combination `c` of
//! the cylinders, and its standard uncertainty comes from the pulse-free series *of that combination*, where movement that all
//! share has cancelled:
//!
//! `u^2 = u_A^2 + sum c^2 u_alias^2 + sum c^2 u_q^2 + sum c^2 u_bias^2`
//!
//! with `u_A` the larger of the Newey-West and the ten-batch standard error (the naive one is no floor: a choked plate
//! feeds each cycle the same air, so cycles that pull more are followed by ones that pull less, and their mean is steadier
//! than independent cycles would be); `u_alias` what the row rate leaves open in the mean; `u_q` the step of the values, `q / sqrt 12`, falling as the values span several steps; `u_bias` the
//! zero of the sensor.
//!
//! # Source
//! JCGM 100:2008, 4.3.7, 5.1.2; Newey and West, Econometrica 55 (1987) 703; batch means: Law and Kelton.

use std::ops::Range;

use rayon::prelude::*;

use crate::prepare::Cylinder;
use crate::pulse::harmonics::{Design, Fit};
use crate::stats::mean_uncertainty::conservative;
use crate::stats::moments;

use super::rounding::{spread_of_values, step_term};
use super::series::{self, Blocks, Rows};

/// Harmonics in the regression for the mean.
const HARMONICS: usize = 8;
/// Prior standard deviation of the first harmonic's two parts, in units of the fast scatter: successive readings of a pulse
/// scatter by about its first amplitude. An undamped pulse is sharper than the fall of the prior says, and gets more room.
fn prior(fast_sd: f64) -> f64 {
    let undamped = 1.0 - 1.0 / (1.0 + (fast_sd / 5.0).powi(4));
    (1.0 + 0.8 * undamped) * fast_sd.max(1e-6)
}

/// Standard uncertainties of one cylinder that do not come from scatter, kPa.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Terms {
    /// Open in the mean because of the row rate.
    pub alias: f64,
    /// Step of the values.
    pub step: f64,
    /// Zero of the sensor.
    pub bias: f64,
}

/// Value and standard uncertainties of a linear combination, kPa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Value.
    pub value: f64,
    /// Scatter (Type A).
    pub scatter: f64,
    /// The other terms, combined over the cylinders.
    pub terms: Terms,
    /// Blocks that the scatter was taken from.
    pub blocks: usize,
    /// Independent blocks that the mean is worth.
    pub effective: f64,
}

impl Estimate {
    /// Combined standard uncertainty.
    #[must_use]
    pub fn u(&self) -> f64 {
        let t = self.terms;
        (self.scatter.powi(2) + t.alias.powi(2) + t.step.powi(2) + t.bias.powi(2)).sqrt()
    }
}

/// Everything measured in one state.
#[derive(Debug, Clone, PartialEq)]
pub struct StateData {
    /// Waveform and mean of each cylinder.
    pub fits: Vec<Option<Fit>>,
    /// Pulse-free blocks.
    pub blocks: Blocks,
    /// Terms of each cylinder.
    pub terms: Vec<Terms>,
    /// Fast scatter of each cylinder from successive readings, kPa.
    pub fast_sd: Vec<f64>,
    /// Ranges of rows inside the stretches.
    pub rows: Vec<Range<usize>>,
}

/// Measures one state.
///
/// # Shape
/// `bias_u` has one standard uncertainty per cylinder, kPa.
#[must_use]
pub fn measure(rows: Rows<'_>, cylinders: &[Cylinder], bias_u: &[f64], block_s: f64) -> StateData {
    let parts = series::parts(rows.time_s, rows.stretches);
    let fast_sd: Vec<f64> = cylinders.par_iter().map(|c| fast_sd(c, &parts)).collect();
    let design = Design { harmonics: HARMONICS };
    let (fits, blocks) = series::fitted(rows, cylinders, design, |i| prior(fast_sd[i]), block_s);
    let terms = cylinders
        .par_iter()
        .zip(&fits)
        .enumerate()
        .map(|(i, (c, fit))| Terms {
            alias: fit.as_ref().map_or(0.0, |f| f.alias_sd),
            step: step_term(c.resolution_kpa, &spread_of_values(c, fit.as_ref(), &parts)),
            bias: bias_u.get(i).copied().unwrap_or(0.0),
        })
        .collect();
    StateData { fits, blocks, terms, fast_sd, rows: parts }
}

fn fast_sd(c: &Cylinder, parts: &[Range<usize>]) -> f64 {
    let (mut sum, mut n, mut last) = (0.0, 0.0, f64::NAN);
    for part in parts {
        for (w, &v) in c.weights[part.clone()].iter().zip(&c.values[part.clone()]) {
            let reads = *w > 0.0 && v.is_finite();
            let (step, one) = if reads && last.is_finite() { (v - last, 1.0) } else { (0.0, 0.0) };
            sum += step * step;
            n += one;
            last = if reads { v } else { last };
        }
    }
    if n > 0.0 { (0.5 * sum / n).sqrt() } else { 0.0 }
}

impl StateData {
    /// Time mean of one cylinder, kPa.
    #[must_use]
    pub fn mean(&self, i: usize) -> Option<f64> {
        self.fits.get(i)?.as_ref().map(|f| f.mean)
    }

    /// A linear combination of the cylinders with its uncertainty. `None` when a cylinder with a weight has no mean.
    ///
    /// # Shape
    /// One weight per cylinder.
    #[must_use]
    pub fn combination(&self, weights: &[f64]) -> Option<Estimate> {
        let parts: Vec<usize> = (0..weights.len()).filter(|&i| weights[i] != 0.0).collect();
        let mut value = 0.0;
        for &i in &parts {
            value += weights[i] * self.mean(i)?;
        }
        let (_, y) = series::combine(&self.blocks, weights);
        // Where the parts do not cover the same time, what they share would not cancel in their means.
        let fullest = parts
            .iter()
            .map(|&i| self.blocks.kpa[i].iter().filter(|v| v.is_finite()).count())
            .max()
            .unwrap_or(0);
        if y.len() >= 4 && (y.len() as f64) < 0.95 * fullest as f64 {
            value = y.iter().sum::<f64>() / y.len() as f64;
        }
        let scatter = conservative(&y);
        let sd = moments::sd(&y).unwrap_or(0.0);
        let u_a = scatter.as_ref().map_or(f64::INFINITY, |s| s.newey_west.max(s.batches.unwrap_or(0.0)));
        let sum = |f: fn(&Terms) -> f64| {
            parts.iter().map(|&i| (weights[i] * f(&self.terms[i])).powi(2)).sum::<f64>().sqrt()
        };
        let terms = Terms { alias: sum(|t| t.alias), step: sum(|t| t.step), bias: sum(|t| t.bias) };
        let effective = if u_a > 0.0 { (sd / u_a).powi(2) } else { y.len() as f64 };
        u_a.is_finite().then_some(Estimate { value, scatter: u_a, terms, blocks: y.len(), effective })
    }

    /// First minus second cylinder.
    #[must_use]
    pub fn pair(&self, first: usize, second: usize) -> Option<Estimate> {
        let mut weights = vec![0.0; self.fits.len()];
        weights[first] = 1.0;
        weights[second] = -1.0;
        self.combination(&weights)
    }

    /// Cylinders that have a mean.
    #[must_use]
    pub fn live(&self) -> Vec<usize> {
        (0..self.fits.len()).filter(|&i| self.fits[i].is_some()).collect()
    }
}
