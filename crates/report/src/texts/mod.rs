//! All words of the pages. Sentences are built here and nowhere else; the view model only puts numbers into them.

pub(crate) mod advice;
pub(crate) mod compare;
pub(crate) mod compare_advice;
pub(crate) mod compare_sure;
pub(crate) mod fleet;
pub(crate) mod labels;
pub(crate) mod lesson;
pub(crate) mod page;
pub(crate) mod plan;
pub(crate) mod restate;
pub(crate) mod verdict;
pub(crate) mod verify;

/// `one`, `two` ... `twelve`, then figures.
pub(crate) fn count_word(n: usize) -> String {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
        "twelve",
    ];
    WORDS.get(n).map_or_else(|| n.to_string(), |w| (*w).to_owned())
}

/// `1`, `1 and 2`, `1, 2 and 3`.
pub(crate) fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [init @ .., last] => format!("{} and {last}", init.join(", ")),
    }
}

/// `cylinder 3`, `cylinders 1, 2 and 4`.
pub(crate) fn cylinders(numbers: &[u32]) -> String {
    let names: Vec<String> = numbers.iter().map(u32::to_string).collect();
    format!("{} {}", if names.len() == 1 { "cylinder" } else { "cylinders" }, list(&names))
}

/// First letter in upper case.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_read_like_a_sentence() {
        assert_eq!(capital(&cylinders(&[1, 2, 4])), "Cylinders 1, 2 and 4");
        assert_eq!(cylinders(&[3]), "cylinder 3");
        assert_eq!(count_word(4), "four");
        assert_eq!(count_word(16), "16");
    }
}
