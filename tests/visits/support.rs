//! The workshop: machines of the engine model with a history, their recordings, and the program run on them.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use evenpull_core::machine::Machine;
use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_core::visits::{Visit, VisitFacts, settings_hash, visit_from_review};
use evenpull_model::{CsvStyle, Engine, Logger, Scenario, Sensor, Truth, simulate};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Length of a recording, s.
const SECONDS: f64 = 40.0;

/// One visit of a machine: what stands before the table, and how the engine was.
#[derive(Debug, Clone)]
pub(super) struct Call {
    /// Machine id; empty = the recording does not say.
    pub(super) id: String,
    pub(super) date: String,
    pub(super) hours: f64,
    /// Plate areas over the healthy one.
    pub(super) plates: Vec<f64>,
    /// Sensor errors, kPa, one per column.
    pub(super) biases: Vec<f64>,
    pub(super) seed: u64,
}

impl Call {
    /// Visit `n` (from 0) of a healthy machine: every 90 days and 60 hours, plates that scatter by 0.2 % (1 s.d.) from
    /// visit to visit, which is about 0.06 kPa.
    pub(super) fn new(id: &str, cylinders: usize, n: usize, seed: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let plates = (0..cylinders).map(|_| 1.0 + 0.002 * normal(&mut random)).collect();
        let day = 20_000.0 + 90.0 * n as f64;
        Self {
            id: id.to_owned(),
            date: evenpull_core::visits::calendar::date_of(day).expect("a date"),
            hours: 100.0 + 60.0 * n as f64,
            plates,
            biases: vec![0.0; cylinders],
            seed,
        }
    }

    /// The plate of a cylinder (from 1) changed by a factor.
    pub(super) fn plate(mut self, cylinder: usize, factor: f64) -> Self {
        self.plates[cylinder - 1] *= factor;
        self
    }

    fn scenario(&self) -> Scenario {
        let mut random = ChaCha8Rng::seed_from_u64(self.seed ^ 0xba20);
        let base = if self.plates.len() == 3 { Engine::triple() } else { Engine::inline_four() };
        let engine = Engine {
            idle_rpm: 1_050.0 + 15.0 * normal(&mut random),
            idle_kpa: 41.0,
            barometer_kpa: 101.3 + 0.8 * normal(&mut random),
            ..base
        };
        let mut scenario = Scenario::new(engine, SECONDS, self.seed);
        for (i, plate) in self.plates.iter().enumerate() {
            scenario.cylinder(i + 1).plate = *plate;
        }
        scenario
    }

    /// The recording as text and what was true in it.
    pub(super) fn record(&self) -> (String, Truth) {
        let scenario = self.scenario();
        let run = simulate(&scenario).expect("the engine runs");
        let sensors = self.biases.iter().map(|&bias_kpa| Sensor { bias_kpa, ..Sensor::default() }).collect();
        let log = run.log(&Logger::damped(20.0, 0.1).with_sensors(sensors), self.seed).expect("a log");
        let mut preamble = vec![format!("date: {}", self.date), format!("hours: {}", self.hours)];
        if !self.id.is_empty() {
            preamble.insert(0, format!("machine: {}", self.id));
        }
        let text = log.to_csv(&CsvStyle { preamble, ..CsvStyle::default() });
        (text, run.truth(0.0, SECONDS).expect("cycles"))
    }

    /// Recorded, read, reviewed, as a visit.
    pub(super) fn visit(&self) -> (Visit, Truth) {
        let (text, truth) = self.record();
        let recording = read_bytes("log.csv", text.as_bytes(), &ReadOptions::default()).expect("it is read");
        let (machine, settings) = (Machine::default(), Settings::default());
        let analysis = review(&recording, &machine, &settings, &ReviewNotes::default());
        let facts = VisitFacts {
            date: recording.preamble.date.clone(),
            hours: recording.preamble.hours,
            ..VisitFacts::default()
        };
        let id = recording.preamble.machine_id.clone().unwrap_or_default();
        let hash = settings_hash(&settings, &machine);
        (visit_from_review(&analysis.review, &id, facts, &hash), truth)
    }
}

/// Standard normal by Box and Muller.
pub(super) fn normal(random: &mut ChaCha8Rng) -> f64 {
    let (a, b): (f64, f64) = (random.random(), random.random());
    (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

/// A folder that goes when the test ends, and the program run in it.
pub(super) struct Desk(tempfile::TempDir);

/// What a run left.
pub(super) struct Left {
    pub(super) code: i32,
    pub(super) out: String,
    pub(super) err: String,
}

impl Desk {
    pub(super) fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder for the test"))
    }

    pub(super) fn path(&self, name: impl AsRef<Path>) -> PathBuf {
        self.0.path().join(name)
    }

    pub(super) fn file(&self, name: impl AsRef<Path>, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder for the test");
        std::fs::write(&path, content).expect("a file for the test");
        path
    }

    pub(super) fn run<S: AsRef<OsStr>>(&self, arguments: &[S]) -> Left {
        let mut command = Command::new(env!("CARGO_BIN_EXE_evenpull"));
        let output = command.current_dir(self.0.path()).stdin(Stdio::null()).args(arguments).output();
        let output = output.expect("the program starts");
        Left {
            code: output.status.code().expect("the program was not killed"),
            out: String::from_utf8(output.stdout).expect("UTF-8"),
            err: String::from_utf8(output.stderr).expect("UTF-8"),
        }
    }
}

/// Checks a result against a schema of the core; names what breaks it.
pub(super) fn valid(schema: &str, instance: &serde_json::Value) {
    let schema: serde_json::Value = serde_json::from_str(schema).expect("the schema is JSON");
    let validator = jsonschema::draft202012::new(&schema).expect("a sound schema");
    let bad: Vec<String> =
        validator.iter_errors(instance).map(|e| format!("{}: {e}", e.instance_path())).collect();
    assert!(bad.is_empty(), "{bad:#?}");
}
