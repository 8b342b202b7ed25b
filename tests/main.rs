//! The integration tests: one binary, one module per subject. Each module says at its head what belongs in it.

mod cli;
mod plan;
mod reference;
