//! `review --files-from`: one line in, one record out, whatever the file does to the one who reads it.

use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Child, ChildStdin, ChildStdout, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use evenpull_book::Book;
use evenpull_core::visits::Fleet;
use evenpull_core::visits::record::{COLUMNS, Record, Status};
use evenpull_model::workshop::harrow_sound;
use serde_json::Value;

use super::program::Program;

const WORKER: [&str; 4] = ["review", "--files-from", "-", "--ndjson"];

/// SHA-256 of `abc` and of nothing (FIPS 180-4 and its example values at NIST).
const ABC: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
const NOTHING: &str = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";

/// Longest time that anything here may take on a loaded machine.
const PATIENCE: Duration = Duration::from_secs(60);

fn log(machine: usize) -> String {
    harrow_sound()[machine].visits()[0].record().expect("a log").0
}

fn worker(program: &Program, more: &[&str], list: &str) -> Vec<Record> {
    let run = program.run_with_input(&[&WORKER[..], more].concat(), list.as_bytes());
    assert_eq!((run.code, run.err.as_str()), (0, ""), "{list}");
    records(&run.out)
}

/// Records of a stream, each checked against the schema.
fn records(out: &str) -> Vec<Record> {
    let schema: Value = serde_json::from_str(evenpull_core::schema::RECORD).expect("JSON");
    let validator = jsonschema::draft202012::new(&schema).expect("a sound schema");
    assert!(out.is_empty() || out.ends_with('\n'));
    let one = |line: &str| {
        let value: Value = serde_json::from_str(line).expect("JSON");
        let bad: Vec<String> =
            validator.iter_errors(&value).map(|e| format!("{}: {e}", e.instance_path())).collect();
        assert!(bad.is_empty(), "{bad:?}: {line}");
        let fields: Vec<&str> = value.as_object().expect("an object").keys().map(String::as_str).collect();
        assert_eq!(fields, COLUMNS.map(|c| c.0), "every field in every record");
        serde_json::from_value(value).expect("a record")
    };
    out.lines().map(one).collect()
}

#[test]
fn every_line_has_its_record_in_its_place_and_the_same_bytes_each_time() {
    let program = Program::new();
    program.file("a.csv", log(0));
    program.file("b c.csv", log(1));
    program.file("damaged.csv", "abc");
    program.file("empty.csv", "");
    std::fs::create_dir(program.folder().join("folder.csv")).expect("a folder");
    let list = "a.csv\n\nmissing.csv\ndamaged.csv\r\n{\"path\": \"b c.csv\", \"batch\": 3}\nempty.csv\n{\"path\"\n\
                folder.csv\na.csv\nb c.csv";
    let files = program.files();
    let first = program.run_with_input(&WORKER, list.as_bytes());
    assert_eq!((first.code, first.err.as_str()), (0, ""));
    let found = records(&first.out);
    let seen: Vec<(&str, Status)> = found.iter().map(|r| (r.path.as_str(), r.status)).collect();
    let want = [
        ("a.csv", Status::Ok),
        ("", Status::Error),
        ("missing.csv", Status::Error),
        ("damaged.csv", Status::Error),
        ("b c.csv", Status::Ok),
        ("empty.csv", Status::Error),
        ("{\"path\"", Status::Error),
        ("folder.csv", Status::Error),
        ("a.csv", Status::Ok),
        ("b c.csv", Status::Ok),
    ];
    assert_eq!(seen, want);
    assert_eq!((found[3].key.as_deref(), found[5].key.as_deref()), (Some(ABC), Some(NOTHING)));
    assert!(found[3].error.as_deref().is_some_and(|e| e.starts_with("damaged.csv")), "{:?}", found[3].error);
    assert!([1, 2, 6, 7].iter().all(|i| found[*i].key.is_none() && found[*i].error.is_some()));
    assert_eq!(found[0], found[8]);
    assert!(found.iter().all(|r| r.attempts == 1 && r.settings_hash == found[0].settings_hash));
    assert!(found[0].machine.as_deref() == Some("HS-01") && found[0].date.is_some());
    for more in [&["--threads", "4"][..], &["--supervise"], &["--supervise", "--threads", "4"], &[]] {
        let again = program.run_with_input(&[&WORKER[..], more].concat(), list.as_bytes());
        assert!(again.code == 0 && again.out == first.out, "{more:?}: {}", again.out);
    }
    program.file("list.txt", list);
    let from_file = program.run(&["review", "--files-from", "list.txt", "--threads", "2"]);
    assert_eq!(from_file.out, first.out);
    std::fs::remove_file(program.folder().join("list.txt")).expect("removed");
    assert_eq!(program.files(), files, "nothing is written");
    assert!(worker(&program, &["--supervise"], "").is_empty());
}

