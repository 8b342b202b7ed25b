//! `explain` from the outside. The contract: one screen of 24 lines by 78 characters on standard output, exit code
//! 0; a word that is no topic is a failure on standard error.

use evenpull_core::codes;

use super::program::Program;

#[test]
fn every_code_is_explained_on_one_screen() {
    let program = Program::new();
    for code in codes::ALL.iter().chain(codes::EXCLUSIONS).chain(codes::PARTS).chain(codes::PLAN) {
        let run = program.run(&["explain", code]);
        assert_eq!((run.code, run.err.as_str()), (0, ""), "{code}");
        assert!(run.out.starts_with(code), "{code}: {}", run.out);
        assert!(run.out.lines().count() <= 24, "{code}");
        assert!(run.out.lines().all(|l| l.chars().count() <= 78), "{code}");
    }
}

#[test]
fn without_a_topic_the_list_names_every_code() {
    let run = Program::new().run(&["explain"]);
    assert_eq!(run.code, 0);
    for code in codes::ALL {
        assert!(run.out.contains(code), "{code}");
    }
}

#[test]
fn what_is_no_topic_fails_and_cannot_drive_the_terminal() {
    let run = Program::new().run(&["explain", "alias\u{1b}[31m"]);
    assert_eq!((run.code, run.out.as_str()), (2, ""));
    assert!(run.err.contains("alias<U+001B>[31m") && !run.err.contains('\u{1b}'), "{}", run.err);
}

#[test]
fn the_recording_topic_asks_for_every_part_that_a_review_looks_for() {
    // The parts of a good recording and their lengths as the trade makes them (common practice, no source).
    let text = Program::new().run(&["explain", "recording"]).out;
    for asked in
        ["engine off: 15 s", "60 s of idle, hands off", "blip", "2,500 to 3,000", "15 s after each turn"]
    {
        assert!(text.contains(asked), "{asked}");
    }
}

#[test]
fn every_code_that_a_plan_can_give_is_on_a_list_and_explained() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/src/adjust");
    let mut given = Vec::new();
    for entry in std::fs::read_dir(folder).expect("the source of the plan") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        if name.ends_with(".rs") && !name.contains("tests") {
            let text = std::fs::read_to_string(&path).expect("source text");
            given.extend(literals(&text, &["Point::new(", "Point::on("]));
        }
    }
    given.sort();
    given.dedup();
    assert!(given.len() >= 25, "the search found only {given:?}");
    let topics = Program::new().run(&["explain"]).out;
    for code in &given {
        let listed = codes::PLAN.contains(&code.as_str()) || codes::ALL.contains(&code.as_str());
        assert!(listed, "{code} has no entry in evenpull_core::codes");
        assert!(topics.contains(code.as_str()), "{code}");
    }
    // And nothing is on the list that no plan gives; some are given by their constants.
    let by_constant = [codes::BREATHING, codes::FAR_OPEN, codes::FAR_CLOSED];
    for code in codes::PLAN {
        assert!(given.iter().any(|g| g == code) || by_constant.contains(code), "no plan gives {code}");
    }
}

/// String literals that are the first argument of these calls, outside tests.
fn literals(text: &str, calls: &[&str]) -> Vec<String> {
    let text = text.split("#[cfg(test)]\nmod ").next().unwrap_or_default();
    let mut found = Vec::new();
    for call in calls {
        for (at, _) in text.match_indices(call) {
            let argument = text[at + call.len()..].trim_start();
            if let Some((code, _)) = argument.strip_prefix('"').and_then(|rest| rest.split_once('"')) {
                found.push(code.to_owned());
            }
        }
    }
    found
}

#[test]
fn every_notice_that_the_source_of_the_core_raises_is_on_the_list() {
    let core = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/src");
    let mut raised = Vec::new();
    collect_codes(&core, &mut raised);
    assert!(raised.len() >= 10, "the search found only {raised:?}");
    for code in raised {
        assert!(codes::ALL.contains(&code.as_str()), "{code} has no entry in evenpull_core::codes");
    }
}

/// Codes written as literals in calls that make a notice, outside tests.
fn collect_codes(folder: &std::path::Path, found: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).expect("the source of the core") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            collect_codes(&path, found);
            continue;
        }
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        if !name.ends_with(".rs") || name.contains("tests") {
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("source text");
        found.extend(literals(&text, &["Notice::new(", ".note(", ".caution(", ".fault(", ".count_only("]));
    }
}
