//! How far to turn each screw: least movement that brings the spread inside its limit, in steps that a hand can make.
//!
//! # Method
//! `y + C w` are the pressures after `w` turns. A set of turns is *good* when for every pair of cylinders
//! `|difference| + guard * u(difference) <= accept`, `u` from the measurement, the effects and the lost motion of the screws,
//! `accept` the limit less the guard of the next measurement. The effects count up to half of `accept`: what a long way leaves
//! uncertain the next round puts right. Among good sets the one with the least movement is taken, then
//! the fewest screws, then the least change of the idle speed. Where none is good, the one that comes closest is. The idle speed
//! may not leave its band (or leave it further).
//!
//! Turns are whole steps. Rounding the exact solution afterwards can spoil the spread, so candidates are searched as they
//! will be made: for bands of pressure all over the range every screw takes the fewest steps that bring its cylinder into the
//! band; the rounded least-squares solution is added; each of the best is improved by single and paired steps until nothing
//! improves. Without coupling the first part alone visits the optimum: inside a given band the screws do not depend on each other.
//!
//! # Source
//! Own method; bounded least squares as in [`crate::stats::linear`].

use crate::stats::error::StatsError;
use crate::stats::linear::{BoundedFit, bounded_least_squares, to_reference};

/// Idle speed and its band.
#[derive(Debug, Clone, PartialEq)]
pub struct Speed {
    /// Now, rev/min.
    pub rpm: f64,
    /// By screw, rev/min a turn.
    pub per_turn: Vec<f64>,
    /// Band, rev/min.
    pub band: (f64, f64),
}

/// What the search works on. Screws and cylinders by index.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Pressure of each cylinder from any common level, kPa.
    pub pressure_kpa: Vec<f64>,
    /// Standard uncertainty of the difference of two cylinders as measured, kPa.
    pub u_pair_kpa: f64,
    /// By screw: effect on each cylinder, kPa a turn.
    pub effect_kpa: Vec<Vec<f64>>,
    /// By screw: its own cylinder and the standard uncertainty of the effect on it, kPa a turn.
    pub own: Vec<(usize, f64)>,
    /// By screw: standard uncertainty of each entry where entries were fitted one by one, else zeros.
    pub u_effect_kpa: Vec<Vec<f64>>,
    /// By screw: most steps either way.
    pub most: Vec<i32>,
    /// One step, turns.
    pub step_turns: f64,
    /// Standard uncertainty of one turn made, turns.
    pub u_turn: f64,
    /// Largest difference that is good, kPa.
    pub accept_kpa: f64,
    /// Standard uncertainties on top of a difference.
    pub guard: f64,
    /// Idle speed, where it is known what a turn does to it and a band is given.
    pub speed: Option<Speed>,
    /// Keep the idle speed rather than the number of screws (two cylinders, either of which may have moved).
    pub hold_speed: bool,
}

/// How good a set of steps is; smaller is better, compared in this order.
pub type Score = (i64, i64, i32, i32, i32, i64);

impl Problem {
    /// Pressures after some steps, kPa.
    #[must_use]
    pub fn after(&self, steps: &[i32]) -> Vec<f64> {
        (0..self.pressure_kpa.len())
            .map(|i| {
                let moved: f64 = steps
                    .iter()
                    .zip(&self.effect_kpa)
                    .map(|(s, e)| f64::from(*s) * self.step_turns * e[i])
                    .sum();
                self.pressure_kpa[i] + moved
            })
            .collect()
    }

    /// Largest difference of two cylinders after some steps, and the same with its guard, kPa.
    #[must_use]
    pub fn spread(&self, steps: &[i32]) -> (f64, f64) {
        let after = self.after(steps);
        let (mut plain, mut guarded) = (0.0_f64, 0.0_f64);
        for a in 0..after.len() {
            for b in a + 1..after.len() {
                let d = (after[a] - after[b]).abs();
                plain = plain.max(d);
                guarded = guarded.max(d + self.guard * self.u_after(steps, a, b));
            }
        }
        (plain, guarded)
    }

