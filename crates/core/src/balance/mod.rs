//! Means, deviations, spread and verdict.
//!
//! # How often the stated uncertainty holds
//!
//! 320 simulated fours with random plates idle for four minutes each; every logger below records all of them, and the reviewed
//! deviations (1,280 a row) are compared with the true time means over whole cycles of the four minutes. Rounding, sensor bias
//! (with its engine-off rows), gain, lag, polling, jitter and phase are drawn anew for every recording from the distributions
//! that the settings state. In the two rows with gain errors the pairs of cylinders are compared (1,920), with U and the gain
//! allowance that the verdict adds. *Inside*: share with the truth inside U. *U / 2 sd*: median U over twice the standard
//! deviation of the errors, 1 being neither too narrow nor bought by width. *Wrong*: a verdict that the truth contradicts.
//! *Open*: cannot tell (in the zeroed rows mostly the gain allowance).
//!
//! | logger and length | inside | median U, kPa | U / 2 sd | wrong | open |
//! |---|---|---|---|---|---|
//! | undamped 1 kHz, 20 s | 93.8 % | 0.0055 | 1.00 | 0.0 % | 1.2 % |
//! | undamped 100 Hz, 30 s | 97.1 % | 0.0109 | 1.19 | 0.0 % | 1.6 % |
//! | undamped 50 Hz, 60 s | 96.1 % | 0.0169 | 0.89 | 0.0 % | 3.4 % |
//! | damped 0.05 s 25 Hz, 60 s | 95.5 % | 0.0071 | 0.97 | 0.0 % | 1.2 % |
//! | damped 0.12 s 20 Hz, 60 s | 97.3 % | 0.0037 | 1.06 | 0.0 % | 1.6 % |
//! | damped 0.3 s 20 Hz, 60 s | 95.6 % | 0.0032 | 0.95 | 0.0 % | 1.6 % |
//! | undamped 12.5 Hz, 1 kPa steps, 120 s | 94.5 % | 0.0488 | 0.94 | 0.0 % | 6.2 % |
//! | undamped 10 Hz, 120 s | 95.4 % | 0.0437 | 0.99 | 0.0 % | 5.9 % |
//! | undamped 5 Hz, 120 s | 95.2 % | 0.0732 | 0.95 | 0.0 % | 8.4 % |
//! | polled averages 4 rows/s, whole hPa, 60 s | 94.5 % | 0.0818 | 0.97 | 0.3 % | 10.6 % |
//! | polled averages 4 rows/s, whole hPa, 240 s | 96.2 % | 0.0398 | 1.04 | 0.3 % | 5.6 % |
//! | averages 4 rows/s, 1 kPa steps, 120 s | 97.0 % | 0.0298 | 1.00 | 0.0 % | 5.9 % |
//! | damped 0.05 s 25 Hz, zeroed, 60 s | 96.7 % | 0.0149 | 0.93 | 0.0 % | 33.4 % |
//! | the same with gain errors, pairs | 96.4 % | 0.4834 | 1.00 | 0.0 % | 32.5 % |
//! | polled averages zeroed, gain, pairs, 60 s | 95.9 % | 0.5023 | 0.97 | 0.3 % | 40.0 % |
//!
//! Made by `ENGINES=320 cargo bench -p evenpull --bench coverage`. The rows are the simulation's; a real engine may hold
//! what the simulation lacks.

pub mod drift;
pub mod measure;
pub mod reference;
pub mod rounding;
pub mod series;
pub mod signal;
pub mod verdict;
