//! What is kept, found again, recognised and corrected.

use evenpull_book::{Added, Book, BookError, COLUMNS};
use evenpull_core::result::{Measured, Reference};

use crate::{files, visit};

#[test]
fn a_visit_comes_back_to_the_bit() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path().join("book"));
    let mut second = visit(2, "2025-07-02");
    second.reference = Reference::Cylinder(4);
    second.facts.note = None;
    second.signal = None;
    let mut empty = visit(3, "2025-01-01");
    empty.cylinders.clear();
    for v in [&second, &visit(1, "2025-04-10"), &empty] {
        assert!(matches!(book.add(v).unwrap(), Added::Stored { .. }));
    }
    let back = book.visits("HS-03").unwrap();
    assert!(back.problems.is_empty() && back.superseded == 0);
    assert_eq!(back.visits, [empty, visit(1, "2025-04-10"), second]);
    assert_eq!(files(folder.path())[1], "book/machine=HS-03/date=2025-04-10/visit-000000010000.parquet");
}

#[test]
fn the_same_recording_is_recognised_under_any_name() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path());
    let first = book.add(&visit(1, "2025-04-10")).unwrap();
    let mut copy = visit(1, "2025-04-10");
    copy.source = "copy of log.csv".to_owned();
    let again = book.add(&copy).unwrap();
    assert_eq!(again, Added::AlreadyThere { path: first.path().to_owned() });
    assert_eq!(files(folder.path()).len(), 1);
}

#[test]
fn figures_that_are_not_finite_are_missing_and_still_recognised() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path());
    let mut odd = visit(1, "2025-04-10");
    odd.spread_kpa = Some(Measured { value: f64::NAN, u: f64::INFINITY });
    odd.facts.note = Some(String::new());
    book.add(&odd).unwrap();
    assert!(matches!(book.add(&odd).unwrap(), Added::AlreadyThere { .. }));
    let back = book.visits("HS-03").unwrap().visits;
    assert!(back[0].spread_kpa.is_none() && back[0].facts.note.is_none());
}

#[test]
fn corrections_supersede_across_dates_and_machines_and_delete_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path());
    book.add(&visit(1, "2025-04-10")).unwrap();
    book.add(&visit(2, "2025-04-10")).unwrap();
    let first = std::fs::read(folder.path().join(&files(folder.path())[0])).unwrap();
    let mut dated = visit(1, "2025-04-11");
    dated.facts.hours = Some(215.0);
    let Added::Corrected { supersedes, .. } = book.add(&dated).unwrap() else { panic!() };
    assert_eq!(supersedes, ["visit-000000010000"]);
    let mut moved = dated.clone();
    moved.machine = "HS-04".to_owned();
    let Added::Corrected { path, supersedes } = book.add(&moved).unwrap() else { panic!() };
    assert!(path.to_string_lossy().contains("HS-04") && supersedes[0].starts_with("visit-000000010000-"));
    assert!(matches!(book.add(&moved).unwrap(), Added::AlreadyThere { .. }));

    assert_eq!(book.visits("HS-03").unwrap().visits, [visit(2, "2025-04-10")]);
    assert_eq!(book.visits("HS-04").unwrap().visits, [moved.clone()]);
    let all = book.all().unwrap();
    assert_eq!((all.visits.len(), all.superseded), (2, 2));
    assert_eq!(files(folder.path()).len(), 4);
    assert_eq!(std::fs::read(folder.path().join(&files(folder.path())[0])).unwrap(), first);
    // Back to what it was first: a third correction, not a return of the old file.
    assert!(matches!(book.add(&visit(1, "2025-04-10")).unwrap(), Added::Corrected { .. }));
    assert_eq!(book.visits("HS-03").unwrap().visits.len(), 2);
}

#[test]
fn ids_that_are_no_folder_names_keep_their_machines_apart() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path());
    let ids = ["CON", "hs-03", "HS-03", "a/b", "a:b", "é.", ".."];
    for (n, id) in ids.iter().enumerate() {
        let mut v = visit(n as u32 + 1, "2025-04-10");
        v.machine = (*id).to_owned();
        book.add(&v).unwrap();
    }
    for id in ids {
        let back = book.visits(id).unwrap();
        assert_eq!(back.visits.len(), 1, "{id}");
        assert_eq!(back.visits[0].machine, id);
    }
    let mut sorted: Vec<String> = ids.map(str::to_owned).to_vec();
    sorted.sort();
    let mut machines = book.machines().unwrap();
    machines.sort();
    assert_eq!(machines, sorted);
}

#[test]
fn what_has_no_place_is_refused_and_leaves_no_trace() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path().join("book"));
    let mut v = visit(1, "10.4.2025");
    assert!(matches!(book.add(&v), Err(BookError::NoDate { .. })));
    v.facts.date = None;
    assert!(matches!(book.add(&v), Err(BookError::NoDate { .. })));
    let mut v = visit(1, "2025-04-10");
    v.key = "../../etc".to_owned();
    assert!(matches!(book.add(&v), Err(BookError::BadKey { .. })));
    let mut v = visit(1, "2025-04-10");
    v.machine = String::new();
    assert!(matches!(book.add(&v), Err(BookError::BadId { .. })));
    assert!(!book.root().exists());
    assert!(matches!(book.visits("HS-03"), Err(BookError::NoBook { .. })));
}

#[test]
fn every_column_is_named_once() {
    let mut names: Vec<&str> = COLUMNS.iter().map(|c| c.0).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), COLUMNS.len());
    // Folder names are columns for reading machines; the same name inside the files would clash in pandas.
    assert!(!names.contains(&"machine") && !names.contains(&"date"));
}

#[test]
fn many_are_kept_together_and_again_without_effect() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path());
    for _ in 0..2 {
        let shelf = book.shelf().unwrap();
        std::thread::scope(|s| {
            for first in [1, 101] {
                let shelf = &shelf;
                s.spawn(move || {
                    (first..first + 100).for_each(|n| shelf.add_later(&visit(n, "2025-04-10")).unwrap())
                });
            }
        });
        shelf.finish().unwrap();
        assert_eq!(files(folder.path()).len(), 200);
        assert!(files(folder.path()).iter().all(|f| f.ends_with(".parquet")));
    }
    let mut later = visit(7, "2025-04-10");
    later.facts.hours = Some(1.0);
    let shelf = book.shelf().unwrap();
    shelf.add_later(&later).unwrap();
    // Another program is faster with the same correction: the waiting one finds it there.
    book.add(&later).unwrap();
    shelf.finish().unwrap();
    let back = book.visits("HS-03").unwrap();
    assert_eq!((back.visits.len(), back.superseded, back.problems.len()), (200, 1, 0));
}
