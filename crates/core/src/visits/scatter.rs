//! How much the cylinders of this machine move against each other from visit to visit anyway.
//!
//! Per pair of neighbouring visits the moves of all cylinders are compared two by two, which needs no reference; the
//! lower quartile of the absolute differences times 2.2219 is the standard deviation of one move (Rousseeuw & Croux,
//! J. Am. Stat. Assoc. 88 (1993) 1273-1283: Qn, half of the cylinders may have changed; its efficiency of 82 % goes
//! into the degrees of freedom). Drifts and repairs of a minority make it larger at most by what they fill the lower
//! quartile with, never smaller.
//!
//! A change must stand out from this scatter with every cylinder and every pair of visits counted (Bonferroni), besides
//! being larger than what visits are known to differ by.

use super::levels::{Levels, median_variance};
use crate::stats::dist::student_quantile;
use crate::stats::robust::quantile;

/// Consistency of the lower quartile of pair differences with the standard deviation of a normal sample.
const QN: f64 = 2.2219;

/// Efficiency of Qn for a normal sample.
const EFFICIENCY: f64 = 0.82;

/// Degrees of freedom below which the scatter says nothing.
const FEWEST_DF: f64 = 6.0;

/// Level of significance of the whole machine.
const ALPHA: f64 = 0.05;

/// Scatter of a machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Scatter {
    /// Standard deviation of the change of a deviation from the median of the others, kPa.
    pub(crate) sd: f64,
    /// Standard deviations by which a step must stand out, every cylinder and pair of visits counted.
    pub(crate) k: f64,
}

impl Scatter {
    /// Prices of a step and of a slope. A step has chosen its place among `visits - 1`, a slope has not: their
    /// difference is the deviance of that choice, `2 ln(visits - 1)`; a slope costs at least `least`.
    pub(crate) fn prices(&self, visits: usize, least: f64) -> [f64; 2] {
        let step = self.k.powi(2);
        let places = visits.saturating_sub(1).max(1) as f64;
        [step, (step - 2.0 * places.ln()).max(least)]
    }
}

/// The scatter of the visits; `None` with too few of them.
pub(crate) fn own_scatter(levels: &Levels) -> Option<Scatter> {
    let mut differences = Vec::new();
    let (mut df, mut tests, mut live_sum, mut pairs) = (0.0, 0.0, 0.0, 0.0);
    for rows in levels.x.windows(2) {
        let moves: Vec<f64> =
            rows[1].iter().zip(&rows[0]).map(|(b, a)| b - a).filter(|d| d.is_finite()).collect();
        if moves.len() < 2 {
            continue;
        }
        for (i, a) in moves.iter().enumerate() {
            differences.extend(moves[i + 1..].iter().map(|b| (a - b).abs()));
        }
        df += EFFICIENCY * (moves.len() - 1) as f64;
        tests += moves.len() as f64;
        live_sum += moves.len() as f64;
        pairs += 1.0;
    }
    if df < FEWEST_DF {
        return None;
    }
    let others = (live_sum / pairs).round() as usize - 1;
    let sd = QN * quantile(&differences, 0.25)? * (1.0 + median_variance(others)).sqrt();
    Some(Scatter { sd, k: student_quantile(1.0 - ALPHA / (2.0 * tests), df) })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::ar1;
    use crate::visits::story::Story;

    fn scatter(n: usize, visits: usize, seed: u64, level: impl Fn(usize, usize) -> f64) -> Scatter {
        let w = ar1(n * visits, 0.0, seed);
        let row = |v: usize| (0..n).map(|i| level(v, i) + 0.1 * w[v * n + i]).collect::<Vec<_>>();
        let story = (0..visits).fold(Story::new(n), |s, v| s.next(&row(v)));
        own_scatter(&Levels::new(&story.visits, 2.0)).unwrap()
    }

    #[test]
    fn known_scatter_comes_back_whatever_a_minority_does() {
        // 0.1 a cylinder and visit: a move has 0.1 sqrt 2, a deviation's move sqrt(1 + 0.2868) of it in a six.
        let want = 0.1 * (2.0 * 1.2868f64).sqrt();
        let mean = |level: &dyn Fn(usize, usize) -> f64| {
            (0..20).map(|s| scatter(6, 10, 600 + s, level).sd).sum::<f64>() / 20.0
        };
        let quiet = mean(&|_, _| 0.0);
        assert!((quiet / want - 1.0).abs() < 0.1, "{quiet}, {want}");
        let moved = mean(&|v, i| if i < 2 { f64::from(v as u32 % 2) * 3.0 } else { 0.0 });
        // Seven of fifteen pairs are of cylinders that moved alike: the quartile is their median, 0.6745/0.3186 as much.
        assert!((moved / want - 2.12).abs() < 0.5, "{moved}, {want}");
        // The naive way, the standard deviation of all moves, has four at 0 and two at 3: 1.4.
        assert!(2.0f64.sqrt() > 5.0 * want);
    }

    #[test]
    fn few_visits_say_nothing() {
        let story = Story::new(4).next(&[0.0, 0.1, 0.0, 0.1]).next(&[0.1, 0.0, 0.1, 0.0]);
        assert!(own_scatter(&Levels::new(&story.visits, 2.0)).is_none());
    }
}
