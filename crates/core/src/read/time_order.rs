//! Puts raw times in order: counters that wrap, clocks past midnight, restarts, rows out of place.

use super::notes::Notes;
use super::row_lines::{Keep, RowLines};
use crate::codes;
use crate::notice::{Level, Notice};

/// Times beyond this are no times: any clock counts from less than 300,000 years away.
const FURTHEST_S: f64 = 1e13;

/// How raw times were written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct TimeKind {
    /// Clock text: may pass midnight.
    pub(crate) clock: bool,
    /// Size of one count in seconds where times are plain figures; such counters wrap.
    pub(crate) unit_s: f64,
    /// Rows that share a time are one moment (long layout).
    pub(crate) equal_ok: bool,
}

/// Times in order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Ordered {
    /// Never falling; seconds with an arbitrary start.
    pub(crate) time_s: Vec<f64>,
    /// Rows of the input that are kept.
    pub(crate) keep: Keep,
    /// Rows left out.
    pub(crate) dropped: usize,
    /// Usual step between rows.
    pub(crate) step_s: f64,
}

/// Rows that a stray time may hide before it counts as a restart.
const LOOK_AHEAD: usize = 20;

/// Median of the rising steps; `None` when no time ever rises.
pub(crate) fn usual_step(raw: &[f64]) -> Option<f64> {
    let mut steps: Vec<f64> =
        raw.windows(2).map(|w| w[1] - w[0]).filter(|d| *d > 0.0 && d.is_finite()).take(20_000).collect();
    if steps.is_empty() {
        return None;
    }
    let mid = steps.len() / 2;
    Some(*steps.select_nth_unstable_by(mid, f64::total_cmp).1)
}

/// Whether nearly all times fall: a log written newest first.
pub(crate) fn is_newest_first(raw: &[f64]) -> bool {
    let falls = raw.windows(2).filter(|w| w[1] < w[0]).count();
    let rises = raw.windows(2).filter(|w| w[1] > w[0]).count();
    falls > 2 && rises * 20 < falls
}

/// Orders `raw` (seconds, `NaN` = unreadable); `lines` are the file's lines, empty where there are none.
///
/// Returns `None` when no time ever rises.
pub(crate) fn order(
    mut raw: Vec<f64>,
    lines: &RowLines,
    kind: TimeKind,
    notes: &mut Notes,
) -> Option<Ordered> {
    for (at, time) in raw.iter_mut().enumerate().filter(|(_, t)| t.abs() > FURTHEST_S) {
        let found = *time;
        *time = f64::NAN;
        say(notes, codes::TIME_JUMP, lines, at, f64::NAN, || {
            format!(
                "found {found:.1e} s for a time, expected a moment of this age of the world: the row is left out"
            )
        });
    }
    let step = usual_step(&raw)?;
    if raw[0].is_finite() && raw.windows(2).all(|w| w[1] >= w[0] && w[1].is_finite()) {
        return Some(Ordered { keep: Keep::All(raw.len()), time_s: raw, dropped: 0, step_s: step });
    }
    Some(repair(&raw, step, lines, kind, notes))
}

/// The general case: something falls or is missing.
fn repair(raw: &[f64], step: f64, lines: &RowLines, kind: TimeKind, notes: &mut Notes) -> Ordered {
    let mut out = Ordered { step_s: step, ..Ordered::default() };
    let mut kept: Vec<u32> = Vec::new();
    let (mut offset, mut last) = (0.0, f64::NEG_INFINITY);
    let mut at = 0;
    while at < raw.len() {
        let now = raw[at] + offset;
        if !now.is_finite() {
            out.dropped += 1;
        } else if now >= last {
            if is_stray_forward(raw, at, offset, last, step) {
                out.dropped += 1;
                say(notes, codes::TIME_JUMP, lines, at, last - first(&out), || {
                    format!(
                        "the time jumps ahead by {} and back again: the row is left out",
                        seconds(now - last)
                    )
                });
            } else {
                out.time_s.push(now);
                kept.push(u32::try_from(at).unwrap_or(u32::MAX));
                last = now;
            }
        } else if let Some((period, name)) = wrap(now - last, step, kind).filter(|w| now + w.0 > now) {
            offset += period;
            say(notes, codes::CLOCK_WRAP, lines, at, last - first(&out), || {
                format!("the time starts again from a small figure: {name}; read as running on")
            });
            continue;
        } else if returns_soon(raw, at, offset, last) {
            out.dropped += 1;
            say(notes, codes::TIME_BACKWARDS, lines, at, last - first(&out), || {
                format!(
                    "found a time {} before the row above, expected a later one: the row is left out",
                    seconds(last - now)
                )
            });
        } else {
            let pause = (5.0 * step).max(1.0);
            let moved = offset + (last + pause - now);
            // Beside a time of 1e300 s no pause counts: the row cannot be placed.
            if raw[at] + moved < last || !moved.is_finite() {
                out.dropped += 1;
                at += 1;
                continue;
            }
            offset = moved;
            say(notes, codes::TIME_BACKWARDS, lines, at, last - first(&out), || {
                format!(
                    "the time falls back by {} and goes on from there: the clock was started again; the rest follows \
                     after a gap of {}",
                    seconds(last - now),
                    seconds(pause)
                )
            });
            continue;
        }
        at += 1;
    }
    out.keep = Keep::These(kept);
    out
}

fn first(out: &Ordered) -> f64 {
    out.time_s.first().copied().unwrap_or(0.0)
}

/// A duration in words with a sensible number of digits.
pub(crate) fn seconds(value: f64) -> String {
    if value >= 100.0 {
        format!("{value:.0} s")
    } else if value >= 1.0 {
        format!("{value:.2} s")
    } else {
        format!("{:.1} ms", value * 1000.0)
    }
}

