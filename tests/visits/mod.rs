//! Visits over the whole way: engines of the model with a known history, recorded, reviewed, kept, compared, ranked;
//! and the book read by engines that are not ours.
#![allow(clippy::print_stderr)]

mod engines;
mod front;
mod history;
mod ranking;
mod support;
