//! Exit codes and streams where no recording is judged: wrong usage, files that are missing or no recording,
//! pipes that close, names that would drive a terminal. The contract: 0 done, 1 asked-for findings, 2 failed with
//! `path: error` on standard error and nothing on standard output.

use std::process::Stdio;

use super::program::Program;

#[test]
fn help_and_version_are_no_failure() {
    let program = Program::new();
    for asked in ["--help", "--version"] {
        let run = program.run(&[asked]);
        assert_eq!((run.code, run.err.as_str()), (0, ""), "{asked}");
        assert!(run.out.contains("evenpull"), "{asked}");
    }
}

#[test]
fn wrong_usage_ends_with_two_and_says_so_on_standard_error() {
    let program = Program::new();
    program.file("a.csv", "t,p\n");
    let wrong: [&[&str]; 9] = [
        &[],
        &["balance"],
        &["review"],
        &["review", "a.csv", "b.csv"],
        &["review", "a.csv", "--fail-on", "within"],
        &["review", "a.csv", "--unit", "furlong"],
        &["review", "a.csv", "--codes", "0107"],
        &["review", "a.csv", "--rate", "0"],
        &["review", "a.csv", "--json", "-", "--open"],
    ];
    for arguments in wrong {
        let run = program.run(arguments);
        assert_eq!(run.code, 2, "{arguments:?}");
        assert!(run.out.is_empty() && !run.err.is_empty(), "{arguments:?}");
    }
    assert_eq!(program.files(), ["a.csv"], "wrong usage writes nothing");
}

#[test]
fn a_missing_file_is_named_once_and_nothing_is_written() {
    let program = Program::new();
    for command in ["review", "inspect"] {
        let run = program.run(&[command, "logs/none.csv"]);
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{command}");
        assert!(run.err.starts_with("logs/none.csv: "), "{}", run.err);
        assert_eq!(run.err.matches("none.csv").count(), 1, "{}", run.err);
        assert_eq!(run.err.lines().count(), 1, "{}", run.err);
    }
    assert!(program.files().is_empty());
}

#[test]
fn a_missing_machine_file_is_the_one_that_is_named() {
    let program = Program::new();
    program.file("a.csv", "time,p1\n0,40\n");
    let run = program.run(&["review", "a.csv", "--machine", "none.toml"]);
    assert_eq!(run.code, 2);
    assert!(run.err.starts_with("none.toml: "), "{}", run.err);
}

#[test]
fn what_is_no_recording_fails_without_a_crash() {
    let program = Program::new();
    let noise: Vec<u8> = (0_u32..5000).map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    let files: [(&str, &[u8]); 5] = [
        ("empty.csv", b""),
        ("noise.csv", &noise),
        ("zeros.parquet", &[0; 4096]),
        ("cut.parquet", b"PAR1\x15\x04"),
        ("words.csv", b"a harbour\nat night\n"),
    ];
    for (name, content) in files {
        program.file(name, content);
        for command in ["review", "inspect"] {
            let run = program.run(&[command, name]);
            assert_eq!(run.code, 2, "{command} {name}: {}", run.out);
            assert!(run.err.starts_with(name), "{command} {name}: {}", run.err);
            assert!(!run.err.contains("panicked"), "{command} {name}: {}", run.err);
        }
        let run = program.run_with_input(&["inspect", "-"], content);
        assert_eq!(run.code, 2, "{name} from standard input");
        assert!(run.err.starts_with("stdin"), "{}", run.err);
    }
}

#[test]
fn a_folder_is_no_recording() {
    let program = Program::new();
    std::fs::create_dir(program.folder().join("logs.csv")).expect("a folder");
    let run = program.run(&["review", "logs.csv"]);
    assert_eq!(run.code, 2);
    assert!(run.err.starts_with("logs.csv: "), "{}", run.err);
}

#[cfg(unix)]
#[test]
fn hostile_file_names_cannot_drive_the_terminal() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;

    let program = Program::new();
    let names: [&[u8]; 4] =
        [b"a\x1b[2J.csv", b"two\nlines.csv", "turned\u{202e}vsc.csv".as_bytes(), b"not\xff utf8.csv"];
    for name in names {
        let name = OsStr::from_bytes(name);
        program.file(name, "nothing");
        let run = program.run(&[OsStr::new("inspect"), name]);
        assert_eq!(run.code, 2);
        let hostile = |c: char| (c.is_control() && c != '\n') || c == '\u{202e}';
        assert!(!run.err.contains(hostile), "{:?}", run.err);
        assert_eq!(run.err.lines().count(), 1, "a name must not start a line: {:?}", run.err);
    }
}

#[test]
fn a_closed_pipe_is_no_crash() {
    let program = Program::new();
    // The reader is gone before the program starts, as in `evenpull explain | true`.
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    let output =
        program.command().arg("explain").stdout(writer).stderr(Stdio::piped()).output().expect("it runs");
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_behind_standard_output_is_a_failure() {
    // /dev/full answers every write with ENOSPC (Linux manual, full(4)).
    let program = Program::new();
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").expect("/dev/full");
    let output =
        program.command().arg("explain").stdout(full).stderr(Stdio::piped()).output().expect("it runs");
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).starts_with("standard output: "));
}