fn say(notes: &mut Notes, code: &str, lines: &RowLines, at: usize, time_s: f64, text: impl Fn() -> String) {
    let level = if code == codes::CLOCK_WRAP { Level::Note } else { Level::Caution };
    if !notes.room(code) {
        return notes.count_only(code, level);
    }
    let mut notice = Notice::new(code, level, text());
    if let Some(line) = lines.get(at) {
        notice = notice.at_line(line, None);
    }
    if time_s.is_finite() {
        notice = notice.between(time_s, time_s);
    }
    notes.push(notice);
}

/// One row far ahead whose followers go on where the row above stopped.
fn is_stray_forward(raw: &[f64], at: usize, offset: f64, last: f64, step: f64) -> bool {
    let now = raw[at] + offset;
    if !last.is_finite() || now - last <= (20.0 * step).max(1.0) {
        return false;
    }
    let mut next = raw[at + 1..].iter().map(|t| t + offset).filter(|t| t.is_finite()).take(3);
    let follows = |t: f64| t >= last && t < now && t - last <= 5.0 * step + 1e-9;
    next.next().is_some_and(follows)
}

/// Whether the times climb over `last` again within a few rows.
fn returns_soon(raw: &[f64], at: usize, offset: f64, last: f64) -> bool {
    let mut next =
        raw[at + 1..].iter().map(|t| t + offset).filter(|t| t.is_finite()).take(LOOK_AHEAD).peekable();
    next.peek().is_none() || next.any(|t| t >= last)
}

/// The period after which such a time starts again, where the fall fits one.
fn wrap(fall: f64, step: f64, kind: TimeKind) -> Option<(f64, &'static str)> {
    let most = (20.0 * step).clamp(2.0, 60.0);
    let fits = |period: f64| (0.0..=most).contains(&(fall + period));
    if kind.clock {
        [(86_400.0, "midnight"), (43_200.0, "a clock of twelve hours"), (3600.0, "a clock without hours")]
            .into_iter()
            .find(|(period, _)| fits(*period))
    } else {
        let count = |power: i32| 2f64.powi(power) * kind.unit_s;
        [(32, "a counter of 32 bits"), (31, "a counter of 31 bits"), (16, "a counter of 16 bits")]
            .into_iter()
            .map(|(power, name)| (count(power), name))
            .find(|(period, _)| *period > 50.0 * step && fits(*period) && kind.unit_s < 0.5)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const PLAIN: TimeKind = TimeKind { clock: false, unit_s: 1.0, equal_ok: false };

    fn run(raw: &[f64], kind: TimeKind) -> (Ordered, Vec<Notice>) {
        let mut lines = RowLines::default();
        lines.push_run(2, raw.len());
        let mut notes = Notes::default();
        let out = order(raw.to_vec(), &lines, kind, &mut notes).unwrap();
        (out, notes.finish())
    }

    #[test]
    fn one_row_out_of_place_is_left_out_and_placed() {
        let raw: Vec<f64> = vec![0.0, 0.1, 0.2, 0.05, 0.3, 0.4];
        let (out, notices) = run(&raw, PLAIN);
        assert_eq!(out.keep, Keep::These(vec![0, 1, 2, 4, 5]));
        assert_eq!((notices[0].code.as_str(), notices[0].line), ("time-backwards", Some(5)));
    }

    #[test]
    fn a_row_far_ahead_does_not_take_the_rest_with_it() {
        let raw = vec![0.0, 0.1, 900.0, 0.2, 0.3];
        let (out, notices) = run(&raw, PLAIN);
        assert_eq!(out.keep, Keep::These(vec![0, 1, 3, 4]));
        assert_eq!(notices[0].line, Some(4));
    }

    #[test]
    fn a_restart_follows_after_a_gap() {
        let raw: Vec<f64> = (0..50).map(f64::from).chain((0..50).map(f64::from)).collect();
        let (out, notices) = run(&raw, PLAIN);
        assert_eq!(out.keep.len(), 100);
        assert_eq!(out.time_s[50] - out.time_s[49], 5.0);
        assert_eq!(notices.len(), 1);
    }

    #[test]
    fn midnight_and_a_counter_of_32_bits_run_on() {
        let clock = TimeKind { clock: true, ..PLAIN };
        let raw: Vec<f64> = (0..40).map(|i| f64::from(86_390 + i) % 86_400.0).collect();
        let (out, _) = run(&raw, clock);
        assert!(out.time_s.windows(2).all(|w| (w[1] - w[0] - 1.0).abs() < 1e-9));
        // 2^32 microseconds are 4294.967296 s.
        let count = TimeKind { unit_s: 1e-6, ..PLAIN };
        let raw: Vec<f64> =
            (0..40u64).map(|i| ((4_294_900_000 + i * 10_000) % (1 << 32)) as f64 * 1e-6).collect();
        let (out, _) = run(&raw, count);
        assert!(out.time_s.windows(2).all(|w| (w[1] - w[0] - 0.01).abs() < 1e-6));
    }

    #[test]
    fn times_beyond_all_measure_end() {
        // Found by fuzzing: beside such a time the pause that was to be added vanishes, and the same row came round for ever.
        let mut raw: Vec<f64> = (0..60).map(|k| f64::from(k) * 0.02).collect();
        (raw[20], raw[21], raw[22], raw[40], raw[50]) = (1e260, 2e260, 3e260, -1e300, f64::NEG_INFINITY);
        let (ordered, _) = run(&raw, PLAIN);
        assert!(ordered.time_s.windows(2).all(|w| w[1] >= w[0]) && ordered.time_s.len() >= 20);
    }
}
