//! `verify` from the outside: a report is the same or says what differs, and what is no report is refused.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use super::program::{Program, Run};

const LOG: &str = "hs-01-four-out-of-balance.csv";
const OPEN: &str = "<script type=\"application/json\" id=\"evenpull-review\">";

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data-samples").join(name)
}

/// Reviews a sample with more arguments and returns its page.
fn reviewed(program: &Program, log: &str, more: &[&str]) -> String {
    let mut all = vec!["review".into(), sample(log).into_os_string()];
    all.extend(more.iter().map(Into::into));
    let run = program.run(&all);
    assert_eq!(run.code, 0, "{}", run.err);
    std::fs::read_to_string(program.folder().join("reports").join(log.replace(".csv", ".html")))
        .expect("a page")
}

fn verify(program: &Program, report: &Path, log: &Path) -> Run {
    program.run(&["verify".as_ref(), report.as_os_str(), log.as_os_str()])
}

/// The page with its embedded result changed.
fn with_result(page: &str, change: impl FnOnce(&mut Value)) -> String {
    let (head, rest) = page.split_once(OPEN).expect("a result");
    let (json, tail) = rest.split_once("</script>").expect("its end");
    let mut result: Value = serde_json::from_str(json).expect("JSON");
    change(&mut result);
    let json = result.to_string().replace('<', "\\u003c").replace('>', "\\u003e").replace('&', "\\u0026");
    format!("{head}{OPEN}{json}</script>{tail}")
}

#[test]
fn a_page_and_its_json_are_the_same_whatever_was_said_beside_the_log() {
    let columns = "time,rpm,map1,map2";
    let cases: [(&str, Vec<String>); 4] = [
        (LOG, vec![]),
        (
            LOG,
            vec![
                "--machine".into(),
                sample("hs-01.toml").display().to_string(),
                "--unit".into(),
                "inHg".into(),
            ],
        ),
        ("hs-05-adjusting-session.csv", vec!["--codes".into(), "p0107,P0122".into()]),
        ("hs-03-four-polled.csv", vec!["--unit".into(), "mmHg".into()]),
    ];
    for (log, more) in cases {
        let program = Program::new();
        let more: Vec<&str> = more.iter().map(String::as_str).collect();
        reviewed(&program, log, &more);
        for ending in [".html", ".json"] {
            let report = program.folder().join("reports").join(log.replace(".csv", ending));
            let run = verify(&program, &report, &sample(log));
            assert_eq!((run.code, run.err.as_str()), (0, ""), "{log}{ending} {more:?}: {}", run.out);
            assert!(run.out.starts_with("same: "), "{}", run.out);
            assert_eq!(run.out.contains("the page says"), ending == ".html", "{}", run.out);
        }
    }
    // A log without a header or a clock: what was said of it stands in the report.
    let program = Program::new();
    let mut rows = String::new();
    for i in 0..3000 {
        let wave = f64::from(i % 7) * 0.05;
        rows.push_str(&format!("{},{:.2},{:.2}\n", 1000 + i % 3, 38.0 + wave, 38.4 - wave));
    }
    let log = program.file("bare.csv", rows);
    let run = program.run(&["review", "bare.csv", "--columns", &columns[5..], "--rate", "50"]);
    assert_eq!(run.code, 0, "{}", run.err);
    let run = verify(&program, &program.folder().join("reports/bare.html"), &log);
    assert_eq!(run.code, 0, "{}{}", run.out, run.err);
}

