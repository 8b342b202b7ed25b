//! Changes: a cylinder that jumps against the others between two visits (a repair, a screw, a sensor changed).
//!
//! 1. Every pair of neighbouring visits is asked who moved ([`super::blame`]): candidates with their steps.
//! 2. A slow drift must not come out as a staircase, and a single odd visit is no repair. For each cylinder every
//!    choice of its candidates, with and without a common slope, is fitted to all its visits by least squares weighted
//!    with the visits' own uncertainty and the repeatability; each step and the slope cost `k^2`, the square of what a
//!    single value must depart by to count. The cheapest choice stays. For two visits this is the plain test
//!    `|step| > k u`.
//! 3. With enough visits the same is asked again with the scatter that the cylinders of this machine show from visit to
//!    visit anyway, and a price of steps that counts every cylinder and pair ([`super::scatter`]); both must agree.
//!
//! The series of a cylinder is taken against the median of all cylinders after their candidate steps and usual offsets
//! were taken out (median polish, Tukey, Exploratory Data Analysis, 1977), so that one mover does not move the rest.

use super::blame::{Blame, Moves, blame};
use super::levels::Levels;
use super::scatter::own_scatter;
use crate::stats::linear::multi_regression;
use crate::stats::robust::median;

/// Most candidates of one cylinder among which every choice is tried; the smallest beyond are given up.
const MOST_CANDIDATES: usize = 10;

/// How visits are judged.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Judging {
    /// Standard deviation of the change of a deviation between two visits with nothing done, kPa.
    pub(crate) repeatability: f64,
    /// Expanded over standard uncertainty.
    pub(crate) k: f64,
    /// Position of a numbered reference cylinder.
    pub(crate) reference: Option<usize>,
}

/// One change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Jump {
    /// Position of the cylinder.
    pub(crate) cylinder: usize,
    /// Visit before.
    pub(crate) from: usize,
    /// Visit after.
    pub(crate) to: usize,
    /// Step, kPa.
    pub(crate) step: f64,
    /// Its standard uncertainty.
    pub(crate) u: f64,
    /// One of two cylinders, not known which.
    pub(crate) either: bool,
}

/// Who moved between two visits, with the moves of all cylinders against the quiet ones, of these the `steady` ones if
/// there are any (`NaN` = missing).
pub(crate) fn between(
    levels: &Levels,
    a: usize,
    b: usize,
    judging: &Judging,
    steady: &[usize],
) -> (Blame, Vec<(f64, f64)>) {
    let n = levels.numbers.len();
    let delta: Vec<f64> = (0..n).map(|i| levels.x[b][i] - levels.x[a][i]).collect();
    let variance: Vec<f64> = (0..n).map(|i| levels.u[a][i].powi(2) + levels.u[b][i].powi(2)).collect();
    let Judging { repeatability, k, reference } = *judging;
    let moves = Moves { delta: &delta, variance: &variance, repeatability, k, reference };
    let found = blame(&moves);
    let live: Vec<usize> = (0..n).filter(|&i| delta[i].is_finite()).collect();
    let against = |i: usize| -> Vec<usize> {
        let quiet: Vec<usize> = found.quiet.iter().copied().filter(|&j| j != i).collect();
        let both: Vec<usize> = quiet.iter().copied().filter(|j| steady.contains(j)).collect();
        [both, quiet].into_iter().find(|set| !set.is_empty()).unwrap_or_else(|| live.clone())
    };
    let one = |i: usize| moves.departure(i, &against(i), live.len()).filter(|(d, _)| d.is_finite());
    let all = (0..n).map(|i| one(i).unwrap_or((f64::NAN, f64::NAN))).collect();
    (found, all)
}

/// Significant changes of all cylinders, ordered by visit and cylinder. `t` is the axis of the drift, one per visit.
pub(crate) fn changes(levels: &Levels, t: &[f64], judging: &Judging) -> Vec<Jump> {
    let candidates = candidates(levels, judging);
    let scatter = own_scatter(levels);
    if candidates.is_empty() {
        return candidates;
    }
    let aligned = align(levels, &candidates);
    let mut kept: Vec<Jump> = Vec::new();
    for i in 0..levels.numbers.len() {
        let own: Vec<Jump> = candidates.iter().copied().filter(|c| c.cylinder == i).collect();
        let series = |v: usize| -> f64 {
            let middle = median(&aligned[v]).unwrap_or(f64::NAN);
            let own_offset: f64 = own.iter().filter(|c| c.to <= v && !c.either).map(|c| c.step).sum();
            aligned[v][i] - middle + own_offset
        };
        let other = own.iter().find(|c| c.either).and_then(|c| partner(&candidates, c));
        let y: Vec<f64> = match other {
            Some(j) => levels.x.iter().map(|row| row[i] - row[j]).collect(),
            None => (0..t.len()).map(series).collect(),
        };
        let variance: Vec<f64> =
            levels.u.iter().map(|u| u[i].powi(2) + 0.5 * judging.repeatability.powi(2)).collect();
        let price = judging.k.powi(2);
        let mut chosen = cheapest(&own, &y, &variance, t, [price, price]);
        if let Some(s) = scatter {
            let variance: Vec<f64> =
                variance.iter().map(|v| if v.is_finite() { 0.5 * s.sd.powi(2) } else { *v }).collect();
            let standing_out = cheapest(&own, &y, &variance, t, s.prices(t.len(), price));
            chosen.retain(|c| standing_out.contains(c));
        }
        kept.extend(chosen);
    }
    kept.sort_by_key(|j| (j.to, j.cylinder));
    kept
}

