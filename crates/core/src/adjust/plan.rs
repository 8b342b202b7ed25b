//! From a review to a plan: what to turn, which way, how far, and when to stop.
//!
//! # Method
//! 1. Causes that turning would hide come first ([`super::causes`]).
//! 2. Inside the limit with its guard band: stop. Undecided: the recording that would decide.
//! 3. Outside: the effect of a turn is taken from what was learned, else from the machine file ([`super::effects`]). Without
//!    one: order, direction and the test turn ([`super::test_turn`]).
//! 4. The whole way is searched in steps that a hand can make ([`super::turns`]) within the range of every screw, then cut to
//!    what is safe in one round: half a turn where the effect is not known well, up to 5 kPa and two turns where it is
//!    (standard uncertainty of 15 % or less). Screws are not linear over long ways. The cut is made on the way to the whole plan, so
//!    that no healthy cylinder is moved to meet a sick one half-way.
//! 5. What to expect is drawn with all uncertainties ([`super::outlook`]). Turns that would not help are not given.
//!
//! The common level of all cylinders is not determined by their differences: the reference cylinder fixes it, else the least
//! movement does, and the idle speed is held in its band where it is known what a turn does to it.
//!
//! These bounds and the step of 1/8 turn are own rules; the lost motion of 1/16 turn is common practice, no source.

use super::advice;
use super::causes::causes;
use super::desk::Desk;
use super::influence::{Influence, InfluenceError};
use super::plan_result::{Advice, Plan};
use crate::machine::Machine;
use crate::result::{FurtherTurning, Review};

/// Settings of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanOptions {
    /// Smallest turn a hand can make, turns.
    pub step_turns: f64,
    /// Largest turn in one round where the effect is not known well, turns.
    pub trust_turns: f64,
    /// Largest turn in one round where it is, turns.
    pub trust_known_turns: f64,
    /// Largest change of a cylinder in one round where the effect is known well, kPa.
    pub trust_known_kpa: f64,
    /// Relative standard uncertainty up to which an effect is known well.
    pub known_well: f64,
    /// Lost motion of a screw, turns.
    pub backlash_turns: f64,
    /// Relative standard uncertainty of the machine file's `kpa_per_turn`: a figure that somebody wrote down, within a quarter.
    pub file_relative_u: f64,
    /// Gain error left after the zero at the barometer, as a fraction of the distance to it, as in the review.
    pub gain_allowance: f64,
    /// The same of a figure taken from the other screws.
    pub alike_relative_u: f64,
    /// One-sided guard in standard uncertainties.
    pub guard: f64,
    /// d ln pressure / d ln plate area.
    pub pressure_per_area: f64,
    /// Usual effect of a turn, to size the test turn, kPa.
    pub usual_kpa_per_turn: f64,
    /// Scatter between repeats of a difference, kPa, where repeats are known.
    pub repeat_kpa: Option<f64>,
    /// Longest recording worth asking for to decide, s.
    pub longest_record_s: f64,
    /// Causes that the person has ruled out, by code.
    pub ruled_out: Vec<String>,
    /// Why nothing was learned from the turns noted, for the plan to say.
    pub not_learned: Option<InfluenceError>,
}

impl Default for PlanOptions {
    fn default() -> Self {
        Self {
            step_turns: 0.125,
            trust_turns: 0.5,
            trust_known_turns: 2.0,
            trust_known_kpa: 5.0,
            known_well: 0.15,
            backlash_turns: 0.0625,
            file_relative_u: 0.12,
            gain_allowance: 0.005,
            alike_relative_u: 0.25,
            guard: 1.645,
            pressure_per_area: 0.78,
            usual_kpa_per_turn: 2.0,
            repeat_kpa: None,
            longest_record_s: 300.0,
            ruled_out: Vec::new(),
            not_learned: None,
        }
    }
}

/// Makes a plan.
///
/// # Units
/// kPa, rev/min, turns of opening.
///
/// # Errors
/// None: where no turn can be given the plan says why and what to do instead.
#[must_use]
pub fn plan(
    review: &Review,
    machine: &Machine,
    influence: Option<&Influence>,
    options: &PlanOptions,
) -> Plan {
    let desk = Desk::new(review, machine, influence, options);
    let mut plan = desk.blank();
    let found = causes(review, desk.limit_kpa, options.pressure_per_area, &options.ruled_out);
    plan.look_first = found.look;
    desk.decide(&mut plan, found.first);
    plan.further_turning = match plan.advice {
        Advice::Turn | Advice::TestTurn => Some(FurtherTurning::Worthwhile),
        Advice::Stop => Some(FurtherTurning::WithinNoise),
        Advice::CauseFirst => Some(FurtherTurning::NotTheCure),
        Advice::RecordAgain | Advice::NothingToTurn => None,
    };
    plan.steps = advice::steps(plan.advice, &plan.turns);
    plan.do_not = advice::do_not(&plan);
    plan.stop_when = advice::stop_when(&plan);
    plan
}

#[cfg(test)]
#[path = "plan_tests.rs"]
pub(crate) mod tests;
