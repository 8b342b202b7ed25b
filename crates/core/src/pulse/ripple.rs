//! Each cylinder's part of the crank's speed ripple: a second witness beside the pressures.
//!
//! # Method
//! Where the speed is logged several times between firings, its square (proportional to the energy of everything that
//! turns) is folded on the held phase. A four-stroke cylinder fires a fixed angle before its own runner is emptied; the
//! dip of its averaged pulse therefore places its expansion: from 12 to `12 + cycle/n` degrees after dead centre, `n`
//! the cylinders. The rise of the squared speed over that window, less the median rise of all (a mean would spread one weak cylinder
//! over the healthy ones), is what the cylinder gives more or less than the others; divided by twice the mean speed it is a rise in rev/min. Scatter from a jackknife over 16 blocks of time.
//! A plain standard deviation of the speed (the naive way) says that the crank is uneven, not who makes it so.
//!
//! Refused for two-strokes (the crankcase, not the cylinder, empties the runner), for odd firing (the windows of two
//! cylinders are not alike), and where the speed is an average over the cycle.
//!
//! # Source
//! Energy balance of the crank, `I w dw = T dtheta`: J. B. Heywood (1988), chapter 2, from memory. The windows are own.

use super::refill::jackknife;

/// Degrees of crank from a cylinder's firing dead centre to the lowest runner pressure: intake closes some 40 degrees after
/// bottom dead centre and the runner is lowest shortly before. From the engine model, common practice.
const FIRING_TO_DIP_DEG: f64 = 545.0;
const AFTER_CENTRE_DEG: f64 = 12.0;
const BINS: usize = 144;
const TIME_BLOCKS: usize = 16;
/// Fresh speeds between two firings, at least.
const PER_FIRING: f64 = 3.0;

/// Why there is no speed witness.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refusal {
    /// A two-stroke.
    TwoStroke,
    /// Pulses do not come at equal angles.
    OddFiring,
    /// The speed moves too seldom within a cycle.
    TooSlow,
    /// Fewer than two cylinders.
    Alone,
    /// Bins of the cycle stay empty.
    TooFew,
}

/// Part of one cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Rise of the speed in its expansion less the median rise of all, rev/min.
    pub rise_rpm: f64,
    /// Standard uncertainty, rev/min.
    pub u_rpm: f64,
}

/// The ripple of all cylinders.
#[derive(Debug, Clone, PartialEq)]
pub struct Ripple {
    /// One per cylinder.
    pub parts: Vec<Part>,
    /// Highest less lowest folded speed, rev/min.
    pub swing_rpm: f64,
}

/// What is logged of the speed.
#[derive(Debug, Clone, Copy)]
pub struct Speed<'a> {
    /// Engine cycles of every row, held on the pulses or the mark.
    pub cycles: &'a [f64],
    /// Speed as logged, rev/min, `NaN` = missing.
    pub rpm: &'a [f64],
    /// Rows judged.
    pub rows: &'a [usize],
}

/// Parts of the cylinders whose averaged pulses are lowest at `dips` (cycles, one per cylinder).
///
/// # Errors
/// [`Refusal`] with the reason.
pub fn ripple(speed: Speed<'_>, dips: &[f64], strokes: u8) -> Result<Ripple, Refusal> {
    let n = dips.len();
    if strokes == 2 {
        return Err(Refusal::TwoStroke);
    }
    if n < 2 {
        return Err(Refusal::Alone);
    }
    if !even(dips) {
        return Err(Refusal::OddFiring);
    }
    if fresh_per_cycle(speed) < PER_FIRING * n as f64 {
        return Err(Refusal::TooSlow);
    }
    let blocks = fold(speed);
    let all = curve(&blocks, None).ok_or(Refusal::TooFew)?;
    let whole = rises(&all, dips);
    let mean_rpm = (all.iter().sum::<f64>() / BINS as f64).sqrt();
    let mut without: Vec<Vec<f64>> = vec![Vec::new(); n];
    for b in 0..TIME_BLOCKS {
        let Some(part) = curve(&blocks, Some(b)) else { continue };
        for (list, r) in without.iter_mut().zip(rises(&part, dips)) {
            list.push(r / (2.0 * mean_rpm));
        }
    }
    let speeds: Vec<f64> = all.iter().map(|s| s.max(0.0).sqrt()).collect();
    let (low, high) =
        speeds.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(*v), b.max(*v)));
    let parts = whole
        .iter()
        .zip(&without)
        .map(|(r, w)| Part { rise_rpm: r / (2.0 * mean_rpm), u_rpm: jackknife(w) })
        .collect();
    Ok(Ripple { parts, swing_rpm: high - low })
}

