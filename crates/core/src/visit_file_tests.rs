#![allow(clippy::unwrap_used)]

use super::*;

const FULL: &str = r#"
date = "2026-03-21"
hours = 412.5
distance_km = 18_200
conditions = " 12 degrees C, dry, afloat "
work_done = ["valve clearance set", "air filter changed"]
codes_noted = ["p0107", "P0107", "U3fff"]
codes_cleared = []
[[turns]]
time_s = 82
cylinder = 2
turns = 0.5
[[turns]]
cylinder = 1
turns = -0.25
[[turns]]
cylinder = 1
turns = -0.125
"#;

#[test]
fn a_full_file_is_read_key_by_key() {
    let visit = VisitFacts::from_toml("v.toml", FULL).unwrap();
    assert_eq!(visit.date.as_deref(), Some("2026-03-21"));
    assert_eq!((visit.hours, visit.distance_km), (Some(412.5), Some(18_200.0)));
    assert_eq!(visit.conditions.as_deref(), Some("12 degrees C, dry, afloat"));
    assert_eq!(visit.work.as_deref(), Some("valve clearance set; air filter changed"));
    assert_eq!(visit.codes, ["P0107", "U3FFF"]);
    assert!(visit.codes_cleared.is_empty());
    assert_eq!(visit.turns[0], Turn { time_s: Some(82.0), cylinder: 2, turns: 0.5 });
    assert_eq!(visit.untimed_turns(), [(1, -0.375)]);
}

#[test]
fn an_empty_file_and_short_forms() {
    assert_eq!(VisitFacts::from_toml("v.toml", "").unwrap(), VisitFacts::default());
    let short = VisitFacts::from_toml("v.toml", "\u{feff}date = 2026-03-21\nwork_done = \"belt\"\n").unwrap();
    assert_eq!((short.date.as_deref(), short.work.as_deref()), (Some("2026-03-21"), Some("belt")));
}

#[test]
fn mistakes_are_placed_by_line_and_column() {
    let place = |text: &str| VisitFacts::from_toml("v.toml", text).unwrap_err().to_string();
    assert_eq!(
        place("hours = 3\ntruns = 1\n"),
        "v.toml:2:1: found the key `truns`, expected one of: date, hours, distance_km, note, conditions, \
         work, work_done, codes, codes_noted, codes_cleared, turns"
    );
    assert_eq!(
        place("hours = \"3\"\n"),
        "v.toml:1:9: `hours`: found \"3\", expected a number from 0 to 1000000 hours"
    );
    assert!(place("date = \"2026-02-30\"\n").starts_with("v.toml:1:8: `date`: found \"2026-02-30\""));
    assert!(place("date = 2026-03-21T10:00:00\n").contains("expected a date"));
    assert!(place("codes_noted = [\"P0107\", \"X1\"]\n").starts_with("v.toml:1:25:"));
    assert!(place("[[turns]]\ncylinder = 2\n").contains("with the key turns"));
    assert!(place("[[turns]]\nturns = 0.5\n").contains("with the key cylinder"));
    assert!(place("[[turns]]\ncylinder = 2\nturns = 0\n").starts_with("v.toml:3:9: `turns`: found 0"));
    assert!(place("[[turns]]\ncylinder = 0\nturns = 1\n").starts_with("v.toml:2:12: `cylinder`: found 0"));
    assert!(place("[[turns]]\ncylinder = 2\nturns = nan\n").contains("expected a number"));
    assert!(place("date = \n").starts_with("v.toml:1:"));
}
