//! Things that are no files, and files beyond every measure: refused soon, in words.

use std::path::Path;
use std::process::Command;

use evenpull_core::read::{ReadOptions, read_bytes, read_path};

fn refused(bytes: &[u8]) -> String {
    read_bytes("log.csv", bytes, &ReadOptions::default())
        .map_or_else(|error| error.to_string(), |_| String::new())
}

#[test]
fn pipes_devices_and_folders() {
    let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
    let said = |path: &Path| {
        read_path(path, &ReadOptions::default()).map_or_else(|error| error.to_string(), |_| String::new())
    };
    let advice = "expected a file; copy the recording into a file, or hand it over on standard input as -";
    let name = folder.path().file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    assert_eq!(said(folder.path()), format!("{name}: found a folder, {advice}"));
    assert!(said(&folder.path().join("none.csv")).starts_with("none.csv: cannot be opened: "));
    if cfg!(unix) {
        assert_eq!(said(Path::new("/dev/zero")), format!("zero: found a pipe or device, {advice}"));
        let pipe = folder.path().join("pipe");
        if Command::new("mkfifo").arg(&pipe).status().is_ok_and(|status| status.success()) {
            assert_eq!(said(&pipe), format!("pipe: found a pipe or device, {advice}"));
        }
    }
}

#[test]
fn a_line_of_five_megabytes() {
    let line = "1.5,".repeat(1_250_000);
    let want = "log.csv:1:1: found a line of 1048576 bytes and more, expected lines of at most 262144 bytes; check that \
                the file is a log with one row a line";
    assert_eq!(refused(line.as_bytes()), want);
    // In the middle of a good file only this line is lost.
    let mut text = String::from("time_s,map1_kpa,map2_kpa,rpm\n");
    for row in 0..60_000 {
        text += &format!("{}.{:03},40.{:02},41.{:02},1100\n", row / 1000, row % 1000, row % 97, row % 89);
        if row == 55_000 {
            text += &line;
            text += "\n";
        }
    }
    let recording =
        read_bytes("log.csv", text.as_bytes(), &ReadOptions::default()).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!((recording.source.rows, recording.source.rows_skipped), (60_000, 1));
    let notice = &recording.notices[0];
    assert_eq!((notice.code.as_str(), notice.line), ("long-line", Some(55_003)));
}

#[test]
fn a_hundred_thousand_columns() {
    let names: Vec<String> = (0..100_000).map(|n| format!("c{n}")).collect();
    let row = vec!["1"; 100_000].join(",");
    let text = format!("{}\n{row}\n{row}\n", names.join(","));
    assert!(
        refused(text.as_bytes()).starts_with("log.csv:1:1: found a line of "),
        "{}",
        refused(text.as_bytes())
    );
    let row = vec!["1"; 100_000].join(",");
    let error = refused(format!("{row}\n{row}\n{row}\n").as_bytes());
    assert_eq!(
        error,
        "log.csv:1:1: found 100000 columns, expected at most 4096; export only time, engine speed and the pressures"
    );
}

#[test]
fn a_thousand_notices_are_placed_and_the_rest_counted() {
    let mut text = String::from("time_s,map1_kpa,rpm\n");
    for row in 0..4000 {
        text +=
            &format!("{}.{:03},{},1100\n", row / 1000, row % 1000, if row % 3 == 1 { "?!" } else { "40.1" });
    }
    let recording =
        read_bytes("log.csv", text.as_bytes(), &ReadOptions::default()).unwrap_or_else(|e| panic!("{e}"));
    let bad: Vec<_> = recording.notices.iter().filter(|n| n.code == "bad-cell").collect();
    assert_eq!(bad.iter().filter(|n| n.line.is_some()).count(), 1000);
    // Rows 1, 4, 7 ... of 4000: 1333 of them.
    assert_eq!(bad.iter().find(|n| n.line.is_none()).map(|n| n.count), Some(333));
}