/// Whether the dips come at equal angles, within a fifth of their distance.
fn even(dips: &[f64]) -> bool {
    let mut sorted: Vec<f64> = dips.iter().map(|d| d.rem_euclid(1.0)).collect();
    sorted.sort_by(f64::total_cmp);
    let step = 1.0 / sorted.len() as f64;
    let gap = |i: usize| (sorted[(i + 1) % sorted.len()] - sorted[i]).rem_euclid(1.0);
    (0..sorted.len()).all(|i| (gap(i) - step).abs() < 0.2 * step)
}

/// Changes of the logged speed a cycle.
fn fresh_per_cycle(speed: Speed<'_>) -> f64 {
    let (mut changes, mut turned) = (0.0, 0.0);
    for w in speed.rows.windows(2).filter(|w| w[1] == w[0] + 1) {
        let (a, b) = (speed.rpm[w[0]], speed.rpm[w[1]]);
        turned += speed.cycles[w[1]] - speed.cycles[w[0]];
        changes += f64::from(u8::from(a.is_finite() && b.is_finite() && a != b));
    }
    if turned > 0.0 { changes / turned } else { 0.0 }
}

/// Sums of the squared speed by phase, one set per block of time, the level of the cycles taken out.
fn fold(speed: Speed<'_>) -> Vec<Vec<(f64, f64)>> {
    let mut out = vec![vec![(0.0, 0.0); BINS]; TIME_BLOCKS];
    let total = speed.rows.len().max(1);
    let levels = levels(speed);
    let whole_level = levels.iter().map(|l| l.1).sum::<f64>() / levels.len().max(1) as f64;
    let mut at = 0;
    for (order, &k) in speed.rows.iter().enumerate() {
        let v = speed.rpm[k];
        if !v.is_finite() {
            continue;
        }
        let c = speed.cycles[k];
        while at + 2 < levels.len() && levels[at + 1].0 < c {
            at += 1;
        }
        // Outside the middles of the first and the last cycle, or across a gap, nobody knows the level.
        let Some([a, b]) = levels.get(at..at + 2) else { continue };
        if c < a.0 || c > b.0 || b.0 - a.0 > 2.5 {
            continue;
        }
        let level = a.1 + (c - a.0) / (b.0 - a.0) * (b.1 - a.1);
        let x = c - c.floor();
        let b = ((x * BINS as f64) as usize).min(BINS - 1);
        let cell = &mut out[order * TIME_BLOCKS / total][b];
        cell.0 += 1.0;
        cell.1 += v * v - level + whole_level;
    }
    out
}

/// Middle (cycles) and mean squared speed of every whole cycle: the slow wander of the idle, which is no ripple. A cycle that
/// was only partly logged would pass its ripple off as a level and is left out.
fn levels(speed: Speed<'_>) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::new();
    let (mut number, mut n, mut sum) = (f64::NAN, 0.0, 0.0);
    let (mut from, mut to) = (0.0, 0.0);
    let mut close = |number: f64, n: f64, sum: f64, from: f64, to: f64| {
        if n > 0.0 && from < 0.1 && to > 0.9 {
            out.push((number + 0.5, sum / n));
        }
    };
    for &k in speed.rows {
        let (c, v) = (speed.cycles[k], speed.rpm[k]);
        if !v.is_finite() {
            continue;
        }
        if c.floor() != number {
            close(number, n, sum, from, to);
            (number, n, sum, from) = (c.floor(), 0.0, 0.0, c - c.floor());
        }
        to = c - c.floor();
        n += 1.0;
        sum += v * v;
    }
    close(number, n, sum, from, to);
    out
}

/// Folded squared speed, one block left out; `None` where a bin is empty.
fn curve(blocks: &[Vec<(f64, f64)>], out: Option<usize>) -> Option<Vec<f64>> {
    (0..BINS)
        .map(|bin| {
            let kept = blocks.iter().enumerate().filter(|(b, _)| Some(*b) != out).map(|(_, s)| s[bin]);
            let (n, sum) = kept.fold((0.0, 0.0), |a, s| (a.0 + s.0, a.1 + s.1));
            (n > 0.0).then(|| sum / n)
        })
        .collect()
}

