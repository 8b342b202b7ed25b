//! Stray and damaged files, a read-only folder, a full disk.

use std::fs;
use std::path::Path;
use std::process::Command;

use evenpull_book::{Added, Book, BookError};

use crate::{files, visit};

#[test]
fn stray_files_are_none_of_the_books_business() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path());
    book.add(&visit(1, "2025-04-10")).unwrap();
    let day = folder.path().join("machine=HS-03/date=2025-04-10");
    fs::write(day.join(".visit-AbCd12.tmp"), b"PAR1 half a file").unwrap();
    fs::write(day.join("notes.txt"), b"hello").unwrap();
    fs::write(day.join("visit-copy.parquet"), b"").unwrap();
    fs::write(folder.path().join("machine=HS-09"), b"a file where a folder is expected").unwrap();
    fs::create_dir(folder.path().join("reports")).unwrap();
    let back = book.visits("HS-03").unwrap();
    assert!(back.visits.len() == 1 && back.problems.is_empty());
}

#[test]
fn a_damaged_file_is_named_and_the_rest_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path());
    book.add(&visit(1, "2025-04-10")).unwrap();
    let good = fs::read(folder.path().join(&files(folder.path())[0])).unwrap();
    let day = folder.path().join("machine=HS-03/date=2025-07-02");
    fs::create_dir_all(&day).unwrap();
    let bad = day.join("visit-aaaaaaaaaaaa.parquet");
    for cut in [0, 3, 11, 200, good.len() - 1] {
        fs::write(&bad, &good[..cut]).unwrap();
        let back = book.visits("HS-03").unwrap();
        assert_eq!((back.visits.len(), back.problems.len()), (1, 1), "cut at {cut}");
        assert!(back.problems[0].error.to_string().contains("visit-aaaaaaaaaaaa.parquet"));
    }
}

#[test]
fn flipped_bytes_never_end_the_program() {
    let folder = tempfile::tempdir().unwrap();
    let book = Book::at(folder.path());
    book.add(&visit(1, "2025-04-10")).unwrap();
    let path = folder.path().join(&files(folder.path())[0]);
    let good = fs::read(&path).unwrap();
    for at in (4..good.len() - 4).step_by(37) {
        let mut bytes = good.clone();
        bytes[at] ^= 0x5a;
        fs::write(&path, &bytes).unwrap();
        let back = book.visits("HS-03").unwrap();
        assert!(back.visits.len() + back.problems.len() <= 1, "byte {at}");
    }
}

/// A small file system of its own below `at`; `None` (with a word why) where this user may not mount one.
fn small_disk(at: &Path, options: &str) -> Option<Mounted> {
    let done = Command::new("mount").args(["-t", "tmpfs", "-o", options, "tmpfs"]).arg(at).output();
    match done {
        Ok(out) if out.status.success() => Some(Mounted(at.to_owned())),
        _ => {
            eprintln!("skipped: this user may not mount a small disk");
            None
        }
    }
}

/// Unmounts when dropped.
struct Mounted(std::path::PathBuf);

impl Drop for Mounted {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).output();
    }
}

#[test]
fn a_full_disk_is_said_and_the_book_stays_whole() {
    let folder = tempfile::tempdir().unwrap();
    let Some(_disk) = small_disk(folder.path(), "size=128k") else { return };
    let book = Book::at(folder.path());
    let mut kept = 0;
    let error = (1..200)
        .find_map(|n| match book.add(&visit(n, "2025-04-10")) {
            Ok(_) => {
                kept += 1;
                None
            }
            Err(e) => Some(e),
        })
        .expect("200 visits do not fit in 128 kB");
    assert!(
        matches!(&error, BookError::Io { cause, .. } if cause.kind() == std::io::ErrorKind::StorageFull),
        "{error}"
    );
    assert!(kept > 2);
    let back = book.visits("HS-03").unwrap();
    assert_eq!((back.visits.len(), back.problems.len()), (kept, 0));
    assert!(files(folder.path()).iter().all(|f| f.ends_with(".parquet")), "no temporary file is left");
}

#[test]
fn a_read_only_folder_is_said_and_can_still_be_read() {
    let folder = tempfile::tempdir().unwrap();
    let Some(_disk) = small_disk(folder.path(), "size=1m") else { return read_only_by_permission() };
    let book = Book::at(folder.path());
    book.add(&visit(1, "2025-04-10")).unwrap();
    let remounted = Command::new("mount").args(["-o", "remount,ro"]).arg(folder.path()).status().unwrap();
    assert!(remounted.success());
    let error = book.add(&visit(2, "2025-07-02")).unwrap_err();
    assert!(matches!(&error, BookError::Io { .. }), "{error}");
    assert!(error.to_string().contains(&*folder.path().to_string_lossy()), "{error}");
    assert!(matches!(book.add(&visit(1, "2025-04-10")).unwrap(), Added::AlreadyThere { .. }));
    assert_eq!(book.visits("HS-03").unwrap().visits.len(), 1);
}

/// The same without the right to mount: a folder without the right to write.
fn read_only_by_permission() {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let book = Book::at(folder.path());
        book.add(&visit(1, "2025-04-10")).unwrap();
        fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o555)).unwrap();
        let mut other = visit(2, "2025-07-02");
        other.machine = "HS-04".to_owned();
        let error = book.add(&other).unwrap_err();
        fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o755)).unwrap();
        assert!(matches!(&error, BookError::Io { .. }), "{error}");
        assert_eq!(book.visits("HS-03").unwrap().visits.len(), 1);
    }
}
