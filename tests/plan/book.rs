//! `evenpull plan --book`: what earlier visits teach, the latest visit as the state to plan from. Truth: the engine model.
#![allow(clippy::unwrap_used)]

use std::path::Path;
use std::process::{Command, Output};

use evenpull_model::{CsvStyle, Engine, Logger, Scenario, Sensor, Truth, simulate};
use serde_json::Value;

const MACHINE: &str = "id = \"HS-06\"\ncylinders = 4\nlimit_kpa = 1.3\n";

fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_evenpull")).current_dir(folder).args(arguments).output().unwrap()
}

fn out(folder: &Path, arguments: &[&str]) -> String {
    let ran = run(folder, arguments);
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    String::from_utf8(ran.stdout).unwrap()
}

/// Records an engine with these plates, the same sensors every time, and keeps it as a visit.
fn visit(folder: &Path, name: &str, date: &str, plates: &[f64], turns: &[(u32, f64)], seed: u64) -> Truth {
    let engine = Engine { idle_rpm: 1_050.0, idle_kpa: 41.0, ..Engine::inline_four() };
    let mut scenario = Scenario::new(engine, 72.0, seed);
    scenario.start_s = 12.0;
    for (i, plate) in plates.iter().enumerate() {
        scenario.cylinder(i + 1).plate = *plate;
    }
    let made = simulate(&scenario).unwrap();
    let bias = |bias_kpa| Sensor { bias_kpa, noise_kpa: 0.05, ..Sensor::default() };
    let logger = Logger::damped(20.0, 0.1).with_sensors([0.2, -0.1, 0.1, -0.2].map(bias).to_vec());
    let log = made.log(&logger, seed).unwrap();
    std::fs::write(folder.join(name), log.to_csv(&CsvStyle::default())).unwrap();
    let turn = |(c, w): &(u32, f64)| format!("[[turns]]\ncylinder = {c}\nturns = {w}\n");
    let text: String = turns.iter().map(turn).collect();
    std::fs::write(folder.join("v.toml"), format!("date = \"{date}\"\n{text}")).unwrap();
    let kept = out(folder, &["add", name, "--machine", "m.toml", "--visit", "v.toml", "--book", "book"]);
    assert!(kept.contains("kept"), "{kept}");
    made.truth(20.0, 72.0).unwrap()
}

/// Three visits: cylinder 2 far too closed and 3 too open; half a turn on 2, then a quarter on 2 and half a turn back on 3. Each
/// turn moves the plate area by 7 %. Gives the truths.
fn story(folder: &Path) -> [Truth; 3] {
    std::fs::write(folder.join("m.toml"), MACHINE).unwrap();
    let plate = |two: f64, three: f64| [1.0, two, three, 1.0];
    [
        visit(folder, "a.csv", "2025-01-10", &plate(0.88, 1.05), &[], 701),
        visit(folder, "b.csv", "2025-02-10", &plate(0.88 + 0.035, 1.05), &[(2, 0.5)], 702),
        visit(
            folder,
            "c.csv",
            "2025-03-10",
            &plate(0.88 + 0.0525, 1.05 - 0.035),
            &[(2, 0.25), (3, -0.5)],
            703,
        ),
    ]
}

#[test]
fn several_visits_teach_what_a_turn_does_and_the_latest_is_planned_from() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let truths = story(folder);
    let plan: Value =
        serde_json::from_str(&out(folder, &["plan", "--book", "book", "--id", "HS-06", "--json", "-"]))
            .unwrap();
    assert_eq!((&plan["source"]["name"], &plan["machine"]["id"]), (&"c.csv".into(), &"HS-06".into()));
    assert_eq!((&plan["influence"]["rounds"], &plan["influence"]["sessions"]), (&2.into(), &2.into()));
    // Truth: how far cylinder 2 rose against the mean of the other three, first visit to last, over its three quarters of a turn
    // (3 moved at the last visit only; against 1 and 4, which nobody touched).
    let against = |t: &Truth, c: usize| t.mean_kpa[c] - 0.5 * (t.mean_kpa[0] + t.mean_kpa[3]);
    let want =
        |c: usize, from: usize, turns: f64| (against(&truths[2], c) - against(&truths[from], c)) / turns;
    for (cylinder, want) in [(2, want(1, 0, 0.75)), (3, want(2, 1, -0.5))] {
        let learned = plan["influence"]["per_turn"].as_array().unwrap();
        let one = learned.iter().find(|l| l["cylinder"] == cylinder).unwrap();
        assert_eq!(one["source"], "learned");
        let (value, u) = (one["kpa"]["value"].as_f64().unwrap(), one["kpa"]["u"].as_f64().unwrap());
        assert!((value - want).abs() <= u, "cylinder {cylinder}: {value} \u{b1} {u}, truly {want:.2}");
        // What changes between visits with nothing done (0.3 kPa) is in the uncertainty: half a turn known to no better than 0.3.
        assert!(u > 0.3, "cylinder {cylinder}: {u} promises too much");
    }
    // Where the engine stands is the last visit's truth, not the first's.
    for c in plan["cylinders"].as_array().unwrap() {
        let i = c["cylinder"].as_u64().unwrap() as usize - 1;
        let (value, u) =
            (c["deviation_kpa"]["value"].as_f64().unwrap(), c["deviation_kpa"]["u"].as_f64().unwrap());
        let mut sorted = truths[2].mean_kpa.clone();
        sorted.sort_by(f64::total_cmp);
        let truth = truths[2].mean_kpa[i] - 0.5 * (sorted[1] + sorted[2]);
        // Besides U the gain error that the zero leaves (0.5 % of 60 kPa at most).
        assert!((value - truth).abs() <= u + 0.05, "cylinder {}: {value} \u{b1} {u}, truly {truth}", i + 1);
    }
    let first = &plan["turns"][0];
    assert_eq!((&first["cylinder"], &first["direction"]), (&2.into(), &"open".into()), "{plan}");
}

