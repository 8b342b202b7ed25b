//! Trend of each cylinder since its last change, blamed on the fewest.
//!
//! Mann-Kendall (exact up to ten visits without ties) and Theil-Sen with its interval (see `stats::trend`), on the
//! cylinder's level against the median of the others. Fewer than five visits can never be significant at 5 %: "too few
//! visits", not "no trend". In a three the median of the two others is their mean, so that one drifting cylinder drags
//! the healthy ones by half its way; therefore the smallest set of cylinders is sought without which the rest shows no
//! trend against itself, and the rest alone is the reference.
//!
//! A trend must also be larger than what can be measured: its way over the span must exceed the expanded uncertainty
//! of the two ends and the standard deviation by which two visits differ with nothing done.

use super::change::{Judging, Jump, align};
use super::levels::Levels;
use crate::stats::robust::median;
use crate::stats::trend::{FEWEST_FOR_TREND, TheilSen, theil_sen};

/// Two-sided level of significance.
pub(crate) const ALPHA: f64 = 0.05;

/// Confidence of the slope's interval. With five visits the ranks at 0.95 miss the outermost slopes by a thousandth of
/// a rank and would be unbounded, although the outermost pair holds with probability 1 - 2/120 (exact distribution).
const CONFIDENCE: f64 = 0.949;

/// Cylinders up to which every set is tried.
const MOST_EXHAUSTIVE: usize = 12;

/// Trend of one cylinder.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Line {
    /// First visit since the last change.
    pub(crate) since: usize,
    /// Visits with a figure since then.
    pub(crate) visits: usize,
    /// Fit; `None` with fewer than five visits or without spread of the axis.
    pub(crate) fit: Option<TheilSen>,
    /// Trend shown.
    pub(crate) significant: bool,
    /// Significant by rank, too small to be measured.
    pub(crate) too_small: bool,
}

/// Trends of all cylinders and the positions of those that drift.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Trends {
    /// One per cylinder.
    pub(crate) lines: Vec<Line>,
    /// Positions of the cylinders without which the rest shows no trend: those that drift, and those that may.
    pub(crate) drifting: Vec<usize>,
    /// Two cylinders: either of them drifts.
    pub(crate) either: bool,
}

/// What a trend is computed from.
struct Table<'a> {
    levels: &'a Levels,
    aligned: Vec<Vec<f64>>,
    t: &'a [f64],
    since: Vec<usize>,
    judging: Judging,
}

impl Table<'_> {
    fn line(&self, i: usize, others: &[usize]) -> Line {
        let since = self.since[i];
        let y: Vec<f64> = (0..self.t.len())
            .map(|v| {
                let fellows: Vec<f64> =
                    others.iter().filter(|&&j| j != i).map(|&j| self.aligned[v][j]).collect();
                if v < since { f64::NAN } else { self.aligned[v][i] - median(&fellows).unwrap_or(f64::NAN) }
            })
            .collect();
        let live: Vec<usize> = (0..y.len()).filter(|&v| y[v].is_finite() && self.t[v].is_finite()).collect();
        let visits = live.len();
        let fit = (visits >= FEWEST_FOR_TREND).then(|| theil_sen(self.t, &y, CONFIDENCE).ok()).flatten();
        let by_rank = fit.as_ref().is_some_and(|f| f.trend.p() <= ALPHA);
        let large = fit.as_ref().is_some_and(|f| {
            let ends = [live[0], live[visits - 1]].map(|v| self.levels.u[v][i].powi(2));
            let u2 = ends.iter().sum::<f64>();
            let way = f.slope * (f.t_last - f.t_first);
            way * way > self.judging.k.powi(2) * u2 + self.judging.repeatability.powi(2)
        });
        Line { since, visits, fit, significant: by_rank && large, too_small: by_rank && !large }
    }

    /// Whether no cylinder of a set drifts against the rest of it; the scatter of the set if so.
    fn quiet(&self, set: &[usize]) -> Option<f64> {
        if set.iter().any(|&i| self.line(i, set).significant) {
            return None;
        }
        let scatter = self.aligned.iter().map(|row| {
            let inside: Vec<f64> = set.iter().map(|&i| row[i]).filter(|x| x.is_finite()).collect();
            let middle = median(&inside).unwrap_or(0.0);
            inside.iter().map(|x| (x - middle).powi(2)).sum::<f64>()
        });
        Some(scatter.sum())
    }

    fn drifting(&self, n: usize) -> Vec<usize> {
        let all: Vec<usize> = (0..n).collect();
        if n < 2 || self.quiet(&all).is_some() {
            return Vec::new();
        }
        let significant: Vec<usize> =
            all.iter().copied().filter(|&i| self.line(i, &all).significant).collect();
        if n == 2 {
            return significant.into_iter().filter(|i| self.judging.reference != Some(*i)).collect();
        }
        let quiet = if n <= MOST_EXHAUSTIVE { self.largest_quiet(n) } else { self.one_by_one(all.clone()) };
        quiet.map_or(significant, |q| all.into_iter().filter(|i| !q.contains(i)).collect())
    }

    fn largest_quiet(&self, n: usize) -> Option<Vec<usize>> {
        (2..n).rev().find_map(|size| {
            (0u32..1 << n)
                .filter(|mask| mask.count_ones() as usize == size)
                .map(|mask| (0..n).filter(|i| mask >> i & 1 == 1).collect::<Vec<_>>())
                .filter_map(|set| self.quiet(&set).map(|s| (s, set)))
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .map(|(_, set)| set)
        })
    }

    fn one_by_one(&self, mut set: Vec<usize>) -> Option<Vec<usize>> {
        while set.len() >= 2 {
            let steep = |i: usize| {
                let line = self.line(i, &set);
                line.fit.filter(|_| line.significant).map_or(0.0, |f| f.slope.abs())
            };
            let worst = (0..set.len()).max_by(|&a, &b| steep(set[a]).total_cmp(&steep(set[b])))?;
            if steep(set[worst]) == 0.0 {
                return Some(set);
            }
            set.remove(worst);
        }
        None
    }
}

