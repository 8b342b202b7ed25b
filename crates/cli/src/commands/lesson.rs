//! `lesson`: recordings of the engine model for an instructor, each with a worksheet and a key.

use std::path::Path;

use evenpull_core::Analysis;
use evenpull_core::machine::Machine;
use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::recording::PressureKind;
use evenpull_core::result::{Regime, Review};
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::safe_text::one_line;
use evenpull_core::settings::Settings;
use evenpull_model::lessons::{CASES, Choice, Lesson};
use evenpull_model::{Log, Quantity, Run};
use evenpull_report::{DisplayUnit, LessonFacts, LessonSeries, key_page, worksheet_page, write};
use rayon::prelude::*;

use super::lesson_args::{Order, Request};
use super::lesson_check::checks;
use crate::outcome::{Failure, Outcome};
use crate::terminal::Terminal;

/// Lists the cases, or writes recordings with their pages.
///
/// # Errors
/// A [`Failure`] when a file cannot be written.
pub(crate) fn run(request: &Request, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let order = match request {
        Request::List => return list(terminal),
        Request::Write(order) => order,
    };
    let seeds: Vec<u64> = (0..order.seeds).map(|i| order.choice.seed.saturating_add(i)).collect();
    let open = seeds.par_iter().map(|seed| one(order, *seed)).collect::<Result<Vec<_>, _>>()?;
    let open: Vec<&String> = open.iter().flatten().collect();
    let (folder, keys) = (one_line(&order.folder.display().to_string()), order.keys.display().to_string());
    let keys = one_line(&keys);
    let what =
        if seeds.len() == 1 { "1 recording".to_owned() } else { format!("{} recordings", seeds.len()) };
    terminal.say(&format!("{}: {what} with worksheets in {folder}, keys in {keys}", order.case.id))?;
    for name in open {
        terminal.say(&format!("{name}: the review does not find all that was set; the key says what"))?;
    }
    Ok(Outcome::Done)
}

fn list(terminal: &mut Terminal) -> Result<Outcome, Failure> {
    for case in CASES {
        terminal.say(&format!("{:<18} {}", case.id, case.teaches))?;
    }
    Ok(Outcome::Done)
}

/// One seed: recording, machine file, worksheet, key. Gives the name of a lesson whose review does not find it all.
fn one(order: &Order, seed: u64) -> Result<Option<String>, Failure> {
    let lesson = order.case.lesson(&Choice { seed, ..order.choice }).map_err(Failure::result)?;
    let made = made(&lesson, seed)?;
    let unit = DisplayUnit::of(order.unit, PressureKind::Absolute);
    let name = format!("lesson-{:02}-{seed:03}", lesson.number);
    let file = |folder: &Path, tail: &str, text: &str| {
        write::file(&folder.join(format!("{name}{tail}")), text.as_bytes()).map_err(Failure::result)
    };
    file(&order.folder, ".csv", &made.text)?;
    let machine = order.folder.join(machine_name(&lesson));
    write::file(&machine, lesson.machine_file().as_bytes()).map_err(Failure::result)?;
    let sheet = worksheet_page(&made.facts, &unit).map_err(Failure::result)?;
    file(&order.folder, "-worksheet.html", &sheet.html)?;
    let key = key_page(&made.facts, &made.analysis, &unit).map_err(Failure::result)?;
    file(&order.keys, "-key.html", &key.html)?;
    Ok(made.facts.checks.iter().any(|c| !c.agrees).then_some(name))
}

/// A lesson carried out.
struct Made {
    text: String,
    analysis: Analysis,
    facts: LessonFacts,
}

/// Runs the engine, writes the recording and reads it again as `review` would.
fn made(lesson: &Lesson, seed: u64) -> Result<Made, Failure> {
    let (engine, log, text) = lesson.record().map_err(Failure::result)?;
    let name = format!("lesson-{:02}-{seed:03}.csv", lesson.number);
    let file = machine_name(lesson);
    let machine = Machine::from_toml(&file, &lesson.machine_file()).map_err(Failure::result)?;
    let options = ReadOptions { machine: Some(&machine), columns: None, rate_hz: None };
    let recording = read_bytes(&name, text.as_bytes(), &options).map_err(Failure::result)?;
    let notes = ReviewNotes {
        codes: lesson.codes.iter().map(|c| (*c).to_owned()).collect(),
        ..ReviewNotes::default()
    };
    let analysis = review(&recording, &machine, &Settings::default(), &notes);
    let facts = facts(lesson, seed, &machine, (&engine, &log), &analysis.review);
    Ok(Made { text, analysis, facts })
}

fn machine_name(lesson: &Lesson) -> String {
    format!("lesson-{:02}-machine.toml", lesson.number)
}

fn facts(
    lesson: &Lesson,
    seed: u64,
    machine: &Machine,
    (engine, log): (&Run, &Log),
    review: &Review,
) -> LessonFacts {
    let codes =
        if lesson.codes.is_empty() { String::new() } else { format!(" --codes {}", lesson.codes.join(",")) };
    LessonFacts {
        number: lesson.number,
        case: lesson.case.id.to_owned(),
        teaches: lesson.case.teaches.to_owned(),
        seed,
        difficulty: if lesson.hard { "hard" } else { "easy" }.to_owned(),
        recording: review.source.name.clone(),
        recorder: lesson.recorder.words().to_owned(),
        cylinders: engine.cylinders(),
        firing_deg: engine.firing_deg.clone(),
        warm_c: machine.warm_c.unwrap_or(f64::NAN),
        limit_kpa: review.machine.limit_kpa,
        told: lesson.told.clone(),
        series: series(log),
        set: lesson.set.clone(),
        why: lesson.case.why.to_owned(),
        trap: lesson.case.trap.to_owned(),
        true_kpa: true_deviations(engine, review),
        checks: checks(lesson, review),
        command: format!("evenpull review {} --machine {}{codes}", review.source.name, machine_name(lesson)),
    }
}

/// The log as the worksheet draws it.
fn series(log: &Log) -> LessonSeries {
    let column = |q: Quantity| log.column(q).map(<[f64]>::to_vec).unwrap_or_default();
    LessonSeries {
        time_s: log.time_s.clone(),
        pressure_kpa: (1..).zip(log.pressures_kpa()).map(|(c, v)| (c, v.to_vec())).collect(),
        rpm: column(Quantity::Speed),
        coolant_c: column(Quantity::Coolant),
    }
}

/// What was true over the stretches of idle that the review judged last: the model's means, the longer ones weighing more.
fn true_deviations(engine: &Run, review: &Review) -> Vec<(u32, f64)> {
    let turned = review.adjustments.iter().map(|a| a.time_s).fold(f64::NEG_INFINITY, f64::max);
    let judged = review.windows.iter().filter(|w| w.regime == Regime::Idle && w.start_s >= turned);
    let (mut sums, mut length) = (vec![0.0; engine.cylinders()], 0.0);
    for truth in judged.filter_map(|w| engine.truth(w.start_s, w.end_s).ok()) {
        let share = truth.end_s - truth.start_s;
        length += share;
        sums.iter_mut().zip(truth.deviation_kpa()).for_each(|(s, d)| *s += share * d);
    }
    if length > 0.0 { (1..).zip(sums.iter().map(|s| s / length)).collect() } else { Vec::new() }
}
