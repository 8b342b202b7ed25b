//! The whole way against general-purpose engines on the same files, in one go.
//!
//! `cargo bench -p evenpull --bench compare` makes a 300 MB log of six columns and 2000 small logs from the engine model in a
//! temporary folder and measures, each in a process of its own, the best of three (the first two of the list: the median of
//! five pairs run in turn):
//!
//! - `evenpull review` of the large log, report, figures and JSON included;
//! - polars reading the same file into the same six columns of doubles (no schema inference, all processors);
//! - duckdb grouping the same file by ten seconds with the means of all columns;
//! - `evenpull fleet` over the small logs, ranking and book included;
//! - duckdb grouping the small logs by file, read with a glob.
//!
//! duckdb is run by the Python named in `EVENPULL_PYTHON` (else /tmp/venv/bin/python, else python3); without it these rows say
//! so. Seconds are wall clock, memory is the peak of the process (`VmHWM` of Linux, 0 elsewhere). Goals: the review takes at
//! most 1.25 times the plain read, and at most 1.5 times the columns + 150 MB. `MB` and `LOGS` set other sizes; in test mode
//! both are tiny and nothing is judged.
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs)]

use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

use evenpull_model::{Engine, Log, Logger, Quantity, Scenario, simulate};
use polars::prelude::{CsvReadOptions, DataType, Field, Schema, SerReader};

const PROGRAM: &str = env!("CARGO_BIN_EXE_evenpull");
const READ_ONLY: &str = "--read-with-polars";
const HEADER: &str = "time_s,map1_kpa,map2_kpa,map3_kpa,map4_kpa,rpm\n";

/// What a process took.
#[derive(Debug, Clone, Copy)]
struct Taken {
    seconds: f64,
    peak_mb: f64,
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let Some(at) = arguments.iter().position(|a| a == READ_ONLY) {
        return read_with_polars(Path::new(&arguments[at + 1]));
    }
    let few = !arguments.iter().any(|a| a == "--bench");
    let size = |name: &str, usual: usize, tiny: usize| {
        let asked = std::env::var(name).ok().and_then(|v| v.parse().ok());
        asked.unwrap_or(if few { tiny } else { usual })
    };
    let runs = if few { 1 } else { 3 };
    let folder = tempfile::tempdir().unwrap();
    println!("| measured | seconds | peak MB | against | ratio |");
    println!("|---|---|---|---|---|");
    one_large(folder.path(), size("MB", 300, 1), runs);
    many_small(folder.path(), size("LOGS", 2000, 4), runs);
}

fn one_large(folder: &Path, megabytes: usize, runs: usize) {
    let path = folder.join("large.csv");
    let rows = write_large(&path, megabytes * 1_000_000);
    let columns_mb = (rows * 6 * 8) as f64 / 1e6;
    let out = folder.join("reports");
    let read = || {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.arg(READ_ONLY).arg(&path);
        command
    };
    let judge = || {
        let mut command = Command::new(PROGRAM);
        command.args(["review", "--out"]).arg(&out).arg(&path);
        command
    };
    let (polars, review, ratio) = in_turn(if runs == 1 { 1 } else { 5 }, read, judge);
    row(&format!("polars reads the {megabytes} MB log ({rows} rows)"), polars, "", None);
    row("evenpull reviews it", review, "polars, pair by pair", Some(ratio));
    let allowed = 1.5 * columns_mb + 150.0;
    println!(
        "| its memory, {allowed:.0} MB allowed | | {:.0} | allowed | {:.2} |",
        review.peak_mb,
        review.peak_mb / allowed
    );
    let means: Vec<String> = HEADER.trim().split(',').map(|name| format!("avg({name})")).collect();
    let types: Vec<String> = HEADER.trim().split(',').map(|name| format!("'{name}': 'DOUBLE'")).collect();
    let query = format!(
        "select cast(time_s / 10 as integer) as part, {} from read_csv('{}', header = true, columns = {{{}}}) group by part",
        means.join(", "),
        path.display(),
        types.join(", ")
    );
    against_duckdb("duckdb groups it by ten seconds", &query, runs, review);
}

