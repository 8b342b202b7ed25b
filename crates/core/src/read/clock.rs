//! Times written as clock or calendar: `mm:ss.s`, `hh:mm:ss.s`, AM and PM, dates, ISO 8601 in its forms.
//!
//! Source: ISO 8601-1:2019 (calendar, ordinal and week dates, extended and basic form, comma or point before the
//! fraction). Other dates are read as they are commonly written.

use jiff::civil::{Date, ISOWeekDate, Weekday};

use super::number::{NumberStyle, figure};

/// Which of day and month comes first in dates such as 03/04/2025.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum DateOrder {
    DayFirst,
    MonthFirst,
}

/// A moment: a day where one is written, and seconds since its start (or since any start).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Moment {
    /// Days since 1970-01-01.
    pub(crate) day: Option<i64>,
    pub(crate) seconds: f64,
    /// Whether the text holds a clock time, not only a date.
    pub(crate) clock: bool,
}

/// Reads a clock time, a date, or both; `None` for anything else (plain numbers too).
pub(crate) fn moment(text: &str, order: DateOrder) -> Option<Moment> {
    let text = text.trim();
    if !could_be(text)
        || text.len() > 40
        || !text.is_ascii() && !text.contains(['\u{e9}', '\u{fb}', '\u{e4}'])
    {
        return None;
    }
    let (date, clock) = halves(text);
    let day = match date {
        Some(date) => Some(day_number(date, order)?),
        None => None,
    };
    let seconds = match clock {
        Some(clock) => clock_seconds(clock, day.is_some())?,
        None => 0.0,
    };
    (day.is_some() || clock.is_some()).then_some(Moment { day, seconds, clock: clock.is_some() })
}

/// A quick look that spares most figures the long one.
fn could_be(text: &str) -> bool {
    let bytes = text.as_bytes();
    let count = |set: &[u8]| bytes.iter().filter(|b| set.contains(b)).count();
    bytes.len() >= 4
        && (bytes.contains(&b':')
            || count(b"-/. ") >= 2
            || bytes.contains(&b'T')
            || (bytes.len() == 8 && count(b".,") == 0))
}

/// The date part and the clock part of a text.
fn halves(text: &str) -> (Option<&str>, Option<&str>) {
    let joint = text
        .match_indices(['T', 't', ' ', '_'])
        .find(|(at, _)| {
            let (before, after) = (&text[..*at], text[at + 1..].trim_start());
            before.ends_with(|c: char| c.is_ascii_digit())
                && before.len() >= 6
                && !before.contains(':')
                && after.starts_with(|c: char| c.is_ascii_digit())
                && (after.contains(':')
                    || after.len() >= 4 && after.as_bytes()[..4].iter().all(u8::is_ascii_digit))
                && is_date(before)
        })
        .map(|(at, _)| at);
    match joint {
        Some(at) => (Some(&text[..at]), Some(text[at + 1..].trim_start())),
        None if text.contains(':') => (None, Some(text)),
        None => (Some(text), None),
    }
}

fn is_date(text: &str) -> bool {
    day_number(text, DateOrder::DayFirst).or_else(|| day_number(text, DateOrder::MonthFirst)).is_some()
}

/// Seconds of a clock text, its offset from UTC taken off.
fn clock_seconds(text: &str, with_date: bool) -> Option<f64> {
    let (text, offset) = zone(text)?;
    let (text, half) = half_day(text);
    let mut parts = text.split(':');
    let mut list = [""; 4];
    let mut count = 0;
    for slot in &mut list {
        let Some(part) = parts.next() else { break };
        *slot = part.trim();
        count += 1;
    }
    if parts.next().is_some() {
        return None;
    }
    let seconds = match count {
        1 if with_date => basic_clock(list[0])?,
        // With a date or AM/PM two parts are hours and minutes; alone they are minutes and seconds.
        2 if with_date || half.is_some() => whole(list[0])? * 3600.0 + under_60(list[1])? * 60.0,
        2 => whole(list[0])? * 60.0 + under_60(list[1])?,
        3 => {
            whole(list[0])? * 3600.0
                + under_60(list[1]).filter(|m| m.fract() == 0.0)? * 60.0
                + under_60(list[2])?
        }
        4 if list[3].len() == 3 => {
            whole(list[0])? * 3600.0
                + under_60(list[1])? * 60.0
                + under_60(list[2])?
                + whole(list[3])? / 1000.0
        }
        _ => return None,
    };
    let seconds = match half {
        Some(_) if seconds >= 13.0 * 3600.0 => return None,
        Some(afternoon) => (seconds % 43_200.0) + if afternoon { 43_200.0 } else { 0.0 },
        None => seconds,
    };
    Some(seconds - offset)
}

