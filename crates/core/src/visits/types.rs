//! What is kept of one visit: the facts a person gave, where the figures came from, and the figures.

use serde::{Deserialize, Serialize};

use super::basis::PlanBasis;
use crate::result::{Class, Measured, Reference, Signal, Verdict};

/// Name of the schema of [`Visit`].
pub const VISIT_SCHEMA: &str = "evenpull.visit/1";

/// A screw turned at a visit, as the person noted it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Turn {
    /// When, seconds of the recording; missing when not noted.
    pub time_s: Option<f64>,
    /// Cylinder, from 1.
    pub cylinder: u32,
    /// Turns, positive opens.
    pub turns: f64,
}

/// What belongs to one visit and not to the machine. All of it may be missing.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct VisitFacts {
    /// Date, `YYYY-MM-DD`.
    pub date: Option<String>,
    /// Operating hours.
    pub hours: Option<f64>,
    /// Distance, km.
    pub distance_km: Option<f64>,
    /// Anything worth a word.
    pub note: Option<String>,
    /// Conditions: weather, load, fuel.
    pub conditions: Option<String>,
    /// Work done.
    pub work: Option<String>,
    /// Trouble codes noted.
    pub codes: Vec<String>,
    /// Trouble codes cleared.
    pub codes_cleared: Vec<String>,
    /// Screws turned.
    pub turns: Vec<Turn>,
}

/// One cylinder at one visit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VisitCylinder {
    /// Cylinder, from 1.
    pub cylinder: u32,
    /// Time mean over whole cycles, kPa absolute.
    pub pressure_kpa: Option<Measured>,
    /// Against the machine's reference at this visit, kPa.
    pub deviation_kpa: Option<Measured>,
    /// Sensor bias taken out, kPa.
    pub bias_removed_kpa: Option<f64>,
    /// Refill rate against the median cylinder.
    pub refill_ratio: Option<Measured>,
    /// Air per cycle against the median cylinder.
    pub air_ratio: Option<Measured>,
    /// Measured lambda.
    pub lambda: Option<Measured>,
    /// Class.
    pub class: Class,
}

/// One recording of one machine at one date, as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Visit {
    /// Machine id.
    pub machine: String,
    /// Id of the visit: the first 12 hex digits of `key`.
    pub visit: String,
    /// What the person said about it.
    pub facts: VisitFacts,
    /// SHA-256 of the recording, hex.
    pub key: String,
    /// The recording's own name.
    pub source: String,
    /// Version of the program that reviewed it.
    pub tool_version: String,
    /// Fingerprint of the settings of that review.
    pub settings_hash: String,
    /// Mean idle speed, rev/min.
    pub rpm: Option<Measured>,
    /// Seconds of idle judged.
    pub seconds: Option<f64>,
    /// Barometer, kPa.
    pub barometer_kpa: Option<f64>,
    /// Largest allowed spread, kPa.
    pub limit_kpa: f64,
    /// `machine-file` or `default`.
    pub limit_source: String,
    /// Reference for deviations.
    pub reference: Reference,
    /// How the pulse shows in the values.
    pub signal: Option<Signal>,
    /// The spread against its limit.
    pub verdict: Verdict,
    /// Highest minus lowest mean, kPa.
    pub spread_kpa: Option<Measured>,
    /// Codes of the notices of level caution or fault, in order, each once.
    pub notices: Vec<String>,
    /// Cylinders, ordered by number.
    pub cylinders: Vec<VisitCylinder>,
    /// What a plan needs besides; `None` in visits kept by an older version.
    #[serde(default)]
    pub plan: Option<PlanBasis>,
}

impl Visit {
    /// Sorting key: date (missing last), hours, distance, then the recording's hash so that the order is total.
    #[must_use]
    pub fn order(&self) -> (bool, &str, [u64; 2], &str) {
        let date = self.facts.date.as_deref();
        let bits = |v: Option<f64>| v.map_or(u64::MAX, |v| v.max(0.0).to_bits());
        let amounts = [bits(self.facts.hours), bits(self.facts.distance_km)];
        (date.is_none(), date.unwrap_or(""), amounts, &self.key)
    }

    /// Sorts visits by date, hours and distance.
    pub fn sort(visits: &mut [Self]) {
        visits.sort_by(|a, b| a.order().cmp(&b.order()));
    }

    /// The cylinder of a number.
    #[must_use]
    pub fn cylinder(&self, number: u32) -> Option<&VisitCylinder> {
        self.cylinders.iter().find(|c| c.cylinder == number)
    }
}
