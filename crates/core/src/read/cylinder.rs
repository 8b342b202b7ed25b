//! Which cylinder a header names: `cyl 1`, `#1`, `p1`, `A`, left and right, front and rear, zero-based numbers.

use super::header::Header;

/// What a header says about its cylinder, before the whole set of columns is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Tag {
    /// A number as written; may count from 0.
    Number(u32),
    /// `A` is 1.
    Letter(u32),
    /// 1 or 2, by left and right.
    Hand(u32),
    /// 1 or 2, by front and rear.
    End(u32),
    /// Both: left front ...
    Corner(u32, u32),
    /// Upper or lower.
    Level(u32),
    /// `II` is 2; what `I` and `V` are the other columns say.
    Roman(u32),
}

/// Words before a cylinder's number.
const CYLINDER: &[&str] = &[
    "cyl",
    "cylinder",
    "cylindre",
    "cilindro",
    "cil",
    "zyl",
    "zylinder",
    "z",
    "#",
    "c",
    "cy",
    "runner",
    "carb",
    "vergaser",
    "carburateur",
    "carburador",
    "carburatore",
    "throat",
    "barrel",
];
/// Words whose number is not a cylinder's.
const OTHER_NUMBER: &[&str] = &["bank", "b", "o", "h", "group", "rev", "version", "v", "hz", "stage"];

const LEFT: &[&str] = &[
    "left",
    "links",
    "li",
    "gauche",
    "izquierda",
    "izquierdo",
    "izq",
    "sinistra",
    "sinistro",
    "sx",
    "lh",
    "l",
    "port",
    "backbord",
    "bb",
    "babord",
    "babor",
];
const RIGHT: &[&str] = &[
    "starboard",
    "stbd",
    "stb",
    "steuerbord",
    "tribord",
    "estribor",
    "right",
    "rechts",
    "re",
    "droite",
    "droit",
    "derecha",
    "derecho",
    "der",
    "destra",
    "destro",
    "dx",
    "rh",
    "r",
];
const FRONT: &[&str] =
    &["front", "vorne", "vorn", "vorderer", "avant", "delantero", "delantera", "anteriore", "ant", "fr", "f"];
const REAR: &[&str] =
    &["rear", "back", "hinten", "hinterer", "arriere", "trasero", "trasera", "posteriore", "post", "rr"];

const UPPER: &[&str] = &["upper", "top", "oben", "oberer", "superior", "superieur", "superiore", "haut"];
const LOWER: &[&str] = &["lower", "bottom", "unten", "unterer", "inferior", "inferieur", "inferiore", "bas"];
/// Numbers in words, behind a word for the cylinder.
const IN_WORDS: &[(&str, u32)] = &[
    ("one", 1),
    ("two", 2),
    ("three", 3),
    ("four", 4),
    ("five", 5),
    ("six", 6),
    ("eins", 1),
    ("zwei", 2),
    ("drei", 3),
    ("vier", 4),
    ("funf", 5),
    ("sechs", 6),
    ("un", 1),
    ("deux", 2),
    ("trois", 3),
    ("quatre", 4),
    ("cinq", 5),
    ("uno", 1),
    ("dos", 2),
    ("tres", 3),
    ("cuatro", 4),
    ("cinco", 5),
    ("seis", 6),
    ("due", 2),
    ("tre", 3),
    ("quattro", 4),
    ("cinque", 5),
    ("sei", 6),
];
/// Roman numerals that are no letters of a row.
const ROMAN: &[(&str, u32)] = &[("ii", 2), ("iii", 3), ("iv", 4), ("vi", 6), ("vii", 7), ("viii", 8)];

/// Whether a word alone names a cylinder; letters and marks need a number beside them.
pub(crate) fn is_word(word: &str) -> bool {
    word.len() > 2 && CYLINDER.contains(&word)
}

