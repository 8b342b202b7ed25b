//! The integration tests: one binary, one module per subject. Each module says at its head what belongs in it.

mod browser;
mod cli;
mod lessons;
#[path = "support/model_log.rs"]
mod model_log;
mod plan;
mod pulse;
mod reader;
mod reference;
mod spark;
mod trust;
mod visits;
