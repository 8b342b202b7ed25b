//! From ordered times to the axis of a recording: rows that share a time are spread, the first sample becomes 0,
//! gaps are noted.
//!
//! A clock that only counts whole seconds gives several rows the same time. They are laid evenly between this time
//! and the next one: the rows of a logger come at an even pace, and a repeated time says nothing else.

use super::notes::Notes;
use super::row_lines::{Keep, RowLines};
use super::time_order::{Ordered, seconds, usual_step};
use crate::codes;
use crate::notice::{Level, Notice};

/// Share of rows that repeat the time above from which the clock, not the rows, is coarse.
const COARSE_SHARE: f64 = 0.1;

/// The finished axis.
#[derive(Debug, Clone, Default)]
pub(crate) struct Axis {
    /// Strictly rising from 0.
    pub(crate) time_s: Vec<f64>,
    /// Rows of the input that are kept.
    pub(crate) keep: Keep,
    /// Rows left out.
    pub(crate) dropped: usize,
    /// Remarks for `inspect`.
    pub(crate) layout: Vec<String>,
}

/// Finishes the axis.
pub(crate) fn finish(ordered: Ordered, lines: &RowLines, notes: &mut Notes) -> Axis {
    let Ordered { mut time_s, mut keep, mut dropped, .. } = ordered;
    let mut layout = Vec::new();
    // Counted from the first row before anything is asked: beside a far start, times that differ may become one.
    let start = time_s.first().copied().unwrap_or(0.0);
    time_s.iter_mut().for_each(|t| *t -= start);
    let repeats = time_s.windows(2).filter(|w| w[1] <= w[0]).count();
    if repeats as f64 > COARSE_SHARE * time_s.len() as f64 {
        let tick = spread(&mut time_s, notes);
        let text = format!(
            "the clock counts in steps of {}: rows that share a time are spread evenly up to the next step",
            seconds(tick)
        );
        notes.push(Notice::new(codes::COARSE_CLOCK, Level::Note, text.clone()).counted(repeats as u64));
        layout.push(text);
    }
    if time_s.windows(2).any(|w| w[1] <= w[0]) {
        let before = time_s.len();
        (time_s, keep) = drop_repeats(&time_s, &keep, lines, notes);
        dropped += before - time_s.len();
    }
    gaps(&time_s, &keep, lines, notes);
    uneven(&time_s, notes);
    Axis { time_s, keep, dropped, layout }
}

/// Spreads rows that share a time; returns the usual step of the clock.
fn spread(time_s: &mut [f64], notes: &mut Notes) -> f64 {
    let runs = runs(time_s);
    let ticks: Vec<f64> = runs.iter().map(|(start, _)| time_s[*start]).collect();
    let tick = usual_step(&ticks).unwrap_or(1.0);
    let mut lengths: Vec<usize> = runs.iter().map(|(_, length)| *length).collect();
    lengths.sort_unstable();
    let usual = lengths[lengths.len() / 2].max(1);
    let pace = tick / usual as f64;
    let stalled = 3 * usual + 2;
    let mut late = 0.0;
    let mut stalls = 0u64;
    for (index, (start, length)) in runs.iter().enumerate() {
        let from = ticks[index] + late;
        if *length > stalled {
            // The clock stood still; the rows went on at their usual pace.
            stalls += 1;
            for row in 0..*length {
                time_s[start + row] = from + pace * row as f64;
            }
            let counted = ticks.get(index + 1).map_or(0.0, |next| next - ticks[index]);
            late += (pace * *length as f64 - counted).max(0.0);
            continue;
        }
        let room = ticks.get(index + 1).map_or(pace * *length as f64, |next| {
            (next - ticks[index]).min(1.5 * tick.max(pace * *length as f64))
        });
        for row in 0..*length {
            time_s[start + row] = from + room * row as f64 / *length as f64;
        }
    }
    if stalls > 0 {
        notes.push(
            Notice::new(
                codes::CLOCK_STOOD,
                Level::Note,
                "the clock stood still while rows were written; they are laid at their usual pace",
            )
            .counted(stalls),
        );
    }
    tick
}

/// Start and length of every run of equal times.
fn runs(time_s: &[f64]) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (at, time) in time_s.iter().enumerate() {
        match runs.last_mut() {
            Some((start, length)) if time_s[*start] == *time => *length += 1,
            _ => runs.push((at, 1)),
        }
    }
    runs
}

