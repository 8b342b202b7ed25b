//! The pulse by crank phase and what it says of each cylinder: phase from marks, averaged pulse, refill and air ratios against
//! the engine model, classes of each fault, the speed ripple as a second witness.

#![allow(clippy::unwrap_used)]

#[allow(dead_code)]
#[path = "../support/confusion.rs"]
mod confusion;
use crate::model_log;

mod accuracy;
mod classes;
mod crank;
