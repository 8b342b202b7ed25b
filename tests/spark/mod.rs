//! `review_fleet.py` on a small cluster of two executors: every path gets one record though an executor is killed on the
//! way, and the values and the ranking are those of `evenpull fleet`.
//!
//! Needs Java 17 and Python with the packages of `requirements.txt` beside this file (`EVENPULL_PYTHON` names the
//! interpreter). Skipped with a word where they are missing, required when `CI=true`.
#![cfg(target_os = "linux")]
#![allow(clippy::print_stderr)]

mod cluster;
mod workshop;

use std::collections::BTreeMap;

use evenpull_book::{Book, key_of};
use evenpull_core::visits::Fleet;
use evenpull_core::visits::record::{Record, Status};
use serde_json::Value;

use cluster::{Cluster, Finished};
use workshop::{LOGS, write_logs};

/// Records by their path, as another engine reads what Spark wrote.
fn records(cluster: &Cluster, out: &std::path::Path) -> BTreeMap<String, Record> {
    let mut all = BTreeMap::new();
    for line in cluster.read(out).lines() {
        let mut row: Value = serde_json::from_str(line).expect("JSON");
        let row_map = row.as_object_mut().expect("a row");
        assert_eq!(row_map.remove("batch").and_then(|b| b.as_str().map(str::len)), Some(16), "{line}");
        if row_map["machine"] == "_unnamed" {
            row_map["machine"] = Value::Null;
        }
        let record: Record = serde_json::from_value(row).expect("a record");
        let path = record.path.clone();
        assert!(all.insert(path.clone(), record).is_none(), "{path} is there twice");
    }
    all
}

/// The ranking that Spark wrote: a row of cells by name for each machine, in order.
fn ranking(path: &std::path::Path) -> Vec<BTreeMap<String, String>> {
    let text = std::fs::read_to_string(path).expect("the ranking");
    let mut lines = text.lines().map(|l| l.split(',').map(str::to_owned).collect::<Vec<_>>());
    let head = lines.next().expect("a header");
    lines.map(|row| head.iter().cloned().zip(row).collect()).collect()
}

#[test]
fn a_cluster_that_loses_an_executor_finds_what_fleet_finds() {
    let Some(cluster) = Cluster::or_skip() else { return };
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let mut paths = write_logs(&at("logs"));
    let odd = |name: &str, content: &[u8]| {
        std::fs::create_dir_all(at("odd")).expect("a folder");
        std::fs::write(at("odd").join(name), content).expect("a file");
        at("odd").join(name)
    };
    // They would be sound recordings if they did not crash and hang whoever reads them.
    let sound = std::fs::read(&paths[0]).expect("a log");
    let damaged = odd("damaged.csv", b"time,map1,rpm\n\0\0\0\n");
    let crash = odd("rehearse-crash.csv", &[&sound[..], b"\n"].concat());
    let hang = odd("rehearse-hang.csv", &[&sound[..], b"\n\n"].concat());
    let missing = at("odd").join("missing.csv");
    // In the middle of the list, so that the rest has to go on after them.
    for (place, path) in [(120, &damaged), (240, &missing), (260, &crash), (380, &hang)] {
        paths.insert(place, path.clone());
    }
    let list: String = paths.iter().map(|p| format!("{}\n", p.display())).collect();
    std::fs::write(at("list.txt"), list).expect("a list");

    let Finished { ok, killed, log } =
        cluster.run(folder.path(), &[("--timeout-s", "3"), ("--per-task", "50")]);
    assert!(ok, "{log}");
    assert!(killed && log.contains("Lost executor"), "no executor was lost: {log}");

    let found = records(&cluster, &at("out"));
    assert_eq!(found.len(), LOGS + 4);
    let status = |path: &std::path::Path| &found[&path.display().to_string()];
    for (path, want, attempts) in [
        (&damaged, Status::Error, 1),
        (&missing, Status::Error, 1),
        (&crash, Status::Crashed, 2),
        (&hang, Status::Timeout, 2),
    ] {
        let record = status(path);
        assert_eq!((record.status, record.attempts), (want, attempts), "{record:?}");
        assert_eq!(record.key, key_of(path).ok());
        assert!(record.error.is_some() && record.spread_kpa.is_none() && record.detail.is_none());
    }
    assert_eq!(found.values().filter(|r| r.status == Status::Ok).count(), LOGS);
    let failures = std::fs::read_to_string(at("failures.csv")).expect("the failures");
    assert_eq!(failures.lines().count(), 5, "{failures}");

    let fleet = cluster::fleet(folder.path());
    same_values(&found, &Book::at(at("fleet/book")));
    same_ranking(&ranking(&at("ranking.csv")), &fleet);
}

/// Every field of the visit is what `fleet` put into its book.
fn same_values(found: &BTreeMap<String, Record>, book: &Book) {
    let by_key: BTreeMap<&str, &Record> =
        found.values().filter_map(|r| Some((r.key.as_deref()?, r))).collect();
    let visits = book.all().expect("the book").visits;
    assert_eq!(visits.len(), LOGS);
    for mut visit in visits {
        let record = by_key[visit.key.as_str()];
        // What a plan starts from is no part of a record.
        visit.plan = None;
        let detail: Value = serde_json::from_str(record.detail.as_deref().expect("a detail")).expect("JSON");
        assert_eq!(detail, serde_json::to_value(&visit).expect("JSON"), "{}", record.path);
        assert_eq!(record.machine.as_deref(), Some(visit.machine.as_str()));
        let spread = visit.spread_kpa.map(|s| (s.value, s.u));
        assert_eq!(record.spread_kpa.zip(record.spread_u_kpa), spread, "{}", record.path);
        assert_eq!((record.verdict, record.limit_kpa), (Some(visit.verdict), Some(visit.limit_kpa)));
    }
}

/// Same machines in the same order for the same reasons; sums over machines may differ in their last digits.
fn same_ranking(spark: &[BTreeMap<String, String>], fleet: &Fleet) {
    let order: Vec<&str> = fleet.machines.iter().map(|m| m.machine.as_str()).collect();
    assert_eq!(spark.iter().map(|r| r["machine"].as_str()).collect::<Vec<_>>(), order);
    for (row, machine) in spark.iter().zip(&fleet.machines) {
        assert_eq!(
            Value::from(row["attention"].as_str()),
            serde_json::to_value(machine.attention).expect("JSON")
        );
        assert_eq!(row["cylinder"].parse().ok(), machine.cylinder);
        for (name, want) in [
            ("ratio", machine.ratio),
            ("score", machine.shrunken_ratio),
            ("p", machine.p_outside),
            ("q", machine.q_outside),
        ] {
            let (got, want) = (row[name].parse::<f64>().expect(name), want.expect(name));
            assert!(
                (got - want).abs() <= 1e-9 * want.abs() + 1e-12,
                "{} {name}: {got} {want}",
                machine.machine
            );
        }
    }
    // A ranking that tells nothing apart would be equal to any other.
    let kinds: std::collections::BTreeSet<&str> = spark.iter().map(|r| r["attention"].as_str()).collect();
    assert!(kinds.contains("act") && kinds.contains("watch") && kinds.contains("fine"), "{kinds:?}");
}
