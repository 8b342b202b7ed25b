//! The book as duckdb, pandas and polars read it: every row once, dates and ids as they were, numbers to the bit.
//!
//! Needs Python with the packages of `requirements.txt` beside this file (`EVENPULL_PYTHON` names the interpreter).
//! Skipped with a word where they are missing, required when `CI=true`.

use std::path::Path;
use std::process::Command;

use evenpull_book::Book;

use super::support::Call;

/// What every engine must find.
fn expected(book: &Book) -> serde_json::Value {
    let visits = book.all().expect("the book").visits;
    let rows: usize = visits.iter().map(|v| v.cylinders.len()).sum();
    let mut machines: Vec<&str> = visits.iter().map(|v| v.machine.as_str()).collect();
    let mut dates: Vec<&str> = visits.iter().filter_map(|v| v.facts.date.as_deref()).collect();
    [&mut machines, &mut dates].into_iter().for_each(|list| {
        list.sort_unstable();
        list.dedup();
    });
    let cylinder_2: Vec<String> = {
        let deviation = |v: &evenpull_core::visits::Visit| v.cylinder(2)?.deviation_kpa;
        let mut all: Vec<f64> = visits.iter().filter_map(deviation).map(|m| m.value).collect();
        all.sort_by(f64::total_cmp);
        all.iter().map(|v| format!("{:016x}", v.to_bits())).collect()
    };
    serde_json::json!({ "rows": rows, "machines": machines, "dates": dates, "cylinder_2": cylinder_2, "hours": 4 })
}

#[test]
fn other_engines_read_the_book_as_it_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let book = Book::at(folder.path().join("book"));
    for (n, id) in ["HS-03", "HS-03", "boat.7", "Frühling 1"].into_iter().enumerate() {
        let mut visit = Call::new("HS-03", 4, n % 3, 60 + n as u64).visit().0;
        visit.machine = id.to_owned();
        book.add(&visit).expect("kept");
    }
    // A stray temporary file must disturb nobody.
    std::fs::write(folder.path().join("book/machine=HS-03/.visit-aBcD.tmp"), b"PAR1").expect("a stray file");
    let python = std::env::var("EVENPULL_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/visits/read_book.py");
    let run = Command::new(&python).arg(&here).arg(book.root()).output();
    let missing = match &run {
        Ok(out) if out.status.code() == Some(3) => Some(String::from_utf8_lossy(&out.stderr).into_owned()),
        Err(e) => Some(format!("{python}: {e}")),
        _ => None,
    };
    if let Some(why) = missing {
        assert!(std::env::var("CI").as_deref() != Ok("true"), "required when CI=true: {why}");
        eprintln!("skipped: {why}");
        return;
    }
    let out = run.expect("python ran");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let found: serde_json::Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let want = expected(&book);
    for engine in ["duckdb", "pandas", "polars"] {
        assert_eq!(found[engine], want, "{engine}");
    }
}
