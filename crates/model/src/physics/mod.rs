//! Gas flow, geometry, and the state of one cylinder with its runner.

pub(crate) mod block;
pub(crate) mod bore;
pub(crate) mod calibrate;
pub mod gas;
pub mod geometry;
