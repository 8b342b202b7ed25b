//! `evenpull plan` from the outside: what stands on the terminal, what goes where, what is refused.
#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

/// HS-01 with a figure for a turn, a rotation, and a sealed screw.
pub(super) const MACHINE: &str = r#"
id = "HS-01"
cylinders = 4
limit_kpa = 1.3
[[adjuster]]
cylinder = 1
kpa_per_turn = 3.0
[[adjuster]]
cylinder = 2
kpa_per_turn = 3.0
[[adjuster]]
cylinder = 3
opens = "anticlockwise"
kpa_per_turn = 3.0
[[adjuster]]
cylinder = 4
sealed = true
"#;

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data-samples").join(name)
}

fn run(folder: &Path, name: &str, machine: Option<&str>, more: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_evenpull"));
    command.current_dir(folder).arg("plan").arg(sample(name)).args(more);
    if let Some(text) = machine {
        std::fs::write(folder.join("m.toml"), text).unwrap();
        command.args(["--machine", "m.toml"]);
    }
    command.output().unwrap()
}

pub(super) fn plan_json(name: &str, machine: Option<&str>) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let out = run(folder.path(), name, machine, &["--json", "-"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

fn text(name: &str, machine: Option<&str>, more: &[&str]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let out = run(folder.path(), name, machine, more);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

/// The text on one line, for sentences that are broken into lines.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_mechanic_reads_what_to_turn_which_way_how_far_and_what_not_to_do() {
    // The sample's truth: the plate of cylinder 3 is 8 % too far closed, its mean 2.7 kPa under the middle. By hand, at 3 kPa
    // a turn: 7/8 turn brings 2.6 kPa; less than 3/4 would not be inside, more than 1 is not needed.
    let out = text("hs-01-four-out-of-balance.csv", Some(MACHINE), &[]);
    assert!(out.lines().all(|l| l.chars().count() <= 78), "{out}");
    let flat = flat(&out);
    assert!(flat.contains("turn one screw: open cylinder 3 by"), "{flat}");
    let turns = ["3/4 turn", "7/8 turn", "1 turn"];
    let told = turns.iter().any(|t| {
        flat.contains(&format!("1. Cylinder 3: open by {t} (anticlockwise, seen from the screw's head)"))
    });
    assert!(told, "{flat}");
    for wanted in [
        "Do not turn cylinder 4: its adjuster is sealed.",
        "Do not turn cylinders 1 and 2: a healthy cylinder set to a sick one makes two sick ones.",
        "Wait 15 s after each turn.",
        "record 60 s of idle",
        "Stop when The spread reads",
        "Checked on simulated engines",
        "Caution Open air",
    ] {
        assert!(flat.contains(wanted), "{wanted} is missing in {flat}");
    }
}

#[test]
fn a_rotation_is_named_only_where_the_machine_file_says_so() {
    let unknown = MACHINE.replace("opens = \"anticlockwise\"", "");
    assert!(!text("hs-01-four-out-of-balance.csv", Some(&unknown), &[]).contains("clockwise"));
    let other = MACHINE.replace("anticlockwise", "clockwise");
    assert!(text("hs-01-four-out-of-balance.csv", Some(&other), &[]).contains("(clockwise"));
}

#[test]
fn without_a_figure_the_test_turn_comes_first() {
    // Truth: cylinder 2 of HS-03 is 7 % too far open. Its log is in hPa.
    let flat = flat(&text("hs-03-four-polled.csv", None, &[]));
    assert!(
        flat.contains("look for a leak at cylinder 2 first; if there is none, close cylinder 2 by 1/4 turn."),
        "{flat}"
    );
    assert!(flat.contains("1. Cylinder 2: close by 1/4 turn (which rotation"), "{flat}");
    assert!(flat.contains("hPa") && !flat.contains("kPa"), "{flat}");
}

#[test]
fn a_breathing_fault_is_not_turned_away() {
    // Truth: the intake valve of cylinder 2 of HS-04 closes late; its air and refill rate are those of the other.
    let flat_text = flat(&text("hs-04-twin-fast.csv", None, &[]));
    assert!(flat_text.contains("turn nothing yet, find the cause first"), "{flat_text}");
    assert!(!flat_text.contains(" by 1/"), "{flat_text}");
    let plan = plan_json("hs-04-twin-fast.csv", None);
    assert_eq!((&plan["further_turning"], &plan["turns"]), (&"not-the-cure".into(), &serde_json::json!([])));
    let ruled_out = flat(&text("hs-04-twin-fast.csv", None, &["--ruled-out", "breathing"]));
    assert!(
        ruled_out.contains("make a test turn first") && ruled_out.contains("By you: breathing."),
        "{ruled_out}"
    );
}

#[test]
fn inside_means_leave_it() {
    let plan = plan_json("hs-01-four-as-left.csv", Some(MACHINE));
    assert_eq!((&plan["advice"], &plan["further_turning"]), (&"stop".into(), &"within-noise".into()));
    assert!(text("hs-01-four-as-left.csv", Some(MACHINE), &[]).contains("turn nothing, leave the screws"));
}

#[test]
fn turns_noted_teach_what_a_turn_does() {
    // Truth of HS-05: screws of 2, 1 and 3 turned at 82, 104 and 126 s, plate areas by 1.077, 0.924 and 0.955; as found and as left
    // means stand in the samples' README: cylinder 2 moved from 39.96 to 42.14 while 4, untouched, moved from 42.41 to 42.08.
    let folder = tempfile::tempdir().unwrap();
    let turn = |s: f64, c: u32, w: f64| format!("[[turns]]\ntime_s = {s}\ncylinder = {c}\nturns = {w}\n");
    let visit = [turn(80.0, 2, 0.75), turn(106.0, 1, -0.75), turn(126.0, 3, -0.5)].concat();
    std::fs::write(folder.path().join("v.toml"), visit).unwrap();
    let out = run(folder.path(), "hs-05-adjusting-session.csv", None, &["--visit", "v.toml", "--json", "-"]);
    let plan: Value = serde_json::from_slice(&out.stdout).unwrap();
    let learned = plan["influence"]["per_turn"].as_array().unwrap();
    // From the README's figures, each against cylinder 4: what moved over the turns made.
    let moved = [
        (1, (42.01 - 45.24) + 0.33, -0.75),
        (2, (42.14 - 39.96) + 0.33, 0.75),
        (3, (42.18 - 44.16) + 0.33, -0.5),
    ];
    for (cylinder, kpa, turns) in moved {
        let one = learned.iter().find(|l| l["cylinder"] == cylinder && l["source"] == "learned").unwrap();
        let (value, u) = (one["kpa"]["value"].as_f64().unwrap(), one["kpa"]["u"].as_f64().unwrap());
        let want = kpa / turns;
        assert!(
            (value - want).abs() < u + 0.15,
            "cylinder {cylinder}: {value} \u{b1} {u}, {want} by the README"
        );
    }
    // Opening one plate raises the speed.
    assert!(learned[1]["rpm"]["value"].as_f64().unwrap() > 0.0);
}

#[test]
fn turns_without_a_time_are_one_round_of_the_recording_that_shows_them() {
    // As above, but noted after the session without times: one round, three screws turned together. By the README's figures the
    // three moved by 0.75 k1 etc.; one round tells three screws apart because each moves its own cylinder.
    let folder = tempfile::tempdir().unwrap();
    let turn = |c: u32, w: f64| format!("[[turns]]\ncylinder = {c}\nturns = {w}\n");
    std::fs::write(folder.path().join("v.toml"), [turn(2, 0.75), turn(1, -0.75), turn(3, -0.5)].concat())
        .unwrap();
    let out = run(folder.path(), "hs-05-adjusting-session.csv", None, &["--visit", "v.toml", "--json", "-"]);
    let plan: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!((&plan["influence"]["rounds"], &plan["influence"]["sessions"]), (&1.into(), &1.into()));
    for (cylinder, kpa, turns) in [
        (1, (42.01 - 45.24) + 0.33, -0.75),
        (2, (42.14 - 39.96) + 0.33, 0.75),
        (3, (42.18 - 44.16) + 0.33, -0.5),
    ] {
        let learned = plan["influence"]["per_turn"].as_array().unwrap();
        let one = learned.iter().find(|l| l["cylinder"] == cylinder && l["source"] == "learned").unwrap();
        let (value, u) = (one["kpa"]["value"].as_f64().unwrap(), one["kpa"]["u"].as_f64().unwrap());
        assert!(
            (value - kpa / turns).abs() < u + 0.15,
            "cylinder {cylinder}: {value} \u{b1} {u}, {}",
            kpa / turns
        );
    }
    // Without a state as found and without an earlier visit nothing can be learned, and that is said.
    std::fs::write(folder.path().join("v.toml"), turn(3, 0.5)).unwrap();
    let out = run(folder.path(), "hs-01-four-out-of-balance.csv", None, &["--visit", "v.toml"]);
    let told = flat(&String::from_utf8(out.stdout).unwrap());
    assert!(told.contains("Not learned from, this recording: no visit before it to compare with."), "{told}");
}

#[test]
fn files_go_where_they_are_asked_for_and_mistakes_are_placed() {
    let folder = tempfile::tempdir().unwrap();
    let name = "hs-01-four-out-of-balance.csv";
    let out = run(folder.path(), name, Some(MACHINE), &["--out", "plans", "--json", "p.json"]);
    assert!(out.status.success());
    let one = std::fs::read(folder.path().join("plans/hs-01-four-out-of-balance-plan.json")).unwrap();
    assert_eq!(one, std::fs::read(folder.path().join("p.json")).unwrap());
    for other in ["-plan.html", "-plan-expected.png"] {
        let path = folder.path().join(format!("plans/hs-01-four-out-of-balance{other}"));
        assert!(std::fs::metadata(&path).unwrap().len() > 5_000, "{other}");
    }
    assert!(
        String::from_utf8(out.stdout).unwrap().contains("Page: plans/hs-01-four-out-of-balance-plan.html")
    );
    assert!(!folder.path().join("reports").exists());
    // README, "Where results go": nothing asked for, JSON alone, JSON with a folder.
    assert!(run(folder.path(), name, None, &[]).status.success());
    assert!(folder.path().join("reports/hs-01-four-out-of-balance-plan.html").exists());
    let lone = tempfile::tempdir().unwrap();
    assert!(run(lone.path(), name, None, &["--json", "-"]).status.success());
    assert_eq!(std::fs::read_dir(lone.path()).unwrap().count(), 0, "JSON alone writes no file");
    let both = run(lone.path(), name, None, &["--json", "-", "--out", "d"]);
    let json: Value = serde_json::from_slice(&both.stdout).unwrap();
    assert_eq!(json["schema"], "evenpull.plan/1");
    assert!(lone.path().join("d/hs-01-four-out-of-balance-plan.html").exists());
    assert_eq!(run(lone.path(), name, None, &["--json", "-", "--open"]).status.code(), Some(2));
    std::fs::write(folder.path().join("v.toml"), "[[turns]]\ncylinder = 2\ntruns = 1\n").unwrap();
    let bad = run(folder.path(), name, None, &["--visit", "v.toml"]);
    let err = String::from_utf8(bad.stderr).unwrap();
    assert_eq!(bad.status.code(), Some(2));
    assert!(err.starts_with("v.toml:3:1: found the key `truns`"), "{err}");
    assert_eq!(run(folder.path(), name, None, &["--visit", "none.toml"]).status.code(), Some(2));
    assert_eq!(run(folder.path(), name, None, &["--unit", "furlong"]).status.code(), Some(2));
}
