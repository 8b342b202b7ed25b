//! The steps of a review in their order: sensors, ambient, windows, phase, steps, states, pulse.

use std::sync::Arc;

use rayon::prelude::*;

use crate::adjust::steps::{Step, place, steps};
use crate::balance::drift::drifts;
use crate::balance::measure::{StateData, measure};
use crate::balance::series::{self, Rows};
use crate::balance::signal;
use crate::health::{polled, sensors};
use crate::machine::Machine;
use crate::prepare::{Prepared, finite, prepare, weights};
use crate::pulse::mark::{self, Unusable};
use crate::pulse::phase::{self, cycle_hz};
use crate::recording::{PressureKind, Quantity, Recording};
use crate::result::{Regime, Signal};
use crate::settings::Settings;
use crate::stats::robust::median;
use crate::windows::gates::{self, Cell, Gates};
use crate::windows::grid::{Grid, grid};
use crate::windows::{Cut, Stretches, gaps, lay, stretches, warm};

use super::ambient::{self, Ambient};
use super::found::{Found, MarkUse, Measured};
use super::pulses;

/// Examines a recording. The prepared form is returned too, for the traces.
#[must_use]
pub(super) fn examine<'a>(
    recording: &'a Recording,
    machine: &Machine,
    settings: &Settings,
) -> (Prepared<'a>, Found) {
    let mut prepared = prepare(recording, machine);
    let polled_round = take_turns(&mut prepared);
    let duplicates = sensors::duplicates(&prepared);
    let ambient = ambient::settle(&mut prepared, machine, settings);
    let running: Vec<bool> = match &prepared.rpm {
        Some(rpm) => rpm.iter().map(|r| *r > 60.0).collect(),
        None => vec![true; prepared.time_s.len()],
    };
    let absolute = ambient.kind == Some(PressureKind::Absolute);
    let bad = sensors::bad_stretches(&prepared, ambient.assumed_kpa, absolute, &running);
    let dead = bury(&mut prepared, &bad, &running);
    let grid = grid(&prepared);
    let coolant_step = recording.first(Quantity::CoolantTemperature).and_then(|c| c.resolution);
    let warmth = warm::warmth(&grid, machine.warm_c, coolant_step, settings);
    let gates = Gates { idle_rpm: machine.idle_rpm, raised_factor: settings.raised_factor };
    let idle_rpm = gates::idle_speed(&grid, &gates, |i| warmth.reasons[i].is_none())
        .or_else(|| gates::idle_speed(&grid, &gates, |_| true));
    let free_idle_rpm = gates::idle_speed(&grid, &Gates { idle_rpm: None, ..gates }, |_| true);
    let mut cells = gates::sort(&grid, &gates, idle_rpm);
    cold(&mut cells, &warmth);
    lay(&grid, &mut cells, &gaps(prepared.time_s, prepared.step_s));
    lay(&grid, &mut cells, &sensor_cuts(&bad, &dead));

    let (lock, mark) = hold(&prepared, &grid, &cells);
    let block_s = block_length(&prepared, idle_rpm, polled_round);
    let left_to_judge = Judged { prepared: &prepared, ambient: &ambient, cycles: &lock.cycles, block_s };
    let limit = machine.limit_kpa.unwrap_or(settings.limit_kpa);
    let (steps, idle) = find_steps(&left_to_judge, &grid, &cells, limit);
    let states = split(&left_to_judge, &grid, &mut cells, (&steps, idle), settings);
    let live = states.left.as_ref().map_or_else(Vec::new, |m| m.data.live());
    let numbers: Vec<u32> = prepared.cylinders.iter().map(|c| c.number).collect();
    let sampling = states.left.as_ref().or(states.raised.as_ref()).and_then(|m| {
        signal::examine(&m.data, &prepared.cylinders, prepared.time_s, &lock.cycles, lock.strength)
    });
    let mut found = Found {
        drifts: states.left.as_ref().map_or_else(
            || vec![None; numbers.len()],
            |m| drifts(&m.data.blocks, &live, machine.reference, &numbers),
        ),
        folded: vec![None; numbers.len()],
        refills: vec![None; numbers.len()],
        order: None,
        late: None,
        signal: Signal::Unknown,
        strength: lock.strength,
        cycle_deg: if prepared.strokes == 2 { 360.0 } else { 720.0 },
        mark,
        inferred: None,
        ripple: None,
        cycles: lock.cycles,
        left: states.left,
        as_found: states.as_found,
        raised: states.raised,
        stretches: states.stretches,
        numbers,
        ambient,
        bad,
        dead,
        duplicates,
        polled_round,
        warmth,
        idle_rpm,
        free_idle_rpm,
        steps,
        sampling,
    };
    pulses::look(&prepared, machine, limit, &mut found);
    (prepared, found)
}

