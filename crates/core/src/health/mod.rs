//! Sensor checks: polled in turn, engine-off zeros, dead and doubtful sensors.

pub mod ambient;
pub mod polled;
pub mod sensors;
