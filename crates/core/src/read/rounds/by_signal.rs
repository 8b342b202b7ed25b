//! Single values that stand signal by signal: all values of the first, then all of the next, for the whole recording
//! or for one stretch of it after the other.
//!
//! There the time falls back wherever the signal changes, and no clock was started again. The values of each signal
//! are put in order by themselves, so that a clock that did start again is still found within each, and then all
//! together by their times. Values of one moment keep the order in which their signals came first.

use super::Events;
use crate::read::notes::Notes;
use crate::read::row_lines::RowLines;
use crate::read::time_order;

/// Puts values that stand signal by signal in order of time; says whether they stood so.
pub(crate) fn put_in_order(events: &mut Events, notes: &mut Notes) -> bool {
    if !stand_by_signal(&events.time_raw, &events.signal) {
        return false;
    }
    let mut of_signal: Vec<Vec<u32>> = vec![Vec::new(); events.plans.len()];
    for (at, signal) in events.signal.iter().enumerate() {
        if let (Some(list), Ok(at)) = (of_signal.get_mut(usize::from(*signal)), u32::try_from(at)) {
            list.push(at);
        }
    }
    let mut moments: Vec<(f64, u32)> = Vec::with_capacity(events.value.len());
    for list in of_signal {
        one_signal(events, &list, &mut moments, notes);
    }
    moments.sort_by(|a, b| a.0.total_cmp(&b.0));
    let signal = moments.iter().map(|(_, at)| events.signal[*at as usize]).collect();
    let value = moments.iter().map(|(_, at)| events.value[*at as usize]).collect();
    let mut lines = RowLines::default();
    for (_, at) in &moments {
        if let Some(line) = events.lines.get(*at as usize) {
            lines.push(line);
        }
    }
    events.skipped += events.value.len() - moments.len();
    events.time_raw = moments.into_iter().map(|(time, _)| time).collect();
    (events.signal, events.value, events.lines) = (signal, value, lines);
    true
}

/// The times of one signal put in order, each with its place among all values.
fn one_signal(events: &Events, list: &[u32], moments: &mut Vec<(f64, u32)>, notes: &mut Notes) {
    let raw: Vec<f64> = list.iter().map(|at| events.time_raw[*at as usize]).collect();
    let mut lines = RowLines::default();
    for at in list {
        if let Some(line) = events.lines.get(*at as usize) {
            lines.push(line);
        }
    }
    match time_order::order(raw.clone(), &lines, events.kind, notes) {
        Some(ordered) => {
            let places = ordered.time_s.iter().enumerate();
            moments.extend(places.filter_map(|(at, time)| Some((*time, *list.get(ordered.keep.get(at))?))));
        }
        // A single value, or none that comes later than another.
        None => {
            moments.extend(raw.into_iter().zip(list.iter().copied()).filter(|(time, _)| time.is_finite()))
        }
    }
}

