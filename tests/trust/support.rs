//! Logs made for a test, as text of a file or straight from the engine model, and what the review says of them.

use evenpull_core::Analysis;
use evenpull_core::machine::Machine;
use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::recording::Recording;
use evenpull_core::result::{CylinderResult, Excluded, Review};
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_model::{CsvStyle, Engine, HeaderStyle, Log, Logger, Run, Scenario, simulate};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A log that is written column by column.
#[derive(Clone)]
pub(super) struct Table {
    pub(super) time_s: Vec<f64>,
    columns: Vec<(String, usize, Vec<f64>)>,
}

impl Table {
    /// Rows at an even rate, the first at 0.
    pub(super) fn even(seconds: f64, hz: f64) -> Self {
        let rows = (seconds * hz).round() as usize;
        Self::at((0..rows).map(|k| k as f64 / hz).collect())
    }

    pub(super) fn at(time_s: Vec<f64>) -> Self {
        Self { time_s, columns: Vec::new() }
    }

    /// A column from a function of the time; NaN leaves the cell empty.
    pub(super) fn with(self, header: &str, decimals: usize, mut f: impl FnMut(f64) -> f64) -> Self {
        let values = self.time_s.iter().map(|t| f(*t)).collect();
        self.column(header, decimals, values)
    }

    pub(super) fn column(mut self, header: &str, decimals: usize, values: Vec<f64>) -> Self {
        self.columns.push((header.to_owned(), decimals, values));
        self
    }

    /// An idle speed column that wanders by a few rev/min.
    pub(super) fn idling(self, rpm: f64) -> Self {
        self.with("Engine speed [rpm]", 0, |t| rpm + 3.0 * (0.7 * t).sin())
    }

    /// Pressure columns `Cyl N absolute pressure [kPa]` around `levels`, each with noise of its own.
    pub(super) fn pressures(mut self, levels: &[f64], sd: f64, seed: u64) -> Self {
        let mut noise = Noise::new(seed);
        for (i, level) in levels.iter().enumerate() {
            let header = format!("Cyl {} absolute pressure [kPa]", i + 1);
            self = self.with(&header, 3, |_| level + sd * noise.normal());
        }
        self
    }

    /// The file.
    pub(super) fn text(&self) -> String {
        let mut out = String::from("Time [s]");
        for (header, _, _) in &self.columns {
            out.push(',');
            out.push_str(header);
        }
        out.push('\n');
        for (row, time) in self.time_s.iter().enumerate() {
            out.push_str(&format!("{time:.4}"));
            for (_, decimals, values) in &self.columns {
                out.push(',');
                if values[row].is_finite() {
                    out.push_str(&format!("{:.*}", decimals, values[row]));
                }
            }
            out.push('\n');
        }
        out
    }

    pub(super) fn review(&self) -> Review {
        self.review_for("")
    }

    /// Reviewed with a machine file.
    pub(super) fn review_for(&self, machine: &str) -> Review {
        review_text(&self.text(), machine)
    }
}

/// A machine file, read.
pub(super) fn machine(toml: &str) -> Machine {
    Machine::from_toml("m.toml", toml).unwrap_or_else(|error| panic!("{error}"))
}

pub(super) fn review_text(text: &str, toml: &str) -> Review {
    let machine = machine(toml);
    let options = ReadOptions { machine: Some(&machine), ..ReadOptions::default() };
    let recording =
        read_bytes("log.csv", text.as_bytes(), &options).unwrap_or_else(|error| panic!("{error}"));
    analyse(&recording, &machine).review
}

pub(super) fn analyse(recording: &Recording, machine: &Machine) -> Analysis {
    review(recording, machine, &Settings::default(), &ReviewNotes::default())
}

pub(super) fn judge(recording: &Recording, toml: &str) -> Review {
    analyse(recording, &machine(toml)).review
}

/// A run of a four with the plates given (1 = healthy).
pub(super) fn four(plates: [f64; 4], seconds: f64, seed: u64) -> Scenario {
    let mut scenario = Scenario::new(Engine::inline_four(), seconds, seed);
    for (i, plate) in plates.into_iter().enumerate() {
        scenario.cylinder(i + 1).plate = plate;
    }
    scenario
}

