//! Means, deviations, spread and verdict.
//!
//! # How often the stated uncertainty holds
//!
//! 160 simulated fours with random plates idle for four minutes each; every logger below records all of them, and the reviewed
//! deviations (640 a row) are compared with the true time means over whole cycles of the four minutes. Rounding, sensor bias
//! (with its engine-off rows), lag, polling, jitter and phase are drawn anew for every recording; the gain of the sensors is not,
//! it stands in the verdict and not in U. *Inside*: share with the truth inside U. *U / 2 sd*: median U over twice the standard
//! deviation of the errors, 1 being neither too narrow nor bought by width. *Wrong*: a verdict that the truth contradicts.
//! *Open*: cannot tell (in the zeroed row mostly the gain allowance).
//!
//! | logger and length | inside | median U, kPa | U / 2 sd | wrong | open |
//! |---|---|---|---|---|---|
//! | undamped 1 kHz, 20 s | 94.4 % | 0.0055 | 1.09 | 0.0 % | 1.9 % |
//! | undamped 100 Hz, 30 s | 97.2 % | 0.0106 | 1.18 | 0.0 % | 2.5 % |
//! | undamped 50 Hz, 60 s | 95.8 % | 0.0167 | 0.89 | 0.0 % | 3.8 % |
//! | damped 0.05 s 25 Hz, 60 s | 95.6 % | 0.0072 | 0.94 | 0.0 % | 1.9 % |
//! | damped 0.12 s 20 Hz, 60 s | 98.1 % | 0.0037 | 1.06 | 0.0 % | 2.5 % |
//! | damped 0.3 s 20 Hz, 60 s | 95.9 % | 0.0032 | 0.96 | 0.0 % | 2.5 % |
//! | undamped 12.5 Hz, 1 kPa steps, 120 s | 94.2 % | 0.0491 | 0.92 | 0.0 % | 5.6 % |
//! | undamped 10 Hz, 120 s | 94.5 % | 0.0434 | 0.96 | 0.0 % | 6.9 % |
//! | undamped 5 Hz, 120 s | 95.2 % | 0.0736 | 0.94 | 0.0 % | 10.0 % |
//! | polled averages 4 rows/s, whole hPa, 60 s | 94.1 % | 0.0804 | 0.95 | 0.0 % | 11.9 % |
//! | polled averages 4 rows/s, whole hPa, 240 s | 96.1 % | 0.0395 | 1.01 | 0.6 % | 5.6 % |
//! | averages 4 rows/s, 1 kPa steps, 120 s | 98.0 % | 0.0301 | 1.06 | 0.0 % | 8.8 % |
//! | damped 0.05 s 25 Hz, zeroed, 60 s | 96.9 % | 0.0147 | 0.91 | 0.0 % | 36.2 % |
//!
//! Made by `ENGINES=160 cargo bench -p evenpull --bench coverage`. The rows are the simulation's; a real engine may hold
//! what the simulation lacks.

pub mod drift;
pub mod measure;
pub mod reference;
pub mod rounding;
pub mod series;
pub mod signal;
pub mod verdict;
