//! Which cylinders moved? The fewest that explain it.
//!
//! Between two visits every cylinder's level moves against a common, unknown shift. A set of cylinders is *quiet* if
//! none of them departs from the median of its fellows by more than the test allows; the smallest set of cylinders
//! whose removal leaves a quiet rest is blamed. Among sets of one size the one whose rest scatters least is taken.
//! A mean over all cylinders would accuse the innocent: one of four that moves by 1 moves the mean by 0.25 and with it
//! the departures of the three healthy ones.
//!
//! With two cylinders the difference does not say which one moved: both are named as *either*. If no two cylinders
//! moved alike (all screws but one were turned), the one that the others moved least against is taken as the quiet one,
//! a numbered reference first.

use super::levels::median_variance;
use crate::stats::robust::median;

/// Up to this many cylinders every set is tried; beyond it the worst is taken out one by one.
const MOST_EXHAUSTIVE: usize = 12;

/// Moves of the cylinders between two visits.
#[derive(Debug, Clone, Copy)]
pub struct Moves<'a> {
    /// Level later minus level earlier, one per cylinder; `NaN` = missing.
    pub delta: &'a [f64],
    /// Variance of each from the visits' own uncertainty.
    pub variance: &'a [f64],
    /// Standard deviation of the change of a deviation from the median of the others with nothing done.
    pub repeatability: f64,
    /// Expanded over standard uncertainty.
    pub k: f64,
    /// Cylinder that counts as unmoved where nothing else decides (position).
    pub reference: Option<usize>,
}

/// Who moved, and by how much.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Blame {
    /// Positions of the blamed cylinders, rising, each with its step and the step's standard uncertainty.
    pub blamed: Vec<(usize, f64, f64)>,
    /// Positions of the quiet cylinders.
    pub quiet: Vec<usize>,
    /// Two cylinders: either of them moved.
    pub either: bool,
}

impl Moves<'_> {
    /// Variance of one cylinder's move by the repeatability alone, so that a deviation from the median of `others`
    /// independent cylinders changes with the given standard deviation.
    fn private(&self, others: usize) -> f64 {
        self.repeatability.powi(2) / (1.0 + median_variance(others))
    }

    /// Departure of `i` from the median of the cylinders in `set` other than itself, with its standard uncertainty.
    pub(crate) fn departure(&self, i: usize, set: &[usize], live: usize) -> Option<(f64, f64)> {
        let others: Vec<usize> = set.iter().copied().filter(|&j| j != i).collect();
        let values: Vec<f64> = others.iter().map(|&j| self.delta[j]).collect();
        let middle = median(&values)?;
        let private = self.private(live - 1);
        let mean: f64 = others.iter().map(|&j| self.variance[j] + private).sum::<f64>() / others.len() as f64;
        let variance = self.variance[i] + private + median_variance(others.len()) * mean;
        Some((self.delta[i] - middle, variance.sqrt()))
    }

    fn quiet(&self, set: &[usize], live: usize) -> bool {
        set.iter().all(|&i| self.departure(i, set, live).is_some_and(|(d, u)| d.abs() <= self.k * u))
    }

    /// Weighted scatter of a set about its mean, per degree of freedom.
    fn scatter(&self, set: &[usize], live: usize) -> f64 {
        let private = self.private(live - 1);
        let mean = set.iter().map(|&i| self.delta[i]).sum::<f64>() / set.len() as f64;
        set.iter().map(|&i| (self.delta[i] - mean).powi(2) / (self.variance[i] + private)).sum::<f64>()
            / (set.len() - 1).max(1) as f64
    }
}

/// Blames the fewest cylinders for the moves. Nobody is blamed where fewer than two cylinders are live.
#[must_use]
pub fn blame(moves: &Moves<'_>) -> Blame {
    let live: Vec<usize> = (0..moves.delta.len()).filter(|&i| moves.delta[i].is_finite()).collect();
    let n = live.len();
    if n < 2 || moves.quiet(&live, n) {
        return Blame { quiet: live, ..Blame::default() };
    }
    if n == 2 {
        return of_two(moves, &live);
    }
    let quiet = if n <= MOST_EXHAUSTIVE { smallest(moves, &live) } else { one_by_one(moves, &live) };
    let quiet = quiet.unwrap_or_else(|| vec![anchor(moves, &live)]);
    let blamed = live
        .iter()
        .filter(|i| !quiet.contains(i))
        .filter_map(|&i| moves.departure(i, &quiet, n).map(|(d, u)| (i, d, u)))
        .filter(|(_, d, u)| d.abs() > moves.k * u)
        .collect();
    Blame { blamed, quiet, either: false }
}

/// Two cylinders: the one that is not the reference, else both.
fn of_two(moves: &Moves<'_>, live: &[usize]) -> Blame {
    let known = moves.reference.filter(|r| live.contains(r));
    let blamed = live
        .iter()
        .filter(|i| known != Some(**i))
        .filter_map(|&i| moves.departure(i, live, 2).map(|(d, u)| (i, d, u)))
        .collect();
    Blame { blamed, quiet: known.into_iter().collect(), either: known.is_none() }
}