fn many_small(folder: &Path, logs: usize, runs: usize) {
    let small = folder.join("small");
    write_small(&small, logs);
    let out = folder.join("fleet");
    let fleet = best(runs, || {
        // A new book each time: one that knows the logs already would have less to do.
        let _ = std::fs::remove_dir_all(&out);
        let mut command = Command::new(PROGRAM);
        command.arg("fleet").arg(&small).arg("--out").arg(&out);
        command
    });
    row(&format!("evenpull ranks {logs} small logs"), fleet, "", None);
    let query = format!(
        "select filename, avg(map1_kpa), avg(map2_kpa), avg(map3_kpa), avg(map4_kpa), avg(rpm) \
         from read_csv('{}/*.csv', filename = true, skip = 2, header = true) group by filename",
        small.display()
    );
    against_duckdb("duckdb groups them by file", &query, runs, fleet);
}

fn against_duckdb(name: &str, query: &str, runs: usize, ours: Taken) {
    let python = python();
    let has = Command::new(&python).args(["-c", "import duckdb"]).stderr(Stdio::null()).status();
    if !has.is_ok_and(|status| status.success()) {
        println!("| {name}: skipped, `{}` has no duckdb | | | | |", python.display());
        return;
    }
    let duckdb = best(runs, || {
        let mut command = Command::new(&python);
        command.arg("-c").arg(format!("import duckdb\nduckdb.sql(\"\"\"{query}\"\"\").fetchall()"));
        command
    });
    row(name, duckdb, "evenpull against it", Some(ours.seconds / duckdb.seconds));
}

fn python() -> PathBuf {
    let usual = Path::new("/tmp/venv/bin/python");
    std::env::var_os("EVENPULL_PYTHON").map_or_else(
        || if usual.exists() { usual.to_owned() } else { PathBuf::from("python3") },
        PathBuf::from,
    )
}

fn row(name: &str, taken: Taken, against: &str, ratio: Option<f64>) {
    let ratio = ratio.map_or(String::new(), |ratio| format!("{ratio:.2}"));
    println!("| {name} | {:.2} | {:.0} | {against} | {ratio} |", taken.seconds, taken.peak_mb);
}

/// Two programs in turn, so that both meet the same moods of the machine: the median seconds of each with the highest peak,
/// and the median ratio of the second to the first, pair by pair.
fn in_turn(runs: usize, first: impl Fn() -> Command, second: impl Fn() -> Command) -> (Taken, Taken, f64) {
    let pairs: Vec<(Taken, Taken)> = (0..runs).map(|_| (best(1, &first), best(1, &second))).collect();
    let median = |mut list: Vec<f64>| {
        list.sort_by(f64::total_cmp);
        list[list.len() / 2]
    };
    let middle = |of: fn(&(Taken, Taken)) -> Taken| Taken {
        seconds: median(pairs.iter().map(|pair| of(pair).seconds).collect()),
        peak_mb: pairs.iter().map(|pair| of(pair).peak_mb).fold(0.0, f64::max),
    };
    let ratio = median(pairs.iter().map(|(a, b)| b.seconds / a.seconds).collect());
    (middle(|pair| pair.0), middle(|pair| pair.1), ratio)
}

/// The quickest of several runs, with the highest peak.
fn best(runs: usize, command: impl Fn() -> Command) -> Taken {
    let all: Vec<Taken> = (0..runs).map(|_| measured(command())).collect();
    let seconds = all.iter().map(|taken| taken.seconds).fold(f64::INFINITY, f64::min);
    let peak_mb = all.iter().map(|taken| taken.peak_mb).fold(0.0, f64::max);
    Taken { seconds, peak_mb }
}

