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

/// What a run of the program on a file said, whether it failed by its own will, and its peak memory in MB.
fn inspected(folder: &Path, name: &str, bytes: &[u8]) -> (String, Option<i32>, u64) {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap_or_else(|error| panic!("{error}"));
    let mut child = Command::new(env!("CARGO_BIN_EXE_evenpull"))
        .arg("inspect")
        .arg(&path)
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| panic!("{error}"));
    let status = format!("/proc/{}/status", child.id());
    let started = std::time::Instant::now();
    let mut peak = 0;
    while child.try_wait().is_ok_and(|done| done.is_none()) {
        let now = std::fs::read_to_string(&status).unwrap_or_default();
        let high = now.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap_or("0");
        peak = peak
            .max(high.split_whitespace().next().and_then(|kb| kb.parse::<u64>().ok()).unwrap_or(0) / 1000);
        assert!(started.elapsed().as_secs() < 60, "{name}: hangs");
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    let done = child.wait_with_output().unwrap_or_else(|error| panic!("{error}"));
    (String::from_utf8_lossy(&done.stderr).into_owned(), done.status.code(), peak)
}

/// A zstd frame of blocks that each repeat one byte 131 072 times, by RFC 8878: magic number, frame header (no
/// checksum, no size, window of 128 KiB: descriptor 0x38), blocks of type 1 (one byte repeated).
fn zstd_bomb(byte: u8, blocks: usize) -> Vec<u8> {
    let mut out = vec![0x28, 0xb5, 0x2f, 0xfd, 0x00, 0x38];
    for at in 0..blocks {
        let header = (131_072u32 << 3) | (1 << 1) | u32::from(at + 1 == blocks);
        out.extend_from_slice(&header.to_le_bytes()[..3]);
        out.push(byte);
    }
    out
}

#[test]
fn decompression_bombs_end_soon_and_small() {
    let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
    // 16 GiB each, of a few hundred kilobytes.
    for (name, byte, want) in [
        ("zeros.csv", 0, "found binary data"),
        ("one-line.csv", b'1', "found a line of 1048576 bytes and more"),
        ("blank-lines.csv", b'\n', "found "),
    ] {
        let (said, code, peak) = inspected(folder.path(), name, &zstd_bomb(byte, 131_072));
        assert!(said.contains(want) && said.contains("expected"), "{name}: {said}");
        assert_eq!(code, Some(2), "{name}: {said}");
        assert!(peak < 1500, "{name}: {peak} MB");
    }
    // A log whose rows go on for ever: 1.5 GiB of the same good row in a gzip file of members.
    let mut row = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    let rows = "1.5,40.1,40.2,1100\n".repeat(100_000);
    let packed = std::io::Write::write_all(&mut row, rows.as_bytes()).and_then(|()| row.finish());
    let packed = packed.unwrap_or_else(|error| panic!("{error}")).repeat(850);
    let (said, code, peak) = inspected(folder.path(), "rows.csv.gz", &packed);
    assert!(said.contains("found ") && said.contains("expected"), "{said}");
    assert_eq!(code, Some(2), "{said}");
    assert!(peak < 1500, "{peak} MB: {said}");
}

#[cfg(unix)]
#[test]
fn files_that_may_not_be_read() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
    let path = folder.path().join("secret.csv");
    std::fs::write(&path, "time_s,map1_kpa\n0,40\n1,41\n").unwrap_or_else(|error| panic!("{error}"));
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o000)).unwrap_or_else(|e| panic!("{e}"));
    match read_path(&path, &ReadOptions::default()) {
        Err(error) => assert!(error.to_string().starts_with("secret.csv: cannot be opened: "), "{error}"),
        // The superuser may read every file.
        Ok(recording) => assert_eq!(recording.time_s.len(), 2),
    }
}

#[test]
fn hostile_names_of_files_and_columns_are_inert() {
    let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
    let good =
        "time_s,map1_kpa,map2_kpa,rpm,=cmd|' /C calc'!A0,<script>alert(1)</script>,\u{1b}[2Jx,a\u{202e}b\n";
    let rows: String =
        (0..40).map(|n| format!("{}.{:02},40.{n},41.{n},1100,1,2,3,4\n", n / 20, n % 20 * 5)).collect();
    let text = format!("{good}{rows}");
    let mut names =
        vec!["-rf.csv", "=1+1.csv", "a b;c.csv", "$(reboot).csv", "`id`.csv", "CON.csv", "%s%n.csv"];
    if cfg!(unix) {
        names.extend([
            "<img src=x onerror=alert(1)>.csv",
            "new\nline.csv",
            "\u{1b}]0;x\u{7}.csv",
            "\u{202e}vsc.csv",
        ]);
    }
    for name in names {
        let path = folder.path().join(name);
        std::fs::write(&path, &text).unwrap_or_else(|error| panic!("{error}"));
        let run = Command::new(env!("CARGO_BIN_EXE_evenpull"))
            .arg("inspect")
            .arg(&path)
            .output()
            .unwrap_or_else(|error| panic!("{error}"));
        let shown = [run.stdout, run.stderr].concat();
        let shown = String::from_utf8_lossy(&shown);
        assert_eq!(run.status.code(), Some(0), "{name:?}: {shown}");
        assert!(!shown.contains(['\u{1b}', '\u{7}', '\u{202e}']), "{name:?}: {shown}");
        // Every line is one of the program's own: none begins with what stood behind a line end in a name.
        assert!(!shown.lines().any(|line| line.starts_with("line.csv")), "{name:?}: {shown}");
    }
}