/// A trailing zone: the rest and the offset from UTC in seconds.
fn zone(text: &str) -> Option<(&str, f64)> {
    let text = text.split('[').next().unwrap_or(text).trim_end();
    for name in ["Z", "z", " UTC", " GMT", "UTC", "GMT"] {
        if let Some(rest) = text.strip_suffix(name) {
            return Some((rest.trim_end(), 0.0));
        }
    }
    let Some(at) = text.rfind(['+', '-']) else { return Some((text, 0.0)) };
    let sign = if text.as_bytes()[at] == b'-' { -1.0 } else { 1.0 };
    let digits: String = text[at + 1..].chars().filter(|c| *c != ':').collect();
    if !digits.bytes().all(|b| b.is_ascii_digit()) || !matches!(digits.len(), 2 | 4) {
        return None;
    }
    let hours: f64 = digits[..2].parse().ok()?;
    let minutes: f64 = if digits.len() == 4 { digits[2..].parse().ok()? } else { 0.0 };
    Some((text[..at].trim_end(), sign * (hours * 3600.0 + minutes * 60.0)))
}

/// A trailing AM or PM: the rest and whether it is the afternoon.
fn half_day(text: &str) -> (&str, Option<bool>) {
    let lower = text.to_ascii_lowercase();
    let endings =
        [("am", false), ("pm", true), ("a.m.", false), ("p.m.", true), ("a. m.", false), ("p. m.", true)];
    for (ending, afternoon) in endings {
        if lower.ends_with(ending) {
            return (text[..text.len() - ending.len()].trim_end(), Some(afternoon));
        }
    }
    (text, None)
}

/// `hhmmss.s`, `hhmm`, `hh`.
fn basic_clock(text: &str) -> Option<f64> {
    let digits = text.bytes().take_while(u8::is_ascii_digit).count();
    match digits {
        6 => Some(whole(&text[..2])? * 3600.0 + under_60(&text[2..4])? * 60.0 + under_60(&text[4..])?),
        4 if text.len() == 4 => Some(whole(&text[..2])? * 3600.0 + under_60(&text[2..])? * 60.0),
        _ => None,
    }
}

fn whole(text: &str) -> Option<f64> {
    let fits = !text.is_empty() && text.len() <= 6 && text.bytes().all(|b| b.is_ascii_digit());
    if fits { text.parse().ok() } else { None }
}

/// Minutes or seconds with a fraction behind point or comma; 60 is a leap second.
fn under_60(text: &str) -> Option<f64> {
    let decimal = if text.contains(',') { b',' } else { b'.' };
    if !text.starts_with(|c: char| c.is_ascii_digit()) || text.contains(['e', 'E']) {
        return None;
    }
    let (value, rest) = figure(text, NumberStyle { decimal, group: None })?;
    (rest.is_empty() && value < 61.0).then_some(value)
}

/// Days since 1970-01-01 of a written date.
fn day_number(text: &str, order: DateOrder) -> Option<i64> {
    let date = iso_date(text).or_else(|| common_date(text, order))?;
    let origin = Date::new(1970, 1, 1).ok()?;
    Some(date.duration_since(origin).as_hours() / 24)
}

/// The date of a text as ISO 8601 `YYYY-MM-DD`; `None` when it is not one or day and month cannot be told apart.
pub(crate) fn iso_day(text: &str) -> Option<String> {
    let head = text.trim();
    let (date, _) = halves(head);
    let date = date?;
    let first = common_date(date, DateOrder::DayFirst);
    // With full stops the day always stands first.
    let second = if date.contains('.') { first } else { common_date(date, DateOrder::MonthFirst) };
    let found = match (iso_date(date), first, second) {
        (Some(date), ..) => date,
        (None, Some(a), Some(b)) if a != b => return None,
        (None, Some(a), _) => a,
        (None, None, b) => b?,
    };
    Some(found.to_string())
}

