//! What can be wrong with a scenario or a logger.

use thiserror::Error;

/// Why the model refused to run or to record.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum ModelError {
    /// A figure lies outside what the model can compute.
    #[error("{name} is {value}, must be {must}")]
    OutOfRange {
        /// The field.
        name: &'static str,
        /// The value found.
        value: f64,
        /// The allowed range in words.
        must: &'static str,
    },
    /// A cylinder number that the engine does not have (numbers count from 1).
    #[error("{what} names cylinder {cylinder}, the engine has {cylinders}")]
    NoSuchCylinder {
        /// Where it was named.
        what: &'static str,
        /// The number.
        cylinder: usize,
        /// How many there are.
        cylinders: usize,
    },
    /// No plate area gives the asked idle pressure, or the engine cannot carry itself there.
    #[error("the engine cannot idle at {rpm} rev/min and {kpa} kPa: {why}")]
    CannotIdle {
        /// Asked idle speed, rev/min.
        rpm: f64,
        /// Asked mean runner pressure, kPa absolute.
        kpa: f64,
        /// What failed.
        why: &'static str,
    },
    /// No whole engine cycle lies between the two times.
    #[error("no whole engine cycle between {from_s} s and {to_s} s")]
    NoCycle {
        /// Start, s.
        from_s: f64,
        /// End, s.
        to_s: f64,
    },
}
