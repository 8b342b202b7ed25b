//! Lessons: recordings with one thing in them, for an instructor who needs to know what it is.
//!
//! A [`Case`] is data: who records, how long, what is set, what a sound judgement finds of it and the trap. [`Case::lesson`]
//! puts a seed to it: which cylinder, how much, the noise. What is set is invented; nothing is taken from a real machine.

mod cases;
mod draft;

use crate::engine::{Engine, Fuelling, range};
use crate::error::ModelError;
use crate::recorder::csv::{CsvStyle, PressureUnit};
use crate::recorder::log::Log;
use crate::recorder::logger::Logger;
use crate::recorder::sensor::Sensor;
use crate::run::Run;
use crate::scenario::Scenario;
use crate::sim::simulate;

pub use cases::CASES;
use draft::Draft;

/// Who wrote the recording down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Recorder {
    /// Twenty rows a second behind a damped line.
    Damped,
    /// Two hundred rows a second, undamped, with the speed.
    Fast,
    /// Seven rows a second, undamped: each row catches the pulse at another place.
    Slow,
    /// A control unit's cycle means over a diagnostic link, polled in turn, in steps of 0.1 kPa.
    Link,
}

impl Recorder {
    /// All with their names.
    pub const NAMES: [(&'static str, Self); 4] =
        [("damped", Self::Damped), ("fast", Self::Fast), ("slow", Self::Slow), ("link", Self::Link)];

    /// By name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::NAMES.iter().find(|(n, _)| n.eq_ignore_ascii_case(name)).map(|(_, r)| *r)
    }

    /// What it is, for the key.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Damped => "damped line, 20 rows a second",
            Self::Fast => "undamped sensors, 200 rows a second",
            Self::Slow => "undamped sensors, 7 rows a second",
            Self::Link => {
                "cycle means of a control unit over a diagnostic link, 8 rows a second, polled in turn"
            }
        }
    }

    fn logger(self) -> Logger {
        match self {
            Self::Damped => Logger::damped(20.0, 0.1),
            Self::Fast => Logger::momentary(200.0),
            Self::Slow => Logger::momentary(7.0),
            Self::Link => Logger::diagnostic_link(8.0),
        }
    }
}

/// What must come out of a sound judgement of the case, in the words of the results.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Expected {
    /// Verdicts that are right.
    pub verdicts: &'static [&'static str],
    /// Notices that must be there.
    pub notices: &'static [&'static str],
    /// Notices that must not be there.
    pub absent: &'static [&'static str],
    /// Classes that are right for the cylinder at fault; empty where the case asks for none.
    pub classes: &'static [&'static str],
    /// Words that the evidence of the cylinder at fault must hold.
    pub evidence: &'static [&'static str],
    /// A screw is seen to be turned.
    pub turned: bool,
}

/// A ready case.
#[derive(Debug, Clone, Copy)]
pub struct Case {
    /// Its name.
    pub id: &'static str,
    /// What it teaches, in one line.
    pub teaches: &'static str,
    /// Cylinders that it needs; any number from 2 where `None`.
    pub cylinders: Option<usize>,
    /// Length, s.
    pub seconds: f64,
    /// Who records.
    pub recorder: Recorder,
    /// What is right.
    pub expected: Expected,
    /// Why the recording looks as it does.
    pub why: &'static str,
    /// The mistake that it invites.
    pub trap: &'static str,
    set: fn(&mut Draft),
}

/// What the instructor chose besides the case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Choice {
    /// Cylinders; the case's own number or four where `None`.
    pub cylinders: Option<usize>,
    /// Who records; as the case says where `None`.
    pub recorder: Option<Recorder>,
    /// Length, s; as the case says where `None`.
    pub seconds: Option<f64>,
    /// Everything random.
    pub seed: u64,
    /// Smaller faults, more noise.
    pub hard: bool,
    /// Unit of the pressures in the file.
    pub unit: PressureUnit,
}

impl Default for Choice {
    fn default() -> Self {
        Self { cylinders: None, recorder: None, seconds: None, seed: 1, hard: false, unit: PressureUnit::Kpa }
    }
}

/// A case with a seed: everything that makes the recording, and what is true of it.
#[derive(Debug, Clone)]
pub struct Lesson {
    /// Its case.
    pub case: &'static Case,
    /// Number of the case in [`CASES`], from 1: a name that gives nothing away.
    pub number: usize,
    /// Engine, faults, events.
    pub scenario: Scenario,
    /// Who records.
    pub recorder: Recorder,
    /// Smaller faults, more noise.
    pub hard: bool,
    /// Logger with its sensors.
    pub logger: Logger,
    /// Dialect.
    pub style: CsvStyle,
    /// Trouble codes that the workshop noted.
    pub codes: Vec<&'static str>,
    /// The cylinder at fault, from 1.
    pub at_fault: Option<usize>,
    /// What was set, a sentence each.
    pub set: Vec<String>,
    /// What the student is told besides the file.
    pub told: Vec<String>,
    /// What must come out.
    pub expected: Expected,
}

