//! Sentences of the review in the unit of the page.
//!
//! Evidence and notices come as finished sentences in kPa. A page in another unit says the same in that unit: a
//! number before `kPa` is converted, with the digits that pages use. A number with a sign is a difference (a vacuum
//! turns it round), one without is a width. Numbers without a unit are left alone, but for the signed figures of a
//! list (`cylinder 1 +0.25, cylinder 2 -0.11`) that follows one with a unit.

use evenpull_core::result::Measured;

use crate::digits;
use crate::texts::capital;
use crate::units::DisplayUnit;

/// The sentence in the unit of the page, with a capital at its start and a full stop at its end.
pub(crate) fn sentence(text: &str, unit: &DisplayUnit) -> String {
    let mut out = capital(&numbers(text.trim(), unit));
    if !out.is_empty() && !out.ends_with(['.', '!', '?', ')', '\u{2026}']) {
        out.push('.');
    }
    out
}

/// A number as it stands in a sentence.
#[derive(Debug, Clone, Copy)]
struct Number {
    value: f64,
    signed: bool,
    decimals: usize,
}

/// Converts the numbers of a sentence.
fn numbers(text: &str, unit: &DisplayUnit) -> String {
    let words: Vec<&str> = text.split(' ').collect();
    let mut out: Vec<String> = Vec::with_capacity(words.len());
    let mut converted = false;
    let mut i = 0;
    while i < words.len() {
        let (lead, word, tail) = bare(words[i]);
        let Some(number) = parse(word) else {
            out.push(words[i].to_owned());
            i += 1;
            continue;
        };
        // `-2.716 ± 0.013 kPa`
        if tail.is_empty() && words.get(i + 1) == Some(&"±") {
            let u = words.get(i + 2).and_then(|w| parse(w));
            if let (Some(u), Some(rest)) = (u, words.get(i + 3).and_then(|w| w.strip_prefix("kPa"))) {
                let m = Measured { value: number.value, u: u.value };
                let shown = if number.signed { unit.deviation_text(m) } else { unit.width_text(m) };
                out.push(format!("{lead}{shown} {}{rest}", unit.name()));
                converted = true;
                i += 4;
                continue;
            }
        }
        // `0.49 kPa`
        if tail.is_empty()
            && let Some(rest) = words.get(i + 1).and_then(|w| w.strip_prefix("kPa"))
        {
            out.push(format!("{lead}{} {}{rest}", alone(number, unit), unit.name()));
            converted = true;
            i += 2;
            continue;
        }
        // `cylinder 1 +0.25`
        if converted && number.signed && number.decimals > 0 && i >= 2 && bare(words[i - 2]).1 == "cylinder" {
            out.push(format!("{lead}{}{tail}", alone(number, unit)));
        } else {
            out.push(words[i].replace('-', if number.signed { "−" } else { "-" }));
        }
        i += 1;
    }
    out.join(" ")
}

fn alone(number: Number, unit: &DisplayUnit) -> String {
    let most = unit.decimals();
    if number.signed {
        digits::signed(unit.difference(number.value), most)
    } else {
        digits::short_within(unit.width(number.value), most)
    }
}

/// A word without the brackets and stops around it.
fn bare(word: &str) -> (&str, &str, &str) {
    let start = word.find(|c: char| !matches!(c, '(' | '[')).unwrap_or(word.len());
    let (lead, rest) = word.split_at(start);
    let end = rest
        .rfind(|c: char| !matches!(c, ')' | ']' | ',' | ';' | '.'))
        .map_or(0, |at| at + rest[at..].chars().next().map_or(0, char::len_utf8));
    (lead, &rest[..end], &rest[end..])
}

fn parse(word: &str) -> Option<Number> {
    let digits = word.strip_prefix(['+', '-']).unwrap_or(word);
    let sound = digits.starts_with(|c: char| c.is_ascii_digit())
        && digits.chars().all(|c| c.is_ascii_digit() || c == '.');
    let value = word.parse::<f64>().ok().filter(|v| sound && v.is_finite())?;
    let decimals = digits.split_once('.').map_or(0, |(_, d)| d.len());
    Some(Number { value, signed: digits.len() < word.len(), decimals })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::PageUnit;
    use evenpull_core::recording::PressureKind;

    fn unit(name: &str, kind: PressureKind) -> DisplayUnit {
        let mut context = crate::demo::build(&crate::demo::Spec::outboard()).context;
        context.pressure_kind = Some(kind);
        DisplayUnit::choose(PageUnit::parse(name), &context, Some(101.0))
    }

    // Conversions by hand with 0.1333224 kPa a mmHg (NIST SP 811).
    #[test]
    fn differences_turn_round_under_vacuum_and_widths_do_not() {
        let vacuum = unit("mmHg", PressureKind::Vacuum);
        assert_eq!(
            sentence("+2.716 ± 0.133 kPa from the middle of the group: more air", &vacuum),
            "−20.4 ± 1.0 mmHg from the middle of the group: more air."
        );
        assert_eq!(
            sentence(
                "the sensors disagree by 0.49 kPa (cylinder 1 +0.25, cylinder 2 -0.11); removed",
                &vacuum
            ),
            "The sensors disagree by 3.7 mmHg (cylinder 1 −1.9, cylinder 2 +0.8); removed."
        );
        assert_eq!(
            sentence("drifts by -0.25 kPa a minute; the limit is 1.30 kPa.", &vacuum),
            "Drifts by +1.9 mmHg a minute; the limit is 9.8 mmHg."
        );
    }

    #[test]
    fn the_same_unit_only_loses_digits_and_other_numbers_stay() {
        let kpa = unit("kPa", PressureKind::Absolute);
        assert_eq!(
            sentence("-0.0757 ± 0.0044 kPa from the middle of the group", &kpa),
            "−0.08 ± 0.01 kPa from the middle of the group."
        );
        let text = "Refills +14.3 ± 2.1 % against the group at 2710 rev/min, lambda 0.913 ± 0.004 (line 12).";
        assert_eq!(sentence(text, &kpa), text);
        assert_eq!(sentence("", &kpa), "");
        assert_eq!(sentence("± kPa kPa -", &kpa), "± kPa kPa -.");
    }
}
