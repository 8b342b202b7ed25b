//! The words of the example page as they are read out, in their order, against the file beside this one. The file is the page as a
//! person read and accepted it: renew it with `just accessible-text`, read what changed, and commit it.

use std::path::Path;

use super::look::look;
use super::{PAGES, chromium, page_of};
use crate::cli::program::Program;

#[test]
fn the_example_page_reads_out_as_it_was_accepted() {
    let Some(chromium) = chromium() else { return };
    let program = Program::new();
    let page = page_of(&program, PAGES[0]);
    let words = look(&chromium, program.folder(), &page, &[1280]).remove(0).words;
    // On a telephone another drawing of each figure is shown; the words stay.
    let phone = look(&chromium, program.folder(), &page, &[390]).remove(0).words;
    assert_eq!(words, phone, "a telephone reads out something else");
    let accepted = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/browser/hs-01-page.txt");
    let text = format!("{}\n", words.join("\n"));
    if std::env::var_os("EVENPULL_RENEW").is_some() {
        std::fs::write(&accepted, &text).expect("the file of words");
    }
    let wanted = std::fs::read_to_string(&accepted).expect("tests/browser/hs-01-page.txt");
    for (number, (now, then)) in text.lines().zip(wanted.lines()).enumerate() {
        assert_eq!(now, then, "line {} of the words (renew with `just accessible-text`)", number + 1);
    }
    assert_eq!(text.lines().count(), wanted.lines().count(), "words were added or left out at the end");
}

#[test]
fn headings_do_not_skip_a_level_and_figures_and_tables_say_what_they_are() {
    // WCAG 2.2, success criteria 1.1.1 (text alternatives) and 1.3.1 (headings and tables).
    let Some(chromium) = chromium() else { return };
    for asked in PAGES {
        let program = Program::new();
        let page = page_of(&program, asked);
        let words = look(&chromium, program.folder(), &page, &[1280]).remove(0).words;
        let mut level = 0;
        for line in words.iter().filter(|l| l.starts_with('#')) {
            let here = line.bytes().take_while(|b| *b == b'#').count();
            assert!(here <= level + 1, "{asked:?}: {line} after level {level}");
            level = here;
        }
        assert_eq!(words.iter().filter(|l| l.starts_with("# ")).count(), 1, "{asked:?}: one title");
        let figures: Vec<&String> = words.iter().filter(|l| l.starts_with("[figure: ")).collect();
        assert!(!figures.is_empty(), "{asked:?}: no figure");
        assert!(figures.iter().all(|f| f.len() > 40), "{asked:?}: {figures:?}");
        assert!(words.iter().filter(|l| l.starts_with("table: ")).all(|t| t.len() > 12), "{asked:?}");
    }
}
