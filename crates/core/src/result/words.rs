//! The words of a result: what a field can say, as it is written to disk.

use serde::{Deserialize, Serialize};

/// Steady running at idle or well above it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Regime {
    /// Idle speed.
    Idle,
    /// A steady speed well above idle.
    Raised,
}

/// The spread against its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Inside the limit, with the uncertainty.
    Within,
    /// Outside the limit, with the uncertainty.
    Outside,
    /// The data cannot say.
    CannotTell,
    /// Fewer than two live cylinder pressures.
    NotApplicable,
}

/// What dominates an undecided verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Undecided {
    /// Scatter of the engine: more seconds help.
    Scatter,
    /// Steps of the logged values.
    Resolution,
    /// Sensor bias or gain.
    Bias,
    /// Too few samples a pulse.
    Aliasing,
    /// What the logged figure stands for is not known.
    Signal,
    /// No stretch fit to judge.
    Windows,
    /// Too few live sensors, or their kind is not known.
    Sensor,
}

/// Class of one cylinder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Class {
    /// Pulls like the others.
    Even,
    /// More air than its fuel wants.
    Lean,
    /// Less air than its fuel wants.
    Rich,
    /// Breathes differently, or its pressure is off and the mixture cannot be told from it.
    Imbalanced,
    /// The data cannot say.
    Undecided,
}

/// What a class rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// A measured mixture.
    Measured,
    /// Inferred from pressures.
    Inferred,
    /// Nothing was inferred.
    None,
}

/// Whether turning further makes sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FurtherTurning {
    /// What is left can be measured and turned.
    Worthwhile,
    /// What is left is smaller than the uncertainty or the limit with its guard band.
    WithinNoise,
    /// The cause is one that turning only hides.
    NotTheCure,
}

/// How the pulse shows in the values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Signal {
    /// The shape of the pulse can be used.
    Resolved,
    /// Pulses are seen, whole-cycle means are sound, the shape is not.
    Partial,
    /// No pulse is left in the values.
    Averaged,
    /// Pulses are there and the row rate cannot carry them.
    Aliased,
    /// Cannot be told.
    Unknown,
}

/// Reference for deviations.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Reference {
    /// One cylinder, counted from 1.
    Cylinder(u32),
    /// The median or mean of the live cylinders.
    Group(GroupReference),
}

/// Middle of the group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum GroupReference {
    /// Median of the live cylinders.
    Median,
    /// Mean of the live cylinders.
    Mean,
}

/// How fuel is metered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Fuelling {
    /// One injected quantity for all cylinders.
    Shared,
    /// Carburettors or per-cylinder control.
    Individual,
    /// Not known.
    Unknown,
}