/// Trends since each cylinder's last change; `t` is the axis, one per visit.
pub(crate) fn trends(levels: &Levels, jumps: &[Jump], t: &[f64], judging: &Judging) -> Trends {
    let n = levels.numbers.len();
    let since =
        (0..n).map(|i| jumps.iter().filter(|j| j.cylinder == i).map(|j| j.to).max().unwrap_or(0)).collect();
    let table = Table { levels, aligned: align(levels, jumps), t, since, judging: *judging };
    let drifting = table.drifting(n);
    let either = n == 2 && drifting.len() == 2;
    let lines = (0..n)
        .map(|i| {
            let mut others: Vec<usize> = (0..n).filter(|j| *j != i && !drifting.contains(j)).collect();
            if others.is_empty() {
                others = (0..n).filter(|j| *j != i).collect();
            }
            let mut line = table.line(i, &others);
            line.significant = line.significant && drifting.contains(&i);
            line
        })
        .collect();
    Trends { lines, drifting, either }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::ar1;
    use crate::visits::story::Story;

    const JUDGING: Judging = Judging { repeatability: 0.3, k: 2.0, reference: None };

    fn of(n: usize, visits: usize, level: impl Fn(usize, usize) -> f64) -> (Levels, Trends) {
        let wobble = ar1(n * visits, 0.0, 31);
        let row = |v: usize| (0..n).map(|i| level(v, i) + 0.03 * wobble[v * n + i]).collect::<Vec<_>>();
        let story = (0..visits).fold(Story::new(n), |s, v| s.next(&row(v)));
        let levels = Levels::new(&story.visits, 2.0);
        let t: Vec<f64> = (0..visits).map(|v| 50.0 * v as f64).collect();
        let trends = trends(&levels, &[], &t, &JUDGING);
        (levels, trends)
    }

    #[test]
    fn one_drifter_is_blamed_alone() {
        for n in [3, 4, 5, 14] {
            let (levels, found) = of(n, 7, |v, i| if i == 1 { -0.2 * v as f64 } else { 0.0 });
            assert_eq!(found.drifting, [1], "{n} cylinders");
            let slope = found.lines[1].fit.as_ref().unwrap().slope;
            assert!((slope - -0.004).abs() < 4e-4, "{slope}");
            assert!(found.lines.iter().enumerate().all(|(i, l)| l.significant == (i == 1)));
            if n == 3 {
                // The naive way: against the median of the two others, the healthy ones drift by half as much.
                let t: Vec<f64> = (0..7).map(|v| 50.0 * f64::from(v)).collect();
                let y: Vec<f64> = (0..7).map(|v| levels.deviation(v, 0, &[1, 2]).unwrap().0).collect();
                assert!(theil_sen(&t, &y, 0.95).unwrap().trend.p() < 0.05);
            }
        }
    }

    #[test]
    fn four_visits_are_too_few_and_small_ways_are_no_trend() {
        let (_, found) = of(4, 4, |v, i| if i == 1 { -0.5 * v as f64 } else { 0.0 });
        assert!(found.drifting.is_empty() && found.lines[1].fit.is_none() && found.lines[1].visits == 4);
        // 0.02 a visit over eight visits, without any scatter: monotone, so p = 2/8!, but 0.14 kPa in all.
        let rows = |v: usize| [0.0, 0.02 * v as f64, 0.0, 0.0];
        let story = (0..8).fold(Story::new(4), |s, v| s.next(&rows(v)));
        let t: Vec<f64> = (0..8).map(f64::from).collect();
        let found = trends(&Levels::new(&story.visits, 2.0), &[], &t, &JUDGING);
        assert!(!found.lines[1].significant && found.lines[1].too_small);
    }

    #[test]
    fn five_visits_have_a_bounded_interval() {
        let (_, found) = of(4, 5, |v, i| if i == 2 { 0.3 * v as f64 } else { 0.0 });
        let fit = found.lines[2].fit.as_ref().unwrap();
        assert!(fit.slope_low.is_finite() && fit.slope_high.is_finite() && found.lines[2].significant);
        // Exact two-sided p of five rising values: 2/5!.
        assert!((fit.trend.p() - 2.0 / 120.0).abs() < 1e-12);
    }

    #[test]
    fn healthy_machines_show_a_trend_as_rarely_as_it_says() {
        let mut alarms = 0;
        for seed in 0..200 {
            let wobble = ar1(4 * 6, 0.0, 500 + seed);
            let story = (0..6).fold(Story::new(4), |s, v| {
                s.next(&(0..4).map(|i| 0.2 * wobble[v * 4 + i]).collect::<Vec<_>>())
            });
            let t: Vec<f64> = (0..6).map(f64::from).collect();
            alarms += trends(&Levels::new(&story.visits, 2.0), &[], &t, &JUDGING).drifting.len();
        }
        // 800 cylinders, two-sided 5 % at most (exact levels of six values: 1.7 %).
        assert!(alarms < 40, "{alarms} of 800");
    }

    #[test]
    fn a_twin_cannot_tell() {
        let (_, found) = of(2, 6, |v, i| if i == 0 { 0.3 * v as f64 } else { 0.0 });
        assert!(found.either && found.drifting == [0, 1]);
    }
}
