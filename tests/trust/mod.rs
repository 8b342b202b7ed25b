//! Numbers to trust: what the review makes of recordings whose truth is known, where easy answers are wrong.
//!
//! Every rule has a test that computes the naive answer, shows that it is wrong, and asks the review for the right one. What
//! belongs here: checks through `review`, on the engine model's recordings or on files built for the purpose
//! (`published_*`: files built from published examples). Kernels are tested beside their code.

#![allow(clippy::unwrap_used, clippy::type_complexity)]

mod adjusting;
mod barometer;
mod blame;
mod hostile;
mod kind;
mod lag;
mod layouts;
mod means;
mod outside;
mod published_data;
mod published_physics;
mod published_units;
mod sensors;
mod signal;
mod support;
mod swapped;
mod trouble;
mod uncertainty;
mod verdict;
mod warm;
mod windows;
