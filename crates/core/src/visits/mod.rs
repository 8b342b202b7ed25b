//! From stored visits to what changed: pure, no files.
//!
//! A [`Visit`] is what is kept of one review. [`compare::compare`] puts the visits of one machine side by side: changes
//! between neighbouring visits blamed on the fewest cylinders, the trend since each cylinder's last change, a forecast
//! or the reason why none is honest. [`swap`] tells a sensor from its cylinder, [`fleet`] says which machine is next.

pub mod basis;
pub mod blame;
pub mod calendar;
mod change;
pub mod compare;
pub mod comparison;
mod control;
pub mod facts;
pub mod fleet;
mod fleet_rank;
pub mod fleet_result;
mod fleet_rows;
mod fleet_words;
mod forecast;
mod from_review;
pub mod levels;
pub mod list;
pub mod record;
mod repeats;
mod scatter;
pub mod swap;
mod trend;
pub mod types;
mod unlike;

#[cfg(test)]
mod rates;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
pub(crate) mod story;

pub use basis::PlanBasis;
pub use compare::{CompareOptions, compare};
pub use comparison::{COMPARE_SCHEMA, Comparison};
pub use fleet::{FleetOptions, Ranked, fleet};
pub use fleet_result::{FLEET_SCHEMA, Fleet};
pub use from_review::{found_and_left, settings_hash, visit_from_review};
pub use swap::{SwapResult, swapped};
pub use types::{Turn, VISIT_SCHEMA, Visit, VisitCylinder, VisitFacts};
