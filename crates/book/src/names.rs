//! Names of folders and files that Linux, macOS and Windows all take.
//!
//! Hive partitions `key=value`: the value keeps letters, digits, `-`, `_` and inner dots; every other byte of its UTF-8
//! form, and a dot at the end, becomes `%XX` as in Hive and in URIs (RFC 3986), which the usual readers turn back. With
//! `key=` in front no name is one that Windows reserves (`CON`, `NUL.txt`), and no `:` is left.

use crate::error::BookError;

/// Longest escaped value, bytes: with the rest of the path far below 255 a name and 260 a path.
const LONGEST: usize = 96;

/// Folder of a machine.
///
/// # Errors
/// [`BookError::BadId`] for an empty id or one whose escaped form is longer than 96 bytes.
pub fn machine_folder(id: &str) -> Result<String, BookError> {
    let bad = |why| Err(BookError::BadId { id: id.to_owned(), why });
    if id.is_empty() {
        return bad("is empty");
    }
    let value = escape(id);
    if value.len() > LONGEST {
        return bad("is too long for a folder name");
    }
    Ok(format!("machine={value}"))
}

/// Folder of a date, which must be written `YYYY-MM-DD`.
#[must_use]
pub fn date_folder(date: &str) -> String {
    format!("date={}", escape(date))
}

/// Escapes a partition value. [`unescape`] gives it back.
#[must_use]
pub fn escape(value: &str) -> String {
    let last = value.len().saturating_sub(1);
    let mut out = String::with_capacity(value.len());
    for (i, b) in value.bytes().enumerate() {
        let plain = b.is_ascii_alphanumeric() || b == b'-' || b == b'_' || (b == b'.' && i != last);
        if plain {
            out.push(char::from(b));
        } else {
            out.push_str(&format!("%{b:02X}"));
        }
    }
    out
}

/// The value of an escaped name; `None` if it is none of ours.
#[must_use]
pub fn unescape(name: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(name.len());
    let mut rest = name.as_bytes();
    while let Some((&b, tail)) = rest.split_first() {
        rest = tail;
        if b == b'%' {
            let hex = std::str::from_utf8(rest.get(..2)?).ok()?;
            bytes.push(u8::from_str_radix(hex, 16).ok()?);
            rest = &rest[2..];
        } else {
            bytes.push(b);
        }
    }
    String::from_utf8(bytes).ok()
}

/// The recording's part of a file name: 12 hex digits; `None` if the name is none of a visit.
pub(crate) fn short_key(file: &str) -> Option<&str> {
    let stem = file.strip_prefix("visit-")?.strip_suffix(".parquet")?;
    let (key, tail) = stem.split_at_checked(12)?;
    let hex = |s: &str| s.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
    let sound =
        hex(key) && (tail.is_empty() || tail.strip_prefix('-').is_some_and(|t| t.len() == 8 && hex(t)));
    sound.then_some(key)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn names_that_windows_refuses_are_gone() {
        // Microsoft, "Naming Files, Paths, and Namespaces": < > : " / \ | ? *, no dot or space at the end,
        // CON, PRN, AUX, NUL, COM1.., LPT1.. with or without an extension.
        for id in ["CON", "nul.txt", "a.", "a ", "a:b", "x/y", "x\\y", "q?*\"<>|", "COM1", "..", "."] {
            let folder = machine_folder(id).unwrap();
            assert!(!folder.contains(['<', '>', ':', '"', '/', '\\', '|', '?', '*']), "{folder}");
            assert!(!folder.ends_with(['.', ' ']) && folder.starts_with("machine="), "{folder}");
            assert_eq!(unescape(&folder["machine=".len()..]).unwrap(), id);
        }
    }

    #[test]
    fn usual_ids_stay_readable() {
        assert_eq!(machine_folder("HS-03").unwrap(), "machine=HS-03");
        assert_eq!(machine_folder("boat_7.b").unwrap(), "machine=boat_7.b");
        assert!(machine_folder("").is_err() && machine_folder(&"x".repeat(97)).is_err());
    }

    #[test]
    fn file_names_of_visits() {
        assert_eq!(short_key("visit-0123456789ab.parquet"), Some("0123456789ab"));
        assert_eq!(short_key("visit-0123456789ab-00ff00ff.parquet"), Some("0123456789ab"));
        for other in [
            "visit-0123456789AB.parquet",
            ".visit-0123456789ab.tmp",
            "visit-.parquet",
            "visit-é",
            "x.parquet",
        ] {
            assert_eq!(short_key(other), None, "{other}");
        }
    }

    proptest! {
        #[test]
        fn escaping_is_reversible_and_tells_ids_apart(a in ".{0,20}", b in ".{0,20}") {
            prop_assert_eq!(unescape(&escape(&a)), Some(a.clone()));
            prop_assert_eq!(escape(&a) == escape(&b), a == b);
            prop_assert!(escape(&a).is_ascii());
        }
    }
}