fn iso_date(text: &str) -> Option<Date> {
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    if text.len() == 8 && digits(text) {
        return civil(&text[..4], &text[4..6], &text[6..]);
    }
    let year = text.get(..4).filter(|y| digits(y))?;
    let rest = text.get(4..)?;
    let rest = rest.strip_prefix('-').unwrap_or(rest);
    if let Some(week) = rest.strip_prefix('W') {
        let number: i8 = week.get(..2)?.parse().ok()?;
        let day: i8 = week.get(2..)?.trim_start_matches('-').parse().ok()?;
        let weekday = Weekday::from_monday_one_offset(day).ok()?;
        return ISOWeekDate::new(year.parse().ok()?, number, weekday).ok().map(ISOWeekDate::date);
    }
    if rest.len() == 3 && digits(rest) {
        let first = Date::new(year.parse().ok()?, 1, 1).ok()?;
        return first.with().day_of_year(rest.parse().ok()?).build().ok();
    }
    let mut parts = text.split(['-', '/', '.']);
    let (_, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() { None } else { civil(year, month, day) }
}

fn common_date(text: &str, order: DateOrder) -> Option<Date> {
    let parts: Vec<&str> = text.split(['-', '/', '.', ' ']).filter(|p| !p.is_empty()).collect();
    let [a, b, year] = parts.as_slice() else { return None };
    let long;
    let year = match year.len() {
        4 => *year,
        2 if year.bytes().all(|b| b.is_ascii_digit()) => {
            long = format!("20{year}");
            &long
        }
        _ => return None,
    };
    if let Some(month) = month_name(b) {
        return civil(year, month, a);
    }
    if let Some(month) = month_name(a) {
        return civil(year, month, b.trim_end_matches(','));
    }
    match order {
        DateOrder::DayFirst => civil(year, b, a),
        DateOrder::MonthFirst => civil(year, a, b),
    }
}

fn civil(year: &str, month: &str, day: &str) -> Option<Date> {
    let number = |text: &str| if text.len() <= 2 { text.parse::<i8>().ok() } else { None };
    Date::new(year.parse().ok()?, number(month)?, number(day)?).ok()
}

/// First letters of month names in English, German, French, Spanish and Italian.
fn month_name(text: &str) -> Option<&'static str> {
    const NAMES: [(&str, &[&str]); 12] = [
        ("1", &["jan", "j\u{e4}n", "ene", "gen"]),
        ("2", &["feb", "fev", "f\u{e9}v"]),
        ("3", &["mar", "m\u{e4}r", "mrz"]),
        ("4", &["apr", "avr", "abr"]),
        ("5", &["may", "mai", "mag"]),
        ("6", &["jun", "juin", "giu"]),
        ("7", &["jul", "juil", "lug"]),
        ("8", &["aug", "aou", "ao\u{fb}", "ago"]),
        ("9", &["sep", "set"]),
        ("10", &["oct", "okt", "ott"]),
        ("11", &["nov"]),
        ("12", &["dec", "dez", "dic", "d\u{e9}c"]),
    ];
    let lower = text.to_lowercase();
    let hit = |list: &[&str]| list.iter().any(|name| lower.starts_with(name));
    NAMES.iter().find(|(_, list)| hit(list)).map(|(number, _)| *number)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn seconds(text: &str) -> Option<f64> {
        moment(text, DateOrder::DayFirst).map(|m| m.seconds)
    }

    fn epoch(text: &str) -> f64 {
        let m = moment(text, DateOrder::DayFirst).unwrap();
        m.day.unwrap() as f64 * 86_400.0 + m.seconds
    }

    #[test]
    fn clocks() {
        assert_eq!(seconds("09:03:58.2"), Some(9.0 * 3600.0 + 3.0 * 60.0 + 58.2));
        assert_eq!(seconds("1:02,5"), Some(62.5));
        assert_eq!(seconds("12:00:30 AM"), Some(30.0));
        assert_eq!(seconds("12:00:30 pm"), Some(43_230.0));
        assert_eq!(seconds("09:00:00:250"), Some(32_400.25));
        for text in ["9:61:00", "1:2:3:4:5", "rpm", "385", "12.5", "1:xx"] {
            assert_eq!(seconds(text), None, "{text}");
        }
    }

    #[test]
    fn iso_8601_forms_name_the_same_moment() {
        // 2009-02-13T23:31:30Z is 1 234 567 890 s of Unix time (POSIX.1, seconds since the epoch).
        for text in [
            "2009-02-13T23:31:30Z",
            "2009-02-13 23:31:30",
            "20090213T233130Z",
            "2009-02-14T00:31:30+01:00",
            "2009-02-13T18:01:30-0530",
            "2009-044T23:31:30Z",
            "2009-W07-5T23:31:30Z",
            "13.02.2009 23:31:30",
            "13-Feb-2009 23:31:30",
            "13/02/2009 11:31:30 PM",
        ] {
            assert_eq!(epoch(text), 1_234_567_890.0, "{text}");
        }
        assert_eq!(epoch("2009-02-13T23:31:30,25Z"), 1_234_567_890.25);
    }

    #[test]
    fn a_date_that_can_be_read_two_ways_is_none() {
        assert_eq!(iso_day("03/04/2025"), None);
        assert_eq!(iso_day("13/04/2025").as_deref(), Some("2025-04-13"));
        assert_eq!(iso_day("04/13/2025").as_deref(), Some("2025-04-13"));
        assert_eq!(iso_day("2025-04-10 09:00").as_deref(), Some("2025-04-10"));
        assert_eq!(iso_day("03.04.2025").as_deref(), Some("2025-04-03"));
    }
}
