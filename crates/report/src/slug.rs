//! File names from names that came out of a log.
//!
//! Letters, digits, `-`, `_` and `.` stay; anything else becomes `-`. A name that had to be changed, cut or that
//! Windows reserves carries a tail made from its SHA-256, so that two names never meet in one file.

use sha2::{Digest, Sha256};

/// Longest stem, so that folder, stem and suffix stay far below the limits of file systems.
const LONGEST: usize = 64;

/// Names that Windows keeps for devices, whatever suffix follows.
const RESERVED: [&str; 6] = ["con", "prn", "aux", "nul", "conin$", "conout$"];

/// A stem that is safe on every file system.
#[must_use]
pub fn slug(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars() {
        let keep = c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
        if keep {
            out.push(c);
        } else if !out.ends_with('-') {
            out.push('-');
        }
    }
    let mut stem: String = out.trim_matches(|c| matches!(c, '-' | '.' | '_')).chars().take(LONGEST).collect();
    while stem.ends_with(['.', '-']) {
        stem.pop();
    }
    if stem == name && !stem.is_empty() && !reserved(&stem) {
        return stem;
    }
    let tail: String = Sha256::digest(name.as_bytes()).iter().take(4).map(|b| format!("{b:02x}")).collect();
    if stem.is_empty() || reserved(&stem) {
        return format!("recording-{tail}");
    }
    format!("{stem}-{tail}")
}

/// The stem of a file's own name: without its last suffix (and a compression suffix before it).
#[must_use]
pub fn stem(file_name: &str) -> &str {
    let cut = |s: &'_ str| s.rfind('.').filter(|at| *at > 0);
    let mut name = file_name;
    if let Some(at) = cut(name) {
        let packed = [".gz", ".zst", ".bz2", ".xz"].iter().any(|p| name[at..].eq_ignore_ascii_case(p));
        name = &name[..at];
        if packed && let Some(at) = cut(name) {
            name = &name[..at];
        }
    }
    name
}

fn reserved(stem: &str) -> bool {
    let base = stem.split('.').next().unwrap_or("").to_ascii_lowercase();
    let port = |p: &str| base.len() == 4 && base.starts_with(p) && base.as_bytes()[3].is_ascii_digit();
    RESERVED.contains(&base.as_str()) || port("com") || port("lpt")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_names_stay_and_changed_names_are_told_apart() {
        assert_eq!(slug("hs-07_2025.06"), "hs-07_2025.06");
        let (a, b) = (slug("log a"), slug("log:a"));
        assert!(a.starts_with("log-a-") && b.starts_with("log-a-") && a != b);
        let long = "x".repeat(300);
        assert_ne!(slug(&long), slug(&format!("{long}y")));
        assert!(slug(&long).len() <= 80);
    }

    #[test]
    fn nothing_leaves_the_folder_or_meets_a_device() {
        for name in
            ["../../etc/passwd", "..", "CON", "com1.log", "nul", "a\\b", "a/b", "", "ends.", "<script>"]
        {
            let s = slug(name);
            assert!(
                !s.contains(['/', '\\', ':', '<']) && !s.is_empty() && !s.starts_with('.'),
                "{name} -> {s}"
            );
            assert!(!reserved(&s) && !s.ends_with('.'), "{name} -> {s}");
        }
    }

    #[test]
    fn stems() {
        assert_eq!(stem("hs-07.csv"), "hs-07");
        assert_eq!(stem("hs-07.csv.gz"), "hs-07");
        assert_eq!(stem(".hidden"), ".hidden");
        assert_eq!(stem("visit.2025"), "visit");
    }
}