/// The largest quiet set of at least two cylinders, the least scattered among those of its size.
fn smallest(moves: &Moves<'_>, live: &[usize]) -> Option<Vec<usize>> {
    let n = live.len();
    (2..n).rev().find_map(|size| {
        (0u32..1 << n)
            .filter(|mask| mask.count_ones() as usize == size)
            .map(|mask| {
                live.iter().enumerate().filter(|(b, _)| mask >> b & 1 == 1).map(|(_, &i)| i).collect()
            })
            .filter(|set: &Vec<usize>| moves.quiet(set, n))
            .min_by(|a, b| moves.scatter(a, n).total_cmp(&moves.scatter(b, n)))
    })
}

/// Many cylinders: takes out the largest departure until the rest is quiet.
fn one_by_one(moves: &Moves<'_>, live: &[usize]) -> Option<Vec<usize>> {
    let mut set = live.to_vec();
    while set.len() >= 2 {
        if moves.quiet(&set, live.len()) {
            return Some(set);
        }
        let ratio = |i: usize| moves.departure(i, &set, live.len()).map_or(0.0, |(d, u)| (d / u).abs());
        let worst = (0..set.len()).max_by(|&a, &b| ratio(set[a]).total_cmp(&ratio(set[b])))?;
        set.remove(worst);
    }
    None
}

/// No two moved alike: the numbered reference, else the cylinder that the others moved least against.
fn anchor(moves: &Moves<'_>, live: &[usize]) -> usize {
    let total = |a: usize| live.iter().map(|&i| (moves.delta[i] - moves.delta[a]).abs()).sum::<f64>();
    moves
        .reference
        .filter(|r| live.contains(r))
        .or_else(|| live.iter().copied().min_by(|&a, &b| total(a).total_cmp(&total(b))))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::ar1;

    fn of(delta: &[f64]) -> Blame {
        let variance = vec![0.02f64.powi(2); delta.len()];
        blame(&Moves { delta, variance: &variance, repeatability: 0.3, k: 2.0, reference: None })
    }

    fn names(b: &Blame) -> Vec<usize> {
        b.blamed.iter().map(|b| b.0).collect()
    }

    #[test]
    fn one_mover_of_any_number_is_named_alone() {
        for n in 3..=14 {
            for culprit in 0..n {
                let mut delta: Vec<f64> = (0..n).map(|i| 0.4 + 0.02 * (i % 3) as f64).collect();
                delta[culprit] += 1.2;
                let b = of(&delta);
                assert_eq!(names(&b), [culprit], "{n} cylinders");
                assert!((b.blamed[0].1 - 1.2).abs() < 0.05);
                // The naive way, departures from the mean of all, has n-1 innocents move by 1.2/n.
                let mean = delta.iter().sum::<f64>() / n as f64;
                assert!(
                    delta.iter().enumerate().all(|(i, d)| i == culprit || (d - mean).abs() > 0.8 / n as f64)
                );
            }
        }
    }

    #[test]
    fn in_a_three_the_half_share_of_the_healthy_is_not_blamed() {
        // Median of the two others = their mean: a mover of 1.4 shifts each healthy one by 0.7, over 2 x 0.3.
        assert_eq!(names(&of(&[0.0, -1.4, 0.01])), [1]);
    }

    #[test]
    fn two_movers_of_five_and_a_full_rebalance() {
        assert_eq!(names(&of(&[0.0, 1.0, 0.03, -0.02, -1.1])), [1, 4]);
        // Three screws of four turned, cylinder 4 has none: no two moved alike.
        let delta = [0.9, -0.9, 2.1, 0.0];
        let variance = [0.0; 4];
        let moves =
            Moves { delta: &delta, variance: &variance, repeatability: 0.3, k: 2.0, reference: Some(3) };
        let b = blame(&moves);
        assert_eq!((names(&b), b.quiet), (vec![0, 1, 2], vec![3]));
    }

    #[test]
    fn a_twin_cannot_tell_unless_one_is_the_reference() {
        let b = of(&[0.5, -0.5]);
        assert!(b.either && names(&b) == [0, 1] && b.blamed[0].1 == 1.0 && b.blamed[1].1 == -1.0);
        let moves = Moves {
            delta: &[0.5, -0.5],
            variance: &[0.0; 2],
            repeatability: 0.3,
            k: 2.0,
            reference: Some(1),
        };
        assert_eq!(names(&blame(&moves)), [0]);
    }

    #[test]
    fn nothing_done_blames_as_rarely_as_it_says() {
        // Private scatter such that a deviation from the median of the others changes by 0.3 (1 s.d.), bound 2 s.d.:
        // about 5 % a cylinder, so well under 20 % of the pairs of visits for a four.
        let draws = ar1(4 * 500, 0.0, 9);
        let sd = (draws.iter().map(|d| d * d).sum::<f64>() / draws.len() as f64).sqrt();
        let private = 0.3 / (1.0 + median_variance(3)).sqrt();
        let alarms = draws
            .chunks(4)
            .filter(|c| !of(&c.iter().map(|d| d / sd * private).collect::<Vec<_>>()).blamed.is_empty())
            .count();
        assert!((10..100).contains(&alarms), "{alarms} of 500");
    }

    #[test]
    fn dead_cylinders_are_left_out() {
        assert_eq!(names(&of(&[0.0, f64::NAN, 1.5, 0.0])), [2]);
        assert!(of(&[1.0, f64::NAN]).blamed.is_empty() && of(&[]).blamed.is_empty());
    }
}