fn measured(mut command: Command) -> Taken {
    let started = Instant::now();
    let mut child = command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
    let path = format!("/proc/{}/status", child.id());
    let mut peak_kb = 0.0f64;
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        let high = text
            .lines()
            .find_map(|line| line.strip_prefix("VmHWM:")?.split_whitespace().next()?.parse().ok());
        peak_kb = peak_kb.max(high.unwrap_or(0.0));
        std::thread::sleep(Duration::from_millis(2));
    };
    let seconds = started.elapsed().as_secs_f64();
    // Outside the limit is exit code 1: an answer, no failure.
    if status.code().is_none_or(|code| code > 1) {
        let said = child.wait_with_output().map(|out| String::from_utf8_lossy(&out.stderr).into_owned());
        panic!("{command:?}: {status}: {}", said.unwrap_or_default());
    }
    Taken { seconds, peak_mb: peak_kb / 1000.0 }
}

/// The same columns by polars alone.
fn read_with_polars(path: &Path) {
    let fields = HEADER.trim().split(',').map(|name| Field::new(name.into(), DataType::Float64));
    let schema = Arc::new(Schema::from_iter(fields));
    let options = CsvReadOptions::default().with_has_header(true).with_schema(Some(schema));
    let frame = options.try_into_reader_with_file_path(Some(path.to_owned())).unwrap().finish().unwrap();
    assert_eq!(frame.width(), 6);
}

fn idle(plates: [f64; 4], seconds: f64, seed: u64) -> Scenario {
    let mut scenario = Scenario::new(Engine::inline_four(), seconds, seed);
    for (at, plate) in plates.into_iter().enumerate() {
        scenario.cylinder(at + 1).plate = plate;
    }
    scenario
}

/// Rows of a log as text, times apart.
fn rows(log: &Log) -> Vec<String> {
    let pressures = log.pressures_kpa();
    let rpm = log.column(Quantity::Speed).unwrap();
    (0..log.time_s.len())
        .map(|row| {
            let mut line = String::new();
            for list in &pressures {
                let _ = write!(line, ",{:.3}", list[row]);
            }
            let _ = writeln!(line, ",{:.1}", rpm[row]);
            line
        })
        .collect()
}

/// A minute of the model at 1000 rows a second, again and again until the size is reached; returns the rows.
fn write_large(path: &Path, bytes: usize) -> usize {
    let run = simulate(&idle([1.0, 0.94, 1.03, 1.0], 60.0, 1)).unwrap();
    let lines = rows(&run.log(&Logger::momentary(1000.0), 2).unwrap());
    let mut file = BufWriter::new(File::create(path).unwrap());
    file.write_all(HEADER.as_bytes()).unwrap();
    let (mut written, mut count) = (HEADER.len(), 0usize);
    while written < bytes {
        let time = format!("{}.{:03}", count / 1000, count % 1000);
        let line = &lines[count % lines.len()];
        file.write_all(time.as_bytes()).unwrap();
        file.write_all(line.as_bytes()).unwrap();
        written += time.len() + line.len();
        count += 1;
    }
    file.flush().unwrap();
    count
}

/// Logs of half a minute at 20 rows a second; ten engines of the model, each with many machines and dates.
fn write_small(folder: &Path, logs: usize) {
    std::fs::create_dir_all(folder).unwrap();
    let texts: Vec<Vec<String>> = (0..logs.min(10))
        .map(|engine| {
            let off = 1.0 - 0.01 * engine as f64;
            let run = simulate(&idle([1.0, off, 1.0, 1.02], 30.0, engine as u64)).unwrap();
            rows(&run.log(&Logger::damped(20.0, 0.1), engine as u64).unwrap())
        })
        .collect();
    for n in 0..logs {
        let mut text =
            format!("machine: HS-{:03}\ndate: 2026-{:02}-{:02}\n{HEADER}", n / 10, n % 10 + 1, n % 28 + 1);
        for (row, line) in texts[n % texts.len()].iter().enumerate() {
            let _ = write!(text, "{}.{:02}{line}", row / 20, row % 20 * 5);
        }
        std::fs::write(folder.join(format!("log-{n:04}.csv")), text).unwrap();
    }
}
