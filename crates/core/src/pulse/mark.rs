//! Phase from a mark on crank or camshaft.
//!
//! # Method
//! A mark is a rising edge through the middle between the lowest and the highest value of the channel, placed between the
//! two rows by a straight line. The logged speed says how many marks make a cycle (one for a cam, two for a crank in a
//! four-stroke) and how many were missed between two that were seen; it also carries the phase between them. What the marks
//! add is the correction `marks x step - integrated speed`, averaged over seven marks, because an edge is only known to
//! within a row, and laid through by straight lines. Taking the last mark as exact and the speed as constant until the next
//! (the naive way) keeps the full jitter of the rows and breaks at every missed mark.
//!
//! # Source
//! Order tracking with a once-per-turn reference: P. D. McFadden, Mech. Syst. Signal Process. 1 (1987) 83; from memory.

use crate::stats::robust::median;

/// Why a mark channel is not used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unusable {
    /// It never moves, or moves too seldom.
    NoMarks,
    /// Marks come neither once a revolution nor once a cycle by the logged speed.
    OddSpacing,
    /// Less than four fifths of the marks that the speed asks for were seen.
    Missed,
}

impl Unusable {
    /// The reason in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::NoMarks => "no marks are in it",
            Self::OddSpacing => {
                "its marks come neither once a revolution nor once an engine cycle by the logged speed"
            }
            Self::Missed => "more than a fifth of its marks are missing; the rows are too far apart for it",
        }
    }
}

/// Phase by the marks.
#[derive(Debug, Clone, PartialEq)]
pub struct Marked {
    /// Engine cycles of every row; whole where the mark passes (whole or half for a mark once a revolution).
    pub cycles: Vec<f64>,
    /// Marks an engine cycle, 1 or 2.
    pub per_cycle: u8,
    /// Share of the expected marks that were seen.
    pub seen: f64,
}

/// Marks averaged to either side of one.
const REACH: usize = 3;
const LEAST: usize = 16;

/// Engine cycles of every row from a mark channel.
///
/// # Shape
/// `time_s`, `mark` (`NaN` = missing) and `rough` (cycles by the logged speed) have one value per row.
/// # Errors
/// [`Unusable`] with the reason.
pub fn cycles(time_s: &[f64], mark: &[f64], rough: &[f64], strokes: u8) -> Result<Marked, Unusable> {
    let edges = edges(time_s, mark, rough);
    if edges.len() < LEAST {
        return Err(Unusable::NoMarks);
    }
    let gaps: Vec<f64> = edges.windows(2).map(|w| w[1].1 - w[0].1).collect();
    // Missed marks widen some gaps: the lower half holds the single ones.
    let mut sorted = gaps.clone();
    sorted.sort_by(f64::total_cmp);
    let single = median(&sorted[..sorted.len().div_ceil(2)]).unwrap_or(f64::NAN);
    let per_cycle = match single {
        s if (s - 1.0).abs() < 0.12 => 1u8,
        s if strokes == 4 && (s - 0.5).abs() < 0.06 => 2,
        _ => return Err(Unusable::OddSpacing),
    };
    let step = 1.0 / f64::from(per_cycle);
    let (mut knots, mut count) = (Vec::with_capacity(edges.len()), 0.0);
    let mut last = edges[0].1;
    for &(t, at) in &edges {
        let turns = ((at - last) / step).round();
        if !knots.is_empty() && turns < 1.0 {
            continue; // a second edge of one mark
        }
        count += turns;
        last = at;
        knots.push((t, count * step - at));
    }
    // Across a stop the count is the speed's: only marks while turning are expected.
    let expected = (edges[edges.len() - 1].1 - edges[0].1) / step + 1.0;
    let seen = knots.len() as f64 / expected.max(1.0);
    if seen < 0.8 {
        return Err(Unusable::Missed);
    }
    let smooth: Vec<(f64, f64)> = (0..knots.len())
        .map(|k| {
            let reach = REACH.min(k).min(knots.len() - 1 - k);
            let part = &knots[k - reach..=k + reach];
            (knots[k].0, part.iter().map(|p| p.1).sum::<f64>() / part.len() as f64)
        })
        .collect();
    let mut out = rough.to_vec();
    super::phase::shift(time_s, &mut out, &smooth);
    Ok(Marked { cycles: out, per_cycle, seen })
}