/// Finds channels polled in turn and gives weight only to rows that hold a reading.
fn take_turns(prepared: &mut Prepared<'_>) -> Option<usize> {
    let span = prepared.time_s.last().copied().unwrap_or(0.0).max(1e-9);
    let mut longest = None;
    let turns: Vec<polled::Turn> = prepared.cylinders.par_iter().map(|c| polled::turn(&c.values)).collect();
    for (c, turn) in prepared.cylinders.iter_mut().zip(turns) {
        if turn.round > 1 {
            let rows = polled::rows(turn, c.values.len());
            c.weights = weights(prepared.time_s, &c.values, &rows).into();
            c.update_hz = c.weights.iter().filter(|w| **w > 0.0).count() as f64 / span;
            longest = longest.max(Some(turn.round));
        }
    }
    longest
}

/// Takes out sensors that are bad for more than half of the running time; silences the bad stretches of the others.
fn bury(prepared: &mut Prepared<'_>, bad: &[sensors::BadStretch], running: &[bool]) -> Vec<usize> {
    let t = prepared.time_s;
    let total = running.iter().filter(|r| **r).count().max(1) as f64;
    let mut dead = Vec::new();
    for (i, c) in prepared.cylinders.iter_mut().enumerate() {
        if c.weights.iter().any(|w| *w > 0.0) && !bad.iter().any(|b| b.cylinder == i) {
            continue;
        }
        // Stretches may overlap (a railed sensor is stuck as well): each row is lost once.
        let mut lost_rows = vec![false; t.len()];
        for b in bad.iter().filter(|b| b.cylinder == i) {
            let (first, last) = (t.partition_point(|x| *x < b.start_s), t.partition_point(|x| *x <= b.end_s));
            lost_rows[first..last].fill(true);
            Arc::make_mut(&mut c.weights)[first..last].fill(0.0);
        }
        let lost = lost_rows.iter().zip(running).filter(|(l, r)| **l && **r).count() as f64;
        let empty = c.weights.iter().all(|w| *w <= 0.0);
        if empty || lost > 0.5 * total {
            c.alive = false;
            Arc::make_mut(&mut c.weights).fill(0.0);
            dead.push(i);
        }
    }
    dead
}

fn sensor_cuts(bad: &[sensors::BadStretch], dead: &[usize]) -> Vec<Cut> {
    bad.iter()
        .filter(|b| !dead.contains(&b.cylinder))
        .map(|b| Cut { start_s: b.start_s, end_s: b.end_s, reason: "sensor" })
        .collect()
}

fn cold(cells: &mut [Cell], warmth: &warm::Warmth) {
    for (cell, reason) in cells.iter_mut().zip(&warmth.reasons) {
        if let (Cell::Idle | Cell::Raised, Some(reason)) = (*cell, reason) {
            *cell = Cell::Out(reason);
        }
    }
}

/// Phase of every row, held on the pulses of the fit stretches.
/// What the mark channel gave, if there is one, is returned beside it.
fn hold(
    prepared: &Prepared<'_>,
    grid: &Grid,
    cells: &[Cell],
) -> (phase::Lock, Option<Result<MarkUse, Unusable>>) {
    let n = prepared.time_s.len();
    let Some(rpm) = &prepared.rpm else {
        return (phase::Lock { cycles: vec![0.0; n], strength: 0.0, scale: 1.0 }, None);
    };
    let cycles = phase::integrate(prepared.time_s, rpm, prepared.strokes);
    let fit = grid.ranges(|i| !matches!(cells[i], Cell::Out(_)));
    let signals: Vec<phase::Signal<'_>> = prepared
        .cylinders
        .iter()
        .filter(|c| c.alive)
        .map(|c| phase::Signal { values: &c.values, weights: &c.weights })
        .collect();
    let marked = prepared.mark.map(|m| mark::cycles(prepared.time_s, m, &cycles, prepared.strokes));
    match marked {
        Some(Ok(m)) => {
            let lock = phase::lock_marked(prepared.time_s, m.cycles, &signals, &fit);
            (lock, Some(Ok(MarkUse { per_cycle: m.per_cycle, seen: m.seen })))
        }
        other => {
            let why = other.and_then(Result::err).map(Err);
            (phase::lock(prepared.time_s, cycles, &signals, &fit), why)
        }
    }
}

