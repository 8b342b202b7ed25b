//! The words that loggers and spreadsheets write where they have no value.

/// Words for "no value", lower case.
const MISSING: &[&str] = &[
    "nan",
    "-nan",
    "+nan",
    "nan(ind)",
    "-nan(ind)",
    "1.#qnan",
    "1.#ind",
    "-1.#ind",
    "na",
    "n/a",
    "n.a.",
    "#n/a",
    "#na",
    "null",
    "none",
    "nil",
    "nul",
    "void",
    "missing",
    "invalid",
    "inval",
    "error",
    "err",
    "#error",
    "#err",
    "#value!",
    "#div/0!",
    "#ref!",
    "#num!",
    "#name?",
    "fault",
    "fail",
    "failed",
    "timeout",
    "time out",
    "no data",
    "nodata",
    "no_data",
    "no value",
    "no signal",
    "not available",
    "not supported",
    "unavailable",
    "unknown",
    "overflow",
    "over",
    "ovf",
    "ol",
    "o.l.",
    "overrange",
    "out of range",
    "underrange",
    "under",
    "open",
    "short",
    "disconnected",
    "offline",
    "fehler",
    "ung\u{fc}ltig",
    "ungueltig",
    "kein wert",
    "keine daten",
    "n.v.",
    "k.a.",
    "erreur",
    "non disponible",
    "nd",
    "n.d.",
    "n/d",
    "inconnu",
    "pas de donn\u{e9}es",
    "error!",
    "sin datos",
    "sin se\u{f1}al",
    "no disponible",
    "desconocido",
    "errore",
    "nessun dato",
    "non valido",
    "inf",
    "-inf",
    "+inf",
    "infinity",
    "-infinity",
    "?",
    "??",
    "???",
];

/// Whether a cell is one of the usual ways to say "no value".
pub(crate) fn is_missing(text: &str) -> bool {
    let text = text.trim();
    let marks = |set: &[u8]| text.bytes().all(|b| set.contains(&b));
    if marks(b"-*_.#/") || (text.len() >= 3 && marks(b"xX")) {
        return true;
    }
    if text.len() > 20 {
        return false;
    }
    let lower = text.to_lowercase();
    MISSING.contains(&lower.as_str()) || is_error_word(text)
}

/// The error words of spreadsheets in any language begin with a number sign: `#NV`, `#VALEUR!`, `#DIV/0!`.
/// The zero of a division is the only digit in them.
fn is_error_word(text: &str) -> bool {
    let Some(word) = text.strip_prefix('#') else { return false };
    let word = word.trim_end_matches(['!', '?']);
    let word = word.strip_suffix("/0").unwrap_or(word);
    word.contains(char::is_alphabetic) && !word.contains(|c: char| c.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use crate::read::number::{Cell, NumberStyle, parse};

    #[test]
    fn error_words_of_spreadsheets_in_any_language() {
        let style = NumberStyle::default();
        for text in [
            "#NV",
            "#VALEUR!",
            "#\u{a1}VALOR!",
            "#WERT!",
            "#BEZUG!",
            "#DIV/0!",
            "#\u{a1}DIV/0!",
            "#\u{bf}NOMBRE?",
            "#DESBORDAMIENTO!",
        ] {
            assert_eq!(parse(text, style), Cell::Missing, "{text}");
        }
        for text in ["#1", "#A1", "#3 kPa"] {
            assert_eq!(parse(text, style), Cell::Bad, "{text}");
        }
    }
}
