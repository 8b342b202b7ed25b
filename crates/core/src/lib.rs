//! From a recorded idle log to a verdict: how evenly do the cylinders of an engine pull?
//!
//! The crate reads a recording ([`read`]), and computes a [`result::Review`] from it ([`review::review`]). It prints
//! nothing, writes no file, reads no clock and uses no unseeded random number: the same bytes in give the same result out.

pub mod adjust;
pub mod analysis;
pub mod balance;
pub mod codes;
pub mod health;
pub mod machine;
pub mod mixture;
pub mod notice;
pub mod physics;
pub mod prepare;
pub mod pulse;
pub mod read;
pub mod recording;
pub mod result;
pub mod review;
pub mod safe_text;
pub mod schema;
pub mod settings;
pub mod stats;
mod toml_cells;
pub mod trouble;
pub mod units;
pub mod verify;
pub mod visit_file;
pub mod visits;
pub mod windows;

pub use analysis::Analysis;
pub use toml_cells::TomlError;
