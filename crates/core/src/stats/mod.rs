//! Pure numbers: nothing in here knows what it measures.
//!
//! Every module states its formula, its source and what it does with missing values (NaN or infinite).

pub mod agreement;
pub mod allan;
pub mod autocorr;
pub mod change_points;
pub mod conformity;
pub mod control;
pub mod dist;
pub mod equivalence;
pub mod error;
pub mod fleet;
pub mod gauge_rr;
pub mod lanes;
pub mod linear;
pub mod mean_uncertainty;
pub mod moments;
mod order;
pub mod robust;
pub mod steady;
pub mod trend;

#[cfg(test)]
#[allow(clippy::unwrap_used)]
pub(crate) mod fixtures;

pub use error::StatsError;
