//! One recording as one flat record (`evenpull.record/1`), for programs that run many reviews: a cluster, a pipeline.
//!
//! Every field stands in every record, `null` where it cannot be had; what is nested stands as JSON text in `detail`, so that a
//! table with fixed columns can hold all of it.

use serde::{Deserialize, Serialize};

use super::types::Visit;
use crate::result::{Class, Verdict};

/// Name of the schema of [`Record`].
pub const RECORD_SCHEMA: &str = "evenpull.record/1";

/// Columns of [`Record`] in its order, with their types in Spark SQL.
pub const COLUMNS: [(&str, &str); 31] = [
    ("schema", "STRING"),
    ("path", "STRING"),
    ("status", "STRING"),
    ("error", "STRING"),
    ("attempts", "INT"),
    ("key", "STRING"),
    ("tool_version", "STRING"),
    ("settings_hash", "STRING"),
    ("machine", "STRING"),
    ("date", "STRING"),
    ("hours", "DOUBLE"),
    ("distance_km", "DOUBLE"),
    ("verdict", "STRING"),
    ("spread_kpa", "DOUBLE"),
    ("spread_u_kpa", "DOUBLE"),
    ("limit_kpa", "DOUBLE"),
    ("ratio", "DOUBLE"),
    ("cylinders", "INT"),
    ("cylinder", "INT"),
    ("deviation_kpa", "DOUBLE"),
    ("deviation_u_kpa", "DOUBLE"),
    ("class", "STRING"),
    ("rpm", "DOUBLE"),
    ("rpm_u", "DOUBLE"),
    ("seconds", "DOUBLE"),
    ("barometer_kpa", "DOUBLE"),
    ("signal", "STRING"),
    ("limit_source", "STRING"),
    ("source", "STRING"),
    ("notices", "STRING"),
    ("detail", "STRING"),
];

/// What became of an input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Reviewed.
    Ok,
    /// Could not be read or understood; `error` says why and where.
    Error,
    /// The work on it ended in a crash, twice.
    Crashed,
    /// The work on it took too long, twice.
    Timeout,
}

/// One input, flat.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// `evenpull.record/1`.
    pub schema: String,
    /// The path as it was given.
    pub path: String,
    /// What became of it.
    pub status: Status,
    /// Place and reason where it failed.
    pub error: Option<String>,
    /// How often it was tried.
    pub attempts: u32,
    /// SHA-256 of the content, hex; `None` where the content could not be read.
    pub key: Option<String>,
    /// Version of the program.
    pub tool_version: String,
    /// Fingerprint of settings and machine file.
    pub settings_hash: String,
    /// Machine id.
    pub machine: Option<String>,
    /// Date, `YYYY-MM-DD`.
    pub date: Option<String>,
    /// Operating hours.
    pub hours: Option<f64>,
    /// Distance, km.
    pub distance_km: Option<f64>,
    /// Verdict.
    pub verdict: Option<Verdict>,
    /// Spread, kPa.
    pub spread_kpa: Option<f64>,
    /// Its expanded uncertainty, kPa.
    pub spread_u_kpa: Option<f64>,
    /// Largest allowed spread, kPa.
    pub limit_kpa: Option<f64>,
    /// Spread over limit.
    pub ratio: Option<f64>,
    /// Cylinders in the recording.
    pub cylinders: Option<u32>,
    /// Cylinder that is furthest off.
    pub cylinder: Option<u32>,
    /// Its deviation, kPa.
    pub deviation_kpa: Option<f64>,
    /// Expanded uncertainty of the deviation, kPa.
    pub deviation_u_kpa: Option<f64>,
    /// Its class.
    pub class: Option<Class>,
    /// Idle speed, rev/min.
    pub rpm: Option<f64>,
    /// Its expanded uncertainty, rev/min.
    pub rpm_u: Option<f64>,
    /// Seconds judged.
    pub seconds: Option<f64>,
    /// Barometer, kPa.
    pub barometer_kpa: Option<f64>,
    /// How the pulse shows in the values.
    pub signal: Option<String>,
    /// `machine-file` or `default`.
    pub limit_source: Option<String>,
    /// The recording's own name.
    pub source: Option<String>,
    /// Codes of cautions and faults, parted by spaces.
    pub notices: Option<String>,
    /// The visit as JSON, see [`Visit`].
    pub detail: Option<String>,
}

