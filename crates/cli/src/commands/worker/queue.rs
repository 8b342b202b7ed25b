//! Lines in, records out, in the same order, whatever number of hands works on them.

use std::collections::BTreeMap;
use std::io::BufRead;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};

use evenpull_core::visits::record::Record;

use super::WorkPlan;
use super::child::Supervisor;
use super::line::{Line, next};
use super::one::Bench;
use crate::outcome::Failure;
use crate::terminal::Terminal;

/// Lines that wait for each hand: few, so that memory stays bounded and a closed pipe is noticed soon.
const WAITING: usize = 2;

/// Lines for each hand whose records are not written yet: those behind a file that takes long wait for it, and without
/// a bound they would be as many as the list has.
const WINDOW: usize = 64;

/// What ends the work before its time.
pub(crate) enum Stop {
    /// The list cannot be read on.
    Input(std::io::Error),
    /// Standard output takes no more.
    Output(Failure),
}

/// Works through the list.
///
/// # Errors
/// [`Stop`]; a closed pipe is none.
pub(crate) fn run(
    mut input: Box<dyn BufRead + Send>,
    plan: &WorkPlan,
    bench: &Bench,
    terminal: &mut Terminal,
) -> Result<(), Stop> {
    let (lines, taken) = sync_channel::<(u64, Line)>(WAITING * plan.threads);
    let (records, done) = sync_channel::<(u64, Record)>(WAITING * plan.threads);
    let (places, freed) = sync_channel::<()>(WINDOW * plan.threads);
    let taken = Mutex::new(taken);
    let as_child = plan.as_child;
    let over = Arc::new(AtomicBool::new(false));
    let reader_over = Arc::clone(&over);
    // Reading may wait for ever on a pipe that stays open after the reader of the records went away, so it is not joined.
    let (told, trouble) = sync_channel(1);
    std::thread::spawn(move || {
        let ended = read(&mut input, &lines, &places, &reader_over);
        if as_child {
            // The parent is gone or wants no more; what is being worked on may never end.
            std::process::exit(0);
        }
        drop(lines);
        let _ = told.send(ended);
    });
    std::thread::scope(|scope| {
        for _ in 0..plan.threads {
            let (taken, records) = (&taken, records.clone());
            scope.spawn(move || work(taken, &records, plan, bench));
        }
        drop(records);
        let written = write(&done, &freed, terminal);
        over.store(true, Ordering::Relaxed);
        // Hands that still send find nobody and end.
        drop(done);
        leave_unread(&written, terminal);
        written.map(|_| ())
    })?;
    match trouble.recv() {
        Ok(Err(cause)) => Err(Stop::Input(cause)),
        _ => Ok(()),
    }
}

/// Ends the process where the records have no reader any more: its hands may wait for lines of a pipe that never ends.
/// Exit code 0 for a closed pipe, 2 for an output that takes no more, as the contract has it.
fn leave_unread(written: &Result<bool, Stop>, terminal: &mut Terminal) {
    match written {
        Ok(true) | Err(Stop::Input(_)) => {}
        Ok(false) => std::process::exit(0),
        Err(Stop::Output(failure)) => {
            terminal.complain(failure);
            std::process::exit(2);
        }
    }
}

fn read(
    input: &mut Box<dyn BufRead + Send>,
    lines: &SyncSender<(u64, Line)>,
    places: &SyncSender<()>,
    over: &AtomicBool,
) -> std::io::Result<()> {
    let mut number = 0;
    while !over.load(Ordering::Relaxed) {
        let Some(line) = next(input)? else { break };
        if places.send(()).is_err() || lines.send((number, line)).is_err() {
            break;
        }
        number += 1;
    }
    Ok(())
}

fn work(
    taken: &Mutex<Receiver<(u64, Line)>>,
    records: &SyncSender<(u64, Record)>,
    plan: &WorkPlan,
    bench: &Bench,
) {
    let mut supervisor = plan.supervised.map(|limit| Supervisor::new(plan, bench, limit));
    loop {
        let next = taken.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok((number, line)) = next else { return };
        let record = match supervisor.as_mut() {
            Some(supervisor) => supervisor.record(&line),
            None => bench.record(&line),
        };
        if records.send((number, record)).is_err() {
            return;
        }
    }
}

/// Writes the records in the order of their lines, each at once. `false` when nobody reads them any more.
fn write(
    done: &Receiver<(u64, Record)>,
    freed: &Receiver<()>,
    terminal: &mut Terminal,
) -> Result<bool, Stop> {
    let mut early: BTreeMap<u64, Record> = BTreeMap::new();
    let mut due = 0;
    while let Ok((number, record)) = done.recv() {
        early.insert(number, record);
        while let Some(record) = early.remove(&due) {
            let json = serde_json::to_string(&record).map_err(|e| Stop::Output(Failure::result(e)))?;
            terminal.say(&format!("{json}\n")).map_err(Stop::Output)?;
            if terminal.closed() {
                return Ok(false);
            }
            let _ = freed.try_recv();
            due += 1;
        }
    }
    Ok(true)
}
