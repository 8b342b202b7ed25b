//! `add` and `compare` from the outside: exit codes, messages, what is kept.

use evenpull_core::visits::Comparison;

use super::support::{Call, Desk, valid};

fn recorded(desk: &Desk, name: &str, call: &Call) {
    desk.file(name, call.record().0);
}

#[test]
fn add_keeps_recognises_and_corrects() {
    let desk = Desk::new();
    recorded(&desk, "a.csv", &Call::new("", 4, 0, 5));
    recorded(&desk, "b.csv", &Call::new("HS-06", 4, 1, 6).plate(2, 1.05));
    desk.file("m.toml", "id = \"HS-06\"\ncylinders = 4\n");
    let add = |more: &[&str]| {
        let mut all = vec!["add", "a.csv", "--book", "book", "--machine", "m.toml"];
        all.extend(more);
        desk.run(&all)
    };
    // The preamble gives date and hours, the machine file the id.
    let first = add(&[]);
    assert_eq!((first.code, first.err.as_str()), (0, ""));
    assert!(first.out.contains("HS-06 2024-10-04") && first.out.contains("kept"), "{}", first.out);
    assert!(add(&[]).out.contains("in the book already"));
    let corrected = add(&["--hours", "111", "--note", "=1+1", "--codes", "p0107"]);
    assert!(corrected.out.contains("corrected, supersedes visit-"), "{}", corrected.out);
    desk.file("v.toml", "work = \"new boot\"\nhours = 5\n");
    let both = desk.run(&[
        "add",
        "broken.csv",
        "b.csv",
        "--book",
        "book",
        "--visit",
        "v.toml",
        "--date",
        "2025-01-01",
    ]);
    assert_eq!(both.code, 2);
    assert!(
        both.err.starts_with("broken.csv: ") && both.out.contains("HS-06 2025-01-01"),
        "{}{}",
        both.err,
        both.out
    );

    let left = desk.run(&["compare", "--book", "book", "--id", "HS-06", "--json", "-", "--out", "out"]);
    assert_eq!((left.code, left.err.as_str()), (0, ""));
    valid(evenpull_core::schema::COMPARE, &serde_json::from_str(&left.out).expect("JSON"));
    let c: Comparison = serde_json::from_str(&left.out).expect("a comparison");
    assert_eq!(c.visits.iter().map(|v| v.hours).collect::<Vec<_>>(), [Some(111.0), Some(5.0)]);
    assert_eq!((c.visits[0].note.as_deref(), c.visits[1].work.as_deref()), (Some("=1+1"), Some("new boot")));
    assert!(c.changes.iter().any(|k| k.cylinder == 2) && c.machine.as_deref() == Some("HS-06"));
    let text = desk.run(&["compare", "--book", "book", "--id", "HS-06"]);
    assert!(
        text.out.contains("Cylinder 2 changed by") && text.out.contains("fewer than five visits"),
        "{}",
        text.out
    );
}

#[test]
fn what_cannot_be_done_is_said() {
    let desk = Desk::new();
    let mut nameless = Call::new("", 4, 0, 8);
    recorded(&desk, "nameless.csv", &nameless);
    nameless.id = "HS-06".to_owned();
    let dateless: String =
        nameless.record().0.lines().filter(|l| !l.starts_with("date")).map(|l| format!("{l}\n")).collect();
    desk.file("dateless.csv", dateless);
    desk.file("bad.toml", "hour = 3\n");
    let cases: [(&[&str], &str); 9] = [
        (&["add", "nameless.csv", "--book", "b"], "nameless.csv: no machine id"),
        (&["add", "dateless.csv", "--book", "b"], "dateless.csv: no date"),
        (&["add", "dateless.csv", "--book", "b", "--date", "1.2.2025"], "date: found 1.2.2025"),
        (&["add", "dateless.csv", "--book", "b", "--hours", "-3"], "hours: found -3"),
        (&["add", "dateless.csv", "--book", "b", "--visit", "bad.toml"], "bad.toml:1:1: "),
        (&["compare", "--book", "b", "--id", "HS-06"], "no book here"),
        (&["compare"], "name two logs"),
        (&["compare", "nameless.csv"], "no screw was turned"),
        (&["fleet"], "name a folder"),
    ];
    for (arguments, part) in cases {
        let left = desk.run(arguments);
        assert_eq!((left.code, left.out.as_str()), (2, ""), "{arguments:?}");
        assert!(left.err.contains(part), "{arguments:?}: {}", left.err);
    }
    assert!(!desk.path("b").exists());
    let added = desk.run(&["add", "dateless.csv", "--book", "b", "--date", "2025-02-01"]);
    assert_eq!(added.code, 0, "{}", added.err);
    let other = desk.run(&["compare", "--book", "b", "--id", "HS-60"]);
    assert!(
        other.code == 2 && other.err.contains("no visit of HS-60; machines in this book: HS-06"),
        "{}",
        other.err
    );
}

#[test]
fn before_and_after_and_found_and_left() {
    let desk = Desk::new();
    recorded(&desk, "before.csv", &Call::new("HS-09", 4, 0, 15).plate(3, 0.95));
    recorded(&desk, "after.csv", &Call::new("HS-09", 4, 0, 16));
    let left = desk.run(&["compare", "before.csv", "after.csv"]);
    assert_eq!(left.code, 0, "{}", left.err);
    assert!(left.out.contains("the spread has come within its limit"), "{}", left.out);
    assert!(left.out.contains("Cylinder 3 changed by"), "{}", left.out);
    // The sample session: 2, 1 and 3 were turned, 4 has no adjuster.
    let session = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../data-samples/hs-05-adjusting-session.csv");
    let left = desk.run(&["compare".as_ref(), session.as_os_str(), "--json".as_ref(), "-".as_ref()]);
    let c: Comparison = serde_json::from_str(&left.out).expect("a comparison");
    assert_eq!(c.visits.iter().map(|v| &v.visit[12..]).collect::<Vec<_>>(), ["-found", "-left"]);
    assert!(c.latest.expect("two visits").cylinders.iter().any(|k| k.significant));
}