pub(super) fn run(scenario: &Scenario) -> Run {
    simulate(scenario).unwrap()
}

/// The run as a recording, through a file with absolute pressures to a hundredth of a kPa.
pub(super) fn record(run: &Run, logger: &Logger, seed: u64) -> Recording {
    recording(&run.log(logger, seed).unwrap())
}

pub(super) fn recording(log: &Log) -> Recording {
    let style = CsvStyle { header: HeaderStyle::Short, time_decimals: 4, ..CsvStyle::default() };
    read_bytes("model.csv", log.to_csv(&style).as_bytes(), &ReadOptions::default())
        .unwrap_or_else(|error| panic!("{error}"))
}

/// Rows of a log between two times.
pub(super) fn part(log: &Log, from_s: f64, to_s: f64) -> Log {
    let rows: Vec<usize> =
        (0..log.time_s.len()).filter(|&k| (from_s..to_s).contains(&log.time_s[k])).collect();
    let mut out = log.clone();
    out.time_s = rows.iter().map(|&k| log.time_s[k]).collect();
    for (column, whole) in out.columns.iter_mut().zip(&log.columns) {
        column.values = rows.iter().map(|&k| whole.values[k]).collect();
    }
    out
}

pub(super) fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    0.5 * (sorted[(sorted.len() - 1) / 2] + sorted[sorted.len() / 2])
}

pub(super) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

pub(super) fn sd(values: &[f64]) -> f64 {
    let m = mean(values);
    (values.iter().map(|v| (v - m).powi(2)).sum::<f64>() / (values.len() - 1) as f64).sqrt()
}

/// Highest minus lowest.
pub(super) fn range(values: &[f64]) -> f64 {
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    high - values.iter().copied().fold(f64::INFINITY, f64::min)
}

pub(super) fn codes(review: &Review) -> Vec<&str> {
    review.notices.iter().map(|n| n.code.as_str()).collect()
}

pub(super) fn has(review: &Review, code: &str) -> bool {
    review.notices.iter().any(|n| n.code == code)
}

pub(super) fn cylinder(review: &Review, number: u32) -> &CylinderResult {
    review.cylinders.iter().find(|c| c.cylinder == number).unwrap()
}

/// Value of a deviation.
pub(super) fn deviation(review: &Review, number: u32) -> f64 {
    cylinder(review, number).deviation_kpa.unwrap().value
}

/// Seconds of windows between two times.
pub(super) fn judged_s(review: &Review, from_s: f64, to_s: f64) -> f64 {
    review.windows.iter().map(|w| (w.end_s.min(to_s) - w.start_s.max(from_s)).max(0.0)).sum()
}

/// Exclusions with a reason.
pub(super) fn excluded<'a>(review: &'a Review, reason: &str) -> Vec<&'a Excluded> {
    review.excluded.iter().filter(|e| e.reason == reason).collect()
}

/// Error and U of every deviation, against true means.
pub(super) fn errors(review: &Review, truth_kpa: &[f64]) -> Vec<(f64, f64)> {
    let middle = median(truth_kpa);
    let pairs = review.cylinders.iter().zip(truth_kpa);
    pairs.map(|(c, t)| c.deviation_kpa.map(|d| (d.value - (t - middle), d.u)).unwrap()).collect()
}

/// Every deviation lies within 2 U (four standard uncertainties: a single draw must not miss it) of the truth. That 95 % lie
/// within U is what the coverage study counts.
pub(super) fn assert_true(name: &str, review: &Review, truth_kpa: &[f64]) {
    for (i, (error, u)) in errors(review, truth_kpa).into_iter().enumerate() {
        assert!(error.abs() <= 2.0 * u, "{name}, cylinder {}: error {error:+.4} with U {u:.4}", i + 1);
    }
}

/// Seeded noise.
pub(super) struct Noise(ChaCha8Rng);

impl Noise {
    pub(super) fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    pub(super) fn uniform(&mut self) -> f64 {
        self.0.random::<f64>()
    }

    /// Standard normal, Box and Muller.
    pub(super) fn normal(&mut self) -> f64 {
        let (a, b) = (1.0 - self.uniform(), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}
