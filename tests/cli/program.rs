//! Runs the built program in a folder of its own.

use std::ffi::OsStr;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// A folder that goes when the test ends, and the program run in it.
pub(crate) struct Program {
    folder: tempfile::TempDir,
}

/// What a run left on its streams.
pub(crate) struct Run {
    /// Exit code; a run that was killed has none and fails the test.
    pub(crate) code: i32,
    /// Standard output.
    pub(crate) out: String,
    /// Standard error.
    pub(crate) err: String,
}

impl Program {
    pub(crate) fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder for the test") }
    }

    /// The folder in which the program runs.
    pub(crate) fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Writes a file into the folder.
    pub(crate) fn file(&self, name: impl AsRef<OsStr>, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.folder().join(Path::new(name.as_ref()));
        std::fs::write(&path, content).expect("a file for the test");
        path
    }

    /// Names of everything in the folder, sorted.
    pub(crate) fn files(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder()).expect("the folder of the test");
        let mut names: Vec<String> =
            entries.map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    /// The command, not started yet.
    pub(crate) fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_evenpull"));
        command.current_dir(self.folder()).stdin(Stdio::null());
        command
    }

    /// Runs with arguments.
    pub(crate) fn run<S: AsRef<OsStr>>(&self, arguments: &[S]) -> Run {
        Run::from(self.command().args(arguments).output().expect("the program starts"))
    }

    /// Runs with arguments and bytes on standard input.
    pub(crate) fn run_with_input<S: AsRef<OsStr>>(&self, arguments: &[S], input: &[u8]) -> Run {
        let mut command = self.command();
        command.args(arguments).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().expect("the program starts");
        let mut stream = child.stdin.take().expect("a pipe");
        // The program may end before it has read everything; that is its business.
        let _ = stream.write_all(input);
        drop(stream);
        Run::from(child.wait_with_output().expect("the program ends"))
    }
}

impl From<Output> for Run {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code().expect("the program was not killed"),
            out: String::from_utf8(output.stdout).expect("standard output is UTF-8"),
            err: String::from_utf8(output.stderr).expect("standard error is UTF-8"),
        }
    }
}
