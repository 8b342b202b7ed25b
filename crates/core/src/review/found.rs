//! Everything the review found out about a recording before it is put into words.

use crate::adjust::steps::Step;
use crate::balance::drift::Drift;
use crate::balance::measure::StateData;
use crate::balance::signal::Sampling;
use crate::health::sensors::BadStretch;
use crate::pulse::fold::Folded;
use crate::pulse::mark::Unusable;
use crate::pulse::order::{Inferred, Order};
use crate::pulse::refill::{Refill, Refusal};
use crate::pulse::ripple::{self, Ripple};
use crate::result::{Regime, Signal};
use crate::windows::Stretches;
use crate::windows::warm::Warmth;

use super::ambient::Ambient;

/// One state with its stretches.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Idle or raised.
    pub regime: Regime,
    /// Stretches used, s.
    pub stretches: Vec<(f64, f64)>,
    /// Means and series.
    pub data: StateData,
    /// Engine cycles used.
    pub cycles: f64,
    /// Mean speed, rev/min, and its standard uncertainty.
    pub rpm: (f64, f64),
}

/// A mark channel that gave the phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarkUse {
    /// Marks an engine cycle.
    pub per_cycle: u8,
    /// Share of the expected marks that were seen.
    pub seen: f64,
}

/// Facts of a recording.
#[derive(Debug, Clone)]
pub struct Found {
    /// Cylinder numbers, in order.
    pub numbers: Vec<u32>,
    /// Barometer, kind, bias.
    pub ambient: Ambient,
    /// Stretches of dead or doubtful sensors.
    pub bad: Vec<BadStretch>,
    /// Cylinders taken out, by index.
    pub dead: Vec<usize>,
    /// Channels that are copies of each other.
    pub duplicates: Vec<(u32, u32)>,
    /// Rows in a round where channels are polled in turn.
    pub polled_round: Option<usize>,
    /// Warmth.
    pub warmth: Warmth,
    /// Idle speed found, rev/min.
    pub idle_rpm: Option<f64>,
    /// Idle speed as the recording alone shows it, whatever the machine's band, rev/min.
    pub free_idle_rpm: Option<f64>,
    /// Windows and exclusions.
    pub stretches: Stretches,
    /// Length of the engine cycle, degrees of crank.
    pub cycle_deg: f64,
    /// Engine cycles of every row.
    pub cycles: Vec<f64>,
    /// Explained share of the fast variance.
    pub strength: f64,
    /// The mark channel: used, or why not; `None` where none is logged.
    pub mark: Option<Result<MarkUse, Unusable>>,
    /// Firing order as the pulses show it, where they are held.
    pub inferred: Option<Inferred>,
    /// Parts of the cylinders in the speed ripple, or why there are none; `None` where the pulses are not held.
    pub ripple: Option<Result<Ripple, ripple::Refusal>>,
    /// As left, or the only idle.
    pub left: Option<Measured>,
    /// First steady idle, where screws were turned.
    pub as_found: Option<Measured>,
    /// Raised.
    pub raised: Option<Measured>,
    /// Steps.
    pub steps: Vec<Step>,
    /// Sampling of the pulse.
    pub sampling: Option<Sampling>,
    /// How the pulse shows.
    pub signal: Signal,
    /// Averaged pulses by cylinder; empty where the sampling carries none.
    pub folded: Vec<Option<Folded>>,
    /// Refill rate by cylinder.
    pub refills: Vec<Option<Result<Refill, Refusal>>>,
    /// Crank angles against the machine file.
    pub order: Option<Order>,
    /// Channel whose pulse comes late (or early) against the others: index and cycles.
    pub late: Option<(usize, f64)>,
    /// Drift by cylinder.
    pub drifts: Vec<Option<Drift>>,
}