/// Movers between neighbouring visits; a cylinder without a figure at a visit is compared across the gap.
fn candidates(levels: &Levels, judging: &Judging) -> Vec<Jump> {
    let (visits, n) = (levels.x.len(), levels.numbers.len());
    let before = |i: usize, v: usize| (0..v).rev().find(|&a| levels.x[a][i].is_finite());
    let mut found = Vec::new();
    for to in 1..visits {
        let mut pairs: Vec<usize> =
            (0..n).filter(|&i| levels.x[to][i].is_finite()).filter_map(|i| before(i, to)).collect();
        pairs.sort_unstable();
        pairs.dedup();
        for from in pairs {
            let (who, _) = between(levels, from, to, judging, &[]);
            let either = who.either;
            found.extend(
                who.blamed
                    .iter()
                    .filter(|(i, _, _)| before(*i, to) == Some(from))
                    .map(|&(cylinder, step, u)| Jump { cylinder, from, to, step, u, either }),
            );
        }
    }
    found
}

/// The other of two cylinders of which either moved.
fn partner(steps: &[Jump], of: &Jump) -> Option<usize> {
    let same = |o: &&Jump| o.either && o.from == of.from && o.to == of.to && o.cylinder != of.cylinder;
    steps.iter().find(same).map(|o| o.cylinder)
}

/// Levels with the steps taken out and each cylinder's usual offset removed; rows are visits. Of two cylinders of
/// which either moved, the second carries the step.
pub(crate) fn align(levels: &Levels, steps: &[Jump]) -> Vec<Vec<f64>> {
    let n = levels.numbers.len();
    let carried = |c: &&Jump| !c.either || partner(steps, c).is_some_and(|o| o < c.cylinder);
    let mut a: Vec<Vec<f64>> = levels.x.clone();
    for step in steps.iter().filter(carried) {
        a.iter_mut().skip(step.to).for_each(|row| row[step.cylinder] -= step.step);
    }
    for _ in 0..4 {
        for row in &mut a {
            let middle = median(row).unwrap_or(0.0);
            row.iter_mut().for_each(|x| *x -= middle);
        }
        for i in 0..n {
            let column: Vec<f64> = a.iter().map(|row| row[i]).collect();
            let middle = median(&column).unwrap_or(0.0);
            a.iter_mut().for_each(|row| row[i] -= middle);
        }
    }
    a
}

/// The cheapest choice of candidates, with or without a slope; `prices` of a step and of the slope.
fn cheapest(own: &[Jump], y: &[f64], variance: &[f64], t: &[f64], prices: [f64; 2]) -> Vec<Jump> {
    let mut own = own.to_vec();
    own.sort_by(|a, b| (b.step / b.u).abs().total_cmp(&(a.step / a.u).abs()));
    own.truncate(MOST_CANDIDATES);
    own.sort_by_key(|c| c.to);
    let live: Vec<usize> = (0..y.len()).filter(|&v| y[v].is_finite() && variance[v].is_finite()).collect();
    let y: Vec<f64> = live.iter().map(|&v| y[v]).collect();
    let w: Vec<f64> = live.iter().map(|&v| 1.0 / variance[v]).collect();
    let t: Vec<f64> = live.iter().map(|&v| t[v]).collect();
    let [price, of_slope] = prices;
    let mut best = (f64::INFINITY, 0usize);
    for mask in 0..1usize << own.len() {
        let chosen: Vec<usize> =
            own.iter().enumerate().filter(|(b, _)| mask >> b & 1 == 1).map(|(_, c)| c.to).collect();
        let sides: Vec<Vec<f64>> =
            chosen.iter().map(|to| live.iter().map(|v| f64::from(u8::from(v >= to))).collect()).collect();
        let steps = price * chosen.len() as f64;
        let flat = level_residual(&chosen, &live, &y, &w) + steps;
        let sloped = sloped_residual(&sides, &t, &y, &w) + steps + of_slope;
        let cost = flat.min(sloped);
        if cost < best.0 - 1e-9 {
            best = (cost, mask);
        }
    }
    own.iter().enumerate().filter(|(b, _)| best.1 >> b & 1 == 1).map(|(_, c)| *c).collect()
}