    /// Standard uncertainty of a difference after some steps, kPa.
    fn u_after(&self, steps: &[i32], a: usize, b: usize) -> f64 {
        let (mut effects, mut lost) = (0.0, 0.0);
        for (j, s) in steps.iter().enumerate().filter(|(_, s)| **s != 0) {
            let w = f64::from(*s) * self.step_turns;
            let (own, u_own) = self.own[j];
            let entries = &self.u_effect_kpa[j];
            let fitted = entries[a] * entries[a] + entries[b] * entries[b];
            let u2 = if fitted > 0.0 {
                fitted
            } else if own == a || own == b {
                u_own * u_own
            } else {
                0.0
            };
            effects += w * w * u2;
            lost += ((self.effect_kpa[j][a] - self.effect_kpa[j][b]) * self.u_turn).powi(2);
        }
        // What a long way leaves uncertain is put right in the next round; it is no reason to move healthy cylinders.
        let most = (0.5 * self.accept_kpa / self.guard).powi(2);
        (self.u_pair_kpa * self.u_pair_kpa + lost + effects.min(most)).sqrt()
    }

    /// Speed after some steps, where known, rev/min.
    #[must_use]
    pub fn rpm(&self, steps: &[i32]) -> Option<f64> {
        let speed = self.speed.as_ref()?;
        let moved: f64 =
            steps.iter().zip(&speed.per_turn).map(|(s, g)| f64::from(*s) * self.step_turns * g).sum();
        Some(speed.rpm + moved)
    }

    /// How far the speed leaves its band beyond what it does now, rev/min.
    fn strays(&self, steps: &[i32]) -> i64 {
        let (Some(speed), Some(rpm)) = (&self.speed, self.rpm(steps)) else { return 0 };
        let out = |v: f64| (speed.band.0 - v).max(v - speed.band.1).max(0.0);
        (out(rpm) - out(speed.rpm)).max(0.0).ceil() as i64
    }

    /// Score of a set of steps.
    #[must_use]
    pub fn score(&self, steps: &[i32]) -> Score {
        let (_, guarded) = self.spread(steps);
        // A twentieth of what is allowed is not worth another turn.
        let over =
            ((guarded - self.accept_kpa) / (self.accept_kpa.abs() / 20.0).max(0.02)).max(0.0).ceil() as i64;
        let movement = steps.iter().map(|s| s.abs()).sum();
        let screws = steps.iter().filter(|s| **s != 0).count() as i32;
        let net = steps.iter().sum::<i32>().abs();
        let (first, second) = if self.hold_speed { (net, screws) } else { (screws, net) };
        (self.strays(steps), over, movement, first, second, (guarded * 1000.0).round() as i64)
    }

    /// The best steps found.
    #[must_use]
    pub fn search(&self) -> Vec<i32> {
        let none = vec![0; self.effect_kpa.len()];
        let mut seeds: Vec<(Score, Vec<i32>)> = vec![(self.score(&none), none)];
        let mut add = |steps: Vec<i32>| {
            let scored = (self.score(&steps), steps);
            if !seeds.contains(&scored) {
                seeds.push(scored);
            }
        };
        if let Some(steps) = self.rounded() {
            add(steps);
        }
        self.bands(&mut add);
        seeds.sort();
        let improved = seeds.into_iter().take(8).map(|(score, steps)| self.improve(score, steps));
        improved.min().map(|best| best.1).unwrap_or_default()
    }

    /// For bands of pressure all over the range: the fewest steps that bring every cylinder into the band.
    fn bands(&self, add: &mut dyn FnMut(Vec<i32>)) {
        let high = self.pressure_kpa.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let low = self.pressure_kpa.iter().copied().fold(f64::INFINITY, f64::min);
        for tenth in [0, 2, 4, 6, 7, 8, 9, 10] {
            let width = self.accept_kpa.max(0.0) * f64::from(tenth) / 10.0;
            let from = low - 0.1 * (high - low) - width;
            let slot = (1.2 * (high - low) + width) / 80.0;
            for k in 0..=80 {
                let bottom = from + slot * f64::from(k);
                add(self.steps_to_band(bottom, bottom + width));
            }
        }
    }

    fn steps_to_band(&self, bottom: f64, top: f64) -> Vec<i32> {
        self.own
            .iter()
            .enumerate()
            .map(|(j, &(i, _))| {
                let p = self.pressure_kpa[i];
                let others = self.effect_kpa[j].iter().enumerate().filter(|(o, _)| *o != i);
                let n = self.pressure_kpa.len() as f64;
                let per_step =
                    self.step_turns * (self.effect_kpa[j][i] - others.map(|o| o.1).sum::<f64>() / (n - 1.0));
                if per_step.is_nan() || per_step.abs() < 1e-9 || (bottom..=top).contains(&p) {
                    return 0;
                }
                let wanted = if p < bottom { bottom - p } else { top - p };
                let exact = (wanted / per_step).clamp(-1e6, 1e6);
                // Up to the edge of the band; into it where the band is wide enough, else to the nearest step.
                let into = if top - bottom > per_step.abs() {
                    exact.abs().ceil() * exact.signum()
                } else {
                    exact.round()
                };
                (into as i32).clamp(-self.most[j], self.most[j])
            })
            .collect()
    }