/// Rising edges: time and cycles by the speed.
fn edges(time_s: &[f64], mark: &[f64], rough: &[f64]) -> Vec<(f64, f64)> {
    let (low, high) = mark
        .iter()
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), &v| (a.min(v), b.max(v)));
    if high <= low {
        return Vec::new();
    }
    let middle = 0.5 * (low + high);
    let mut out = Vec::new();
    for k in 1..mark.len() {
        let (a, b) = (mark[k - 1], mark[k]);
        if a < middle && b >= middle {
            let x = (middle - a) / (b - a);
            let between = |v: &[f64]| v[k - 1] + x * (v[k] - v[k - 1]);
            out.push((between(time_s), between(rough)));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    /// Rows at `hz`; a crank that turns at 9 cycles a second with a slow wander, the closed form of its phase, the
    /// channel of its mark and the phase by a speed that reads 0.4 % high.
    fn rig(
        hz: f64,
        per_cycle: f64,
        lost: impl Fn(usize) -> bool,
    ) -> (Vec<f64>, Vec<f64>, Vec<f64>, Vec<f64>) {
        let time: Vec<f64> = (0..(30.0 * hz) as usize).map(|k| k as f64 / hz).collect();
        let truth: Vec<f64> = time.iter().map(|t| 9.0 * t + 0.2 * (0.8 * t).sin()).collect();
        let mark = (0..time.len())
            .map(|k| {
                let passed = k > 0 && (truth[k] * per_cycle).floor() > (truth[k - 1] * per_cycle).floor();
                let number = (truth[k] * per_cycle).floor() as usize;
                f64::from(u8::from(passed && !lost(number)))
            })
            .collect();
        let rough = truth.iter().map(|c| c * 1.004).collect();
        (time, truth, mark, rough)
    }

    /// Standard deviation of the phase error; a common turn does not count.
    fn error(found: &[f64], truth: &[f64]) -> f64 {
        let d: Vec<f64> = found.iter().zip(truth).map(|(a, b)| a - b).collect();
        crate::stats::moments::sd(&d).unwrap()
    }

    #[test]
    fn cam_and_crank_marks_give_the_phase() {
        for per_cycle in [1u8, 2] {
            let (time, truth, mark, rough) = rig(1000.0, f64::from(per_cycle), |_| false);
            let found = cycles(&time, &mark, &rough, 4).unwrap();
            assert_eq!(found.per_cycle, per_cycle);
            assert!(error(&found.cycles, &truth) < 0.003, "{}", error(&found.cycles, &truth));
            assert!(error(&rough, &truth) > 0.2, "the speed alone drifts by cycles");
        }
    }

    #[test]
    fn missed_marks_are_bridged() {
        let (time, truth, mark, rough) = rig(1000.0, 1.0, |n| n % 9 == 4);
        let found = cycles(&time, &mark, &rough, 4).unwrap();
        assert!((found.seen - 8.0 / 9.0).abs() < 0.02);
        assert!(error(&found.cycles, &truth) < 0.003);
        // Naive: every mark is the next cycle. 30 of 270 are missed, so it ends 30 cycles behind.
        let counted = mark.iter().filter(|v| **v > 0.5).count() as f64;
        assert!(truth.last().unwrap() - counted > 25.0);
        let half = rig(1000.0, 1.0, |n| n % 2 == 1 && n % 3 != 0);
        assert_eq!(cycles(&half.0, &half.2, &half.3, 4), Err(Unusable::Missed));
    }

    #[test]
    fn rows_wider_than_the_mark_jitter_less_than_the_naive_way() {
        let (time, truth, mark, rough) = rig(100.0, 1.0, |_| false);
        let found = cycles(&time, &mark, &rough, 4).unwrap();
        // Closed form: an edge known to within a row of 0.09 cycle has a standard deviation of 0.09 / sqrt 12 = 0.026
        // cycle; seven of them 0.0098.
        let got = error(&found.cycles, &truth);
        assert!(got < 0.015, "{got}");
    }

    #[test]
    fn what_is_no_mark_is_refused() {
        let (time, _, mark, rough) = rig(1000.0, 1.0, |_| false);
        assert_eq!(cycles(&time, &vec![1.0; time.len()], &rough, 4), Err(Unusable::NoMarks));
        let thrice: Vec<f64> = rough.iter().map(|c| c / 3.0).collect();
        assert_eq!(cycles(&time, &mark, &thrice, 4), Err(Unusable::OddSpacing));
        // A two-stroke has one revolution a cycle.
        let (time, _, mark, rough) = rig(1000.0, 2.0, |_| false);
        assert_eq!(cycles(&time, &mark, &rough, 2), Err(Unusable::OddSpacing));
    }
}