#[test]
fn the_values_are_those_of_fleet() {
    let program = Program::new();
    std::fs::create_dir(program.folder().join("logs")).expect("a folder");
    let paths: Vec<String> = (0..5).map(|i| format!("logs/{i}.csv")).collect();
    for (i, path) in paths.iter().enumerate() {
        program.file(path, harrow_sound()[2 * i].visits()[4].record().expect("a log").0);
    }
    let left = program.run(&["fleet", "logs", "--json", "-", "--threads", "1"]);
    let fleet: Fleet = serde_json::from_str(&left.out).expect("a ranking");
    assert_eq!(fleet.machines.len(), 5);
    let visits = Book::at(program.folder().join("reports/fleet/book")).all().expect("the book").visits;
    for record in worker(&program, &["--supervise"], &paths.join("\n")) {
        let same = fleet.machines.iter().find(|m| Some(&m.machine) == record.machine.as_ref());
        let same = same.expect("the machine");
        assert_eq!(record.spread_kpa.zip(record.spread_u_kpa), same.spread_kpa.map(|s| (s.value, s.u)));
        // The ranking shows deviations at the fleet's common barometer and speed; the book has them as they were measured.
        let kept = visits.iter().find(|v| Some(&v.key) == record.key.as_ref()).expect("a visit");
        let deviation = record.cylinder.and_then(|c| kept.cylinder(c)?.deviation_kpa).map(|d| (d.value, d.u));
        assert_eq!(record.deviation_kpa.zip(record.deviation_u_kpa), deviation);
        assert_eq!((record.verdict, record.cylinder), (Some(same.verdict), same.cylinder));
        assert_eq!((record.limit_kpa, record.ratio), (Some(same.limit_kpa), same.ratio));
    }
}

#[test]
fn a_crash_a_panic_and_a_hang_are_records_and_the_rest_goes_on() {
    let program = Program::new();
    for name in ["rehearse-crash.csv", "rehearse-panic.csv", "rehearse-hang.csv"] {
        program.file(name, "abc");
    }
    program.file("a.csv", log(0));
    let list = "a.csv\nrehearse-crash.csv\na.csv\nrehearse-hang.csv\nrehearse-panic.csv\na.csv\n";
    let supervised = ["--supervise", "--rehearse", "--timeout-s", "2"];
    let found = worker(&program, &supervised, list);
    let seen: Vec<(Status, u32)> = found.iter().map(|r| (r.status, r.attempts)).collect();
    let (ok, crashed) = ((Status::Ok, 1), (Status::Crashed, 2));
    assert_eq!(seen, [ok, crashed, ok, (Status::Timeout, 2), crashed, ok]);
    for i in [1, 3, 4] {
        assert_eq!(found[i].key.as_deref(), Some(ABC), "{:?}", found[i]);
        assert!(found[i].verdict.is_none() && found[i].detail.is_none());
    }
    let said = |i: usize| found[i].error.clone().unwrap_or_default();
    assert!(said(3).contains("within 2 s, 2 times"), "{}", said(3));
    assert!(said(4).contains("rehearsed"), "{}", said(4));
    #[cfg(unix)]
    assert!(said(1).ends_with("ended by signal 6"), "{}", said(1));
    assert!(found[0] == found[2] && found[0] == found[5]);
    // Without the switch the names mean nothing; without supervision a panic is a record all the same.
    let plain = worker(&program, &["--supervise"], "rehearse-crash.csv\n");
    assert_eq!(plain[0].status, Status::Error);
    let run =
        program.run_with_input(&[&WORKER[..], &["--rehearse"]].concat(), b"rehearse-panic.csv\na.csv\n");
    let statuses: Vec<Status> = records(&run.out).iter().map(|r| r.status).collect();
    assert_eq!((run.code, statuses), (0, vec![Status::Crashed, Status::Ok]));
}

