//! Lines of the plan's text.

use super::*;

#[test]
fn lines_keep_their_width_and_their_indent() {
    let mut out = String::new();
    let long = "1. Cylinder 3: open by 5/8 turn (anticlockwise, seen from the screw's head), and then a good deal more of it";
    block(&mut out, "Turn", &[long.to_owned(), "\u{2003}now -2.7 kPa".to_owned()]);
    let lines: Vec<&str> = out.lines().collect();
    assert!(lines.iter().all(|l| l.chars().count() <= COLUMNS), "{out}");
    assert!(lines[0].starts_with("Turn        1. Cylinder 3"));
    assert!(lines[1].starts_with("               "), "behind the number: {out}");
    assert_eq!(lines[lines.len() - 1], "               now -2.7 kPa");
}

#[test]
fn nothing_steers_the_terminal() {
    let mut out = String::new();
    wrap(&mut out, "", "\u{1b}[31mred\u{7}\u{202e}.csv: turn nothing");
    assert!(!out.contains('\u{1b}') && !out.contains('\u{7}') && !out.contains('\u{202e}'), "{out}");
}

#[test]
fn sentences_start_and_end_as_sentences() {
    assert_eq!(sentence("the limit is a rule of thumb"), "The limit is a rule of thumb.");
    assert_eq!(sentence("Stop."), "Stop.");
    assert_eq!(sentence(""), ".");
    assert_eq!(strip("Stop when a turn changes nothing."), "a turn changes nothing.");
}
