//! The result of comparing visits, field by field as it is written to disk (`evenpull.compare/1`).
//!
//! A quantity that cannot be had is `None` (JSON `null`). Deviations are against the median of the other cylinders
//! that are not themselves found to have changed or to drift, as far as there are any.

use serde::{Deserialize, Serialize};

use super::swap::SwapResult;
use crate::result::{Class, Measured, Verdict};

/// Name of the schema of [`Comparison`].
pub const COMPARE_SCHEMA: &str = "evenpull.compare/1";

/// One cylinder at one visit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ComparedCylinder {
    /// Cylinder, from 1.
    pub cylinder: u32,
    /// Against the median of the others, at the machine's usual idle pressure, kPa.
    pub deviation_kpa: Option<Measured>,
    /// As the review of that visit had it, against the machine's reference, kPa.
    pub reviewed_kpa: Option<Measured>,
    /// Class.
    pub class: Class,
}

/// One visit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ComparedVisit {
    /// Visit id.
    pub visit: String,
    /// The recording's own name.
    pub source: String,
    /// Date.
    pub date: Option<String>,
    /// Operating hours.
    pub hours: Option<f64>,
    /// Distance, km.
    pub distance_km: Option<f64>,
    /// Barometer, kPa.
    pub barometer_kpa: Option<f64>,
    /// Idle speed, rev/min.
    pub rpm: Option<Measured>,
    /// The spread against its limit at that visit.
    pub verdict: Verdict,
    /// Highest minus lowest mean, kPa.
    pub spread_kpa: Option<Measured>,
    /// What was noted and done.
    pub note: Option<String>,
    /// Work done at the visit.
    pub work: Option<String>,
    /// Whether the figures of this visit were judged; idle speeds too far from the others are shown and not judged.
    pub judged: bool,
    /// Factor that took the deviations to the machine's usual idle pressure.
    pub scale: f64,
    /// Cylinders.
    pub cylinders: Vec<ComparedCylinder>,
}

/// A cylinder that moved against the others between two visits, by more than visits differ with nothing done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Change {
    /// Dates of the two visits.
    pub between: [Option<String>; 2],
    /// Ids of the two visits.
    pub visits: [String; 2],
    /// Cylinder.
    pub cylinder: u32,
    /// Later minus earlier deviation, kPa.
    pub step_kpa: Measured,
    /// The visits cannot tell which of two cylinders moved.
    pub either: bool,
}

/// Theil-Sen slope with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Slope {
    /// Median slope.
    pub value: f64,
    /// Lower end, 95 %.
    pub low: f64,
    /// Upper end, 95 %.
    pub high: f64,
}

/// Trend of one cylinder since its last change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Trend {
    /// Cylinder.
    pub cylinder: u32,
    /// Date of the first visit after the last change.
    pub since: Option<String>,
    /// Visits since then with a figure.
    pub visits: usize,
    /// `100 h`, `1000 km` or `year`.
    pub per: String,
    /// Slope, kPa per `per`; `None` with fewer than five visits or where the visits set no bound.
    pub slope_kpa: Option<Slope>,
    /// Two-sided p of Mann-Kendall, exact up to ten visits without ties.
    pub p: Option<f64>,
    /// Trend shown.
    pub significant: bool,
    /// Why not, in plain words.
    pub why: Option<String>,
    /// The visits cannot tell which of two cylinders drifts.
    pub either: bool,
    /// The line at the first and the last visit since the last change, kPa: the slope through the medians of place and
    /// deviation (Conover); `None` without a slope.
    pub ends_kpa: Option<[f64; 2]>,
}

/// A place on the axis of a forecast: a number of hours or km, or a date.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Place {
    /// Hours or km.
    Number(f64),
    /// `YYYY-MM-DD`.
    Date(String),
}