#[test]
fn wrong_arguments_and_broken_streams_end_with_two() {
    let program = Program::new();
    program.file("list.txt", "a.csv\n");
    program.file("bad.toml", "cylinders = \"four\"\n");
    let wrong: [&[&str]; 13] = [
        &["--files-from", "none.txt"],
        &["--files-from", "."],
        &["--files-from", "list.txt", "a.csv"],
        &["--files-from", "list.txt", "--json", "-"],
        &["--files-from", "list.txt", "--threads", "0"],
        &["--files-from", "list.txt", "--threads", "1000000"],
        &["--files-from", "list.txt", "--timeout-s", "3"],
        &["--files-from", "list.txt", "--supervise", "--timeout-s", "0"],
        &["--files-from", "list.txt", "--supervise", "--timeout-s", "nan"],
        &["--files-from", "list.txt", "--machine", "bad.toml"],
        &["--files-from", "list.txt", "--rate", "-1"],
        &["--ndjson", "a.csv"],
        &["--supervise", "a.csv"],
    ];
    for arguments in wrong {
        let run = program.run(&[&["review"][..], arguments].concat());
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{arguments:?}");
        assert!(!run.err.is_empty() && !run.err.contains("panicked"), "{arguments:?}: {}", run.err);
    }
    #[cfg(target_os = "linux")]
    {
        let full = std::fs::OpenOptions::new().write(true).open("/dev/full").expect("/dev/full");
        let mut command = program.command();
        command.args(["review", "--files-from", "list.txt"]).stdout(full);
        assert_eq!(command.output().expect("it starts").status.code(), Some(2));
    }
}

#[test]
fn the_columns_for_spark_are_the_fields_of_the_schema() {
    let program = Program::new();
    let ddl = program.run(&["schema", "--spark-ddl"]).out;
    let schema: Value = serde_json::from_str(&program.run(&["schema", "record"]).out).expect("JSON");
    let columns: Vec<(&str, &str)> = ddl.trim_end().split(", ").filter_map(|c| c.split_once(' ')).collect();
    let fields = schema["properties"].as_object().expect("fields");
    assert_eq!(columns.iter().map(|c| c.0).collect::<Vec<_>>(), fields.keys().collect::<Vec<_>>());
    for (name, kind) in columns {
        // A field without a type has words, which are texts.
        let types = match &fields[name]["type"] {
            Value::Array(all) => all[0].as_str(),
            one => one.as_str(),
        };
        let want = match types {
            Some("number") => "DOUBLE",
            Some("integer") => "INT",
            _ => "STRING",
        };
        assert_eq!(kind, want, "{name}");
    }
    assert_eq!(program.run(&["schema", "fleet", "--spark-ddl"]).code, 2);
}

/// A worker that is talked to line by line.
struct Talk {
    process: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
}

impl Talk {
    fn start(program: &Program, more: &[&str]) -> Self {
        let mut command = program.command();
        command.args(WORKER).args(more).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut process = command.spawn().expect("the program starts");
        let input = process.stdin.take().expect("a pipe");
        let output = BufReader::new(process.stdout.take().expect("a pipe"));
        Self { process, input, output }
    }

    fn ask(&mut self, line: &str) {
        self.input.write_all(format!("{line}\n").as_bytes()).expect("it listens");
    }

    fn answer(&mut self) -> Record {
        let mut line = String::new();
        self.output.read_line(&mut line).expect("an answer");
        records(&line).remove(0)
    }
}