#[test]
fn an_altered_figure_is_named_in_the_result_and_in_the_text() {
    let program = Program::new();
    let page = reviewed(&program, LOG, &[]);
    let mut before = Value::Null;
    let altered = with_result(&page, |r| {
        before = r["cylinders"][2]["deviation_kpa"]["value"].clone();
        // One unit in the last place: what a comparison of printed digits would not see.
        let bits = before.as_f64().expect("a number").to_bits() + 1;
        r["cylinders"][2]["deviation_kpa"]["value"] = f64::from_bits(bits).into();
    });
    let run = verify(&program, &program.file("altered.html", altered), &sample(LOG));
    assert_eq!((run.code, run.err.as_str()), (1, ""));
    assert!(run.out.contains("/cylinders/2/deviation_kpa/value: then "), "{}", run.out);
    assert!(run.out.contains(&format!("now {before}")), "{}", run.out);
    assert!(run.out.contains("one field"), "{}", run.out);

    // The same page with another verdict in its heading, and with a number changed in a table, the result as it was.
    let (_, heading) = page.split_once("<h1>").expect("a heading");
    let heading = heading.split_once("</h1>").expect("its end").0;
    let cell = page.split("<td><bdi>").nth(1).expect("a cell").split('<').next().expect("its text");
    for (from, to) in [
        (heading.to_owned(), "All is well.".to_owned()),
        (format!("<td><bdi>{cell}"), "<td><bdi>0.01".to_owned()),
    ] {
        let changed = page.replacen(&from, &to, 1);
        assert_ne!(changed, page);
        let run = verify(&program, &program.file("changed.html", changed), &sample(LOG));
        assert_eq!((run.code, run.err.as_str()), (1, ""));
        assert!(run.out.starts_with("differs: the result is the same, but the page"), "{}", run.out);
        assert!(run.out.contains(" of the page: then "), "{}", run.out);
    }
    // Fields that are missing or were put in differ as well.
    let less = with_result(&page, |r| {
        r.as_object_mut().expect("a result").shift_remove("adjustments");
        r["colour"] = "blue".into();
    });
    let run = verify(&program, &program.file("less.html", less), &sample(LOG));
    assert_eq!(run.code, 2, "a result without a field is none: {}", run.out);
    let more = with_result(&page, |r| r["colour"] = "blue".into());
    let run = verify(&program, &program.file("more.html", more), &sample(LOG));
    assert!(run.code == 1 && run.out.contains("/colour: then \"blue\", now nothing"), "{}", run.out);
}

#[test]
fn another_log_is_said_first() {
    let program = Program::new();
    reviewed(&program, LOG, &[]);
    let page = program.folder().join("reports").join(LOG.replace(".csv", ".html"));
    let other = sample("hs-01-four-as-left.csv");
    let run = verify(&program, &page, &other);
    assert_eq!(run.code, 1);
    let mut lines = run.out.lines();
    assert!(lines.next().is_some_and(|l| l.starts_with("Another recording")), "{}", run.out);
    assert!(lines.next().is_some_and(|l| l.contains("SHA-256 then")), "{}", run.out);
    assert!(run.out.contains("/windows/0/rpm: then "), "{}", run.out);

    // The same bytes under another name are the same recording; one space more makes another.
    let bytes = std::fs::read(sample(LOG)).expect("the log");
    let run = verify(&program, &page, &program.file("copy.csv", &bytes));
    assert_eq!(run.code, 0, "{}", run.out);
    assert!(
        run.out.contains("called hs-01-four-out-of-balance.csv, and is called copy.csv now"),
        "{}",
        run.out
    );
    let run = verify(&program, &page, &program.file("more.csv", [&bytes[..], b"\n"].concat()));
    assert_eq!(run.code, 1, "{}", run.out);
    assert!(run.out.starts_with("Another recording"), "{}", run.out);
}

#[test]
fn another_version_is_told_and_the_figures_are_still_compared() {
    let program = Program::new();
    let page = reviewed(&program, LOG, &[]);
    let older = with_result(&page, |r| r["version"] = "0.0.7".into());
    let run = verify(&program, &program.file("older.html", older), &sample(LOG));
    assert_eq!(run.code, 0, "{}", run.out);
    assert!(run.out.contains("Made by version 0.0.7, recomputed by version "), "{}", run.out);
    // A result of a version that did not say what it was made with.
    let silent = with_result(&page, |r| {
        r["version"] = "0.0.7".into();
        r.as_object_mut().expect("a result").shift_remove("made_with");
    });
    let run = verify(&program, &program.file("silent.html", &silent), &sample(LOG));
    assert_eq!(run.code, 0, "{}{}", run.out, run.err);
    // With a limit from a file that it does not hold, the file is asked for.
    let asks = with_result(&silent, |r| r["machine"]["limit_source"] = "machine-file".into());
    let asks = program.file("asks.html", asks);
    let run = verify(&program, &asks, &sample(LOG));
    assert_eq!((run.code, run.out.as_str()), (2, ""));
    assert!(run.err.contains("--machine FILE"), "{}", run.err);
    let (machine, log) = (sample("hs-01.toml"), sample(LOG));
    let all =
        ["verify".as_ref(), asks.as_os_str(), log.as_os_str(), "--machine".as_ref(), machine.as_os_str()];
    assert_ne!(program.run(&all).code, 2);
    // A setting that was another one then is named as the cause it may be.
    let set = with_result(&page, |r| r["made_with"]["settings"][0]["value"] = json!(9.5));
    let run = verify(&program, &program.file("set.html", set), &sample(LOG));
    assert!(run.code == 1 && run.out.contains("/made_with/settings/0/value: then 9.5, now "), "{}", run.out);
}