/// Rise over each window less the median rise.
fn rises(curve: &[f64], dips: &[f64]) -> Vec<f64> {
    let at = |x: f64| {
        let y = x.rem_euclid(1.0) * BINS as f64 - 0.5;
        let (k, f) = (y.floor(), y - y.floor());
        let v = |k: f64| curve[(k.rem_euclid(BINS as f64)) as usize % BINS];
        v(k) + f * (v(k + 1.0) - v(k))
    };
    let width = 1.0 / dips.len() as f64;
    let raw: Vec<f64> = dips
        .iter()
        .map(|dip| {
            let start = dip - (FIRING_TO_DIP_DEG - AFTER_CENTRE_DEG) / 720.0;
            at(start + width) - at(start)
        })
        .collect();
    let middle = crate::stats::robust::median(&raw).unwrap_or(0.0);
    raw.iter().map(|r| r - middle).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    /// Closed form: a four whose cylinders fire at 0, 1/4, 1/2, 3/4 of the cycle, each giving its torque as a half sine over
    /// its quarter; cylinder 3 gives `share` of the others'. The squared speed is the integral of torque less its mean.
    fn rig(share: f64, rate: f64) -> (Vec<f64>, Vec<f64>, Vec<f64>) {
        let gains = [1.0, 1.0, share, 1.0];
        let mean = gains.iter().sum::<f64>() / 4.0;
        let start = AFTER_CENTRE_DEG / 720.0;
        let squared = |x: f64| {
            let x = (x - start).rem_euclid(1.0);
            let mut sum = -mean * 4.0 * x;
            for (i, g) in gains.iter().enumerate() {
                let part = (4.0 * x - i as f64).clamp(0.0, 1.0);
                sum += g * 0.5 * (1.0 - (std::f64::consts::PI * part).cos());
            }
            1000.0f64.powi(2) + 40_000.0 * sum
        };
        let cycles: Vec<f64> = (0..6_000).map(|k| f64::from(k) / rate).collect();
        let rpm = cycles.iter().map(|c| squared(c - c.floor()).sqrt()).collect();
        let dips = (0..4).map(|i| f64::from(i) / 4.0 + FIRING_TO_DIP_DEG / 720.0).collect();
        (cycles, rpm, dips)
    }

    #[test]
    fn a_weak_cylinder_is_named_and_measured() {
        let (cycles, rpm, dips) = rig(0.7, 60.3);
        let rows: Vec<usize> = (0..cycles.len()).collect();
        let found = ripple(Speed { cycles: &cycles, rpm: &rpm, rows: &rows }, &dips, 4).unwrap();
        // Closed form: cylinder 3 gives 0.7 where the others give 1, of 40 000 each over twice 1000 rev/min.
        let want = |g: f64| (g - 1.0) * 40_000.0 / 2_000.0;
        for (i, g) in [1.0, 1.0, 0.7, 1.0].into_iter().enumerate() {
            let p = found.parts[i];
            assert!((p.rise_rpm - want(g)).abs() < 0.1, "{i}: {p:?} for {}", want(g));
            assert!(p.u_rpm < 0.1);
        }
        // Naive: the scatter of the speed, one figure for all.
        let all = rig(1.0, 60.3);
        let none = ripple(Speed { cycles: &all.0, rpm: &all.1, rows: &rows }, &all.2, 4).unwrap();
        assert!(none.parts.iter().all(|p| p.rise_rpm.abs() < 0.1));
        assert!(none.swing_rpm > 1.0 && found.swing_rpm > none.swing_rpm);
    }

    #[test]
    fn refused_where_it_cannot_be_told() {
        let (cycles, rpm, dips) = rig(0.7, 60.3);
        let rows: Vec<usize> = (0..cycles.len()).collect();
        let speed = Speed { cycles: &cycles, rpm: &rpm, rows: &rows };
        assert_eq!(ripple(speed, &dips, 2), Err(Refusal::TwoStroke));
        assert_eq!(ripple(speed, &[0.1, 0.1 + 270.0 / 720.0], 4), Err(Refusal::OddFiring));
        assert_eq!(ripple(speed, &[0.1], 4), Err(Refusal::Alone));
        // A control unit's speed changes once a cycle.
        let held: Vec<f64> = cycles.iter().map(|c| 1000.0 + (c.floor() * 1.7).sin()).collect();
        assert_eq!(ripple(Speed { rpm: &held, ..speed }, &dips, 4), Err(Refusal::TooSlow));
    }
}
