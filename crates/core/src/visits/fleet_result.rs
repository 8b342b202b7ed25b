//! The result of ranking a fleet, field by field as it is written to disk (`evenpull.fleet/1`).
//!
//! A quantity that cannot be had is `None` (JSON `null`).

use serde::{Deserialize, Serialize};

use super::comparison::Forecast;
use crate::result::{Measured, Verdict};

/// Name of the schema of [`Fleet`].
pub const FLEET_SCHEMA: &str = "evenpull.fleet/1";

/// How urgent a machine is. The order of the variants is the order of the ranking.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Attention {
    /// Outside its limit, and not by chance among so many machines.
    Act,
    /// Outside its limit by little, worse since the last visit, or drifting.
    Watch,
    /// The last recording cannot tell.
    MeasureAgain,
    /// Nothing to do.
    Fine,
}

/// Drift of the cylinder that moves most.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FleetDrift {
    /// Cylinder.
    pub cylinder: u32,
    /// `100 h`, `1000 km` or `year`.
    pub per: String,
    /// Weighted least-squares slope with its expanded uncertainty, kPa per `per`.
    pub slope_kpa: Measured,
    /// Way since the cylinder's last change, kPa.
    pub way_kpa: f64,
    /// Two-sided p of the slope, scatter taken from the fleet.
    pub p: f64,
    /// The same, adjusted for every cylinder of every machine that was asked (Benjamini & Hochberg).
    pub q: f64,
    /// Shown, and larger than a fifth of the limit.
    pub significant: bool,
    /// Away from the others.
    pub outward: bool,
}

/// Largest change between the last two visits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FleetChange {
    /// Cylinder.
    pub cylinder: u32,
    /// Dates of the two visits.
    pub between: [Option<String>; 2],
    /// Step, kPa.
    pub step_kpa: Measured,
    /// Away from the others.
    pub worse: bool,
}

/// A machine beside its sisters: machines with the same number of cylinders.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sisters {
    /// Machines in the group, this one included.
    pub machines: usize,
    /// Robust z of the spread.
    pub spread_z: Option<f64>,
    /// Robust z of idle pressure over barometer.
    pub level_z: Option<f64>,
    /// One of them is over 3.5 (Iglewicz & Hoaglin 1993).
    pub outlier: bool,
}

/// One machine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FleetMachine {
    /// Place in the ranking, from 1.
    pub rank: usize,
    /// Machine id.
    pub machine: String,
    /// How urgent.
    pub attention: Attention,
    /// Finished sentences: why it stands here.
    pub why: Vec<String>,
    /// Visits that were used.
    pub visits: usize,
    /// Date of the first and the last of them.
    pub dates: [Option<String>; 2],
    /// Verdict of the last visit.
    pub verdict: Verdict,
    /// Spread of the last visit, kPa.
    pub spread_kpa: Option<Measured>,
    /// Its limit, kPa.
    pub limit_kpa: f64,
    /// Where that limit comes from: `machine-file` or `default` (a rule of thumb).
    pub limit_source: String,
    /// Spread over limit as measured.
    pub ratio: Option<f64>,
    /// Spread over limit, drawn toward the fleet's mean by what its uncertainty leaves open.
    pub shrunken_ratio: Option<f64>,
    /// Share of the distance to the mean that the machine keeps.
    pub kept: Option<f64>,
    /// Probability of such a spread if the true one were at the limit.
    pub p_outside: Option<f64>,
    /// The same, adjusted for the number of machines (Benjamini & Hochberg).
    pub q_outside: Option<f64>,
    /// What the ranking inside an attention goes by: the shrunken ratio at the next visit if a drift goes on.
    pub score: f64,
    /// Cylinder that is furthest off.
    pub cylinder: Option<u32>,
    /// Its deviation from the median of the others, kPa.
    pub deviation_kpa: Option<Measured>,
    /// Drift.
    pub drift: Option<FleetDrift>,
    /// Change since the visit before.
    pub change: Option<FleetChange>,
    /// When the spread reaches its limit.
    pub forecast: Option<Forecast>,
    /// Beside its sisters.
    pub sisters: Option<Sisters>,
    /// Cautions and faults of the last visit.
    pub notices: Vec<String>,
    /// Page of the machine, relative to the index page.
    pub report: Option<String>,
}

/// A recording without a machine: listed, never merged with others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Unnamed {
    /// The recording's own name.
    pub source: String,
    /// SHA-256 of the recording.
    pub key: String,
    /// Date, if known.
    pub date: Option<String>,
    /// Verdict of this recording alone.
    pub verdict: Verdict,
}

/// A file that gave no visit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Failed {
    /// The path as it was given.
    pub path: String,
    /// Place and reason.
    pub reason: String,
}

/// What the ranking rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FleetModel {
    /// Machines with a spread.
    pub machines: usize,
    /// Mean of spread over limit.
    pub mean_ratio: Option<f64>,
    /// Standard deviation between machines of spread over limit.
    pub between_machines: Option<f64>,
    /// Share of false alarms that is accepted among the machines flagged.
    pub false_discovery_rate: f64,
    /// Standard deviation of the change of a deviation between two visits with nothing done, kPa.
    pub repeatability_kpa: f64,
    /// `fleet` or `default`.
    pub repeatability_source: String,
    /// Pairs of neighbouring figures that it comes from.
    pub pairs: usize,
}

/// The whole result, schema `evenpull.fleet/1`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fleet {
    /// `evenpull.fleet/1`.
    pub schema: String,
    /// Version of the program.
    pub version: String,
    /// Machines, the one to see first at the head.
    pub machines: Vec<FleetMachine>,
    /// Recordings without a machine.
    pub unnamed: Vec<Unnamed>,
    /// Files that gave no visit.
    pub failed: Vec<Failed>,
    /// What the ranking rests on.
    pub model: FleetModel,
}