fn end_of(process: &mut Child) -> ExitStatus {
    let start = Instant::now();
    while start.elapsed() < PATIENCE {
        if let Some(status) = process.try_wait().expect("it runs") {
            return status;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    let _ = process.kill();
    panic!("still running after {PATIENCE:?}");
}

#[test]
fn a_record_is_there_before_the_next_line_is_given_and_a_closed_pipe_ends_the_work() {
    for more in [&["--supervise"][..], &["--threads", "3"]] {
        let program = Program::new();
        let mut talk = Talk::start(&program, more);
        for name in ["one.csv", "two.csv"] {
            talk.ask(name);
            assert_eq!(talk.answer().path, name);
        }
        // The reader of the records goes away, the one who gives the paths stays.
        drop(talk.output);
        let start = Instant::now();
        while talk.process.try_wait().expect("it runs").is_none() && start.elapsed() < PATIENCE {
            let _ = talk.input.write_all(b"three.csv\n");
            std::thread::sleep(Duration::from_millis(20));
        }
        assert_eq!(end_of(&mut talk.process).code(), Some(0), "{more:?}");
    }
}

#[test]
fn lines_behind_a_slow_file_wait_outside() {
    // A worker that takes in all lines while the first one hangs holds them, or their records, in memory: then the writer
    // is done long before the first record is out. 20,000 lines are more than window and pipe hold.
    let program = Program::new();
    program.file("rehearse-hang.csv", "abc");
    let more = ["--supervise", "--rehearse", "--timeout-s", "3", "--threads", "2"];
    let Talk { mut process, mut input, mut output } = Talk::start(&program, &more);
    let writer = std::thread::spawn(move || {
        let line = format!("{}.csv\n", "x".repeat(100));
        input.write_all(format!("rehearse-hang.csv\n{}", line.repeat(20_000)).as_bytes()).expect("read");
        Instant::now()
    });
    let mut first = String::new();
    output.read_line(&mut first).expect("a record");
    let out_at = Instant::now();
    let mut rest = String::new();
    output.read_to_string(&mut rest).expect("records");
    let given_at = writer.join().expect("all lines are read in the end");
    assert_eq!((records(&first)[0].status, rest.lines().count()), (Status::Timeout, 20_000));
    assert!(given_at > out_at, "all lines were taken in {:?} before the first record", out_at - given_at);
    assert_eq!(end_of(&mut process).code(), Some(0));
}

#[cfg(target_os = "linux")]
mod processes {
    use super::*;

    /// Children of a process.
    fn children(parent: u32) -> Vec<u32> {
        let pids = std::fs::read_dir("/proc")
            .expect("/proc")
            .filter_map(|e| e.ok()?.file_name().to_str()?.parse().ok());
        pids.filter(|pid| stat(*pid).is_some_and(|(_, of)| of == parent)).collect()
    }

    /// State and parent of a process.
    fn stat(pid: u32) -> Option<(String, u32)> {
        let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).ok()?;
        let mut words = stat.rsplit_once(')')?.1.split_whitespace();
        Some((words.next()?.to_owned(), words.next()?.parse().ok()?))
    }

    fn child_of(parent: u32) -> u32 {
        let start = Instant::now();
        while start.elapsed() < PATIENCE {
            if let Some(child) = children(parent).first().copied() {
                return child;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("no child");
    }

    fn kill(pid: u32) {
        let killed = std::process::Command::new("kill").args(["-9", &pid.to_string()]).status();
        assert!(killed.is_ok_and(|s| s.success()), "{pid}");
    }

    #[test]
    fn a_child_that_was_killed_once_is_tried_again() {
        // As a system does that runs out of memory.
        let program = Program::new();
        program.file("rehearse-slow.csv", log(0));
        let mut talk = Talk::start(&program, &["--supervise", "--rehearse"]);
        talk.ask("rehearse-slow.csv");
        kill(child_of(talk.process.id()));
        let record = talk.answer();
        assert_eq!((record.status, record.attempts), (Status::Ok, 2), "{record:?}");
        drop(talk.input);
        assert_eq!(end_of(&mut talk.process).code(), Some(0));
    }

    #[test]
    fn no_child_outlives_a_parent_that_was_killed() {
        let gone = |pid: u32| stat(pid).is_none_or(|(state, _)| state == "Z");
        let program = Program::new();
        program.file("rehearse-hang.csv", "abc");
        let mut talk = Talk::start(&program, &["--supervise", "--rehearse"]);
        talk.ask("none.csv");
        assert_eq!(talk.answer().status, Status::Error);
        let child = child_of(talk.process.id());
        talk.ask("rehearse-hang.csv");
        // Time for the child to be caught in it; a child that reads its input only between two files hangs on then.
        std::thread::sleep(Duration::from_millis(500));
        kill(talk.process.id());
        let _ = talk.process.wait();
        let start = Instant::now();
        while !gone(child) && start.elapsed() < PATIENCE {
            std::thread::sleep(Duration::from_millis(20));
        }
        assert!(gone(child), "{child} hangs on");
    }
}
