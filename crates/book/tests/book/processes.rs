//! Several programs at once, and programs that are killed. The test binary starts itself again as the other program.

use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use evenpull_book::{Added, Book};

use crate::{files, visit};

const FOLDER: &str = "EVENPULL_TEST_BOOK";
const FIRST: &str = "EVENPULL_TEST_FIRST";

/// Not a test of its own: adds visits `FIRST..FIRST + 400` when started by one of the others.
#[test]
fn the_other_program() {
    let (Ok(folder), Ok(first)) = (std::env::var(FOLDER), std::env::var(FIRST)) else { return };
    let first: u32 = first.parse().unwrap();
    let book = Book::at(folder);
    for n in first..first + 400 {
        book.add(&visit(n, "2025-04-10")).unwrap();
    }
}

fn start(folder: &std::path::Path, first: u32) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "processes::the_other_program"])
        .env(FOLDER, folder)
        .env(FIRST, first.to_string())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// How many finished files there are.
fn whole(folder: &std::path::Path) -> usize {
    files(folder).iter().filter(|f| f.ends_with(".parquet")).count()
}

#[test]
fn two_programs_at_once_keep_every_visit_once() {
    let folder = tempfile::tempdir().unwrap();
    // The second half of the first overlaps the first half of the second.
    let mut children = [start(folder.path(), 1), start(folder.path(), 201)];
    for child in &mut children {
        assert!(child.wait().unwrap().success());
    }
    let back = Book::at(folder.path()).visits("HS-03").unwrap();
    assert_eq!((back.visits.len(), back.problems.len(), back.superseded), (600, 0, 0));
    assert_eq!(files(folder.path()).len(), 600);
}

#[test]
fn killed_at_any_moment_the_book_is_whole() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path());
    let mut seen = 0;
    for round in 0..12u32 {
        let mut child = start(folder.path(), 1 + 1000 * round);
        let deadline = Instant::now() + Duration::from_secs(60);
        while whole(folder.path()) <= seen && Instant::now() < deadline {
            std::thread::sleep(Duration::from_millis(2));
        }
        std::thread::sleep(Duration::from_millis(u64::from(round * 37 % 60)));
        // SIGKILL on Unix, TerminateProcess on Windows.
        child.kill().unwrap();
        child.wait().unwrap();
        let Ok(back) = book.visits("HS-03") else { continue };
        assert!(back.problems.is_empty(), "{:?}", back.problems);
        assert!(back.visits.len() >= seen, "a visit vanished");
        seen = back.visits.len();
    }
    assert!(seen >= 12, "only {seen} visits were added");
    assert!(matches!(book.add(&visit(999_999, "2025-04-10")).unwrap(), Added::Stored { .. }));
}
