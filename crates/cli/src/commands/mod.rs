//! One file per command. Each takes a plan that makes sense and the terminal, and says how it ended.

pub(crate) mod explain;
pub(crate) mod generate;
pub(crate) mod inspect;
mod inspect_text;
pub(crate) mod plan;
mod plan_text;
pub(crate) mod review;
