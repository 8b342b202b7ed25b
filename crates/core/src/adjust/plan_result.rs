//! The plan, field by field as it is written to disk (`evenpull.plan/1`).
//!
//! A quantity that cannot be had is `None` (JSON `null`). Turns count positive when they open the plate. Cylinders count from 1.

use serde::{Deserialize, Serialize};

use super::effects::{EffectSource, Untouched};
use super::influence::Coupling;
use crate::result::{FurtherTurning, MachineInfo, Measured, SourceInfo, Verdict};

/// Name of the schema of [`Plan`].
pub const PLAN_SCHEMA: &str = "evenpull.plan/1";

/// What to do next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Advice {
    /// Turn as listed.
    Turn,
    /// Make the test turn: what a turn does is not known yet.
    TestTurn,
    /// Leave the screws alone: inside the limit, or what is left is under what can be measured or turned.
    Stop,
    /// Find the cause first: turning would only hide it.
    CauseFirst,
    /// The recording does not carry a plan; another one would.
    RecordAgain,
    /// Outside its limit, and no screw may be turned.
    NothingToTurn,
}

/// Open or close.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// More air: the pressure rises, the vacuum falls.
    Open,
    /// Less air.
    Close,
}

/// Rotation of the screw, seen from its head.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Rotation {
    /// Clockwise.
    Clockwise,
    /// Anticlockwise.
    Anticlockwise,
}

/// One screw to turn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurnAdvice {
    /// Order of work, from 1.
    pub order: u32,
    /// Cylinder.
    pub cylinder: u32,
    /// Direction; `None` where absolute or vacuum is not known.
    pub direction: Option<Direction>,
    /// Rotation, only where the machine file says which way the screw opens.
    pub rotation: Option<Rotation>,
    /// How far now, turns of opening; `None` where what a turn does is not known.
    pub turns: Option<f64>,
    /// What is left for later rounds as far as can be said now, turns of opening.
    pub later_turns: Option<f64>,
    /// Its deviation now, kPa.
    pub deviation_kpa: Option<Measured>,
    /// To be made alone, as the test turn.
    pub test: bool,
}

/// A cylinder that is not turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeftAlone {
    /// Cylinder.
    pub cylinder: u32,
    /// Why.
    pub why: Untouched,
}

/// A point estimate with an interval that holds 95 %.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// Estimate.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// One cylinder after the turns.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ExpectedCylinder {
    /// Cylinder.
    pub cylinder: u32,
    /// Deviation from the same reference, kPa.
    pub deviation_kpa: f64,
    /// Its expanded uncertainty (k = 2), kPa.
    pub u_kpa: f64,
}

/// One cylinder now.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct NowCylinder {
    /// Cylinder.
    pub cylinder: u32,
    /// Time mean over whole cycles, kPa absolute.
    pub pressure_kpa: Option<Measured>,
    /// Against the reference, kPa.
    pub deviation_kpa: Option<Measured>,
}

/// What to expect after the turns.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Expected {
    /// Spread, kPa.
    pub spread_kpa: Interval,
    /// Chance that the spread is inside its limit, 0 to 1.
    pub inside: f64,
    /// Idle speed, rev/min, where it is known what a turn does to it.
    pub rpm: Option<Measured>,
    /// Cylinders with a pressure.
    pub cylinders: Vec<ExpectedCylinder>,
}

/// What one turn of opening does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PerTurn {
    /// Cylinder of the screw.
    pub cylinder: u32,
    /// Own pressure against the others, kPa.
    pub kpa: Measured,
    /// Idle speed, rev/min.
    pub rpm: Option<Measured>,
    /// Origin.
    pub source: EffectSource,
}

/// What is known of the screws.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InfluenceInfo {
    /// By screw; empty where nothing is known.
    pub per_turn: Vec<PerTurn>,
    /// How screws act, where it was learned.
    pub coupling: Option<Coupling>,
    /// Rounds learned from.
    pub rounds: usize,
    /// Sessions in which they were made.
    pub sessions: usize,
    /// Condition number of what was learned.
    pub condition: Option<f64>,
    /// Screws that were turned and showed no effect.
    pub without_effect: Vec<u32>,
    /// Why nothing was learned from the turns noted.
    pub refused_because: Option<String>,
    /// Turns noted that taught nothing, with the reason.
    pub passed_over: Vec<String>,
}

/// A reason, an instruction or a warning: a stable code and one or two finished sentences.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Point {
    /// Kebab-case code.
    pub code: String,
    /// Sentence.
    pub text: String,
    /// Cylinder it is about.
    pub cylinder: Option<u32>,
}

impl Point {
    /// A point about no single cylinder.
    #[must_use]
    pub fn new(code: &str, text: impl Into<String>) -> Self {
        Self { code: code.to_owned(), text: text.into(), cylinder: None }
    }

    /// A point about one cylinder.
    #[must_use]
    pub fn on(code: &str, cylinder: u32, text: impl Into<String>) -> Self {
        Self { code: code.to_owned(), text: text.into(), cylinder: Some(cylinder) }
    }
}

/// What to turn, schema `evenpull.plan/1`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// `evenpull.plan/1`.
    pub schema: String,
    /// Version of the program.
    pub version: String,
    /// The recording that the plan rests on.
    pub source: SourceInfo,
    /// Machine.
    pub machine: MachineInfo,
    /// Verdict on the recording.
    pub verdict: Verdict,
    /// Spread now, kPa.
    pub spread_kpa: Option<Measured>,
    /// Largest spread a recording like this one may read and still be inside: the limit less the guard, kPa.
    pub accept_kpa: Option<f64>,
    /// Expanded uncertainty of a difference, the gain of the sensors included, kPa: less cannot be told from nothing.
    pub noise_kpa: Option<f64>,
    /// Effect of the smallest turn of the screw that moves most, kPa.
    pub smallest_turn_kpa: Option<f64>,
    /// The smallest turn a hand can make, turns.
    pub step_turns: f64,
    /// Idle speed now, rev/min.
    pub rpm: Option<Measured>,
    /// Every cylinder now.
    pub cylinders: Vec<NowCylinder>,
    /// What to do.
    pub advice: Advice,
    /// The same for scripts that read reviews.
    pub further_turning: Option<FurtherTurning>,
    /// Why this advice.
    pub because: Vec<Point>,
    /// Look at these before a screw is touched; they do not forbid the turns.
    pub look_first: Vec<Point>,
    /// Screws to turn, in order of work.
    pub turns: Vec<TurnAdvice>,
    /// Cylinders that are not turned.
    pub left_alone: Vec<LeftAlone>,
    /// What to expect after `turns`.
    pub expected: Option<Expected>,
    /// What one turn does.
    pub influence: InfluenceInfo,
    /// How to go about it, in order.
    pub steps: Vec<Point>,
    /// What not to do.
    pub do_not: Vec<Point>,
    /// When to stop.
    pub stop_when: Vec<Point>,
    /// Causes that the person has ruled out, by code.
    pub ruled_out: Vec<String>,
    /// Keys of the cautions that go with every output.
    pub cautions: Vec<String>,
}
