//! Why a number could not be computed.

use thiserror::Error;

/// Reasons why a method of this room gives no result.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum StatsError {
    /// Fewer usable (finite) values than the method needs.
    #[error("{method} needs at least {needed} usable values, found {found}")]
    TooFew {
        /// Method that was asked for.
        method: &'static str,
        /// Least number of usable values.
        needed: usize,
        /// Usable values found.
        found: usize,
    },
    /// Two inputs that belong together differ in length.
    #[error("{what}: lengths {left} and {right} differ")]
    LengthMismatch {
        /// Which inputs.
        what: &'static str,
        /// Length of the first.
        left: usize,
        /// Length of the second.
        right: usize,
    },
    /// A parameter lies outside its allowed range.
    #[error("{name} = {value} is not allowed: {rule}")]
    Parameter {
        /// Name of the parameter.
        name: &'static str,
        /// Value given.
        value: f64,
        /// The rule it breaks.
        rule: &'static str,
    },
    /// The values have no spread where the method divides by one.
    #[error("{what} has no spread")]
    NoSpread {
        /// What is constant.
        what: &'static str,
    },
    /// A matrix cannot be inverted safely.
    #[error("{what} is singular or too ill-conditioned (condition number {condition})")]
    Singular {
        /// Which matrix.
        what: &'static str,
        /// Condition number, infinite if exactly singular.
        condition: f64,
    },
    /// A missing or infinite value stands where the method cannot leave one out.
    #[error("{what} has a missing or infinite value at position {position}")]
    Missing {
        /// Which input.
        what: &'static str,
        /// Zero-based position.
        position: usize,
    },
    /// An iteration did not settle.
    #[error("{method} did not settle within {steps} steps")]
    NoConvergence {
        /// Method that was asked for.
        method: &'static str,
        /// Steps made.
        steps: usize,
    },
}
