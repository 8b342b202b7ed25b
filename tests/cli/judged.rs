//! `review` and `inspect` on a recording, from the outside: what stands on which stream, which files appear, exit
//! codes by verdict. The recordings are made here, so far from the limit that the verdict is plain by construction.

use std::fmt::Write as _;

use serde_json::Value;

use super::program::Program;

/// Values of a control unit that averages over the cycle: 15 s engine off at 101.30 kPa, then 120 s of idle at
/// 40 kPa, four rows a second, noise of a tenth of a kPa, cylinder 3 off by `off_kpa`.
fn log(off_kpa: f64) -> String {
    let mut text = String::from("Time [s]");
    for n in 1..=4 {
        let _ = write!(text, ",Cyl {n} pressure [kPa]");
    }
    text.push_str(",Engine speed [rpm],Coolant temperature [degC]\n");
    let mut state = 1_u32;
    let mut noise = || {
        // Numerical Recipes' linear congruential generator; its upper bits are even enough for noise.
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 8) / f64::from(1_u32 << 24) - 0.5
    };
    for row in 0..540 {
        let time = f64::from(row) * 0.25;
        let running = time >= 15.0;
        let _ = write!(text, "{time:.2}");
        let shared = if running { 0.4 * noise() } else { 0.0 };
        for cylinder in 1..=4 {
            let off = if cylinder == 3 { off_kpa } else { 0.0 };
            let level = if running { 40.0 + off + shared } else { 101.3 };
            let _ = write!(text, ",{:.2}", level + 0.2 * noise());
        }
        let rpm = if running { 1000.0 + 8.0 * noise() } else { 0.0 };
        let _ = writeln!(text, ",{rpm:.0},{:.1}", 82.0 + 0.6 * noise());
    }
    text
}

/// A program whose folder holds a recording with cylinder 3 far off, and one that is even.
fn with_logs() -> Program {
    let program = Program::new();
    program.file("off.csv", log(-6.0));
    program.file("even.csv", log(0.0));
    program
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).expect("nothing but JSON")
}

fn read(program: &Program, path: &str) -> String {
    std::fs::read_to_string(program.folder().join(path)).expect(path)
}