/// Leaves out rows that repeat the time above.
fn drop_repeats(time_s: &[f64], keep: &Keep, lines: &RowLines, notes: &mut Notes) -> (Vec<f64>, Keep) {
    let start = time_s.first().copied().unwrap_or(0.0);
    let (mut times, mut rows) = (Vec::with_capacity(time_s.len()), Vec::with_capacity(time_s.len()));
    for (at, time) in time_s.iter().enumerate() {
        let row = keep.get(at);
        if times.last().is_none_or(|last| time > last) {
            times.push(*time);
            rows.push(u32::try_from(row).unwrap_or(u32::MAX));
            continue;
        }
        if !notes.room(codes::DUPLICATE_TIME) {
            notes.count_only(codes::DUPLICATE_TIME, Level::Caution);
            continue;
        }
        let text = "found the time of the row above again, expected a later one: the row is left out";
        let mut notice =
            Notice::new(codes::DUPLICATE_TIME, Level::Caution, text).between(time - start, time - start);
        if let Some(line) = lines.get(row) {
            notice = notice.at_line(line, None);
        }
        notes.push(notice);
    }
    (times, Keep::These(rows))
}

/// Notes rows that come at a very uneven pace: a tenth of the steps is twice as long or half as short as the usual.
fn uneven(time_s: &[f64], notes: &mut Notes) {
    let mut steps: Vec<f64> = time_s.windows(2).map(|w| w[1] - w[0]).take(20_000).collect();
    if steps.len() < 20 {
        return;
    }
    steps.sort_unstable_by(f64::total_cmp);
    let at = |share: usize| steps[steps.len() * share / 20];
    let (low, usual, high) = (at(2), at(10), at(18));
    if high > 2.0 * usual || low < 0.5 * usual {
        let text = format!(
            "rows come at an uneven pace: usual are {}, one in ten is under {} or over {}",
            seconds(usual),
            seconds(low),
            seconds(high)
        );
        notes.note(codes::UNEVEN_RATE, text);
    }
}

/// Notes stretches without rows: longer than five usual steps and half a second.
fn gaps(time_s: &[f64], keep: &Keep, lines: &RowLines, notes: &mut Notes) {
    let Some(step) = usual_step(time_s) else { return };
    let longest = (5.0 * step).max(0.5);
    for (at, pair) in time_s.windows(2).enumerate() {
        let length = pair[1] - pair[0];
        if length <= longest {
            continue;
        }
        if !notes.room(codes::GAP) {
            notes.count_only(codes::GAP, Level::Note);
            continue;
        }
        let text = format!("no rows for {}; usual are rows every {}", seconds(length), seconds(step));
        let mut notice = Notice::new(codes::GAP, Level::Note, text).between(pair[0], pair[1]);
        if let Some(line) = lines.get(keep.get(at + 1)) {
            notice = notice.at_line(line, None);
        }
        notes.push(notice);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axis(raw: &[f64]) -> (Axis, Vec<Notice>) {
        let ordered = Ordered { time_s: raw.to_vec(), keep: Keep::All(raw.len()), dropped: 0, step_s: 1.0 };
        let mut lines = RowLines::default();
        lines.push_run(2, raw.len());
        let mut notes = Notes::default();
        (finish(ordered, &lines, &mut notes), notes.finish())
    }

    #[test]
    fn whole_seconds_are_spread_inside_the_second() {
        let raw: Vec<f64> = (0..10).flat_map(|s| [f64::from(s); 4]).collect();
        let (axis, notices) = axis(&raw);
        assert!(axis.time_s.windows(2).all(|w| (w[1] - w[0] - 0.25).abs() < 1e-12), "{:?}", axis.time_s);
        assert_eq!(notices.iter().map(|n| n.code.as_str()).collect::<Vec<_>>(), ["coarse-clock"]);
        assert_eq!(axis.layout.len(), 1);
    }

    #[test]
    fn a_single_repeat_is_left_out_and_placed() {
        let mut raw: Vec<f64> = (0..20).map(f64::from).collect();
        raw[7] = 6.0;
        let (axis, notices) = axis(&raw);
        assert_eq!(axis.time_s.len(), 19);
        assert_eq!((notices[0].code.as_str(), notices[0].line), ("duplicate-time", Some(9)));
    }

    #[test]
    fn a_gap_is_placed() {
        let raw: Vec<f64> = (0..10).map(f64::from).chain((30..40).map(f64::from)).collect();
        let (_, notices) = axis(&raw);
        assert_eq!(
            (notices[0].start_s, notices[0].end_s, notices[0].line),
            (Some(9.0), Some(30.0), Some(12))
        );
    }
}
