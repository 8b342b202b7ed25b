//! What to expect after the turns: the spread with its interval, every cylinder, the idle speed.
//!
//! # Method
//! Propagation of distributions with 4,000 draws from a generator of fixed seed: what was measured, what a turn does, and
//! how far a screw really went are drawn from normal distributions with their standard uncertainties; the spread of each draw is
//! kept. The point value is that of the estimates; the interval holds 95 % of the draws. A spread cannot be negative, so the
//! interval need not be symmetrical and its middle lies above the point value where all cylinders are nearly even.
//!
//! # Source
//! JCGM 101:2008 (propagation of distributions); S. Vigna's splitmix64 constants for the generator.

use super::turns::Problem;
use crate::stats::dist::normal_quantile;
use crate::stats::robust::quantile;

const DRAWS: usize = 4_000;

/// Spread to expect.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Of the estimates, kPa.
    pub spread_kpa: f64,
    /// Lower end of the 95 % interval, kPa.
    pub low_kpa: f64,
    /// Upper end, kPa.
    pub high_kpa: f64,
    /// Share of draws inside the limit.
    pub inside: f64,
    /// By cylinder: standard uncertainty of its deviation from the reference, kPa.
    pub u_deviation_kpa: Vec<f64>,
}

/// Numbers between 0 and 1 in a fixed order.
struct Draws(u64);

impl Draws {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^= z >> 31;
        ((z >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        normal_quantile(self.uniform())
    }
}

/// The spread to expect after some steps, against a limit, and how sure each deviation is; `middle` gives the reference's level
/// among pressures.
#[must_use]
pub fn outlook(problem: &Problem, steps: &[i32], limit_kpa: f64, middle: &dyn Fn(&[f64]) -> f64) -> Outlook {
    let n = problem.pressure_kpa.len();
    let mut draws = Draws(0x45_76_65_6e);
    let mut spreads = Vec::with_capacity(DRAWS);
    let mut p = vec![0.0; n];
    let after = problem.after(steps);
    let base = middle(&after);
    let mut squares = vec![0.0; n];
    for _ in 0..DRAWS {
        for (v, measured) in p.iter_mut().zip(&problem.pressure_kpa) {
            *v = measured + problem.u_pair_kpa / std::f64::consts::SQRT_2 * draws.normal();
        }
        for (j, s) in steps.iter().enumerate().filter(|(_, s)| **s != 0) {
            let w = f64::from(*s) * problem.step_turns;
            let went = w + problem.u_turn * draws.normal();
            let (own, u_own) = problem.own[j];
            let off = draws.normal();
            for (i, v) in p.iter_mut().enumerate() {
                let u = problem.u_effect_kpa[j][i];
                let error = if u > 0.0 {
                    u * draws.normal()
                } else if i == own {
                    u_own * off
                } else {
                    0.0
                };
                *v += went * (problem.effect_kpa[j][i] + error);
            }
        }
        let high = p.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let low = p.iter().copied().fold(f64::INFINITY, f64::min);
        spreads.push(high - low);
        let level = middle(&p);
        for (i, s) in squares.iter_mut().enumerate() {
            *s += ((p[i] - level) - (after[i] - base)).powi(2);
        }
    }
    let inside = spreads.iter().filter(|s| **s <= limit_kpa).count() as f64 / DRAWS as f64;
    let (spread_kpa, _) = problem.spread(steps);
    let end = |q: f64| quantile(&spreads, q).unwrap_or(spread_kpa);
    let u_deviation_kpa = squares.iter().map(|s| (s / DRAWS as f64).sqrt()).collect();
    Outlook {
        spread_kpa,
        low_kpa: end(0.025).min(spread_kpa),
        high_kpa: end(0.975).max(spread_kpa),
        inside,
        u_deviation_kpa,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two cylinders and one screw: the difference after the turn is normal with mean 0 by construction, so the spread is
    /// half-normal; its 95 % quantile interval and the share inside have closed forms.
    #[test]
    fn one_screw_agrees_with_the_half_normal() {
        let problem = Problem {
            pressure_kpa: vec![0.0, -1.0],
            u_pair_kpa: 0.3,
            effect_kpa: vec![vec![-1.0, 1.0]],
            own: vec![(1, 0.4)],
            u_effect_kpa: vec![vec![0.0, 0.0]],
            most: vec![8],
            step_turns: 0.125,
            u_turn: 0.0,
            accept_kpa: 1.0,
            guard: 1.645,
            speed: None,
            hold_speed: false,
        };
        let o = outlook(&problem, &[4], 1.0, &|p| p[0]);
        let u = 0.3f64.hypot(0.5 * 0.4);
        assert!((o.spread_kpa - 0.0).abs() < 1e-12);
        // Half-normal: 97.5 % at 2.2414 u; P(|z| <= 1/u).
        assert!((o.high_kpa - 2.2414 * u).abs() < 0.03, "{o:?} against {}", 2.2414 * u);
        let inside = 1.0 - crate::stats::dist::normal_two_sided(1.0 / u);
        assert!((o.inside - inside).abs() < 0.004, "{} against {inside}", o.inside);
        assert_eq!(o, outlook(&problem, &[4], 1.0, &|p| p[0]), "the same every time");
        // The reference is cylinder 1: its own deviation is 0 whatever was drawn, the other's is the difference.
        assert_eq!(o.u_deviation_kpa[0], 0.0);
        assert!((o.u_deviation_kpa[1] - u).abs() < 0.03 * u, "{o:?} against {u}");
        // Leaving out the effect's own uncertainty would promise a fifth too much.
        let naive = outlook(&Problem { own: vec![(1, 0.0)], ..problem }, &[4], 1.0, &|p| p[0]);
        assert!(naive.high_kpa < 0.87 * o.high_kpa);
    }
}
