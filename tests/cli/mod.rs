//! The program from the outside: exit codes, what stands on which stream, where files go, hostile names. What a
//! result says about an engine is tested elsewhere.

mod contract;
mod explain;
mod generate;
mod judged;
mod papers;
pub(crate) mod program;
mod schema;
mod streams;
mod verify;
mod worker;
