//! Dates without a clock: `YYYY-MM-DD` to a day number and back.

use jiff::civil::Date;

/// Days of a mean Gregorian year.
pub const DAYS_PER_YEAR: f64 = 365.2425;

/// Day number of a date, counted from 1970-01-01; `None` if it is no calendar date written `YYYY-MM-DD`.
#[must_use]
pub fn day_number(date: &str) -> Option<i32> {
    let shape = date.len() == 10
        && date
            .bytes()
            .enumerate()
            .all(|(i, b)| if i == 4 || i == 7 { b == b'-' } else { b.is_ascii_digit() });
    let parsed: Date = shape.then(|| date.parse().ok()).flatten()?;
    parsed.since(jiff::civil::date(1970, 1, 1)).ok().map(|s| s.get_days())
}

/// The date of a day number; `None` outside the years 1 to 9999.
#[must_use]
pub fn date_of(day: f64) -> Option<String> {
    if !(day.is_finite() && day.abs() < 4e6) {
        return None;
    }
    let span = jiff::Span::new().try_days(day.round() as i64).ok()?;
    let date = jiff::civil::date(1970, 1, 1).checked_add(span).ok()?;
    (date.year() >= 1).then(|| format!("{:04}-{:02}-{:02}", date.year(), date.month(), date.day()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn day_numbers_of_known_dates() {
        // POSIX: the epoch is day 0; 2000-03-01 is day 11017 (951868800 s / 86400), 2024-02-29 day 19782.
        assert_eq!(day_number("1970-01-01"), Some(0));
        assert_eq!(day_number("2000-03-01"), Some(11_017));
        assert_eq!(day_number("2024-02-29"), Some(19_782));
        assert_eq!(date_of(19_782.0).as_deref(), Some("2024-02-29"));
        assert_eq!(date_of(-1.0).as_deref(), Some("1969-12-31"));
    }

    #[test]
    fn what_is_no_date_is_refused() {
        for wrong in
            ["2023-02-29", "2024-2-9", "29.02.2024", "2024-13-01", "", "2024-02-29T10:00", "20240229ab"]
        {
            assert_eq!(day_number(wrong), None, "{wrong}");
        }
        assert!(date_of(f64::INFINITY).is_none() && date_of(f64::NAN).is_none() && date_of(1e9).is_none());
    }
}