/// Weighted sum of squares about the mean of each stretch between steps.
fn level_residual(steps: &[usize], live: &[usize], y: &[f64], w: &[f64]) -> f64 {
    let stretch = |v: usize| steps.iter().filter(|s| **s <= v).count();
    (0..=steps.len())
        .map(|s| {
            let inside: Vec<usize> = (0..live.len()).filter(|&k| stretch(live[k]) == s).collect();
            let total: f64 = inside.iter().map(|&k| w[k]).sum();
            let mean = inside.iter().map(|&k| w[k] * y[k]).sum::<f64>() / total;
            inside.iter().map(|&k| w[k] * (y[k] - mean).powi(2)).sum::<f64>()
        })
        .sum()
}

/// Weighted sum of squares about a line with steps; infinite where no degree of freedom is left.
fn sloped_residual(sides: &[Vec<f64>], t: &[f64], y: &[f64], w: &[f64]) -> f64 {
    let mut columns = vec![t.to_vec()];
    columns.extend(sides.iter().cloned());
    multi_regression(&columns, y, Some(w)).map_or(f64::INFINITY, |f| f.residual_sd.powi(2) * f.df)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::ar1;
    use crate::visits::story::Story;

    const JUDGING: Judging = Judging { repeatability: 0.3, k: 2.0, reference: None };

    fn jumps(rows: &[Vec<f64>]) -> Vec<(usize, usize)> {
        let story = rows.iter().fold(Story::new(rows[0].len()), |s, r| s.next(r));
        let t: Vec<f64> = (0..rows.len()).map(|v| v as f64).collect();
        changes(&Levels::new(&story.visits, 2.0), &t, &JUDGING).iter().map(|j| (j.cylinder, j.to)).collect()
    }

    /// Rows in which cylinder `c` of `n` stands at the given levels and the others wobble by 0.03.
    fn rows(n: usize, c: usize, levels: &[f64]) -> Vec<Vec<f64>> {
        let wobble = ar1(n * levels.len(), 0.0, 77);
        let one = |v: usize, i: usize| {
            0.2 * i as f64 + 0.03 * wobble[v * n + i] + if i == c { levels[v] } else { 0.0 }
        };
        (0..levels.len()).map(|v| (0..n).map(|i| one(v, i)).collect()).collect()
    }

    #[test]
    fn a_repair_after_a_drift_is_one_change_of_one_cylinder() {
        for n in [3, 4, 6] {
            let found = jumps(&rows(n, 1, &[0.0, -0.5, -1.0, 0.0, -0.45, -0.9]));
            assert_eq!(found, [(1, 3)], "{n} cylinders");
        }
    }

    #[test]
    fn a_fast_drift_is_no_staircase() {
        // 0.75 from visit to visit: each pair alone exceeds 2 x 0.3 and the naive way finds six repairs.
        let drift: Vec<f64> = (0..7).map(|v| -0.75 * f64::from(v)).collect();
        let rows = rows(4, 2, &drift);
        let story = rows.iter().fold(Story::new(4), |s, r| s.next(r));
        assert_eq!(candidates(&Levels::new(&story.visits, 2.0), &JUDGING).len(), 6);
        assert!(jumps(&rows).is_empty());
    }

    #[test]
    fn two_repairs_of_two_cylinders_at_different_times() {
        let mut all = rows(4, 0, &[0.0, 0.0, 1.2, 1.2, 1.2, 1.2]);
        all.iter_mut().skip(4).for_each(|r| r[3] -= 1.5);
        assert_eq!(jumps(&all), [(0, 2), (3, 4)]);
    }

    #[test]
    fn one_odd_visit_by_little_is_no_pair_of_repairs_but_two_levels_are_a_change() {
        assert!(jumps(&rows(4, 1, &[0.0, 0.0, 0.64, 0.0, 0.0, 0.0])).is_empty());
        assert_eq!(jumps(&rows(4, 1, &[0.0, 0.0, 1.3, 1.3])), [(1, 2)]);
        assert_eq!(jumps(&rows(3, 1, &[0.0, 0.8])), [(1, 1)]);
        assert!(jumps(&rows(3, 1, &[0.0, 0.5])).is_empty());
    }

    #[test]
    fn a_missing_figure_is_bridged() {
        let mut all = rows(4, 1, &[0.0, 0.0, 1.3, 1.3]);
        all[2][1] = f64::NAN;
        let story = all.iter().fold(Story::new(4), |s, r| s.next(r));
        let mut visits = story.visits;
        visits[2].cylinders[1].deviation_kpa = None;
        let t: Vec<f64> = (0..4).map(f64::from).collect();
        let found = changes(&Levels::new(&visits, 2.0), &t, &JUDGING);
        assert_eq!(found.iter().map(|j| (j.cylinder, j.from, j.to)).collect::<Vec<_>>(), [(1, 1, 3)]);
    }

    #[test]
    fn a_twin_names_both() {
        assert_eq!(jumps(&rows(2, 1, &[0.0, 0.0, 1.4, 1.4])), [(0, 2), (1, 2)]);
    }
}
