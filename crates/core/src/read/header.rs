//! One header: the unit taken out, the rest cut into words.
//!
//! `map1_kpa`, `p1 [mbar]`, `Pressure 1, kPa`, `vacuum 1 (mmHg)`, `n / 1/min`, `MAP 1 in inHg` all give a name and a
//! unit. The words keep their order; letters and digits are parted, accents are dropped.

use super::unit_words::{self, Unit};
use super::vocabulary::{COOLANT, EXHAUST, INTAKE_AIR, TEMPERATURE, TIME};
use crate::recording::PressureKind;

/// A header in its parts.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Header {
    /// As it stands in the file, trimmed.
    pub(crate) text: String,
    /// Lower-case words of the name without the unit.
    pub(crate) words: Vec<String>,
    /// The words run together, for parts of compound words.
    pub(crate) joined: String,
    /// Unit, where one is written.
    pub(crate) unit: Option<Unit>,
    /// What the unit says about a pressure.
    pub(crate) kind: Option<PressureKind>,
    /// A unit is written, and it is none that is known.
    pub(crate) strange_unit: Option<String>,
}

/// Takes a header apart; a unit from a units row goes before one in the header.
pub(crate) fn parse(text: &str, unit_cell: Option<&str>) -> Header {
    let text = super::error::plain(text.trim(), 200).replace("\"\"", "\"");
    let (name, found) = take_unit(&text);
    let mut header = Header {
        words: words(&name),
        joined: String::new(),
        unit: found.map(|(unit, _)| unit),
        kind: found.and_then(|(_, kind)| kind),
        strange_unit: None,
        text,
    };
    header.joined = header.words.concat();
    if let Some(cell) = unit_cell.map(unwrap_brackets).filter(|cell| !cell.is_empty()) {
        match unit_words::parse_scaled(cell) {
            Some((unit, kind)) => {
                header.unit = Some(unit);
                header.kind = kind.or(header.kind);
            }
            None if header.unit.is_none() => header.strange_unit = Some(super::error::plain(cell, 20)),
            None => {}
        }
    } else if header.unit.is_none() {
        header.strange_unit = bracketed(&header.text).map(|(_, inner)| inner.trim().to_owned());
    }
    header.strange_unit = header.strange_unit.filter(|unit| !unit.is_empty() && words(unit).len() < 2);
    header
}

/// A text without one pair of brackets around it.
pub(crate) fn unwrap_brackets(text: &str) -> &str {
    let text = text.trim();
    for (open, close) in BRACKETS {
        if let Some(inner) = text.strip_prefix(open).and_then(|rest| rest.strip_suffix(close)) {
            return inner.trim();
        }
    }
    text
}

const BRACKETS: [(char, char); 4] = [('[', ']'), ('(', ')'), ('{', '}'), ('<', '>')];

type Found = (Unit, Option<PressureKind>);

/// The last pair of brackets with its content: the text before and the content.
fn bracketed(text: &str) -> Option<(&str, &str)> {
    BRACKETS
        .iter()
        .filter_map(|(open, close)| {
            let end = text.rfind(*close)?;
            // `kPa (a)` nests: the outermost opening bracket of this kind that is still before the end.
            let start = text[..end].rfind(*open)?;
            Some((start, &text[..start], &text[start + 1..end]))
        })
        .max_by_key(|(start, ..)| *start)
        .map(|(_, before, inner)| (before, inner))
}

/// The name without the unit, and the unit.
fn take_unit(text: &str) -> (String, Option<Found>) {
    // A header that is nothing but a unit: `kPa`, `U/min`, `r.p.m.`.
    if let Some(found) = unit_words::parse(text).filter(|_| text.len() > 2) {
        return (text.to_owned(), Some(found));
    }
    if let Some((before, inner)) = bracketed(text) {
        // `p1 kPa(a)`: the bracket belongs to the unit.
        if let Some((name, found @ (Unit::Pressure(_), Some(_)))) = last_words(text) {
            return (name, Some(found));
        }
        let after = text.rfind([')', ']', '}', '>']).map_or("", |at| &text[at + 1..]);
        if let Some(found) = unit_words::parse_scaled(inner) {
            return (format!("{before} {after}"), Some(found));
        }
        // `p1 [kPa] (abs)`: the unit in an earlier pair.
        if bracketed(before).is_some() {
            let (name, found) = take_unit(before);
            if found.is_some() {
                return (format!("{name} {inner}"), found);
            }
        }
        let (name, found) = take_unit(before);
        return (format!("{name} {inner} {after}"), found);
    }
    let found = behind_joint(text, &[",", ";", " in ", "_in_", " en "])
        .or_else(|| last_words(text))
        .or_else(|| behind_joint(text, &["/", ":"]))
        .or_else(|| behind_digit(text))
        .or_else(|| inner_word(text));
    match found {
        Some((name, found)) => (name, Some(found)),
        None => (text.to_owned(), None),
    }
}