impl Record {
    /// A record that holds nothing but what became of a path.
    #[must_use]
    pub fn bare(path: &str, status: Status, error: Option<String>, settings_hash: &str) -> Self {
        Self {
            schema: RECORD_SCHEMA.to_owned(),
            path: path.to_owned(),
            status,
            error,
            attempts: 1,
            key: None,
            tool_version: env!("CARGO_PKG_VERSION").to_owned(),
            settings_hash: settings_hash.to_owned(),
            machine: None,
            date: None,
            hours: None,
            distance_km: None,
            verdict: None,
            spread_kpa: None,
            spread_u_kpa: None,
            limit_kpa: None,
            ratio: None,
            cylinders: None,
            cylinder: None,
            deviation_kpa: None,
            deviation_u_kpa: None,
            class: None,
            rpm: None,
            rpm_u: None,
            seconds: None,
            barometer_kpa: None,
            signal: None,
            limit_source: None,
            source: None,
            notices: None,
            detail: None,
        }
    }

    /// The record of a visit.
    ///
    /// # Errors
    /// The reason where the visit cannot be written as JSON.
    pub fn of_visit(path: &str, visit: &Visit) -> Result<Self, serde_json::Error> {
        let furthest = visit
            .cylinders
            .iter()
            .filter_map(|c| c.deviation_kpa.map(|d| (c, d)))
            .max_by(|a, b| a.1.value.abs().total_cmp(&b.1.value.abs()));
        let text = |s: &String| Some(s.clone()).filter(|s| !s.is_empty());
        Ok(Self {
            key: text(&visit.key),
            tool_version: visit.tool_version.clone(),
            machine: text(&visit.machine),
            date: visit.facts.date.clone(),
            hours: visit.facts.hours,
            distance_km: visit.facts.distance_km,
            verdict: Some(visit.verdict),
            spread_kpa: visit.spread_kpa.map(|s| s.value),
            spread_u_kpa: visit.spread_kpa.map(|s| s.u),
            limit_kpa: Some(visit.limit_kpa),
            ratio: visit.spread_kpa.map(|s| s.value / visit.limit_kpa),
            cylinders: u32::try_from(visit.cylinders.len()).ok(),
            cylinder: furthest.map(|(c, _)| c.cylinder),
            deviation_kpa: furthest.map(|(_, d)| d.value),
            deviation_u_kpa: furthest.map(|(_, d)| d.u),
            class: furthest.map(|(c, _)| c.class),
            rpm: visit.rpm.map(|r| r.value),
            rpm_u: visit.rpm.map(|r| r.u),
            seconds: visit.seconds,
            barometer_kpa: visit.barometer_kpa,
            signal: visit.signal.and_then(word),
            limit_source: text(&visit.limit_source),
            source: text(&visit.source),
            notices: Some(visit.notices.join(" ")),
            detail: Some(serde_json::to_string(visit)?),
            ..Self::bare(path, Status::Ok, None, &visit.settings_hash)
        })
    }
}

/// A unit variant as JSON writes it.
fn word(value: impl Serialize) -> Option<String> {
    serde_json::to_value(value).ok()?.as_str().map(str::to_owned)
}

/// The columns as Spark SQL declares them: `schema STRING, path STRING, ...`.
#[must_use]
pub fn spark_ddl() -> String {
    COLUMNS.map(|(name, kind)| format!("{name} {kind}")).join(", ")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn columns_and_fields_are_the_same_in_the_same_order() {
        let record = Record::bare("a.csv", Status::Error, None, "h");
        let json = serde_json::to_value(&record).unwrap();
        let fields: Vec<&String> = json.as_object().unwrap().keys().collect();
        let columns: Vec<&str> = COLUMNS.iter().map(|c| c.0).collect();
        assert_eq!(fields, columns);
        assert!(spark_ddl().starts_with("schema STRING, path STRING, status STRING"));
    }
}