/// A case by its name, with its number from 1.
#[must_use]
pub fn case(id: &str) -> Option<(usize, &'static Case)> {
    (1..).zip(CASES).find(|(_, c)| c.id.eq_ignore_ascii_case(id))
}

/// Coolant of a warm engine, degrees C.
const WARM_C: f64 = 70.0;

/// The shortest and the longest lesson, s.
pub const SECONDS: (f64, f64) = (30.0, 300.0);

impl Case {
    /// Puts a seed and the instructor's choices to the case.
    ///
    /// # Errors
    /// [`ModelError::OutOfRange`] for a number of cylinders or a length that the case cannot have.
    pub fn lesson(&'static self, choice: &Choice) -> Result<Lesson, ModelError> {
        let cylinders = choice.cylinders.or(self.cylinders).unwrap_or(4);
        if let Some(needed) = self.cylinders {
            range("cylinders", cylinders as f64, needed as f64, needed as f64, "2 in this case")?;
        }
        range("cylinders", cylinders as f64, 2.0, 12.0, "2 to 12")?;
        let seconds = choice.seconds.unwrap_or(self.seconds);
        range("seconds", seconds, SECONDS.0, SECONDS.1, "30 to 300")?;
        let recorder = choice.recorder.unwrap_or(self.recorder);
        let number = (1..).zip(CASES).find(|(_, c)| c.id == self.id).map_or(0, |(n, _)| n);
        // The same seed of two cases is not the same engine.
        let seed = choice.seed.wrapping_mul(1_000).wrapping_add(number as u64);
        let mut draft = Draft::new(engine(cylinders), recorder.logger(), seconds, seed, choice.hard);
        (self.set)(&mut draft);
        let decimals = (0..6).find(|d| choice.unit.kpa() * 10f64.powi(-*d) <= 0.012).unwrap_or(2) as usize;
        Ok(Lesson {
            case: self,
            number,
            recorder,
            hard: choice.hard,
            style: CsvStyle::default().in_unit(choice.unit, decimals),
            expected: self.expected,
            at_fault: draft.at_fault,
            codes: draft.codes,
            set: draft.set,
            told: draft.told,
            scenario: draft.scenario,
            logger: draft.logger,
        })
    }
}

impl Lesson {
    /// Runs the engine and writes the recording as text.
    ///
    /// # Errors
    /// [`ModelError`] for a scenario without meaning; none of the cases is one.
    pub fn record(&self) -> Result<(Run, Log, String), ModelError> {
        let run = simulate(&self.scenario)?;
        let log = run.log(&self.logger, self.scenario.seed)?;
        let text = log.to_csv(&self.style);
        Ok((run, log, text))
    }

    /// The machine file of the engine: cylinders, firing angles, what the columns hold.
    #[must_use]
    pub fn machine_file(&self) -> String {
        let engine = &self.scenario.engine;
        let (n, unit) = (engine.cylinders(), self.style.unit.symbol());
        let firing: Vec<String> = engine.firing_deg.iter().map(f64::to_string).collect();
        let fuelling = match engine.fuelling {
            Fuelling::Shared => "shared",
            Fuelling::Individual => "individual",
        };
        let columns: String = (1..=n)
            .map(|c| {
                format!("\"Cyl {c} pressure [{unit}]\" = {{ quantity = \"manifold_pressure\", cylinder = {c}, unit = \"{unit}\", kind = \"absolute\" }}\n")
            })
            .collect();
        format!(
            "# Engine of lesson {:02}, invented\ncylinders = {n}\nwarm_c = {WARM_C}\nfiring_deg = [{}]\nfuelling = \"{fuelling}\"\n\n[columns]\n{columns}",
            self.number,
            firing.join(", ")
        )
    }
}

/// An engine with so many cylinders, one injected quantity for all.
fn engine(cylinders: usize) -> Engine {
    let base = match cylinders {
        2 => Engine::twin_270(),
        3 => Engine::triple(),
        4 => Engine::inline_four(),
        n => Engine::even(n),
    };
    Engine { fuelling: Fuelling::Shared, idle_kpa: 41.0, ..base }
}

/// One sensor for each cylinder, with a little noise.
fn sensors(cylinders: usize, base: &Sensor, noise: f64) -> Vec<Sensor> {
    vec![Sensor { noise_kpa: base.noise_kpa * noise, ..base.clone() }; cylinders]
}