/// Finds the tag of a header.
pub(crate) fn tag(header: &Header) -> Option<Tag> {
    let words: Vec<&str> = header.words.iter().map(String::as_str).collect();
    if let Some(found) = numbered(&words) {
        return Some(Tag::Number(found));
    }
    let side = |list: &[&str]| words.iter().any(|w| list.contains(w));
    // `Port A`, `Port B` are a row of ports, no side.
    if words.contains(&"port")
        && words.len() > 1
        && let Some(found) = letter(&words)
    {
        return Some(Tag::Letter(found));
    }
    let hand = if side(LEFT) { Some(1) } else { side(RIGHT).then_some(2) };
    let end = if side(FRONT) { Some(1) } else { side(REAR).then_some(2) };
    match (hand, end) {
        (Some(hand), Some(end)) => return Some(Tag::Corner(hand, end)),
        (Some(hand), None) if !lettered_row(&words) => return Some(Tag::Hand(hand)),
        (None, Some(end)) if !lettered_row(&words) => return Some(Tag::End(end)),
        _ => {}
    }
    let level = if side(UPPER) { Some(1) } else { side(LOWER).then_some(2) };
    let roman = words.last().and_then(|last| ROMAN.iter().find(|(word, _)| word == last));
    let row = letter(&words).map(Tag::Letter).or_else(|| roman.map(|(_, n)| Tag::Roman(*n)));
    row.or_else(|| level.map(Tag::Level))
}

/// Words that only leave room for a letter of a row (`map l` is the twelfth, hardly; it is left).
fn lettered_row(words: &[&str]) -> bool {
    words.len() == 1 && words[0].len() == 1 && !matches!(words[0], "l" | "r")
}

/// The number of a header: the one behind a cylinder word, else the only one that is no other number.
fn numbered(words: &[&str]) -> Option<u32> {
    let number = |word: &str| word.parse::<u32>().ok().filter(|n| *n <= 24);
    let named = words.windows(2).find(|w| CYLINDER.contains(&w[0]) && number(w[1]).is_some());
    if let Some(pair) = named {
        return number(pair[1]);
    }
    let in_words = |word: &str| IN_WORDS.iter().find(|(name, _)| *name == word).map(|(_, n)| *n);
    if let Some(found) = words.windows(2).find_map(|w| in_words(w[1]).filter(|_| CYLINDER.contains(&w[0]))) {
        return Some(found);
    }
    if let Some(pair) = words.windows(2).find(|w| number(w[0]).is_some() && CYLINDER.contains(&w[1])) {
        return number(pair[0]);
    }
    let mut found = None;
    for (at, word) in words.iter().enumerate() {
        let other = at > 0 && OTHER_NUMBER.contains(&words[at - 1]);
        let behind = words.get(at + 1).is_some_and(|w| matches!(*w, "hz" | "khz" | "ms" | "bar" | "v"));
        if let Some(n) = number(word).filter(|_| !other && !behind) {
            found = Some(found.unwrap_or(n));
        }
    }
    found
}

/// `map a`, `cyl B`, `A`.
fn letter(words: &[&str]) -> Option<u32> {
    let last = words.last()?;
    let byte = *last.as_bytes().first().filter(|_| last.len() == 1)?;
    (byte.is_ascii_lowercase() && byte <= b'l').then(|| u32::from(byte - b'a') + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::header::parse;

    #[test]
    fn cylinders_as_they_are_written() {
        for (text, tag_wanted) in [
            ("cyl 1 map", Some(Tag::Number(1))),
            ("MAP #3 (kPa)", Some(Tag::Number(3))),
            ("p1 [mbar]", Some(Tag::Number(1))),
            ("map0_kpa", Some(Tag::Number(0))),
            ("1. Zylinder [hPa]", Some(Tag::Number(1))),
            ("Ch 2 cyl 4 (kPa)", Some(Tag::Number(4))),
            ("Pressure A (kPa)", Some(Tag::Letter(1))),
            ("p_front", Some(Tag::End(1))),
            ("Druck hinten [hPa]", Some(Tag::End(2))),
            ("vacuum left (mmHg)", Some(Tag::Hand(1))),
            ("MAP starboard (kPa)", Some(Tag::Hand(2))),
            ("Port B (kPa)", Some(Tag::Letter(2))),
            ("Upper C (kPa)", Some(Tag::Letter(3))),
            ("Unterdruck oben", Some(Tag::Level(1))),
            ("MAP cylinder three (kPa)", Some(Tag::Number(3))),
            ("MAP III (kPa)", Some(Tag::Roman(3))),
            ("MAP front left", Some(Tag::Corner(1, 1))),
            ("MAP (kPa)", None),
            ("FUEL_TRIM_BANK_1 ()", None),
            ("Manifold pressure in inH2O", None),
        ] {
            assert_eq!(tag(&parse(text, None)), tag_wanted, "{text}");
        }
    }
}
