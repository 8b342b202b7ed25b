//! Crank phase and pulse.

pub mod fold;
pub mod harmonics;
pub mod mark;
pub mod order;
pub mod phase;
pub mod refill;
pub mod ripple;