/// Blocks hold at least 1 s, 4 engine cycles and a round and a half of polling.
fn block_length(prepared: &Prepared<'_>, idle_rpm: Option<f64>, round: Option<usize>) -> f64 {
    let cycle_s = idle_rpm.map_or(0.1, |r| 1.0 / cycle_hz(r, prepared.strokes).max(0.5));
    let step = prepared.step_s.unwrap_or(0.1);
    let slowest = prepared
        .cylinders
        .iter()
        .filter(|c| c.alive)
        .map(|c| 1.0 / c.update_hz.max(1e-6))
        .fold(0.0, f64::max);
    1.0_f64.max(4.0 * cycle_s).max(1.5 * step * round.unwrap_or(1) as f64).max(1.5 * slowest.min(20.0))
}

/// Stretches and what was measured over them.
type Idle = (Vec<(f64, f64)>, StateData);

/// What the later steps share.
struct Judged<'a, 'b> {
    prepared: &'a Prepared<'b>,
    ambient: &'a Ambient,
    cycles: &'a [f64],
    block_s: f64,
}

impl Judged<'_, '_> {
    fn rows<'r>(&'r self, stretches: &'r [(f64, f64)]) -> Rows<'r> {
        Rows {
            time_s: self.prepared.time_s,
            cycles: self.cycles,
            rpm: self.prepared.rpm.as_deref(),
            stretches,
        }
    }

    fn measure(&self, stretches: &[(f64, f64)]) -> StateData {
        measure(self.rows(stretches), &self.prepared.cylinders, &self.ambient.bias_u_kpa, self.block_s)
    }

    /// Measures one state; `known` is taken where it was measured over the same stretches.
    fn state(&self, regime: Regime, stretches: Vec<(f64, f64)>, known: Option<Idle>) -> Option<Measured> {
        if stretches.is_empty() {
            return None;
        }
        let data = match known {
            Some((over, data)) if over == stretches => data,
            _ => self.measure(&stretches),
        };
        let mut speeds = finite(&data.blocks.rpm);
        if speeds.len() < 2 {
            // Rows too far apart for blocks.
            speeds = self
                .prepared
                .rpm
                .as_ref()
                .map_or_else(Vec::new, |r| data.rows.iter().cloned().flatten().map(|k| r[k]).collect());
        }
        let u = crate::stats::mean_uncertainty::conservative(&speeds);
        let cycles = stretches
            .iter()
            .map(|(a, b)| {
                let t = self.prepared.time_s;
                let (first, end) = (t.partition_point(|t| t < a), t.partition_point(|t| t < b));
                if end > first { self.cycles[end - 1] - self.cycles[first] } else { 0.0 }
            })
            .sum();
        let rpm = u.map_or((speeds.first().copied().unwrap_or(f64::NAN), 0.0), |m| (m.mean, m.se));
        Some(Measured { regime, stretches, data, cycles, rpm })
    }
}

/// Steps among all idle cells, also those in stretches too short for a window.
fn find_steps(
    judged: &Judged<'_, '_>,
    grid: &Grid,
    cells: &[Cell],
    limit_kpa: f64,
) -> (Vec<Step>, Option<Idle>) {
    let loose = stretches(grid, cells, end(judged), (3.0, 0.0), |_| f64::INFINITY);
    let idle: Vec<(f64, f64)> =
        loose.windows.iter().filter(|w| w.regime == Regime::Idle).map(|w| (w.start_s, w.end_s)).collect();
    if idle.is_empty() {
        return (Vec::new(), None);
    }
    let data = judged.measure(&idle);
    let mut found = steps(&data.blocks, &data.live(), limit_kpa);
    for step in found.iter_mut().filter(|s| s.between_s.1 - s.between_s.0 > 2.5 * data.blocks.length_s) {
        let half = 0.5 * data.blocks.length_s;
        let gap = [(step.between_s.0 + half, step.between_s.1 - half)];
        let inside =
            series::blocks(judged.rows(&gap), &judged.prepared.cylinders, &data.fits, data.blocks.length_s);
        place(step, &inside, &data.live());
    }
    (found, Some((idle, data)))
}

