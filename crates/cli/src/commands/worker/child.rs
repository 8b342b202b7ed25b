//! The child that does the work under supervision: killed and started anew when it crashes or takes too long.

use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Duration;

use evenpull_core::visits::record::{Record, Status};

use super::WorkPlan;
use super::one::{Bench, path_of};

/// Attempts at one file.
const ATTEMPTS: u32 = 2;

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
    /// The child ended.
    Crashed(String),
    /// It did not answer in time.
    Late,
}

impl<'a> Supervisor<'a> {
    pub(crate) fn new(plan: &'a WorkPlan, bench: &'a Bench, limit: Duration) -> Self {
        Self { plan, bench, limit, running: None }
    }

    /// The record of a line, whatever becomes of the child.
    pub(crate) fn record(&mut self, line: &str) -> Record {
        let path = match path_of(line) {
            Ok(path) => path,
            // Nothing to be done with it: no child is needed to say so.
            Err(_) => return self.bench.record(line),
        };
        let mut last = Lost::Late;
        for attempt in 1..=ATTEMPTS {
            match self.attempt(line) {
                Ok(answer) => match serde_json::from_str::<Record>(&answer) {
                    Ok(record) => return Record { attempts: attempt, ..record },
                    Err(e) => last = Lost::Crashed(format!("answered with no record: {e}")),
                },
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
        let bare = Record::bare(&path, status, Some(why), &self.bench.hash);
        self.bench.with_key(Record { attempts: ATTEMPTS, ..bare })
    }

    fn attempt(&mut self, line: &str) -> Result<String, Lost> {
        let crashed = |e: std::io::Error| Lost::Crashed(e.to_string());
        if self.running.is_none() {
            self.running = Some(start(self.plan).map_err(crashed)?);
        }
        let Some(running) = self.running.as_mut() else {
            return Err(Lost::Crashed("not started".to_owned()));
        };
        let sent =
            running.input.write_all(format!("{line}\n").as_bytes()).and_then(|()| running.input.flush());
        if let Err(e) = sent {
            return Err(Lost::Crashed(ending(&mut running.process).unwrap_or_else(|| e.to_string())));
        }
        match running.answers.recv_timeout(self.limit) {
            Ok(answer) => Ok(answer),
            Err(RecvTimeoutError::Timeout) => Err(Lost::Late),
            Err(RecvTimeoutError::Disconnected) => {
                Err(Lost::Crashed(ending(&mut running.process).unwrap_or_else(|| "it ended".to_owned())))
            }
        }
    }

    fn stop(&mut self) {
        if let Some(mut running) = self.running.take() {
            let _ = running.process.kill();
            let _ = running.process.wait();
        }
    }
}

impl Drop for Supervisor<'_> {
    fn drop(&mut self) {
        self.stop();
    }
}

/// How a child ended, in the words of the system.
fn ending(process: &mut Child) -> Option<String> {
    process.wait().ok().map(|status| status.to_string())
}

/// Starts this program again as a plain worker, with one thread in every pool.
fn start(plan: &WorkPlan) -> std::io::Result<Running> {
    let mut command = Command::new(std::env::current_exe()?);
    command.args(["review", "--files-from", "-", "--ndjson"]);
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
