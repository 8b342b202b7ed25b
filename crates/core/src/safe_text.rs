//! Text that came from a file or a file name, made safe for terminals and messages: nothing in it can move the cursor, change
//! colours, hide or turn around other text. Offending characters are shown by their code point.

/// Longest piece of foreign text shown, characters; the rest is replaced by an ellipsis.
const LONGEST: usize = 400;

/// The text on one line with control, direction and invisible characters shown as `<U+202E>`.
#[must_use]
pub fn one_line(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for (i, c) in text.chars().enumerate() {
        if i == LONGEST {
            safe.push('\u{2026}');
            break;
        }
        if is_hostile(c) {
            safe.push_str(&format!("<U+{:04X}>", u32::from(c)));
        } else {
            safe.push(c);
        }
    }
    safe
}

/// The same, cut to a number of characters with an ellipsis.
#[must_use]
pub fn one_line_within(text: &str, characters: usize) -> String {
    let safe = one_line(text);
    if safe.chars().count() <= characters {
        return safe;
    }
    let mut cut: String = safe.chars().take(characters.saturating_sub(1)).collect();
    cut.push('\u{2026}');
    cut
}

/// Whether a character could steer a terminal or hide text: control characters (Unicode category Cc), line and paragraph separators, and the direction and invisible
/// formatting characters of Unicode Standard Annex 9 and of the zero-width block.
#[must_use]
pub fn is_hostile(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{00AD}' | '\u{061C}' | '\u{180E}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}' | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{FFF9}'..='\u{FFFB}'
            | '\u{E0000}'..='\u{E01EF}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_direction_character_of_annex_9_is_shown_by_its_code_point() {
        // Unicode Standard Annex 9, section 2: the explicit and implicit directional formatting characters.
        for c in [
            '\u{202A}', '\u{202B}', '\u{202C}', '\u{202D}', '\u{202E}', '\u{2066}', '\u{2067}', '\u{2068}',
            '\u{2069}', '\u{200E}', '\u{200F}', '\u{061C}',
        ] {
            let shown = one_line(&format!("a{c}b"));
            assert_eq!(shown, format!("a<U+{:04X}>b", u32::from(c)));
        }
    }

    #[test]
    fn escape_sequences_and_line_ends_cannot_get_through() {
        // ECMA-48: ESC [ 2 J clears a screen, CR overwrites the line, U+009B is the one-character CSI.
        let shown = one_line("x\u{1b}[2J\r\ny\u{9b}31m\u{7f}");
        assert_eq!(shown, "x<U+001B>[2J<U+000D><U+000A>y<U+009B>31m<U+007F>");
    }

    #[test]
    fn letters_of_any_script_stay_as_they_are() {
        for plain in ["Zylinder 1 (hPa)", "κύλινδρος", "цилиндр", "シリンダー"] {
            assert_eq!(one_line(plain), plain);
        }
    }

    #[test]
    fn long_text_is_cut() {
        assert_eq!(one_line(&"a".repeat(500)).chars().count(), LONGEST + 1);
        assert_eq!(one_line_within("abcdef", 4), "abc\u{2026}");
        assert_eq!(one_line_within("abcd", 4), "abcd");
    }
}
