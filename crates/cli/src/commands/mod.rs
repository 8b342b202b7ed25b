//! One file per command. Each takes a plan that makes sense and the terminal, and says how it ended.

pub(crate) mod add;
pub(crate) mod add_args;
pub(crate) mod compare;
pub(crate) mod compare_args;
pub(crate) mod demo;
pub(crate) mod explain;
pub(crate) mod fleet;
pub(crate) mod fleet_args;
mod fleet_logs;
mod fleet_pages;
mod fleet_run;
pub(crate) mod generate;
pub(crate) mod inspect;
mod inspect_text;
pub(crate) mod lesson;
pub(crate) mod lesson_args;
pub(crate) mod lesson_check;
pub(crate) mod plan;
pub(crate) mod plan_args;
pub(crate) mod review;
pub(crate) mod schema;
pub(crate) mod verify;
pub(crate) mod worker;
