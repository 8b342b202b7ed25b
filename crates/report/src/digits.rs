//! Numbers as text, with the digits that their uncertainty earns.
//!
//! JCGM 100:2008, 7.2.6: an uncertainty is given with at most two significant digits and the value is rounded to the
//! same place. A minus is the sign U+2212, a zero carries no sign.

/// Decimal places that show `u` with two significant digits (0 for 10 and more, never more than 6).
///
/// Not finite or not positive: 2.
pub(crate) fn decimals(u: f64) -> usize {
    if !(u.is_finite() && u > 0.0) {
        return 2;
    }
    let places = (1.0 - u.log10().floor()).clamp(0.0, 6.0);
    // 0.0996 with two digits is 0.10: rounding may climb into the next decade.
    let scale = 10f64.powf(places);
    let rounded = (u * scale).round() / scale;
    let after = (1.0 - rounded.max(f64::MIN_POSITIVE).log10().floor()).clamp(0.0, 6.0);
    after.min(places) as usize
}

/// Rounds to tens (hundreds ...) where two significant digits of `u` leave no decimals.
fn coarse(value: f64, u: f64) -> f64 {
    if u.is_finite() && u >= 100.0 {
        let step = 10f64.powf(u.log10().floor() - 1.0);
        (value / step).round() * step
    } else {
        value
    }
}

/// A number with a fixed count of decimals; `–` when it is not finite.
pub(crate) fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let text = format!("{:.*}", decimals, value.abs());
    let zero = text.bytes().all(|b| b == b'0' || b == b'.');
    if value < 0.0 && !zero { format!("−{text}") } else { text }
}

/// Like [`fixed`], with a plus before what is above zero.
pub(crate) fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    let zero = text.bytes().all(|b| b == b'0' || b == b'.');
    if value.is_finite() && value > 0.0 && !zero { format!("+{text}") } else { text }
}

/// `2.43 ± 0.31`, with `most` decimals at most; without the second part when `u` is not above zero.
///
/// Where `u` would need more decimals than `most` it is rounded up to the last of them, never down to nothing.
pub(crate) fn plus_minus(v: f64, u: f64, most: usize) -> String {
    join(fixed(coarse(v, u), decimals(u).min(most)), u, most)
}

/// `+2.43 ± 0.31`.
pub(crate) fn signed_plus_minus(v: f64, u: f64, most: usize) -> String {
    join(signed(coarse(v, u), decimals(u).min(most)), u, most)
}

fn join(value: String, u: f64, most: usize) -> String {
    if !(u.is_finite() && u > 0.0) {
        return value;
    }
    format!("{value} ± {}", uncertainty(u, most))
}

/// An uncertainty with two significant digits, or rounded up to `most` decimals.
pub(crate) fn uncertainty(u: f64, most: usize) -> String {
    let wanted = decimals(u);
    if wanted > most {
        let scale = 10f64.powi(most as i32);
        // A hair is taken off so that 0.02 as a binary number does not become 0.03.
        fixed((u * scale - 1e-9).ceil() / scale, most)
    } else {
        fixed(coarse(u, u), wanted)
    }
}

/// Three significant digits without trailing zeros, for limits and settings: `1.3`, `9.75`, `13`.
pub(crate) fn short(value: f64) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    if value == 0.0 {
        return "0".to_owned();
    }
    let places = (2.0 - value.abs().log10().floor()).clamp(0.0, 6.0) as usize;
    let text = fixed(value, places);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Like [`short`], with `most` decimals at most.
pub(crate) fn short_within(value: f64, most: usize) -> String {
    let scale = 10f64.powi(most as i32);
    short((value * scale).round() / scale)
}

/// A whole number with thin spaces between thousands: `30 000`.
pub(crate) fn whole(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) && digits.len() > 4 {
            out.push('\u{202f}');
        }
        out.push(c);
    }
    out
}