/// A unit behind a mark or a small word.
fn behind_joint(text: &str, joints: &[&str]) -> Option<(String, Found)> {
    joints.iter().find_map(|joint| {
        text.match_indices(joint).find_map(|(at, _)| {
            let (name, rest) = (&text[..at], &text[at + joint.len()..]);
            let found = unit_words::parse(rest).filter(|_| !name.trim().is_empty())?;
            Some((name.to_owned(), found))
        })
    })
}

/// A unit made of the last one, two or three words.
fn last_words(text: &str) -> Option<(String, Found)> {
    let joints: Vec<usize> = text.match_indices([' ', '_', '.', '-']).map(|(at, _)| at).collect();
    for at in joints.iter().rev().take(3).rev() {
        let rest = text[at + 1..].trim();
        let name = text[..*at].trim();
        if name.is_empty() || (rest.len() == 1 && !lone_letter_is_unit(name, rest)) {
            continue;
        }
        if let Some(found) = unit_words::parse(&rest.replace('_', " ")) {
            return Some((name.to_owned(), found));
        }
    }
    None
}

/// A lone letter may be a name (`map_c`), unless the words before it want a unit.
fn lone_letter_is_unit(name: &str, letter: &str) -> bool {
    let words = words(name);
    let header = Header {
        joined: words.concat(),
        words,
        text: String::new(),
        unit: None,
        kind: None,
        strange_unit: None,
    };
    let warmth = [&TEMPERATURE, &COOLANT, &INTAKE_AIR, &EXHAUST];
    match letter {
        "%" => true,
        "C" | "F" | "K" | "c" | "f" => warmth.iter().any(|list| list.hit(&header).is_some()),
        "s" | "h" => TIME.hit(&header).is_some(),
        _ => false,
    }
}

/// `p1kPa`, `map2mbar`: a unit of two letters or more right behind a digit.
fn behind_digit(text: &str) -> Option<(String, Found)> {
    let at = text.rfind(|c: char| c.is_ascii_digit())? + 1;
    let rest = text[at..].trim_start_matches(['_', ' ']);
    if rest.len() < 2 {
        return None;
    }
    unit_words::parse(rest)
        .filter(|(unit, _)| matches!(unit, Unit::Pressure(_)))
        .map(|found| (text[..at].to_owned(), found))
}

/// `p1_mbar_abs`, `kPa cyl 1`: a pressure unit of three letters or more among other words.
fn inner_word(text: &str) -> Option<(String, Found)> {
    let parts: Vec<&str> = text.split([' ', '_', '.', '-']).collect();
    if parts.len() < 2 {
        return None;
    }
    let at = parts.iter().position(|part| {
        part.len() >= 3 && matches!(unit_words::parse(part), Some((Unit::Pressure(_), _)))
    })?;
    let found = unit_words::parse(parts[at])?;
    let rest: Vec<&str> = parts.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, p)| *p).collect();
    Some((rest.join(" "), found))
}

/// Lower-case words; letters and digits, and humps of camel case, are parted; accents are dropped; `#` is a word.
pub(crate) fn words(text: &str) -> Vec<String> {
    #[derive(PartialEq, Clone, Copy)]
    enum Class {
        Lower,
        Upper,
        Digit,
        Other,
    }
    let class = |c: char| match c {
        c if c.is_ascii_digit() => Class::Digit,
        c if c.is_uppercase() => Class::Upper,
        c if c.is_alphabetic() => Class::Lower,
        _ => Class::Other,
    };
    let mut out: Vec<String> = Vec::new();
    let mut before = Class::Other;
    for ch in text.chars() {
        let now = class(ch);
        let joins = match (before, now) {
            (_, Class::Other) | (Class::Other, _) => false,
            (Class::Upper, Class::Lower) => true,
            (a, b) => a == b,
        };
        if now == Class::Other {
            if ch == '#' {
                out.push("#".to_owned());
            }
        } else {
            if !joins {
                out.push(String::new());
            }
            if let Some(last) = out.last_mut() {
                ch.to_lowercase().for_each(|c| last.push_str(plain_letter(c).encode_utf8(&mut [0; 4])));
            }
        }
        before = now;
    }
    out
}

