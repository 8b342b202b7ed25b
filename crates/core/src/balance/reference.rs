//! Deviations from the reference: one cylinder, or the median or mean of the live ones.
//!
//! # Method
//! The value is taken against the true median (or mean, or cylinder). For the uncertainty the median is written as a linear
//! combination: the cylinders that cannot be told from it share its weight, so that an even group is treated like its mean and
//! one cylinder far off carries no weight. A cylinder that itself is the median still has an uncertainty: that of its difference
//! from the mean of the others that are near it.

use crate::result::{GroupReference, Reference};

use super::measure::{Estimate, StateData};

/// Median of the live means, kPa.
#[must_use]
pub fn group_median(state: &StateData) -> Option<f64> {
    let means: Vec<f64> = state.live().iter().filter_map(|&i| state.mean(i)).collect();
    crate::stats::robust::median(&means)
}

/// Weights of the reference over the cylinders; they add up to 1.
#[must_use]
pub fn weights(state: &StateData, reference: Reference, numbers: &[u32]) -> Option<Vec<f64>> {
    let live = state.live();
    let mut w = vec![0.0; numbers.len()];
    match reference {
        Reference::Cylinder(number) => {
            let i = numbers.iter().position(|n| *n == number).filter(|i| live.contains(i))?;
            w[i] = 1.0;
        }
        Reference::Group(GroupReference::Mean) => {
            live.iter().for_each(|&i| w[i] = 1.0 / live.len() as f64);
        }
        Reference::Group(GroupReference::Median) => {
            let middle = group_median(state)?;
            let near = near(state, &live, middle);
            near.iter().for_each(|&i| w[i] = 1.0 / near.len() as f64);
        }
    }
    (!live.is_empty()).then_some(w)
}

/// Cylinders that cannot be told from the median, at least the middle one or two.
fn near(state: &StateData, live: &[usize], middle: f64) -> Vec<usize> {
    let mut order: Vec<(f64, usize)> =
        live.iter().filter_map(|&i| state.mean(i).map(|m| ((m - middle).abs(), i))).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let least = if live.len().is_multiple_of(2) { 2 } else { 1 };
    let Some(&(_, anchor)) = order.first() else { return Vec::new() };
    order
        .iter()
        .enumerate()
        .filter(|(rank, (_, i))| {
            *rank < least || state.pair(*i, anchor).is_some_and(|e| e.value.abs() <= 3.0 * e.u())
        })
        .map(|(_, (_, i))| *i)
        .collect()
}

/// Deviation of one cylinder from the reference.
///
/// # Errors
/// `None` when the cylinder or the reference has no mean.
#[must_use]
pub fn deviation(state: &StateData, reference: Reference, numbers: &[u32], i: usize) -> Option<Estimate> {
    let w = weights(state, reference, numbers)?;
    let value = match reference {
        Reference::Group(GroupReference::Median) => state.mean(i)? - group_median(state)?,
        _ => {
            state.mean(i)?
                - w.iter()
                    .enumerate()
                    .filter(|(_, w)| **w > 0.0)
                    .map(|(j, w)| w * state.mean(j).unwrap_or(0.0))
                    .sum::<f64>()
        }
    };
    let mut c: Vec<f64> = w.iter().map(|v| -v).collect();
    c[i] += 1.0;
    let numbered = matches!(reference, Reference::Cylinder(_));
    if c.iter().all(|v| v.abs() < 1e-12) {
        if numbered {
            let none = super::measure::Terms::default();
            return Some(Estimate { value: 0.0, scatter: 0.0, terms: none, blocks: 0, effective: 0.0 });
        }
        // The only cylinder of its median: take its difference from the mean of the others.
        let live = state.live();
        let others = live.len().saturating_sub(1);
        if others == 0 {
            return None;
        }
        c.fill(0.0);
        live.iter().for_each(|&j| c[j] = -1.0 / others as f64);
        c[i] = 1.0;
    }
    state.combination(&c).map(|e| Estimate { value, ..e })
}
