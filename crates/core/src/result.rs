//! The result of one review, field by field as it is written to disk (`evenpull.review/1`).
//!
//! A quantity that cannot be had is `None` (JSON `null`), never 0, NaN or a guess. Times are seconds from the
//! recording's first sample, cylinders count from 1. [`Review`] is the contract for scripts; [`crate::Analysis`]
//! holds it together with the series that figures draw.

mod made_with;
mod null;
mod words;

use serde::{Deserialize, Serialize};

use crate::notice::Notice;
use crate::recording::{Format, PressureKind, Quantity, TroubleCode};

pub use made_with::{MadeWith, SettingValue};
pub use words::{
    Basis, Class, Fuelling, FurtherTurning, GroupReference, Reference, Regime, Signal, Undecided, Verdict,
};

/// A value with its expanded uncertainty (coverage factor 2, JCGM 100).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// Best estimate.
    pub value: f64,
    /// Expanded uncertainty, k = 2.
    pub u: f64,
}

/// Origin of the recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SourceInfo {
    /// The file's own name.
    pub name: String,
    /// SHA-256 of its bytes, hex.
    pub sha256: String,
    /// Container format.
    pub format: Format,
    /// Rows used.
    pub rows: usize,
    /// Rows skipped as damaged.
    pub rows_skipped: usize,
    /// Length, s.
    pub duration_s: f64,
    /// Median row rate, Hz.
    pub sample_rate_hz: Option<f64>,
}

/// The machine as the review took it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MachineInfo {
    /// Machine id.
    pub id: Option<String>,
    /// Number of cylinders.
    pub cylinders: u32,
    /// Strokes per cycle, 2 or 4.
    pub strokes: u8,
    /// Reference for deviations.
    pub reference: Reference,
    /// Largest allowed spread, kPa.
    pub limit_kpa: f64,
    /// `machine-file` or `default`.
    pub limit_source: String,
    /// How fuel is metered.
    pub fuelling: Fuelling,
}

/// One column as understood.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChannelInfo {
    /// Header in the file.
    pub header: String,
    /// Quantity.
    pub quantity: Quantity,
    /// Cylinder.
    pub cylinder: Option<u32>,
    /// Unit in the file.
    pub unit: String,
    /// For pressures, what it is measured against.
    pub pressure_kind: Option<PressureKind>,
    /// Smallest step, base unit.
    pub resolution: Option<f64>,
    /// Why it was understood so.
    pub why: String,
}

/// One part of a good recording, found or missing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RecordedPart {
    /// `engine-off`, `warm`, `idle`, `after-blip` or `raised`.
    pub part: String,
    /// Whether it was found.
    pub found: bool,
    /// How long.
    pub seconds: f64,
    /// Why it was taken as found or missing.
    pub why: String,
}

/// A stretch fit to judge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Window {
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
    /// Mean speed, rev/min; NaN (JSON `null`) where no speed was logged.
    #[serde(with = "null::number")]
    pub rpm: f64,
    /// Idle or raised.
    pub regime: Regime,
}

/// A stretch not judged and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Excluded {
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
    /// `engine-off`, `starting`, `cold`, `warming`, `speed`, `blip`, `adjusting`, `gap`, `sensor`, `drifting` or `too-short`.
    pub reason: String,
}

/// The pulse as the sampling carries it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PulseInfo {
    /// Pulses a second of one cylinder.
    pub rate_hz: f64,
    /// Fresh samples a cycle.
    pub samples_per_cycle: f64,
    /// How the pulse shows.
    pub signal: Signal,
    /// What the crank phase rests on: `mark`, `pulses` (speed, held on the pulses) or `speed`.
    #[serde(default)]
    pub phase_from: String,
    /// Angle of each cylinder after the first, degrees of the engine cycle; `None` where the pulses are not held.
    #[serde(default)]
    pub firing_deg: Option<Vec<f64>>,
    /// `machine-file` where the pulses sit at its angles, else `inferred` from them.
    #[serde(default)]
    pub firing_from: Option<String>,
    /// Averaged pulse of each cylinder that has one.
    #[serde(default)]
    pub cylinders: Vec<PulseCylinder>,
}

/// Figures of one cylinder's averaged pulse.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PulseCylinder {
    /// Cylinder.
    pub cylinder: u32,
    /// Cycles averaged.
    pub cycles: u64,
    /// Cycles left out because readings are missing.
    pub rejected_incomplete: u64,
    /// Cycles left out because their mean or an extreme lies far from the others'.
    pub rejected_odd: u64,
    /// Cycle-to-cycle variation of the mean absolute pressure, per cent; `None` under 20 readings a cycle.
    pub variation_pct: Option<f64>,
    /// Lowest point of the mean, kPa absolute.
    pub dip_kpa: f64,
    /// Its phase, degrees after the mark, else after the first cylinder's own dip.
    pub dip_deg: f64,
    /// Highest point of the mean, kPa absolute.
    pub peak_kpa: f64,
    /// Its phase, degrees.
    pub peak_deg: f64,
    /// Slope of the straight part, kPa/s.
    pub refill_kpa_per_s: Option<f64>,
    /// Why there is no refill rate.
    pub refill_refused: Option<String>,
    /// Rise of the crank's speed in this cylinder's expansion less the median of all, rev/min.
    pub speed_rise_rpm: Option<Measured>,
}

