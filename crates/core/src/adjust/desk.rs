//! The desk on which a plan is made: what the review says, which screws there are, and the decision what to do.

use super::advice;
use super::effects::{Effect, Screw, Trust, Untouched, effects, refuted, screws};
use super::influence::{Influence, InfluenceError};
use super::plan::PlanOptions;
use super::plan_result::{
    Advice, Direction, InfluenceInfo, LeftAlone, NowCylinder, PLAN_SCHEMA, PerTurn, Plan, Point,
};
use crate::codes;
use crate::machine::Machine;
use crate::result::{
    CylinderResult, GroupReference, Measured, Reference, Regime, Review, Undecided, Verdict,
};
use crate::stats::robust::median;

fn now(c: &CylinderResult) -> NowCylinder {
    let finite = |m: Option<Measured>| m.filter(|m| m.value.is_finite() && m.u.is_finite());
    NowCylinder {
        cylinder: c.cylinder,
        pressure_kpa: finite(c.pressure_kpa),
        deviation_kpa: finite(c.deviation_kpa),
    }
}

/// Everything a plan is made from.
pub(super) struct Desk<'a> {
    pub(super) review: &'a Review,
    pub(super) machine: &'a Machine,
    pub(super) options: &'a PlanOptions,
    pub(super) influence: Option<&'a Influence>,
    pub(super) limit_kpa: f64,
    pub(super) live: Vec<u32>,
    pub(super) deviation_kpa: Vec<f64>,
    pub(super) screws: Vec<Screw>,
    pub(super) left_alone: Vec<(u32, Untouched)>,
    pub(super) effects: Vec<Option<Effect>>,
}

impl<'a> Desk<'a> {
    pub(super) fn new(
        review: &'a Review,
        machine: &'a Machine,
        influence: Option<&'a Influence>,
        options: &'a PlanOptions,
    ) -> Self {
        let live: Vec<(u32, f64)> = review
            .cylinders
            .iter()
            .filter_map(|c| c.deviation_kpa.filter(|d| d.value.is_finite()).map(|d| (c.cylinder, d.value)))
            .collect();
        let (live, deviation_kpa): (Vec<u32>, Vec<f64>) = live.into_iter().unzip();
        let all: Vec<u32> = review.cylinders.iter().map(|c| c.cylinder).collect();
        let (mut screws, mut left_alone) = screws(machine, &all, &live);
        let trust = Trust { file: options.file_relative_u, alike: options.alike_relative_u };
        let mut effects = effects(&screws, &live, influence, trust);
        for j in (0..screws.len()).rev().filter(|_| influence.is_some()) {
            if refuted(&screws[j], effects[j].as_ref(), influence) {
                left_alone.push((screws.remove(j).cylinder, Untouched::NoEffect));
                effects.remove(j);
            }
        }
        let limit_kpa = review.machine.limit_kpa;
        Self {
            review,
            machine,
            options,
            influence,
            limit_kpa,
            live,
            deviation_kpa,
            screws,
            left_alone,
            effects,
        }
    }
}