/// A length of time in words a person uses: `42 s`, `6 min 12 s`, `2 h 05 min`.
pub(crate) fn duration(seconds: f64) -> String {
    if !seconds.is_finite() || seconds < 0.0 {
        return "–".to_owned();
    }
    if seconds < 9.95 {
        return format!("{} s", short((seconds * 10.0).round() / 10.0));
    }
    let total = seconds.round() as u64;
    match total {
        0..=119 => format!("{total} s"),
        120..=7199 if total.is_multiple_of(60) => format!("{} min", total / 60),
        120..=7199 => format!("{} min {:02} s", total / 60, total % 60),
        _ => format!("{} h {:02} min", total / 3600, (total % 3600) / 60),
    }
}

/// A moment of a recording: `0:07`, `12:30`, `1:02:05`.
pub(crate) fn clock(seconds: f64) -> String {
    if !seconds.is_finite() || seconds < 0.0 {
        return "–".to_owned();
    }
    let total = seconds.round() as u64;
    if total < 3600 {
        format!("{}:{:02}", total / 60, total % 60)
    } else {
        format!("{}:{:02}:{:02}", total / 3600, (total % 3600) / 60, total % 60)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // JCGM 100:2008, 7.2.6: y = 10,057 62 ohm with uc = 27 mohm is stated as 10,058 ohm (rounded to the place of u);
    // u = 28.05 kHz is rounded to 28 kHz.
    #[test]
    fn the_guide_to_uncertainty_rounds_like_this() {
        assert_eq!(fixed(10.05762, decimals(0.027)), "10.058");
        assert_eq!(plus_minus(10.05762, 0.027, 6), "10.058 ± 0.027");
        assert_eq!(fixed(28.05, decimals(28.05)), "28");
    }

    #[test]
    fn rounding_may_climb_a_decade() {
        // 0.0996 has two significant digits as 0.10, not as 0.100.
        assert_eq!(plus_minus(1.23456, 0.0996, 6), "1.23 ± 0.10");
        assert_eq!(plus_minus(12.3456, 9.96, 6), "12 ± 10");
        assert_eq!(plus_minus(1234.0, 123.0, 6), "1230 ± 120");
    }

    #[test]
    fn an_uncertainty_below_what_a_figure_can_mean_is_rounded_up() {
        assert_eq!(plus_minus(2.7163, 0.0131, 2), "2.72 ± 0.02");
        assert_eq!(plus_minus(24.785, 0.06, 1), "24.8 ± 0.1");
        assert_eq!(plus_minus(0.5, 0.02, 2), "0.50 ± 0.02");
        assert_eq!(plus_minus(912.34, 0.4, 0), "912 ± 1");
    }

    #[test]
    fn signs_and_missing_values() {
        assert_eq!(signed_plus_minus(-2.4, 0.31, 6), "−2.40 ± 0.31");
        assert_eq!(signed_plus_minus(2.4, 0.31, 6), "+2.40 ± 0.31");
        assert_eq!(signed(-0.001, 2), "0.00");
        assert_eq!(signed_plus_minus(0.0, 0.0, 6), "0.00");
        assert_eq!(fixed(f64::NAN, 2), "–");
        assert_eq!(plus_minus(1.0, f64::NAN, 6), "1.00");
    }

    #[test]
    fn short_numbers() {
        assert_eq!(short(1.3), "1.3");
        assert_eq!(short(9.7508), "9.75");
        assert_eq!(short(13.0), "13");
        assert_eq!(short(100.0), "100");
        assert_eq!(short(0.38389), "0.384");
    }

    #[test]
    fn times() {
        assert_eq!(duration(5.0), "5 s");
        assert_eq!(duration(372.0), "6 min 12 s");
        assert_eq!(duration(8.0 * 3600.0), "8 h 00 min");
        assert_eq!(clock(3725.4), "1:02:05");
        assert_eq!(whole(30_000), "30\u{202f}000");
    }
}
