//! Each fault alone, on several engines, through several loggers: what class the review gives and what the truth allows.

use evenpull_core::machine::Machine;
use evenpull_core::result::{Class, Fuelling as Metered, Review};
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_model::{Engine, Fuelling, Logger, Run, Scenario, Strokes, simulate};

use super::model_log;

/// The cylinder that is at fault.
pub(crate) const AT_FAULT: usize = 2;
pub(crate) const SECONDS: f64 = 75.0;

/// What is wrong with the cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Fault {
    Healthy,
    /// Plate area, share of the healthy one more or less.
    Plate(f64),
    /// Leak behind the plate, share of the healthy inlet area.
    Leak(f64),
    /// Intake opens earlier and closes later, degrees each.
    LateValve(f64),
    /// Leak past the intake valve, mm2.
    ValveLeak(f64),
    /// Released heat, share.
    WeakBurn(f64),
    /// Runner volume, share, which the machine file does not know.
    Runner(f64),
    /// The same, and the machine file knows.
    KnownRunner(f64),
}

impl Fault {
    /// The same fault, its size times a factor: for tables on sizes that no rule was chosen by.
    #[allow(dead_code)]
    pub(crate) fn scaled(self, by: f64) -> Self {
        match self {
            Self::Healthy => self,
            Self::Plate(x) => Self::Plate(by * x),
            Self::Leak(x) => Self::Leak(by * x),
            Self::LateValve(x) => Self::LateValve(by * x),
            Self::ValveLeak(x) => Self::ValveLeak(by * x),
            Self::WeakBurn(x) => Self::WeakBurn(1.0 - by * (1.0 - x)),
            Self::Runner(x) => Self::Runner(1.0 + by * (x - 1.0)),
            Self::KnownRunner(x) => Self::KnownRunner(1.0 + by * (x - 1.0)),
        }
    }
}

pub(crate) fn faults() -> Vec<(&'static str, Fault)> {
    vec![
        ("nothing", Fault::Healthy),
        ("plate 7 % closed", Fault::Plate(-0.07)),
        ("plate 15 % closed", Fault::Plate(-0.15)),
        ("plate 7 % open", Fault::Plate(0.07)),
        ("plate 15 % open", Fault::Plate(0.15)),
        ("leak of 7 %", Fault::Leak(0.07)),
        ("leak of 15 %", Fault::Leak(0.15)),
        ("intake 20 deg early and late", Fault::LateValve(20.0)),
        ("intake 35 deg early and late", Fault::LateValve(35.0)),
        ("intake valve leaks 1 mm2", Fault::ValveLeak(1.0)),
        ("intake valve leaks 2 mm2", Fault::ValveLeak(2.0)),
        ("weak burn, 85 %", Fault::WeakBurn(0.85)),
        ("weak burn, 70 %", Fault::WeakBurn(0.70)),
        ("runner 6 % larger, not filed", Fault::Runner(1.06)),
        ("runner 15 % larger, not filed", Fault::Runner(1.15)),
        ("runner 6 % larger, filed", Fault::KnownRunner(1.06)),
        ("runner 15 % larger, filed", Fault::KnownRunner(1.15)),
    ]
}

pub(crate) fn layouts() -> Vec<(&'static str, Engine)> {
    let shared = |e: Engine| Engine { fuelling: Fuelling::Shared, ..e };
    vec![
        ("four", Engine::inline_four()),
        ("triple", shared(Engine::triple())),
        ("twin 270", shared(Engine::twin_270())),
        ("six", Engine::even(6)),
        ("eight", Engine::eight()),
        ("two-stroke triple", Engine::two_stroke(3)),
    ]
}

pub(crate) fn loggers() -> Vec<(&'static str, Logger)> {
    vec![
        ("card 500 Hz", Logger { momentary_speed: true, rpm_step: 0.1, ..Logger::momentary(500.0) }),
        ("card 50 Hz, lag 6 ms", Logger::damped(50.0, 0.006)),
        ("link 8 rows/s", Logger::diagnostic_link(8.0)),
    ]
}

pub(crate) fn run(engine: &Engine, fault: Fault, seed: u64) -> Run {
    let mut s = Scenario::new(engine.clone(), SECONDS, seed);
    let mut leak = 0.0;
    let c = s.cylinder(AT_FAULT);
    match fault {
        Fault::Healthy => {}
        Fault::Plate(more) => c.plate = 1.0 + more,
        Fault::Leak(share) => leak = share,
        Fault::LateValve(deg) => {
            c.intake_open_shift_deg = -deg;
            c.intake_close_shift_deg = deg;
        }
        Fault::ValveLeak(mm2) => c.valve_leak_mm2 = mm2,
        Fault::WeakBurn(heat) => c.burn = heat,
        Fault::Runner(volume) | Fault::KnownRunner(volume) => c.runner = volume,
    }
    if leak > 0.0 {
        let healthy = Scenario::new(engine.clone(), 0.2, seed);
        s.cylinder(AT_FAULT).leak_mm2 = leak * simulate(&healthy).unwrap().healthy.inlet_mm2;
    }
    simulate(&s).unwrap()
}

