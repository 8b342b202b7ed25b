//! The plan against the engine model and from the outside: what a mechanic who follows it gets, what the program prints and
//! writes. The arithmetic of influence and turns is tested where it lives.

mod book;
mod closed_loop;
mod loop_engine;
#[allow(unreachable_pub)]
use crate::model_log;
mod program;
mod schema;
