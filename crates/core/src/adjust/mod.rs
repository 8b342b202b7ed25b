//! What was turned and what to turn.

pub mod steps;
