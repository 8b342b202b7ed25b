//! From the run to what a logger writes: sensors, sampling, table, text.

pub(crate) mod csv;
pub(crate) mod log;
pub(crate) mod logger;
mod sampling;
pub(crate) mod sensor;
