//! Pressure, temperature and time units.