#[test]
fn json_alone_goes_to_standard_output_and_nothing_is_written() {
    let program = with_logs();
    let run = program.run(&["review", "off.csv", "--json", "-"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    let result = json(&run.out);
    assert_eq!(result["verdict"], "outside");
    assert_eq!(result["source"]["name"], "off.csv");
    assert_eq!(program.files(), ["even.csv", "off.csv"]);
    let schema = json(evenpull_core::schema::REVIEW);
    let validator = jsonschema::draft202012::new(&schema).expect("a sound schema");
    let complaints: Vec<String> =
        validator.iter_errors(&result).map(|e| format!("{}: {e}", e.instance_path())).collect();
    assert_eq!(complaints, [] as [String; 0]);
}

#[test]
fn by_default_page_figures_and_json_go_to_reports_and_words_to_the_terminal() {
    let program = with_logs();
    let run = program.run(&["review", "off.csv"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert_eq!(program.files(), ["even.csv", "off.csv", "reports"]);
    assert!(read(&program, "reports/off.html").contains("</html>"));
    assert_eq!(json(&read(&program, "reports/off.json"))["verdict"], "outside");
    let figure = std::fs::read(program.folder().join("reports/off-deviations.png")).expect("the figure");
    // The eight bytes with which every PNG starts (ISO/IEC 15948, 5.2).
    assert_eq!(figure[..8], [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n']);
    assert!(run.out.lines().all(|l| l.chars().count() <= 80), "{}", run.out);
    assert!(run.out.contains("Cylinder 3") && run.out.contains("reports/off.html"), "{}", run.out);
    let names = std::fs::read_dir(program.folder().join("reports")).expect("reports");
    let left: Vec<String> =
        names.map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    assert!(left.iter().all(|n| n.starts_with("off")), "temporary files left: {left:?}");
}

#[test]
fn json_on_standard_output_and_a_folder_hold_the_same_bytes() {
    let program = with_logs();
    let run = program.run(&["review", "off.csv", "--json", "-", "--out", "deep/here"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert_eq!(run.out, read(&program, "deep/here/off.json"));
    assert!(
        program.folder().join("deep/here/off.html").exists() && !program.folder().join("reports").exists()
    );
}

#[test]
fn json_in_a_file_comes_besides() {
    let program = with_logs();
    let run = program.run(&["review", "off.csv", "--json", "results/one.json", "--out", "pages"]);
    assert_eq!(run.code, 0, "{}", run.err);
    assert_eq!(read(&program, "results/one.json"), read(&program, "pages/off.json"));
}

#[test]
fn the_exit_code_is_one_only_for_a_verdict_that_was_asked_for() {
    let program = with_logs();
    let cases = [
        ("off.csv", "outside", 1),
        ("off.csv", "cannot-tell,outside", 1),
        ("off.csv", "cannot-tell", 0),
        ("even.csv", "outside", 0),
    ];
    for (file, fail_on, code) in cases {
        let run = program.run(&["review", file, "--json", "-", "--fail-on", fail_on]);
        assert_eq!(run.code, code, "{file} --fail-on {fail_on}: {}", run.err);
        assert!(json(&run.out)["verdict"].is_string(), "the result comes all the same");
    }
    assert_eq!(program.run(&["review", "off.csv", "--json", "-"]).code, 0, "findings alone are no failure");
}

#[test]
fn one_pressure_is_not_applicable() {
    let program = Program::new();
    let without_three = |line: &str| {
        let cells = line.split(',').enumerate().filter(|(i, _)| !(2..=4).contains(i));
        cells.map(|(_, cell)| cell).collect::<Vec<_>>().join(",") + "\n"
    };
    program.file("one.csv", log(0.0).lines().map(without_three).collect::<String>());
    let run = program.run(&["review", "one.csv", "--json", "-", "--fail-on", "not-applicable"]);
    assert_eq!(run.code, 1, "{}", run.err);
    assert_eq!(json(&run.out)["verdict"], "not-applicable");
    assert!(json(&run.out)["spread_kpa"].is_null());
}

#[test]
fn standard_input_gives_the_same_result_as_the_file() {
    let program = with_logs();
    let piped = program.run_with_input(&["review", "-", "--json", "-"], log(-6.0).as_bytes());
    assert_eq!((piped.code, piped.err.as_str()), (0, ""));
    let mut from_pipe = json(&piped.out);
    assert_eq!(from_pipe["source"]["name"], "stdin");
    let from_file = json(&program.run(&["review", "off.csv", "--json", "-"]).out);
    from_pipe["source"]["name"] = from_file["source"]["name"].clone();
    assert_eq!(from_pipe, from_file);
}

#[test]
fn the_same_bytes_come_out_for_one_thread_and_for_eight() {
    let program = with_logs();
    let with_threads = |n: &str| {
        let mut command = program.command();
        command.args(["review", "off.csv", "--json", "-", "--out", n]);
        let output =
            command.env("RAYON_NUM_THREADS", n).env("POLARS_MAX_THREADS", n).output().expect("it runs");
        assert!(output.status.success());
        (output.stdout, std::fs::read(program.folder().join(n).join("off.html")).expect("the page"))
    };
    assert_eq!(with_threads("1"), with_threads("8"));
}

#[test]
fn no_path_of_this_machine_gets_into_a_result() {
    let program = with_logs();
    let path = program.folder().join("off.csv");
    let path = path.to_str().expect("UTF-8");
    let run = program.run(&["review", path, "--json", "-"]);
    let folder = program.folder().to_string_lossy().into_owned();
    assert_eq!(run.code, 0, "{}", run.err);
    assert!(!run.out.contains(&folder));
    assert_eq!(program.run(&["review", path]).code, 0);
    assert!(!read(&program, "reports/off.html").contains(&folder));
}

#[test]
fn the_cautions_are_on_the_terminal_and_in_the_page() {
    let program = with_logs();
    let run = program.run(&["review", "even.csv"]);
    assert!(evenpull_report::cautions::short().iter().all(|line| run.out.contains(line)), "{}", run.out);
    let page = read(&program, "reports/even.html").replace("&#x27;", "'").replace("&#39;", "'");
    for caution in evenpull_report::cautions::LINES {
        assert!(page.contains(caution.text), "{} is missing", caution.key);
    }
}

#[test]
fn noted_codes_enter_the_result() {
    let program = with_logs();
    let result = json(&program.run(&["review", "even.csv", "--json", "-", "--codes", "p0107,P0420"]).out);
    let codes: Vec<(&Value, &Value)> = result["trouble_codes"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|c| (&c["code"], &c["status"]))
        .collect();
    assert_eq!(codes, [(&"P0107".into(), &"noted".into()), (&"P0420".into(), &"noted".into())]);
}

#[test]
fn a_unit_changes_the_words_and_not_the_result() {
    let program = with_logs();
    let plain = program.run(&["review", "off.csv", "--json", "-", "--out", "a"]).out;
    let other = program.run(&["review", "off.csv", "--json", "-", "--out", "b", "--unit", "mmhg"]).out;
    assert_eq!(plain, other);
    assert!(read(&program, "b/off.html").contains("mmHg") && !read(&program, "a/off.html").contains("mmHg"));
}

#[test]
fn a_folder_that_cannot_be_written_is_named() {
    let program = with_logs();
    program.file("blocked", "a file, no folder");
    let run = program.run(&["review", "off.csv", "--out", "blocked"]);
    assert_eq!(run.code, 2);
    assert!(run.err.starts_with("blocked"), "{}", run.err);
}

#[test]
fn a_wrong_machine_file_is_named_with_its_line() {
    let program = with_logs();
    program.file("hs-01.toml", "cylinders = 4\nfirring_deg = [0, 540, 180, 360]\n");
    let run = program.run(&["review", "off.csv", "--machine", "hs-01.toml", "--json", "-"]);
    assert_eq!((run.code, run.out.as_str()), (2, ""));
    assert!(run.err.starts_with("hs-01.toml:2:") && run.err.contains("firring_deg"), "{}", run.err);
}

#[test]
fn inspect_names_every_column_and_writes_nothing() {
    let program = with_logs();
    let run = program.run(&["inspect", "off.csv"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    for asked in ["Time [s]", "Cyl 4 pressure [kPa]", "Engine speed [rpm]", "540 used", "4 rows a second"] {
        assert!(run.out.contains(asked), "{asked}: {}", run.out);
    }
    assert_eq!(program.files(), ["even.csv", "off.csv"]);
}

#[cfg(unix)]
#[test]
fn hostile_names_stay_in_their_folder_and_out_of_the_page() {
    let program = Program::new();
    let name = "\u{1b}[2J<img src=x>\u{202e}.csv";
    program.file(name, log(-6.0).replace("Cyl 2", "Cyl 2 \u{1b}]0;x\u{7}<script>1</script>"));
    let run = program.run(&["review", name]);
    assert_eq!(run.code, 0, "{}", run.err);
    let hostile = |c: char| (c.is_control() && c != '\n') || c == '\u{202e}';
    assert!(!run.out.contains(hostile), "{:?}", run.out);
    assert_eq!(program.files().len(), 2, "the log and the folder: {:?}", program.files());
    for entry in std::fs::read_dir(program.folder().join("reports")).expect("reports") {
        let path = entry.expect("an entry").path();
        let file = path.file_name().expect("a name").to_string_lossy().into_owned();
        assert!(file.chars().all(|c| c.is_ascii_alphanumeric() || "-_.".contains(c)), "{file}");
        if file.ends_with(".html") {
            let page = std::fs::read_to_string(&path).expect("the page");
            assert!(!page.contains("<img src=x>") && !page.contains("<script>1<"), "markup from a name");
        }
    }
    let inspected = program.run(&["inspect", name]).out;
    assert!(!inspected.contains(hostile), "{inspected:?}");
}
