//! The machine file: what the engine is and how it is judged (TOML, optional).
//!
//! [`Machine::from_toml`] reads it. An unknown key or a value out of range is an error that names file, line and
//! column, what was found and what is allowed: a misspelt key that is silently dropped would change a verdict.

mod parse;
#[cfg(test)]
mod tests;
mod to_toml;

use std::collections::BTreeMap;

use crate::recording::{PressureKind, Quantity};
use crate::result::{Fuelling, GroupReference, Reference};

/// What the logged pressure figure stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PressureIs {
    /// Averaged over the cycle.
    Mean,
    /// The lowest value of the cycle.
    Minimum,
    /// Not known.
    Unknown,
}

/// Which way a screw opens its plate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Opens {
    /// Anticlockwise, seen from the head of the screw.
    Anticlockwise,
    /// Clockwise.
    Clockwise,
    /// Not known: advice says open or close.
    Unknown,
}

/// One adjusting screw.
#[derive(Debug, Clone, PartialEq)]
pub struct Adjuster {
    /// Cylinder it belongs to.
    pub cylinder: u32,
    /// Which way it opens.
    pub opens: Opens,
    /// How far it may be turned from where it stands, turns.
    pub range_turns: Option<f64>,
    /// Pressure per turn of opening, kPa.
    pub kpa_per_turn: Option<f64>,
    /// Sealed: no advice to turn it.
    pub sealed: bool,
}

/// How one column is to be understood, where its header does not say.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnRule {
    /// Quantity.
    pub quantity: Quantity,
    /// Cylinder.
    pub cylinder: Option<u32>,
    /// Unit.
    pub unit: Option<String>,
    /// Kind of a pressure.
    pub kind: Option<PressureKind>,
}

/// A machine, with defaults where its file is silent.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// Id: letters, digits, `-`, `_`, `.`.
    pub id: Option<String>,
    /// Number of cylinders.
    pub cylinders: Option<u32>,
    /// Strokes per cycle, 2 or 4.
    pub strokes: u8,
    /// Crank angle of each cylinder's firing dead centre, degrees, cylinder 1 first.
    pub firing_deg: Option<Vec<f64>>,
    /// Reference for deviations.
    pub reference: Reference,
    /// Largest allowed spread, kPa.
    pub limit_kpa: Option<f64>,
    /// How fuel is metered.
    pub fuelling: Fuelling,
    /// What the logged pressure stands for.
    pub pressure_is: PressureIs,
    /// Idle speed band, rev/min.
    pub idle_rpm: Option<(f64, f64)>,
    /// Coolant temperature from which the engine is warm, deg C.
    pub warm_c: Option<f64>,
    /// Altitude, m.
    pub altitude_m: Option<f64>,
    /// Barometer, kPa.
    pub barometer_kpa: Option<f64>,
    /// Runner volume, cm3; one value for all or one per cylinder.
    pub runner_cc: Option<Vec<f64>>,
    /// Displacement of one cylinder, cm3.
    pub displacement_cc: Option<f64>,
    /// Lambda that the mixture should have.
    pub lambda_target: f64,
    /// Adjusting screws.
    pub adjusters: Vec<Adjuster>,
    /// Columns that the header does not explain.
    pub columns: BTreeMap<String, ColumnRule>,
}

impl Default for Machine {
    fn default() -> Self {
        Self {
            id: None,
            cylinders: None,
            strokes: 4,
            firing_deg: None,
            reference: Reference::Group(GroupReference::Median),
            limit_kpa: None,
            fuelling: Fuelling::Unknown,
            pressure_is: PressureIs::Unknown,
            idle_rpm: None,
            warm_c: None,
            altitude_m: None,
            barometer_kpa: None,
            runner_cc: None,
            displacement_cc: None,
            lambda_target: 1.0,
            adjusters: Vec::new(),
            columns: BTreeMap::new(),
        }
    }
}