pub(crate) fn machine(engine: &Engine, run: &Run, fault: Fault) -> Machine {
    Machine {
        strokes: if engine.strokes == Strokes::Two { 2 } else { 4 },
        fuelling: if engine.fuelling == Fuelling::Shared { Metered::Shared } else { Metered::Individual },
        firing_deg: Some(engine.firing_deg.clone()),
        pressure_is: evenpull_core::machine::PressureIs::Mean,
        runner_cc: matches!(fault, Fault::KnownRunner(_)).then(|| run.runner_cc.clone()),
        barometer_kpa: Some(engine.barometer_kpa),
        ..Machine::default()
    }
}

pub(crate) fn judge(engine: &Engine, run: &Run, fault: Fault, logger: &Logger, seed: u64) -> Review {
    let log = run.log(logger, seed).unwrap();
    let recording = model_log::recording("confusion", &log, 0.01);
    review(&recording, &machine(engine, run, fault), &Settings::default(), &ReviewNotes::default()).review
}

/// How a recording was answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Answer {
    /// Every class is what the truth asks for.
    Right,
    /// More or less air is inferred from pressure alone and the evidence says that breathing cannot be excluded.
    Both,
    /// At least one cylinder is left undecided, none is wrong.
    Undecided,
    /// At least one class contradicts the truth.
    Wrong,
}

impl Answer {
    pub(crate) fn letter(self) -> char {
        match self {
            Self::Right => '+',
            Self::Both => 'b',
            Self::Undecided => 'u',
            Self::Wrong => 'X',
        }
    }
}

/// Truth of a run by the limit of 1.3 kPa: which cylinders are off, by the rule of both centres.
fn off(run: &Run) -> Vec<f64> {
    let means = run.truth(5.0, SECONDS).unwrap().mean_kpa;
    let n = means.len() as f64;
    let mean = means.iter().sum::<f64>() / n;
    let mut sorted = means.clone();
    sorted.sort_by(f64::total_cmp);
    let middle = 0.5 * (sorted[(sorted.len() - 1) / 2] + sorted[sorted.len() / 2]);
    if sorted[sorted.len() - 1] - sorted[0] <= 1.3 {
        return vec![0.0; means.len()];
    }
    means
        .iter()
        .map(|m| {
            let (a, b) = (m - middle, m - mean);
            if a.min(b) > 0.65 {
                1.0
            } else if a.max(b) < -0.65 {
                -1.0
            } else {
                0.0
            }
        })
        .collect()
}

/// Answer of a review. `shared`: one injected quantity for all.
pub(crate) fn answer(run: &Run, fault: Fault, review: &Review, shared: bool) -> Answer {
    let off = off(run);
    // The cylinder's air and area are the others': more or less air would be a false class.
    let breathing =
        matches!(fault, Fault::LateValve(_) | Fault::ValveLeak(_) | Fault::Runner(_) | Fault::KnownRunner(_));
    let twin = review.cylinders.len() == 2;
    let mut worst = Answer::Right;
    for (i, c) in review.cylinders.iter().enumerate() {
        let side = off[i];
        let refill_seen = c.refill_ratio.is_some();
        let text = c.evidence.join(" ");
        let told = match (side, shared) {
            _ if c.class == Class::Undecided => Answer::Undecided,
            (0.0, _) if matches!(fault, Fault::Runner(_)) && (twin || i + 1 == AT_FAULT) && refill_seen => {
                // Nothing says why its refill is off: conflicting, which imbalanced is the class for.
                allow(matches!(c.class, Class::Imbalanced | Class::Even))
            }
            (0.0, _)
                if matches!(fault, Fault::Plate(_) | Fault::Leak(_))
                    && (twin || i + 1 == AT_FAULT)
                    && refill_seen =>
            {
                // Inside the limit by pressure and truly another area: the refill rate may say so.
                allow(matches!(c.class, Class::Imbalanced | Class::Even))
            }
            (0.0, _) => allow(c.class == Class::Even),
            (_, false) => allow(c.class == Class::Imbalanced),
            (_, true) if breathing => match (c.class, refill_seen) {
                (Class::Imbalanced, _) => Answer::Right,
                (Class::Lean | Class::Rich, false) if text.contains("breathing fault cannot be excluded") => {
                    Answer::Both
                }
                _ => Answer::Wrong,
            },
            (s, true) => allow(c.class == if s > 0.0 { Class::Lean } else { Class::Rich }),
        };
        worst = match (worst, told) {
            (Answer::Wrong, _) | (_, Answer::Wrong) => Answer::Wrong,
            (Answer::Undecided, _) | (_, Answer::Undecided) => Answer::Undecided,
            (Answer::Both, _) | (_, Answer::Both) => Answer::Both,
            _ => Answer::Right,
        };
    }
    worst
}

fn allow(right: bool) -> Answer {
    if right { Answer::Right } else { Answer::Wrong }
}

/// The naive rule: departure from the mean of all against half the limit, more is lean, less is rich.
pub(crate) fn naive_is_wrong(run: &Run, fault: Fault) -> bool {
    let means = run.truth(5.0, SECONDS).unwrap().mean_kpa;
    let mean = means.iter().sum::<f64>() / means.len() as f64;
    let off = off(run);
    let breathing =
        matches!(fault, Fault::LateValve(_) | Fault::ValveLeak(_) | Fault::Runner(_) | Fault::KnownRunner(_));
    means.iter().zip(off).any(|(m, side)| {
        let said = if m - mean > 0.65 {
            1.0
        } else if m - mean < -0.65 {
            -1.0
        } else {
            0.0
        };
        said != side || (breathing && said != 0.0)
    })
}