    /// Least squares in differences, rounded with the remainder in view.
    fn rounded(&self) -> Option<Vec<i32>> {
        let bounds: Vec<f64> = self.most.iter().map(|m| f64::from(*m) * self.step_turns).collect();
        let reference =
            (0..self.pressure_kpa.len()).find(|i| !self.own.iter().any(|o| o.0 == *i)).unwrap_or(0);
        let fit = even_out(&self.effect_kpa, &self.pressure_kpa, &bounds, reference).ok()?;
        round_turns(&self.effect_kpa, &self.pressure_kpa, reference, &fit.w, self.step_turns, &self.most)
    }

    /// Single and paired steps until nothing improves.
    fn improve(&self, score: Score, steps: Vec<i32>) -> (Score, Vec<i32>) {
        let (mut best, mut at) = (score, steps);
        // Every improvement lowers a score of whole numbers that is bounded below; the cap only guards against surprises.
        for _ in 0..200 {
            let Some(next) = self.neighbours(&at).into_iter().map(|s| (self.score(&s), s)).min() else {
                break;
            };
            if next.0 >= best {
                break;
            }
            (best, at) = next;
        }
        (best, at)
    }

    fn neighbours(&self, at: &[i32]) -> Vec<Vec<i32>> {
        let m = at.len();
        let mut out = Vec::new();
        let mut push = |moves: &[(usize, i32)]| {
            let mut next = at.to_vec();
            for &(j, by) in moves {
                next[j] += by;
            }
            if next.iter().zip(&self.most).all(|(s, most)| s.abs() <= *most) {
                out.push(next);
            }
        };
        for j in 0..m {
            for by in [-2, -1, 1, 2] {
                push(&[(j, by)]);
            }
            for l in j + 1..m {
                for (a, b) in [(-1, -1), (-1, 1), (1, -1), (1, 1)] {
                    push(&[(j, a), (l, b)]);
                }
            }
        }
        out
    }
}

/// Exact turns that make all cylinders equal to row `reference` in least squares, each within plus or minus its bound. A screw of
/// the reference cylinder is left free unless its bound is 0: say which by the bounds, the common level is not determined.
///
/// # Shape
/// `effect[j][i]` of screw `j` on cylinder `i`; `bounds` by screw.
///
/// # Errors
/// Those of [`bounded_least_squares`].
pub fn even_out(
    effect: &[Vec<f64>],
    pressure_kpa: &[f64],
    bounds: &[f64],
    reference: usize,
) -> Result<BoundedFit, StatsError> {
    let (columns, y) = to_reference(effect, pressure_kpa, reference)?;
    let lower: Vec<f64> = bounds.iter().map(|b| -b).collect();
    bounded_least_squares(&columns, &y, &lower, bounds)
}

/// Rounds exact turns to whole steps: of the steps on either side of each (for more than ten screws, one screw after the other)
/// the set with the smallest sum of squared differences to row `reference`.
#[must_use]
pub fn round_turns(
    effect: &[Vec<f64>],
    pressure_kpa: &[f64],
    reference: usize,
    exact: &[f64],
    step: f64,
    most: &[i32],
) -> Option<Vec<i32>> {
    let down: Vec<i32> =
        exact.iter().zip(most).map(|(w, m)| ((w / step).floor() as i32).clamp(-m, *m)).collect();
    let rss = |s: &[i32]| -> f64 {
        let after = |i: usize| {
            pressure_kpa[i] + s.iter().zip(effect).map(|(s, e)| f64::from(*s) * step * e[i]).sum::<f64>()
        };
        let base = after(reference);
        (0..pressure_kpa.len()).map(|i| (after(i) - base).powi(2)).sum()
    };
    let up = |s: &[i32], bits: usize| -> Vec<i32> {
        s.iter().enumerate().map(|(j, v)| (v + (bits >> j & 1) as i32).min(most[j])).collect()
    };
    if exact.len() <= 10 {
        return (0..1usize << exact.len())
            .map(|bits| up(&down, bits))
            .min_by(|a, b| rss(a).total_cmp(&rss(b)));
    }
    let mut best = down;
    for j in 0..best.len() {
        let mut other = best.clone();
        other[j] = (other[j] + 1).min(most[j]);
        if rss(&other) < rss(&best) {
            best = other;
        }
    }
    Some(best)
}

#[cfg(test)]
#[path = "turns_tests.rs"]
mod tests;