/// One cylinder in one state.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StateCylinder {
    /// Cylinder.
    pub cylinder: u32,
    /// Time mean over whole cycles, kPa absolute.
    pub pressure_kpa: Option<Measured>,
    /// Against the reference, kPa.
    pub deviation_kpa: Option<Measured>,
}

/// One steady state.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct State {
    /// Idle or raised.
    pub regime: Regime,
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
    /// Seconds used.
    pub seconds: f64,
    /// Engine cycles used.
    pub cycles: u64,
    /// Mean speed; NaN (JSON `null`) where no speed was logged.
    #[serde(with = "null::measured")]
    pub rpm: Measured,
    /// Cylinders.
    pub cylinders: Vec<StateCylinder>,
    /// Highest minus lowest mean, kPa.
    pub spread_kpa: Option<Measured>,
    /// The spread against its limit.
    pub verdict: Verdict,
}

/// One cylinder, judged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CylinderResult {
    /// Cylinder.
    pub cylinder: u32,
    /// Time mean over whole cycles, kPa absolute.
    pub pressure_kpa: Option<Measured>,
    /// Sensor bias taken out, kPa (reading minus truth at engine off).
    pub bias_removed_kpa: Option<f64>,
    /// Against the reference, kPa.
    pub deviation_kpa: Option<Measured>,
    /// Drift of the deviation, kPa a minute.
    pub drift_kpa_per_min: Option<Measured>,
    /// Independent samples that the mean is worth.
    pub effective_samples: Option<f64>,
    /// Refill rate against the median cylinder.
    pub refill_ratio: Option<Measured>,
    /// Air per cycle against the median cylinder.
    pub air_ratio: Option<Measured>,
    /// Measured lambda.
    pub lambda: Option<Measured>,
    /// Class.
    pub class: Class,
    /// What it rests on.
    pub basis: Basis,
    /// Plain sentences with numbers.
    pub evidence: Vec<String>,
}

impl CylinderResult {
    /// Whether its refill rate says that about as much air passes its plate as the others', while its pressure is off: then
    /// neither the plate nor a leak behind it is at fault. False where the ratio is missing or too uncertain to say so.
    #[must_use]
    pub fn same_air(&self) -> bool {
        match (self.refill_ratio, self.deviation_kpa, self.pressure_kpa) {
            (Some(r), Some(d), Some(p)) => same_air(r, d.value, p.value),
            _ => false,
        }
    }
}

/// Whether a refill ratio, with its expanded uncertainty, stays under half of what a plate or leak with that deviation of
/// pressure would ask for.
pub(crate) fn same_air(ratio: Measured, deviation_kpa: f64, pressure_kpa: f64) -> bool {
    let asked = deviation_kpa / (crate::settings::Settings::default().pressure_per_area * pressure_kpa);
    let shown = (ratio.value - 1.0) * asked.signum();
    asked.is_finite() && asked != 0.0 && shown.abs() + ratio.u < 0.5 * asked.abs()
}

/// A screw turned while recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Adjustment {
    /// When, s.
    pub time_s: f64,
    /// Which cylinder.
    pub cylinder: u32,
    /// By how much its pressure moved against the others, kPa.
    pub step_kpa: Measured,
}

/// The whole result of one recording, schema `evenpull.review/1`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Review {
    /// `evenpull.review/1`.
    pub schema: String,
    /// Version of the program.
    pub version: String,
    /// Origin.
    pub source: SourceInfo,
    /// What was said beside the recording; `None` in results of versions that did not write it.
    #[serde(default)]
    pub made_with: Option<MadeWith>,
    /// Machine.
    pub machine: MachineInfo,
    /// Columns.
    pub channels: Vec<ChannelInfo>,
    /// Remarks.
    pub notices: Vec<Notice>,
    /// Parts of a good recording.
    pub recorded: Vec<RecordedPart>,
    /// Trouble codes.
    pub trouble_codes: Vec<TroubleCode>,
    /// When codes were cleared, s.
    pub codes_cleared_s: Vec<f64>,
    /// Stretches judged.
    pub windows: Vec<Window>,
    /// Stretches not judged.
    pub excluded: Vec<Excluded>,
    /// Barometer, kPa.
    pub barometer_kpa: Option<f64>,
    /// `channel`, `engine-off`, `machine-file` or `altitude`.
    pub barometer_source: Option<String>,
    /// The pulse.
    pub pulse: Option<PulseInfo>,
    /// One state per regime found.
    pub regimes: Vec<State>,
    /// First steady idle, where the recording holds adjustments.
    pub as_found: Option<State>,
    /// Cylinders as left.
    pub cylinders: Vec<CylinderResult>,
    /// Highest minus lowest mean, kPa.
    pub spread_kpa: Option<Measured>,
    /// Movement that all cylinders share, kPa (standard deviation).
    pub common_mode_kpa: Option<f64>,
    /// Movement of the cylinders against each other, kPa (rms).
    pub differential_kpa: Option<f64>,
    /// The spread against its limit at idle.
    pub verdict: Verdict,
    /// What dominates an undecided verdict.
    pub undecided_because: Option<Undecided>,
    /// Seconds of idle that would decide, where scatter dominates.
    pub seconds_to_decide: Option<f64>,
    /// Screws turned while recording.
    pub adjustments: Vec<Adjustment>,
    /// Whether turning further makes sense.
    pub further_turning: Option<FurtherTurning>,
}

/// Name of the schema of [`Review`].
pub const REVIEW_SCHEMA: &str = "evenpull.review/1";