/// When the spread reaches its limit if one cylinder goes on as it did.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Forecast {
    /// Cylinder that drifts.
    pub cylinder: u32,
    /// `hours`, `km` or `date`.
    pub unit: String,
    /// Best estimate.
    pub at: Place,
    /// Earliest, by the steeper end of the slope's interval.
    pub low: Option<Place>,
    /// Latest; `None` if the flatter end never gets there.
    pub high: Option<Place>,
}

/// How far two visits differ with nothing done.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Repeatability {
    /// Standard deviation of the change of a deviation between two visits, kPa.
    pub value: f64,
    /// Where it comes from.
    pub source: RepeatabilitySource,
    /// Degrees of freedom; `None` for the default.
    pub degrees_of_freedom: Option<f64>,
}

/// Origin of the repeatability.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RepeatabilitySource {
    /// Recordings of the same day.
    Repeats,
    /// The settings.
    Default,
}

/// One cylinder between the last two visits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LatestCylinder {
    /// Cylinder.
    pub cylinder: u32,
    /// Later minus earlier deviation, kPa.
    pub change_kpa: Option<Measured>,
    /// The change is larger than its uncertainty.
    pub significant: bool,
    /// Class then and now.
    pub class: [Class; 2],
}

/// The last two visits side by side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Latest {
    /// Ids of the two visits.
    pub visits: [String; 2],
    /// Verdict then and now.
    pub verdict: [Verdict; 2],
    /// Later minus earlier spread, kPa.
    pub spread_change_kpa: Option<Measured>,
    /// Cylinders.
    pub cylinders: Vec<LatestCylinder>,
}

/// A condition that was not alike; named, not judged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Unlike {
    /// `idle-speed`, `barometer`, `limit`, `reference`, `settings`, `signal` or `cylinders`.
    pub what: String,
    /// The finding with its figures.
    pub text: String,
}

/// Control limits of one cylinder's deviation since its last change (individuals and moving range).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ControlLimits {
    /// Cylinder.
    pub cylinder: u32,
    /// Baseline visits: all since the last change but the latest.
    pub visits: usize,
    /// Centre line, kPa.
    pub centre_kpa: f64,
    /// Lower limit, kPa.
    pub low_kpa: f64,
    /// Upper limit, kPa.
    pub high_kpa: f64,
    /// Few visits: the limits are only provisional.
    pub provisional: bool,
    /// The latest visit lies outside.
    pub outside: bool,
}

/// The whole result, schema `evenpull.compare/1`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// `evenpull.compare/1`.
    pub schema: String,
    /// Version of the program.
    pub version: String,
    /// Machine id, if all visits have the same.
    pub machine: Option<String>,
    /// Limit of the latest visit, kPa.
    pub limit_kpa: f64,
    /// Where that limit comes from: `machine-file` or `default` (a rule of thumb).
    pub limit_source: String,
    /// `hours`, `km`, `date` or `order`: what changes and trends run over.
    pub axis: String,
    /// Visits in order.
    pub visits: Vec<ComparedVisit>,
    /// Significant changes, blamed on the fewest cylinders.
    pub changes: Vec<Change>,
    /// Trend per cylinder.
    pub trend: Vec<Trend>,
    /// When the spread reaches its limit.
    pub forecast: Option<Forecast>,
    /// Why there is no forecast.
    pub no_forecast_because: Option<String>,
    /// How far two visits differ with nothing done.
    pub repeatability_kpa: Repeatability,
    /// How far deviations of this machine change from visit to visit anyway (one standard deviation, robust), kPa;
    /// `None` with too few visits.
    pub scatter_kpa: Option<f64>,
    /// Cylinders whose median is the reference for the others.
    pub judged_against: Vec<u32>,
    /// The last two visits.
    pub latest: Option<Latest>,
    /// Conditions that were not alike.
    pub unlike: Vec<Unlike>,
    /// Control limits.
    pub control: Vec<ControlLimits>,
    /// Sensors told from cylinders, where two were exchanged.
    pub swapped: Option<SwapResult>,
}
