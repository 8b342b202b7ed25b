//! Day or month first: where the sample does not say it, the days of the whole recording may.

use jiff::ToSpan;
use jiff::civil::Date;

use super::clock::{DateOrder, moment};
use super::notes::Notes;
use crate::codes;

/// The order of the first date that can only be read one way; `None` where all can be read both ways.
pub(crate) fn settled(samples: &[Vec<&str>]) -> Option<DateOrder> {
    for cell in samples.iter().flatten().filter(|cell| cell.contains('/') || cell.contains('-')) {
        let day = moment(cell, DateOrder::DayFirst).is_some();
        let month = moment(cell, DateOrder::MonthFirst).is_some();
        if day != month {
            return Some(if day { DateOrder::DayFirst } else { DateOrder::MonthFirst });
        }
    }
    None
}

/// Whether a sample holds dates that read differently with the month first.
pub(crate) fn ambiguous(samples: &[Vec<&str>]) -> bool {
    let day = |cell: &str, order| moment(cell, order).and_then(|m| m.day);
    samples.iter().flatten().filter(|cell| cell.contains('/') || cell.contains('-')).any(|cell| {
        let (first, second) = (day(cell, DateOrder::DayFirst), day(cell, DateOrder::MonthFirst));
        first.is_some() && second.is_some() && first != second
    })
}

const DAY_S: f64 = 86_400.0;

/// Times that were read with the day first, in seconds from `base_day`: with the month first where that alone makes the days
/// follow one another, and that is said.
pub(crate) fn straighten(times: &mut [f64], base_day: i64, notes: &mut Notes) {
    let day_of = |time: f64| (time / DAY_S).floor() as i64 + base_day;
    let mut days: Vec<i64> = times.iter().filter(|t| t.is_finite()).map(|t| day_of(*t)).collect();
    days.dedup();
    if days.len() < 2 || days.len() > 1000 {
        return;
    }
    let Some(swapped) = days.iter().map(|day| turned(*day)).collect::<Option<Vec<i64>>>() else { return };
    let follow = |days: &[i64]| days.windows(2).all(|w| (1..=2).contains(&(w[1] - w[0])));
    if follow(&days) || !follow(&swapped) {
        return;
    }
    for time in times.iter_mut().filter(|time| time.is_finite()) {
        let day = day_of(*time);
        if let Some(other) = turned(day) {
            *time += (other - day) as f64 * DAY_S;
        }
    }
    notes.caution(
        codes::TIME_ASSUMED,
        "the dates can be read with day or month first; with the month first the days follow one another, so they are read \
         that way",
    );
}

/// The day that the same figures mean with day and month exchanged; days count from 1970-01-01.
fn turned(day: i64) -> Option<i64> {
    let origin = Date::new(1970, 1, 1).ok()?;
    let date = origin.checked_add(i32::try_from(day).ok()?.days()).ok()?;
    let other = Date::new(date.year(), date.day(), date.month()).ok()?;
    Some(other.duration_since(origin).as_hours() / 24)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn day(year: i16, month: i8, day: i8) -> i64 {
        let origin = Date::new(1970, 1, 1).unwrap();
        Date::new(year, month, day).unwrap().duration_since(origin).as_hours() / 24
    }

    #[test]
    fn a_night_is_a_night_and_not_a_month() {
        // 04/11/2025 23:59:59 and 04/12/2025 00:00:01, read with the day first: 4 November and 4 December.
        let base = day(2025, 11, 4);
        let december = (day(2025, 12, 4) - base) as f64 * DAY_S;
        let mut times = vec![DAY_S - 1.0, december + 1.0];
        let mut notes = Notes::default();
        straighten(&mut times, base, &mut notes);
        assert_eq!(times[1] - times[0], 2.0);
        assert_eq!(notes.finish().first().map(|n| n.code.clone()).as_deref(), Some("time-assumed"));
    }

    #[test]
    fn days_that_follow_stay_as_they_are() {
        // 4 and 5 November; with the month first it would be 11 April and 11 May.
        let base = day(2025, 11, 4);
        for mut times in [vec![10.0, DAY_S + 10.0], vec![10.0, 20.0], vec![f64::NAN, 5.0]] {
            let before = times.clone();
            let mut notes = Notes::default();
            straighten(&mut times, base, &mut notes);
            assert_eq!(
                times.iter().map(|t| t.to_bits()).collect::<Vec<_>>(),
                before.iter().map(|t| t.to_bits()).collect::<Vec<_>>()
            );
            assert!(notes.finish().is_empty());
        }
    }
}