impl Desk<'_> {
    pub(super) fn blank(&self) -> Plan {
        let idle = self.review.regimes.iter().find(|s| s.regime == Regime::Idle);
        let coverage = |v: (f64, f64)| Measured { value: v.0, u: 2.0 * v.1 };
        let per_turn = self
            .screws
            .iter()
            .zip(&self.effects)
            .filter_map(|(s, e)| {
                e.as_ref().map(|e| PerTurn {
                    cylinder: s.cylinder,
                    kpa: coverage((e.kpa_per_turn, e.u_kpa_per_turn)),
                    rpm: e.rpm_per_turn.map(coverage),
                    source: e.source,
                })
            })
            .collect();
        let weight = |e: &Effect| e.kpa_per_turn * self.options.step_turns;
        let strongest = self.effects.iter().flatten().map(weight).fold(f64::NEG_INFINITY, f64::max);
        Plan {
            schema: PLAN_SCHEMA.to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            source: self.review.source.clone(),
            machine: self.review.machine.clone(),
            verdict: self.review.verdict,
            spread_kpa: self.review.spread_kpa,
            accept_kpa: (self.accept_kpa() > 0.0).then(|| self.accept_kpa()),
            noise_kpa: self.review.spread_kpa.map(|_| 2.0 * self.u_pair_kpa().hypot(self.gain_kpa())),
            smallest_turn_kpa: strongest.is_finite().then_some(strongest),
            step_turns: self.options.step_turns,
            rpm: idle.map(|s| s.rpm).filter(|r| r.value.is_finite()),
            cylinders: self.review.cylinders.iter().map(now).collect(),
            advice: Advice::RecordAgain,
            further_turning: None,
            because: Vec::new(),
            look_first: Vec::new(),
            turns: Vec::new(),
            left_alone: self.left_alone.iter().map(|&(cylinder, why)| LeftAlone { cylinder, why }).collect(),
            expected: None,
            influence: InfluenceInfo {
                per_turn,
                coupling: self.influence.map(|i| i.coupling),
                rounds: self.influence.map_or(0, |i| i.rounds),
                sessions: self.influence.map_or(0, |_| self.options.sessions),
                condition: self.influence.map(|i| i.condition).filter(|c| c.is_finite()),
                without_effect: self
                    .influence
                    .map(|i| i.without_effect.iter().map(|w| w.0).collect())
                    .unwrap_or_default(),
                refused_because: self.options.not_learned.as_ref().map(ToString::to_string),
                passed_over: self.options.passed_over.clone(),
            },
            steps: Vec::new(),
            do_not: Vec::new(),
            stop_when: Vec::new(),
            ruled_out: self.options.ruled_out.clone(),
            cautions: advice::CAUTION_KEYS.iter().map(|k| (*k).to_owned()).collect(),
        }
    }

    /// The advice with its reasons and turns.
    pub(super) fn decide(&self, plan: &mut Plan, first: Vec<Point>) {
        let blind = self.review.notices.iter().any(|n| n.code == codes::KIND_AMBIGUOUS);
        if !first.is_empty() && self.review.verdict != Verdict::NotApplicable {
            (plan.advice, plan.because) = (Advice::CauseFirst, first);
        } else if self.review.verdict == Verdict::NotApplicable || self.live.len() < 2 {
            plan.because.push(advice::record_again(self.review));
        } else if self.review.verdict == Verdict::Within {
            plan.advice = Advice::Stop;
            plan.because.push(self.inside());
        } else if blind {
            plan.because.push(Point::new(codes::KIND_AMBIGUOUS, "Nothing tells whether the pressures are absolute or vacuum, so no direction can be given. Record a blip or 15 s with the engine off, or name the kind in the machine file."));
            plan.turns = self.order(None, false);
        } else if let Some(stop) = self.under_the_repeats() {
            plan.advice = Advice::Stop;
            plan.because.push(stop);
        } else if self.review.verdict == Verdict::CannotTell && !self.cannot_be_decided() {
            plan.because.push(advice::record_again(self.review));
        } else if self.screws.is_empty() {
            plan.advice = Advice::NothingToTurn;
            plan.because.push(Point::new("nothing-to-turn", "No cylinder has an adjuster that may be turned. Look for the cause in linkage, plates and leaks."));
        } else if self.effects.iter().any(Option::is_none) || self.chained().is_some() {
            self.test(plan);
        } else {
            self.turn(plan);
        }
        if plan.advice != Advice::CauseFirst && plan.advice != Advice::Stop {
            self.name_the_even(plan);
        }
        if self.nameless_twin() && matches!(plan.advice, Advice::Turn | Advice::TestTurn) {
            let text = "two cylinders and no reference: which of them moved cannot be told. Look at both for a leak, dirt and play; opening the one or closing the other evens them alike, and the idle speed says which is better";
            plan.look_first.insert(0, Point::new(codes::EITHER_OF_TWO, text));
        }
    }

    fn name_the_even(&self, plan: &mut Plan) {
        let turned: Vec<u32> = plan.turns.iter().map(|t| t.cylinder).collect();
        let even = self.screws.iter().filter(|s| !turned.contains(&s.cylinder));
        plan.left_alone.extend(even.map(|s| LeftAlone { cylinder: s.cylinder, why: Untouched::Even }));
        plan.left_alone.sort_by_key(|l| l.cylinder);
    }

    /// Two cylinders, and no reference among them.
    pub(super) fn nameless_twin(&self) -> bool {
        self.live.len() == 2 && matches!(self.machine.reference, Reference::Group(_))
    }

    /// Which way the idle speed asks for: towards the middle of its band.
    pub(super) fn speed_asks(&self) -> Option<Direction> {
        let (low, high) = self.machine.idle_rpm?;
        let rpm = self.review.regimes.iter().find(|s| s.regime == Regime::Idle)?.rpm.value;
        rpm.is_finite().then_some(if rpm > 0.5 * (low + high) { Direction::Close } else { Direction::Open })
    }

    /// The screws were seen to act on each other's cylinders and it is not known how: those already turned alone.
    pub(super) fn chained(&self) -> Option<&[u32]> {
        match &self.options.not_learned {
            Some(InfluenceError::TooFewRounds { alone, .. }) => Some(alone),
            _ => None,
        }
    }

    /// Standard uncertainty of a difference, kPa.
    pub(super) fn u_pair_kpa(&self) -> f64 {
        self.review.spread_kpa.map_or(0.1, |s| 0.5 * s.u).max(1e-3)
    }

    /// Standard uncertainty that the gain of two sensors adds to their difference, kPa; it counts in the verdict. Only where
    /// zeros were taken: without them the sensors are taken as equal, and the plan says so.
    pub(super) fn gain_kpa(&self) -> f64 {
        let zeros = self.review.cylinders.iter().filter(|c| c.bias_removed_kpa.is_some()).count();
        let means: Vec<f64> =
            self.review.cylinders.iter().filter_map(|c| c.pressure_kpa.map(|p| p.value)).collect();
        match median(&means) {
            Some(level) if zeros > 1 => {
                let distance = (self.review.barometer_kpa.unwrap_or(101.325) - level).abs();
                self.options.gain_allowance * distance * (2.0 / 3.0_f64).sqrt()
            }
            _ => 0.0,
        }
    }

    /// The limit less the guard of the next measurement, kPa.
    pub(super) fn accept_kpa(&self) -> f64 {
        self.limit_kpa - self.options.guard * self.u_pair_kpa().hypot(self.gain_kpa())
    }

    /// Root mean square of a motion lost somewhere between nothing and all the play, turns.
    pub(super) fn u_turn(&self) -> f64 {
        self.options.backlash_turns / 3f64.sqrt()
    }

    /// The reference's level among pressures of the live cylinders.
    pub(super) fn middle(&self, pressure_kpa: &[f64]) -> f64 {
        let mean = pressure_kpa.iter().sum::<f64>() / pressure_kpa.len().max(1) as f64;
        match self.machine.reference {
            Reference::Cylinder(number) => {
                self.live.iter().position(|c| *c == number).map_or(mean, |i| pressure_kpa[i])
            }
            Reference::Group(GroupReference::Mean) => mean,
            Reference::Group(GroupReference::Median) => median(pressure_kpa).unwrap_or(mean),
        }
    }

    fn inside(&self) -> Point {
        let text = match self.review.spread_kpa {
            Some(s) => format!(
                "The spread of {:.3} \u{b1} {:.3} kPa is inside its limit of {:.1} kPa with its uncertainty.",
                s.value, s.u, self.limit_kpa
            ),
            None => "The spread is inside its limit.".to_owned(),
        };
        Point::new("inside", text)
    }

    pub(super) fn outside(&self) -> Point {
        let s = self.review.spread_kpa.unwrap_or(Measured { value: f64::NAN, u: f64::NAN });
        if self.review.verdict == Verdict::Outside {
            let text = format!(
                "The spread of {:.3} \u{b1} {:.3} kPa is outside its limit of {:.1} kPa.",
                s.value, s.u, self.limit_kpa
            );
            Point::new("outside", text)
        } else {
            let text = format!(
                "The spread of {:.3} \u{b1} {:.3} kPa sits at its limit of {:.1} kPa; no recording of a sensible length would decide, a small turn does.",
                s.value, s.u, self.limit_kpa
            );
            Point::new("at-the-limit", text)
        }
    }

    /// What exceeds the limit is under the scatter between repeats.
    fn under_the_repeats(&self) -> Option<Point> {
        let (repeat, spread) = (self.options.repeat_kpa?, self.review.spread_kpa?);
        let scatter = self.options.guard * std::f64::consts::SQRT_2 * repeat;
        (spread.value - self.limit_kpa <= scatter).then(|| {
            let text = format!("The spread of {:.2} kPa is no more over its limit than repeats of the same state scatter ({scatter:.2} kPa).", spread.value);
            Point::new("repeats", text)
        })
    }

    /// At the limit, no recording of a sensible length would decide, and the cylinders do differ: a small turn decides.
    fn cannot_be_decided(&self) -> bool {
        let longer = match self.review.undecided_because {
            Some(Undecided::Scatter) => {
                self.review.seconds_to_decide.is_some_and(|s| s <= self.options.longest_record_s)
            }
            // Zeros are known, what is left is the gain: no recording shows that.
            Some(Undecided::Bias) => self.gain_kpa() <= 0.0,
            _ => true,
        };
        let u = self.u_pair_kpa().hypot(self.gain_kpa());
        !longer && self.review.spread_kpa.is_some_and(|s| s.value - 2.0 * u > 0.3 * self.limit_kpa)
    }
}