fn end(judged: &Judged<'_, '_>) -> f64 {
    judged.prepared.time_s.last().copied().unwrap_or(0.0)
}

struct States {
    stretches: Stretches,
    left: Option<Measured>,
    as_found: Option<Measured>,
    raised: Option<Measured>,
}

/// Cuts the adjusting session out and measures what is left before, after and at raised speed.
fn split(
    judged: &Judged<'_, '_>,
    grid: &Grid,
    cells: &mut [Cell],
    (steps, idle): (&[Step], Option<Idle>),
    settings: &Settings,
) -> States {
    let mut cuts = Vec::new();
    if let (Some(first), Some(last)) = (steps.first(), steps.last()) {
        cuts.push(Cut {
            start_s: first.time_s - judged.block_s - 1.0,
            end_s: last.time_s + judged.block_s + settings.settle_s,
            reason: "adjusting",
        });
    }
    lay(grid, cells, &cuts);
    // The turn itself moves speed and pressure: there it is the reason, not a blip.
    for step in steps {
        let near = |t: f64| ((step.time_s + t) / grid.cell_s).max(0.0) as usize;
        let to = near(judged.block_s + settings.settle_s).min(cells.len());
        let from = near(-judged.block_s - 1.0).min(to);
        for cell in &mut cells[from..to] {
            if matches!(cell, Cell::Out("blip" | "drifting")) {
                *cell = Cell::Out("adjusting");
            }
        }
    }
    let least = (settings.window_s, settings.window_cycles);
    let strokes = judged.prepared.strokes;
    let mut found = stretches(grid, cells, end(judged), least, |rpm| cycle_hz(rpm, strokes));
    let of = |found: &Stretches, regime: Regime, keep: &dyn Fn(f64) -> bool| -> Vec<(f64, f64)> {
        found
            .windows
            .iter()
            .filter(|w| w.regime == regime && keep(w.start_s))
            .map(|w| (w.start_s, w.end_s))
            .collect()
    };
    let after = steps.last().map_or(f64::NEG_INFINITY, |s| s.time_s);
    one_level(grid, &mut found, after);
    let left = judged.state(Regime::Idle, of(&found, Regime::Idle, &|t| t > after), idle);
    let as_found = (!steps.is_empty())
        .then(|| judged.state(Regime::Idle, of(&found, Regime::Idle, &|t| t < after), None))
        .flatten();
    let raised = judged.state(Regime::Raised, of(&found, Regime::Raised, &|_| true), None);
    States { stretches: found, left, as_found, raised }
}

/// Idle windows that stand at another level than the longest one (a load switched on) are not pooled with it.
fn one_level(grid: &Grid, found: &mut Stretches, after: f64) {
    let level = |a: f64, b: f64| {
        let part = (a / grid.cell_s) as usize..((b / grid.cell_s) as usize).min(grid.len());
        (median(&finite(&grid.rpm[part.clone()])), median(&finite(&grid.group_kpa[part])))
    };
    let idle = |w: &crate::result::Window| w.regime == Regime::Idle && w.start_s > after;
    let longest = found
        .windows
        .iter()
        .filter(|w| idle(w))
        .max_by(|a, b| (a.end_s - a.start_s).total_cmp(&(b.end_s - b.start_s)))
        .map(|w| level(w.start_s, w.end_s));
    let Some((rpm, group)) = longest else { return };
    let near = |a: Option<f64>, b: Option<f64>, share: f64| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= share * b.abs(),
        _ => true,
    };
    let (same, other): (Vec<_>, Vec<_>) = std::mem::take(&mut found.windows).into_iter().partition(|w| {
        let (r, g) = level(w.start_s, w.end_s);
        !idle(w) || (near(r, rpm, 0.05) && near(g, group, 0.06))
    });
    found.windows = same;
    found.excluded.extend(other.into_iter().map(|w| crate::result::Excluded {
        start_s: w.start_s,
        end_s: w.end_s,
        reason: "load".to_owned(),
    }));
    found.excluded.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
}
