//! Means, deviations, spread and verdict.

pub mod drift;
pub mod measure;
pub mod reference;
pub mod series;
pub mod signal;
pub mod verdict;