/// A letter without its accent.
fn plain_letter(c: char) -> char {
    match c {
        '\u{e0}'..='\u{e5}' => 'a',
        '\u{e7}' => 'c',
        '\u{e8}'..='\u{eb}' => 'e',
        '\u{ec}'..='\u{ef}' => 'i',
        '\u{f1}' => 'n',
        '\u{f2}'..='\u{f6}' => 'o',
        '\u{f9}'..='\u{fc}' => 'u',
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::PressureUnit;

    #[test]
    fn a_unit_is_found_wherever_it_is_written() {
        for (text, unit, name) in [
            ("p1 [mbar]", PressureUnit::Mbar, "p 1"),
            ("map1_kpa", PressureUnit::Kpa, "map 1"),
            ("map_1_hpa", PressureUnit::Hpa, "map 1"),
            ("vacuum 1 (mmHg)", PressureUnit::MmHg, "vacuum 1"),
            ("Pressure 1, kPa", PressureUnit::Kpa, "pressure 1"),
            ("p1 / hPa", PressureUnit::Hpa, "p 1"),
            ("p1/hPa", PressureUnit::Hpa, "p 1"),
            ("MAP 1 in inHg", PressureUnit::InHg, "map 1"),
            ("cyl 1 in. Hg", PressureUnit::InHg, "cyl 1"),
            ("Cyl1 in Hg", PressureUnit::InHg, "cyl 1"),
            ("p1mbar", PressureUnit::Mbar, "p 1"),
            ("p1_mbar_abs", PressureUnit::Mbar, "p 1 abs"),
            ("Saugrohrdruck 2 {hPa}", PressureUnit::Hpa, "saugrohrdruck 2"),
            ("MAP 1 kPa", PressureUnit::Kpa, "map 1"),
        ] {
            let header = parse(text, None);
            let found = header.words.join(" ");
            let right = header.unit == Some(Unit::Pressure(unit)) || header.kind.is_some();
            assert!(right, "{text}: {header:?}");
            assert!(found == name || header.kind.is_some(), "{text}: {found}");
        }
    }

    #[test]
    fn other_units_and_none() {
        assert_eq!(parse("n [1/min]", None).unit, Some(Unit::Turning(1.0)));
        assert_eq!(parse("time_s", None).unit, Some(Unit::Time(1.0)));
        assert_eq!(parse("time_ms", None).unit, Some(Unit::Time(1e-3)));
        assert_eq!(parse("Coolant temp (C)", None).unit, Some(Unit::Celsius));
        assert_eq!(parse("ENGINE_RPM ()", None).unit, Some(Unit::Turning(1.0)));
        assert_eq!(parse("map_a", None).unit, None);
        assert_eq!(parse("map_c", None).unit, None);
        assert_eq!(parse("coolant_C", None).unit, Some(Unit::Celsius));
        assert_eq!(parse("U/min", None).unit, Some(Unit::Turning(1.0)));
        assert_eq!(parse("R\u{e9}gime tr/min", None).unit, Some(Unit::Turning(1.0)));
        // A factor before the unit; one in the name is none.
        for (text, size) in
            [("Time (10 ms)", 0.01), ("t [x10ms]", 0.01), ("Zeit [0,1 s]", 0.1), ("Zeit (1/100 s)", 0.01)]
        {
            let Some(Unit::Time(found)) = parse(text, None).unit else { panic!("{text}") };
            assert!((found / size - 1.0).abs() < 1e-12, "{text}: {found}");
        }
        assert_eq!(parse("time 2 ms", None).unit, Some(Unit::Time(1e-3)));
        assert_eq!(parse("Manifold 1", Some("mmHg")).unit, Some(Unit::Pressure(PressureUnit::MmHg)));
        assert_eq!(parse("Manifold 1", Some("parsec")).strange_unit.as_deref(), Some("parsec"));
    }

    #[test]
    fn words_are_parted_and_plain() {
        assert_eq!(words("K\u{fc}hlmittelTemp2"), ["kuhlmittel", "temp", "2"]);
        assert_eq!(words("MAP#1"), ["map", "#", "1"]);
        assert_eq!(words("p1_front"), ["p", "1", "front"]);
    }
}
