//! The child that does the work under supervision: killed and started anew when it crashes or takes too long.

use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use evenpull_core::visits::record::{Record, Status};

use super::WorkPlan;
use super::line::Line;
use super::one::{Bench, key};

/// Attempts at one file.
const ATTEMPTS: u32 = 2;

/// Least time for the hash of a file on which the child was lost.
const HASHING: Duration = Duration::from_secs(60);

/// How long a child that closed its output may take to end.
const ENDING: Duration = Duration::from_secs(2);

/// A child and what it answers.
struct Running {
    process: Child,
    input: ChildStdin,
    answers: Receiver<String>,
}

/// Does one line after the other in a child.
pub(crate) struct Supervisor<'a> {
    plan: &'a WorkPlan,
    bench: &'a Bench,
    limit: Duration,
    running: Option<Running>,
}

/// Why an attempt gave no record.
enum Lost {
    /// The child ended, or said that the work crashed.
    Crashed(String),
    /// It did not answer in time.
    Late,
}

impl<'a> Supervisor<'a> {
    pub(crate) fn new(plan: &'a WorkPlan, bench: &'a Bench, limit: Duration) -> Self {
        Self { plan, bench, limit, running: None }
    }

    /// The record of a line, whatever becomes of the child.
    pub(crate) fn record(&mut self, line: &Line) -> Record {
        let Ok(path) = &line.path else {
            // Nothing to be done with it: no child is needed to say so.
            return self.bench.record(line);
        };
        let mut last = Lost::Late;
        for attempt in 1..=ATTEMPTS {
            match self.attempt(line, path) {
                Ok(record) => return Record { attempts: attempt, ..record },
                Err(lost) => last = lost,
            }
            self.stop();
        }
        let (status, why) = match last {
            Lost::Crashed(how) => {
                (Status::Crashed, format!("the work on it crashed {ATTEMPTS} times: {how}"))
            }
            Lost::Late => {
                let seconds = self.limit.as_secs_f64();
                (Status::Timeout, format!("no result within {seconds} s, {ATTEMPTS} times"))
            }
        };
        let bare = Record::bare(path, status, Some(why), &self.bench.hash);
        Record { attempts: ATTEMPTS, key: self.key(path), ..bare }
    }

    fn attempt(&mut self, line: &Line, path: &str) -> Result<Record, Lost> {
        let crashed = |e: std::io::Error| Lost::Crashed(e.to_string());
        if self.running.is_none() {
            self.running = Some(start(self.plan).map_err(crashed)?);
        }
        let Some(running) = self.running.as_mut() else {
            return Err(Lost::Crashed("not started".to_owned()));
        };
        let question = format!("{}\n", line.text);
        let sent = running.input.write_all(question.as_bytes()).and_then(|()| running.input.flush());
        if sent.is_err() {
            return Err(Lost::Crashed(ending(&mut running.process)));
        }
        let answer = match running.answers.recv_timeout(self.limit) {
            Ok(answer) => answer,
            Err(RecvTimeoutError::Timeout) => return Err(Lost::Late),
            Err(RecvTimeoutError::Disconnected) => {
                return Err(Lost::Crashed(ending(&mut running.process)));
            }
        };
        match serde_json::from_str::<Record>(&answer) {
            Ok(record) if record.path != path => Err(Lost::Crashed("answered about another file".to_owned())),
            Ok(record) if record.status == Status::Crashed => {
                Err(Lost::Crashed(record.error.unwrap_or_default()))
            }
            Ok(record) => Ok(record),
            Err(e) => Err(Lost::Crashed(format!("answered with no record: {e}"))),
        }
    }

    /// The hash of a file on which the child was lost. The file system may be what hangs, so it is not waited for
    /// without end either.
    fn key(&self, path: &str) -> Option<String> {
        let (send, found) = channel();
        let path = path.to_owned();
        std::thread::spawn(move || send.send(key(&path)));
        found.recv_timeout(self.limit.max(HASHING)).ok().flatten()
    }

    /// Kills the child. It is collected by a thread: one that waits for a dead file system ends when that comes back.
    fn stop(&mut self) {
        if let Some(mut running) = self.running.take() {
            let _ = running.process.kill();
            std::thread::spawn(move || running.process.wait());
        }
    }
}

impl Drop for Supervisor<'_> {
    fn drop(&mut self) {
        self.stop();
    }
}

/// How a child ended that closed its streams.
fn ending(process: &mut Child) -> String {
    let until = Instant::now() + ENDING;
    while Instant::now() < until {
        match process.try_wait() {
            Ok(Some(status)) => return told(status),
            Ok(None) => std::thread::sleep(Duration::from_millis(5)),
            Err(e) => return e.to_string(),
        }
    }
    "it closed its output".to_owned()
}

/// The same words on every machine, whether or not it keeps a core file.
fn told(status: ExitStatus) -> String {
    #[cfg(unix)]
    if let Some(signal) = std::os::unix::process::ExitStatusExt::signal(&status) {
        return format!("ended by signal {signal}");
    }
    status.code().map_or_else(|| "ended".to_owned(), |code| format!("ended with code {code}"))
}

/// Starts this program again as a plain worker, with one thread in every pool.
fn start(plan: &WorkPlan) -> std::io::Result<Running> {
    let mut command = Command::new(std::env::current_exe()?);
    command.args(["review", "--files-from", "-", "--ndjson", "--as-child"]);
    if let Some(machine) = &plan.machine {
        command.arg("--machine").arg(machine);
    }
    if let Some(rate) = plan.rate_hz {
        command.arg("--rate").arg(rate.to_string());
    }
    if !plan.codes.is_empty() {
        command.arg("--codes").arg(plan.codes.join(","));
    }
    if plan.rehearse {
        command.arg("--rehearse");
    }
    command.env("RAYON_NUM_THREADS", "1").env("POLARS_MAX_THREADS", "1");
    // Its complaints would mix with those of the parent; a crash is told by its ending.
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
    let mut process = command.spawn()?;
    let (input, output) = match (process.stdin.take(), process.stdout.take()) {
        (Some(input), Some(output)) => (input, output),
        _ => return Err(std::io::Error::other("the child has no streams")),
    };
    let (send, answers) = channel();
    std::thread::spawn(move || {
        for line in BufReader::new(output).lines() {
            let Ok(line) = line else { return };
            if send.send(line).is_err() {
                return;
            }
        }
    });
    Ok(Running { process, input, answers })
}
