//! Straight lines, several explaining columns, priors and bounds.
//!
//! All take columns (one slice per explaining variable, each as long as `y`); nothing is normalised away silently.

mod bounded;
mod design;
mod multi;
mod ridge;
mod simple;

pub use bounded::{BoundedFit, bounded_least_squares, condition_number, minimum_norm, to_reference};
pub use multi::{LinearFit, multi_regression};
pub use ridge::{Posterior, ridge};
pub use simple::{SimpleFit, simple_regression};