#[test]
fn a_plan_from_the_book_is_the_plan_from_its_latest_log() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    story(folder);
    let read = |text: String| -> Value { serde_json::from_str(&text).unwrap() };
    let book = read(out(folder, &["plan", "--book", "book", "--id", "HS-06", "--json", "-"]));
    let visit = "[[turns]]\ncylinder = 2\nturns = 0.25\n[[turns]]\ncylinder = 3\nturns = -0.5\n";
    std::fs::write(folder.join("v.toml"), visit).unwrap();
    let log = ["plan", "c.csv", "--machine", "m.toml", "--visit", "v.toml", "--book", "book", "--json", "-"];
    let log = read(out(folder, &log));
    for key in ["advice", "turns", "expected", "influence", "cylinders", "spread_kpa", "look_first", "do_not"]
    {
        assert_eq!(book[key], log[key], "{key}");
    }
    // Without the book the last recording alone teaches nothing: test turn.
    let alone = read(out(folder, &["plan", "c.csv", "--machine", "m.toml", "--json", "-"]));
    assert_eq!(alone["advice"], "test-turn");
}

#[test]
fn files_are_named_after_the_machine_and_mistakes_are_said() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    story(folder);
    let text = out(folder, &["plan", "--book", "book", "--machine", "m.toml", "--unit", "mbar"]);
    assert!(text.contains("Page: reports/HS-06-plan.html") && text.contains(" mbar"), "{text}");
    for name in ["HS-06-plan.html", "HS-06-plan-expected.png", "HS-06-plan.json"] {
        assert!(folder.join("reports").join(name).is_file(), "{name}");
    }
    std::fs::write(folder.join("other.toml"), MACHINE.replace("HS-06", "HS-07")).unwrap();
    std::fs::write(folder.join("limit.toml"), MACHINE.replace("1.3", "2.0")).unwrap();
    let cases: [(&[&str], &str); 7] = [
        (&["plan"], "required"),
        (&["plan", "--book", "book"], "no machine id"),
        (&["plan", "--book", "book", "--id", "HS-99"], "machines in this book: HS-06"),
        (&["plan", "--book", "none", "--id", "HS-06"], "none"),
        (&["plan", "--book", "book", "--id", "HS-06", "--machine", "other.toml"], "describes HS-07"),
        (&["plan", "--book", "book", "--id", "HS-06", "--machine", "limit.toml"], "add that recording again"),
        (&["plan", "--book", "book", "--id", "HS-06", "--visit", "v.toml"], "LOG"),
    ];
    for (arguments, said) in cases {
        let ran = run(folder, arguments);
        let err = String::from_utf8(ran.stderr).unwrap();
        assert_eq!((ran.status.code(), ran.stdout.len()), (Some(2), 0), "{arguments:?}: {err}");
        assert!(err.contains(said), "{arguments:?}: {err}");
    }
    // A file of the book that cannot be read is said; the plan is made from the rest, and the exit code says that it is not whole.
    let bad = folder.join("book/machine=HS-06/date=2025-02-10/visit-000000000000.parquet");
    std::fs::write(bad, "no parquet").unwrap();
    let ran = run(folder, &["plan", "--book", "book", "--id", "HS-06", "--json", "-"]);
    assert_eq!(ran.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&ran.stderr).contains("visit-000000000000.parquet"));
    assert!(serde_json::from_slice::<Value>(&ran.stdout).is_ok());
}
