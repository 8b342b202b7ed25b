//! Which rows hold the phase: those that are fit and have a reading, and of many more than enough only every so manieth.

use std::ops::Range;

use rayon::prelude::*;

use super::{PART, Signal};

/// Rows a cycle that suffice to hold the phase: three times what four harmonics need.
const ENOUGH_A_CYCLE: f64 = 24.0;

/// Ranges that one thread takes at a time.
fn parts(fit: &[Range<usize>]) -> Vec<Range<usize>> {
    let cut = |range: &Range<usize>| {
        let end = range.end;
        range.clone().step_by(PART).map(move |from| from..(from + PART).min(end))
    };
    fit.iter().flat_map(cut).collect()
}

/// What a range holds.
struct Seen {
    /// Rows in which any channel has a reading.
    rows: usize,
    ends: Option<(usize, usize)>,
    /// Readings of each channel.
    readings: Vec<usize>,
}

fn look(range: &Range<usize>, signals: &[Signal<'_>]) -> Seen {
    let readings: Vec<usize> = signals.iter().map(|s| s.readings(range.clone())).collect();
    // One channel that reads in every row settles what the others together say.
    if readings.contains(&range.len()) {
        return Seen { rows: range.len(), ends: Some((range.start, range.end - 1)), readings };
    }
    let mut seen = Seen { rows: 0, ends: None, readings: vec![0; signals.len()] };
    for k in range.clone() {
        let mut any = false;
        for (n, s) in seen.readings.iter_mut().zip(signals) {
            let reads = s.reads(k);
            *n += usize::from(reads);
            any |= reads;
        }
        if any {
            seen.rows += 1;
            seen.ends = Some((seen.ends.map_or(k, |ends| ends.0), k));
        }
    }
    seen
}

/// Every `stride`th row in which any channel has a reading.
pub(super) fn usable(fit: &[Range<usize>], signals: &[Signal<'_>], stride: usize) -> Vec<usize> {
    let parts = parts(fit);
    let seen: Vec<Seen> = parts.par_iter().map(|part| look(part, signals)).collect();
    pick(&parts, &seen, signals, stride)
}

fn pick(parts: &[Range<usize>], seen: &[Seen], signals: &[Signal<'_>], stride: usize) -> Vec<usize> {
    let mut before = 0;
    let mut starts = Vec::with_capacity(parts.len());
    for part in seen {
        starts.push((stride - before % stride) % stride);
        before += part.rows;
    }
    let rows = |((part, start), seen): ((&Range<usize>, &usize), &Seen)| {
        if seen.rows == part.len() {
            return part.clone().skip(*start).step_by(stride).collect();
        }
        let usable = part.clone().filter(|&k| signals.iter().any(|s| s.reads(k)));
        usable.skip(*start).step_by(stride).collect::<Vec<usize>>()
    };
    let lists: Vec<Vec<usize>> = parts.par_iter().zip(&starts).zip(seen).map(rows).collect();
    lists.concat()
}

/// Every so manieth usable row where there are many more than enough to a cycle, and no channel loses more than its share.
pub(super) fn thinned(fit: &[Range<usize>], cycles: &[f64], signals: &[Signal<'_>]) -> Vec<usize> {
    let parts = parts(fit);
    let seen: Vec<Seen> = parts.par_iter().map(|part| look(part, signals)).collect();
    let mut ends = seen.iter().filter_map(|part| part.ends);
    let Some((first, last)) = ends.next().map(|head| (head.0, ends.next_back().unwrap_or(head).1)) else {
        return Vec::new();
    };
    let count: usize = seen.iter().map(|part| part.rows).sum();
    let turns = (cycles[last] - cycles[first]).max(1.0);
    let stride = (count as f64 / turns / ENOUGH_A_CYCLE) as usize;
    if stride < 2 {
        return pick(&parts, &seen, signals, 1);
    }
    let some = pick(&parts, &seen, signals, stride);
    // A channel that is written in every fifth row may stand between the rows that are taken.
    let kept = |s: &Signal<'_>| some.iter().filter(|k| s.reads(**k)).count();
    let all = |at: usize| seen.iter().map(|part| part.readings[at]).sum::<usize>();
    let whole = |at: usize| all(at) == count;
    let fair = signals.iter().enumerate().all(|(at, s)| whole(at) || 2 * stride * kept(s) >= all(at));
    if fair { some } else { pick(&parts, &seen, signals, 1) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_third_row_is_counted_across_the_parts() {
        let rows = 5 * PART / 2;
        let mut values = vec![1.0; rows];
        values[10..20].fill(f64::NAN);
        let weights = vec![1.0; rows];
        let signals = [Signal { values: &values, weights: &weights }];
        let fit = [5..100, 200..rows];
        // One after the other, as they come.
        let want: Vec<usize> =
            fit.iter().cloned().flatten().filter(|k| values[*k].is_finite()).step_by(3).collect();
        assert_eq!(usable(&fit, &signals, 3), want);
        // Naive: a count that starts anew in each part.
        let naive: Vec<usize> = parts(&fit)
            .into_iter()
            .flat_map(|part| part.filter(|k| values[*k].is_finite()).step_by(3))
            .collect();
        assert_ne!(naive, want);
    }
}
