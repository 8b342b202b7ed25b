//! A cycle-resolved engine with known faults, and the loggers that record it.
//!
//! The rest of the project judges recordings; this crate makes recordings whose truth is known.
//! Nothing here depends on the judging code, so an agreement between the two means something.
//!
//! 1. An [`Engine`] says what is built: firing angles, volumes, valves, idle speed and idle pressure.
//! 2. A [`Scenario`] says what happens to it: faults per cylinder, screws turned, blips, warm-up, a seed.
//! 3. [`simulate`] integrates plates, runners, valves, burning gas and the crank: a [`Run`].
//! 4. [`Run::truth`] gives the time means over whole engine cycles of the undisturbed pressures.
//! 5. A [`Logger`] turns the same run into a [`Log`] as a fast card, a damped gauge line, a slow logger or
//!    a diagnostic link would have written it; [`Log::to_csv`] writes it in the dialect asked for.
//!
//! ```
//! use evenpull_model::{simulate, CsvStyle, Engine, Logger, Scenario};
//!
//! let mut scenario = Scenario::new(Engine::inline_four(), 6.0, 7);
//! scenario.cylinder(3).plate = 0.92; // one plate 8 % closed
//! let run = simulate(&scenario)?;
//! let truth = run.truth(1.0, 6.0)?;
//! assert!(truth.mean_kpa[2] < truth.mean_kpa[0]);
//! let log = run.log(&Logger::damped(50.0, 0.05), 1)?;
//! assert!(log.to_csv(&CsvStyle::default()).starts_with("Time"));
//! # Ok::<(), evenpull_model::ModelError>(())
//! ```
//!
//! # What is simplified
//! The runner is one volume at intake temperature (isothermal filling) without waves, unless ringing is
//! added. One gas with constant heat capacities (ratio 1.33) fills the cylinders; orifices use the ratio of
//! air (1.4). Heat goes to the walls in proportion to pressure and temperature difference. Residual gas is
//! inert. Exhaust ports stand at the barometer. Friction is calibrated so that the healthy engine idles at
//! the asked speed. A two-stroke is its crankcase pump with a torque pulse in place of the burning gas.
//!
//! # Source
//! Heywood, Internal Combustion Engine Fundamentals, 1988: orifice flow (Appendix C), slider-crank volume
//! (eq. 2.6), Wiebe function (eq. 9.27). The heat and friction figures are round numbers from memory.

mod engine;
mod error;
pub mod lessons;
mod physics;
mod recorder;
mod run;
pub mod samples;
mod scenario;
mod sim;
pub mod workshop;

pub use engine::{Burn, Engine, Fuelling, IdleControl, Strokes, Valve};
pub use error::ModelError;
pub use physics::gas;
pub use physics::geometry;
pub use recorder::csv::{CsvStyle, HeaderStyle, PressureUnit, TimeStyle};
pub use recorder::log::{Column, Log, Quantity};
pub use recorder::logger::{Extras, Logger, MARK_DEG, Mark, Sampling};
pub use recorder::sensor::Sensor;
pub use run::{Cycle, Run, Truth};
pub use scenario::{Coolant, Crossover, CylinderFault, Event, Ringing, Scenario};
pub use sim::simulate;
