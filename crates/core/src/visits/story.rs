//! Visits with known levels for the tests of this room.

use super::types::{Visit, VisitCylinder, VisitFacts};
use crate::result::{Class, GroupReference, Measured, Reference, Signal, Verdict};
use crate::stats::robust::median;

/// Expanded uncertainty of every figure, kPa.
pub(crate) const U: f64 = 0.04;

/// A visit whose cylinders stand at the given levels against a pressure of 40 kPa.
pub(crate) fn visit(date: &str, hours: Option<f64>, levels: &[f64]) -> Visit {
    let middle = median(levels).unwrap();
    let m = |value| Some(Measured { value, u: U });
    let high = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let low = levels.iter().copied().fold(f64::INFINITY, f64::min);
    let cylinders = levels
        .iter()
        .enumerate()
        .map(|(i, l)| VisitCylinder {
            cylinder: i as u32 + 1,
            pressure_kpa: m(40.0 + l),
            deviation_kpa: m(l - middle),
            bias_removed_kpa: None,
            refill_ratio: None,
            air_ratio: None,
            lambda: None,
            class: Class::Even,
        })
        .collect();
    let key = format!("{date}-{hours:?}-{levels:?}");
    Visit {
        machine: "HS-03".to_owned(),
        visit: key.clone(),
        facts: VisitFacts { date: Some(date.to_owned()), hours, ..VisitFacts::default() },
        key,
        source: "log.csv".to_owned(),
        tool_version: "0".to_owned(),
        settings_hash: "0".to_owned(),
        rpm: Some(Measured { value: 1100.0, u: 2.0 }),
        seconds: Some(60.0),
        barometer_kpa: Some(101.3),
        limit_kpa: 1.3,
        limit_source: "default".to_owned(),
        reference: Reference::Group(GroupReference::Median),
        signal: Some(Signal::Partial),
        verdict: if high - low > 1.3 { Verdict::Outside } else { Verdict::Within },
        spread_kpa: Some(Measured { value: high - low, u: U }),
        notices: Vec::new(),
        cylinders,
        plan: None,
    }
}

/// Visits one after the other.
#[derive(Debug)]
pub(crate) struct Story {
    cylinders: usize,
    pub(crate) visits: Vec<Visit>,
}

impl Story {
    pub(crate) fn new(cylinders: usize) -> Self {
        Self { cylinders, visits: Vec::new() }
    }

    /// A visit at a date.
    pub(crate) fn day(mut self, date: &str, levels: &[f64]) -> Self {
        assert_eq!(levels.len(), self.cylinders);
        self.visits.push(visit(date, None, levels));
        self
    }

    /// A visit every 50 hours and 60 days.
    pub(crate) fn next(mut self, levels: &[f64]) -> Self {
        assert_eq!(levels.len(), self.cylinders);
        let n = self.visits.len();
        let date = super::calendar::date_of(20_000.0 + 60.0 * n as f64).unwrap();
        self.visits.push(visit(&date, Some(100.0 + 50.0 * n as f64), levels));
        self
    }
}