/// Whether the time falls back at half of the changes of signal or more.
///
/// Of the changes in a file sorted by signal it falls at every one; where stretches follow one another it rises once a
/// stretch, at one in two changes for two signals and fewer for more. Where signals take turns and a clock is started
/// again it falls at one change among all.
pub(crate) fn stand_by_signal(time: &[f64], signal: &[u16]) -> bool {
    let (mut changes, mut falls) = (0usize, 0usize);
    for (times, signals) in time.windows(2).zip(signal.windows(2)) {
        if signals[0] != signals[1] {
            changes += 1;
            falls += usize::from(times[1] < times[0]);
        }
    }
    falls > 0 && falls * 2 >= changes && !time_order::is_newest_first(time)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::read::time_order::{TimeKind, order};
    use crate::read::{ReadOptions, read_bytes};
    use crate::recording::Recording;

    const NAMES: [&str; 3] = ["MAP1 (kPa)", "MAP2 (kPa)", "RPM"];
    const ROWS: usize = 300;

    fn cell(row: usize, column: usize) -> String {
        match column {
            0 => format!("{}.{}", 30 + row * 7 % 41, row % 10),
            1 => format!("{}.{}", 30 + row * 11 % 43, row % 10),
            _ => format!("{}", 1100 + row % 23),
        }
    }

    fn time(row: usize) -> String {
        format!("{}.{:02}", row / 50, row % 50 * 2)
    }

    fn wide() -> Recording {
        let mut text = format!("time_s,{}\n", NAMES.join(","));
        for row in 0..ROWS {
            text += &format!("{},{},{},{}\n", time(row), cell(row, 0), cell(row, 1), cell(row, 2));
        }
        read_bytes("x", text.as_bytes(), &ReadOptions::default()).unwrap()
    }

    /// Signal by signal in stretches of so many rows; `clock` gives the time of a row.
    fn by_signal(stretch: usize, clock: impl Fn(usize) -> String) -> Recording {
        let mut text = String::from("time_s,variable,value\n");
        for start in (0..ROWS).step_by(stretch) {
            for (column, name) in NAMES.iter().enumerate() {
                for row in start..(start + stretch).min(ROWS) {
                    text += &format!("{},{name},{}\n", clock(row), cell(row, column));
                }
            }
        }
        read_bytes("x", text.as_bytes(), &ReadOptions::default()).unwrap()
    }

    #[test]
    fn a_file_sorted_by_signal_is_the_wide_file() {
        let want = wide();
        assert_eq!((want.time_s.len(), want.time_s[ROWS - 1]), (ROWS, 5.98));
        for stretch in [ROWS, 100, 7] {
            let found = by_signal(stretch, time);
            assert_eq!(found.time_s, want.time_s, "stretches of {stretch}");
            for (a, b) in found.cylinder_pressures().iter().zip(want.cylinder_pressures()) {
                assert_eq!(a.values, b.values, "stretches of {stretch}: {}", a.header);
            }
            assert_eq!(found.cylinder_pressures().len(), 2);
            assert!(found.notices.iter().all(|notice| notice.code != "time-backwards"), "{stretch}");
        }
        // The naive way takes the file's order for that of time: 5.98 s become three times as long and two pauses.
        let raw: Vec<f64> = (0..3 * ROWS).map(|at| (at % ROWS) as f64 * 0.02).collect();
        let kind = TimeKind { clock: false, unit_s: 1.0, equal_ok: true };
        let naive = order(raw, &RowLines::default(), kind, &mut Notes::default()).unwrap();
        assert!((naive.time_s[3 * ROWS - 1] - (3.0 * 5.98 + 2.0)).abs() < 1e-9);
    }

    #[test]
    fn a_clock_started_again_within_a_signal_is_said() {
        // 150 rows, and then the clock begins at 0 once more.
        let found = by_signal(ROWS, |row| time(row % 150));
        let places: Vec<_> =
            found.notices.iter().filter(|n| n.code == "time-backwards").map(|n| n.line).collect();
        // The header is line 1; row 150 of the first signal stands on line 152, that of the next 300 lines below.
        assert_eq!(places, [Some(152), Some(452), Some(752)]);
        assert_eq!(found.time_s.len(), ROWS);
        assert!(found.time_s.windows(2).all(|w| w[1] > w[0]));
    }

    #[test]
    fn signals_in_turn_keep_their_order() {
        let signal: Vec<u16> = (0..90).map(|at| at % 3).collect();
        // A clock that is started again after 45 values falls once.
        let time: Vec<f64> = (0..90).map(|at| f64::from(at % 45)).collect();
        assert!(!stand_by_signal(&time, &signal));
        // Newest first: falls everywhere, and is another case.
        let time: Vec<f64> = (0..90).map(|at| f64::from(90 - at)).collect();
        assert!(!stand_by_signal(&time, &signal));
        assert!(!stand_by_signal(&[], &[]));
    }
}
