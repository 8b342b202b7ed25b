//! Throughput of `evenpull fleet` on many logs, beside duckdb that only counts and averages the same files.
//!
//! `cargo bench -p evenpull --bench fleet` writes 2,000 logs of ten minutes at 20 rows a second (four cylinders) and times
//! both; in test mode it does the same with six logs of 30 s. duckdb runs in Python (`EVENPULL_PYTHON` names the
//! interpreter) and is left out where it is missing.

#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs)]

use std::path::Path;
use std::process::Command;
use std::time::Instant;

use evenpull_model::{CsvStyle, Engine, Logger, Scenario, simulate};

/// Engines that are run; every log is one of them under a name of its own, because a run of ten minutes costs a second.
const ENGINES: usize = 8;

/// The three lines before the header are skipped; every value is parsed, counted and averaged. Once as one would ask in a
/// hurry, where duckdb finds out the types of every file for itself, and once with everything told.
const DUCKDB: &str = "
import duckdb, sys, time
duckdb.sql('set enable_progress_bar = false')
header = open(f'{sys.argv[1]}/0000.csv').read().splitlines()[3].split(',')
types = ', '.join(f\"'{name}': 'DOUBLE'\" for name in header)
told = f'skip = 4, header = false, auto_detect = false, columns = {{{types}}}'
for how in ['skip = 3, header = true', told]:
    start = time.time()
    rows = duckdb.sql(f\"select count(*), avg(columns(*)) from read_csv('{sys.argv[1]}/*.csv', {how})\").fetchall()
    print(time.time() - start, rows[0][0])
";

/// Writes the logs; bytes and rows of all of them.
fn write_logs(folder: &Path, logs: usize, seconds: f64) -> (u64, usize) {
    std::fs::create_dir_all(folder).unwrap();
    let engine = Engine { idle_rpm: 1_050.0, idle_kpa: 41.0, ..Engine::inline_four() };
    let (mut bytes, mut rows) = (0, 0);
    for e in 0..ENGINES.min(logs) {
        let mut scenario = Scenario::new(engine.clone(), seconds, e as u64);
        scenario.cylinder(1 + e % 4).plate = 1.0 - 0.01 * e as f64;
        let log = simulate(&scenario).unwrap().log(&Logger::damped(20.0, 0.1), e as u64).unwrap();
        let table = log.to_csv(&CsvStyle { preamble: Vec::new(), ..CsvStyle::default() });
        for n in (e..logs).step_by(ENGINES) {
            let text = format!("machine: HS-{n:04}\ndate: 2025-03-04\nhours: {n}\n{table}");
            bytes += text.len() as u64;
            rows += table.lines().count() - 1;
            std::fs::write(folder.join(format!("{n:04}.csv")), text).unwrap();
        }
    }
    (bytes, rows)
}

fn main() {
    let all = std::env::args().any(|a| a == "--bench");
    let (logs, seconds) = if all { (2_000, 600.0) } else { (6, 30.0) };
    let folder = tempfile::tempdir().unwrap();
    let (bytes, rows) = write_logs(&folder.path().join("logs"), logs, seconds);
    let start = Instant::now();
    let run = Command::new(env!("CARGO_BIN_EXE_evenpull"))
        .args(["fleet", "logs"])
        .current_dir(folder.path())
        .output()
        .unwrap();
    let ours = start.elapsed().as_secs_f64();
    let said = String::from_utf8_lossy(&run.stdout).into_owned();
    assert!(run.status.success() && said.contains(&format!("{logs} logs")), "{said}");
    println!("{logs} logs, {:.1} MB", bytes as f64 / 1e6);
    println!("evenpull fleet: {ours:.2} s, {:.0} logs/s", logs as f64 / ours);
    let python = std::env::var("EVENPULL_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let other = Command::new(&python).args(["-c", DUCKDB]).arg(folder.path().join("logs")).output();
    match other.map(|o| (o.status.success(), String::from_utf8_lossy(&o.stdout).into_owned())) {
        Ok((true, words)) => {
            for (how, line) in ["left to itself", "told every type"].iter().zip(words.lines()) {
                let figures: Vec<f64> = line.split_whitespace().map(|w| w.parse().unwrap()).collect();
                // Both saw every row.
                assert_eq!(figures[1], rows as f64, "{words}");
                println!(
                    "duckdb, count and averages, {how}: {:.2} s; ours over it: {:.2}",
                    figures[0],
                    ours / figures[0]
                );
            }
        }
        _ => println!("duckdb: not there ({python})"),
    }
}