#[test]
fn a_hostile_page_drives_no_terminal_and_crashes_nothing() {
    let program = Program::new();
    let page = reviewed(&program, LOG, &[]);
    let evil = "\u{1b}[2J\u{202e}</script><script>alert(1)</script>\r\n";
    let named = with_result(&page, |r| {
        r["source"]["name"] = evil.into();
        r["source"]["sha256"] = evil.into();
        r["version"] = evil.into();
        r["verdict"] = "within".into();
        r[evil] = evil.into();
    });
    let run = verify(&program, &program.file("named.html", named), &sample(LOG));
    assert_eq!(run.code, 1, "{}", run.err);
    for c in ['\u{1b}', '\u{202e}', '\r'] {
        assert!(!run.out.contains(c) && !run.err.contains(c), "{:?}", run.out);
    }
    let deep = format!("{OPEN}{}{}</script>", "[".repeat(100_000), "]".repeat(100_000));
    let twice = format!("{page}{OPEN}{{}}</script>");
    let (head, tail) = page.split_at(page.find(OPEN).expect("a result"));
    let cut = format!("{head}{}", tail.chars().take(2000).collect::<String>());
    let machine = |text: &str| with_result(&page, |r| r["made_with"]["machine_file"] = text.into());
    let made = |key: &str, value: Value| with_result(&page, |r| r["made_with"][key] = value);
    let refused = [
        deep,
        twice,
        cut,
        machine("cylinders = 4000000000"),
        machine("strokes = \"\u{1b}[2J\""),
        machine("[[["),
        made("rate_hz", json!(-4.0)),
        made("rate_hz", json!("fast")),
        made("codes", json!(["<b>"])),
        with_result(&page, |r| r["cylinders"] = "many".into()),
        with_result(&page, |r| r["schema"] = "evenpull.fleet/1".into()),
    ];
    for (at, text) in refused.into_iter().enumerate() {
        let run = verify(&program, &program.file("refused.html", text), &sample(LOG));
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{at}: {}", run.err);
        assert!(
            run.err.starts_with("refused.html: ") || run.err.contains("refused.html: "),
            "{at}: {}",
            run.err
        );
        assert!(!run.err.contains('\u{1b}') && !run.err.contains("panicked"), "{at}: {}", run.err);
        assert_eq!(run.err.lines().count(), 1, "{at}: {}", run.err);
    }
}

#[test]
fn what_is_no_report_is_refused_with_what_was_found() {
    let program = Program::new();
    let page = reviewed(&program, LOG, &[]);
    let plan = program.run(&["plan".as_ref(), sample(LOG).as_os_str()]);
    assert_eq!(plan.code, 0, "{}", plan.err);
    let plan = program.folder().join("reports").join(LOG.replace(".csv", "-plan.html"));
    let plan_json = plan.with_extension("json");
    let cases: [(PathBuf, &str); 7] = [
        (plan, "another page of evenpull"),
        (plan_json, "evenpull.plan/1"),
        (program.file("list.json", "{\"a\": 1}"), "without a schema"),
        (program.file("words.html", "<!doctype html><p>words"), "no result"),
        (program.file("bytes.html", [0xff_u8, 0xfe, 0x00]), "no text"),
        (program.folder().to_owned(), "no report"),
        (program.folder().join("none.html"), "none.html"),
    ];
    for (report, said) in cases {
        let run = verify(&program, &report, &sample(LOG));
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{}", report.display());
        assert!(run.err.contains(said), "{}: {}", report.display(), run.err);
    }
    // A log that is none, and both the wrong way round.
    let page = program.file("page.html", page);
    assert_eq!(verify(&program, &page, &program.folder().join("none.csv")).code, 2);
    assert_eq!(verify(&program, &sample(LOG), &page).code, 2);
}
