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
use super::effects::{Effect, Screw, Trust, Untouched, effects, screws};
use super::influence::{Influence, InfluenceError};
use super::outlook::outlook;
use super::plan_result::{
    Advice, Direction, Expected, ExpectedCylinder, InfluenceInfo, Interval, LeftAlone, PLAN_SCHEMA, PerTurn, Plan,
    Point, Rotation, TurnAdvice,
};
use super::test_turn::test_turn;
use super::turns::{Problem, Speed};
use crate::codes;
use crate::machine::{Machine, Opens};
use crate::result::{
    FurtherTurning, GroupReference, Measured, Reference, Regime, Review, Undecided, Verdict,
};
use crate::stats::robust::median;

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

/// Most turns of a screw whose range is not given.
const OPEN_RANGE_TURNS: f64 = 4.0;

/// Makes a plan.
///
/// # Units
/// kPa, rev/min, turns of opening.
///
/// # Errors
/// None: where no turn can be given the plan says why and what to do instead.
#[must_use]
pub fn plan(review: &Review, machine: &Machine, influence: Option<&Influence>, options: &PlanOptions) -> Plan {
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
    plan.stop_when = advice::stop_when(&plan, desk.accept_kpa(), &plan.influence.per_turn, options.step_turns);
    plan
}

/// Everything a plan is made from.
struct Desk<'a> {
    review: &'a Review,
    machine: &'a Machine,
    options: &'a PlanOptions,
    influence: Option<&'a Influence>,
    limit_kpa: f64,
    live: Vec<u32>,
    deviation_kpa: Vec<f64>,
    screws: Vec<Screw>,
    left_alone: Vec<(u32, Untouched)>,
    effects: Vec<Option<Effect>>,
}

impl<'a> Desk<'a> {
    fn new(
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
        let (screws, left_alone) = screws(machine, &all, &live);
        let trust = Trust { file: options.file_relative_u, alike: options.alike_relative_u };
        let effects = effects(&screws, &live, influence, trust);
        let limit_kpa = review.machine.limit_kpa;
        Self { review, machine, options, influence, limit_kpa, live, deviation_kpa, screws, left_alone, effects }
    }

    fn blank(&self) -> Plan {
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
        Plan {
            schema: PLAN_SCHEMA.to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            source: self.review.source.clone(),
            machine: self.review.machine.clone(),
            verdict: self.review.verdict,
            spread_kpa: self.review.spread_kpa,
            rpm: idle.map(|s| s.rpm).filter(|r| r.value.is_finite()),
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
                condition: self.influence.map(|i| i.condition).filter(|c| c.is_finite()),
                without_effect: self.influence.map(|i| i.without_effect.clone()).unwrap_or_default(),
                refused_because: self.options.not_learned.as_ref().map(ToString::to_string),
            },
            steps: Vec::new(),
            do_not: Vec::new(),
            stop_when: Vec::new(),
            ruled_out: self.options.ruled_out.clone(),
            cautions: advice::CAUTION_KEYS.iter().map(|k| (*k).to_owned()).collect(),
        }
    }

    /// The advice with its reasons and turns.
    fn decide(&self, plan: &mut Plan, first: Vec<Point>) {
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
            plan.turns = self.order(None);
        } else if let Some(stop) = self.under_the_repeats() {
            plan.advice = Advice::Stop;
            plan.because.push(stop);
        } else if self.review.verdict == Verdict::CannotTell && !self.cannot_be_decided() {
            plan.because.push(advice::record_again(self.review));
        } else if self.screws.is_empty() {
            plan.advice = Advice::NothingToTurn;
            plan.because.push(Point::new("nothing-to-turn", "No cylinder has an adjuster that may be turned. Look for the cause in linkage, plates and leaks."));
        } else if self.effects.iter().any(Option::is_none) {
            self.test(plan);
        } else {
            self.turn(plan);
        }
        if plan.advice != Advice::CauseFirst && plan.advice != Advice::Stop {
            self.name_the_even(plan);
        }
    }

    fn name_the_even(&self, plan: &mut Plan) {
        let turned: Vec<u32> = plan.turns.iter().map(|t| t.cylinder).collect();
        let even = self.screws.iter().filter(|s| !turned.contains(&s.cylinder));
        plan.left_alone.extend(even.map(|s| LeftAlone { cylinder: s.cylinder, why: Untouched::Even }));
        plan.left_alone.sort_by_key(|l| l.cylinder);
    }

    /// Standard uncertainty of a difference, kPa.
    fn u_pair_kpa(&self) -> f64 {
        self.review.spread_kpa.map_or(0.1, |s| 0.5 * s.u).max(1e-3)
    }

    /// Standard uncertainty that the gain of two sensors adds to their difference, kPa; it counts in the verdict. Only where
    /// zeros were taken: without them the sensors are taken as equal, and the plan says so.
    fn gain_kpa(&self) -> f64 {
        let zeros = self.review.cylinders.iter().filter(|c| c.bias_removed_kpa.is_some()).count();
        let means: Vec<f64> = self.review.cylinders.iter().filter_map(|c| c.pressure_kpa.map(|p| p.value)).collect();
        match median(&means) {
            Some(level) if zeros > 1 => {
                let distance = (self.review.barometer_kpa.unwrap_or(101.325) - level).abs();
                self.options.gain_allowance * distance * (2.0 / 3.0_f64).sqrt()
            }
            _ => 0.0,
        }
    }

    /// The limit less the guard of the next measurement, kPa.
    fn accept_kpa(&self) -> f64 {
        self.limit_kpa - self.options.guard * self.u_pair_kpa().hypot(self.gain_kpa())
    }

    /// Root mean square of a motion lost somewhere between nothing and all the play, turns.
    fn u_turn(&self) -> f64 {
        self.options.backlash_turns / 3f64.sqrt()
    }

    fn inside(&self) -> Point {
        let text = match self.review.spread_kpa {
            Some(s) => format!("The spread of {:.2} kPa (\u{b1} {:.2}) is inside its limit of {:.1} kPa with its uncertainty.", s.value, s.u, self.limit_kpa),
            None => "The spread is inside its limit.".to_owned(),
        };
        Point::new("inside", text)
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

    /// Screws in order of need, without amounts. `test` is the one of the test turn with its turns.
    fn order(&self, test: Option<(u32, f64)>) -> Vec<TurnAdvice> {
        let target = self.middle(&self.deviation_kpa);
        let mut off: Vec<(f64, &Screw)> =
            self.screws.iter().map(|s| (self.deviation_kpa[s.index] - target, s)).collect();
        off.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
        let half = match self.machine.reference {
            Reference::Cylinder(_) => self.accept_kpa(),
            Reference::Group(_) => 0.5 * self.accept_kpa(),
        };
        let furthest = off.first().map_or(0.0, |o| o.0.abs());
        let blind = self.review.notices.iter().any(|n| n.code == codes::KIND_AMBIGUOUS);
        off.iter()
            .filter(|o| o.0.abs() > half || o.0.abs() >= furthest)
            .enumerate()
            .map(|(rank, (d, s))| {
                let towards = if *d > 0.0 { Direction::Close } else { Direction::Open };
                let direction = (!blind).then_some(towards);
                let made = test.filter(|t| t.0 == s.cylinder).map(|t| t.1);
                self.row(rank, s, direction, made, None, made.is_some())
            })
            .collect()
    }

    fn row(
        &self,
        rank: usize,
        screw: &Screw,
        direction: Option<Direction>,
        turns: Option<f64>,
        later_turns: Option<f64>,
        test: bool,
    ) -> TurnAdvice {
        let rotation = match (direction, screw.opens) {
            (None, _) | (_, Opens::Unknown) => None,
            (Some(Direction::Open), Opens::Clockwise) | (Some(Direction::Close), Opens::Anticlockwise) => {
                Some(Rotation::Clockwise)
            }
            _ => Some(Rotation::Anticlockwise),
        };
        let cylinder = self.review.cylinders.iter().find(|c| c.cylinder == screw.cylinder);
        TurnAdvice {
            order: rank as u32 + 1,
            cylinder: screw.cylinder,
            direction,
            rotation,
            turns,
            later_turns,
            deviation_kpa: cylinder.and_then(|c| c.deviation_kpa),
            test,
        }
    }

    /// What a turn does is not known.
    fn test(&self, plan: &mut Plan) {
        let options = self.options;
        let order = self.order(None);
        let first = order.iter().find_map(|t| {
            let screw = self.screws.iter().find(|s| s.cylinder == t.cylinder)?;
            let u = (self.u_pair_kpa() * std::f64::consts::SQRT_2 / options.usual_kpa_per_turn).hypot(self.u_turn());
            let size = test_turn(u, options.step_turns, screw.range_turns);
            let sign = if t.direction == Some(Direction::Close) { -1.0 } else { 1.0 };
            (size > 0.0).then_some((t.cylinder, sign * size))
        });
        let Some((cylinder, turns)) = first else {
            plan.advice = Advice::NothingToTurn;
            plan.because.push(Point::new("no-range", "No screw has room for the smallest turn within its range."));
            return;
        };
        plan.advice = Advice::TestTurn;
        plan.because.push(Point::new("effect-unknown", format!(
            "What a turn does on this machine is not known yet. One turn of {} at cylinder {cylinder}, which needs it anyhow, teaches it.",
            advice::turn_words(turns)
        )));
        plan.turns = self.order(Some((cylinder, turns)));
        plan.turns.sort_by_key(|t| (!t.test, t.order));
        plan.turns.iter_mut().zip(1..).for_each(|(t, n)| t.order = n);
    }

    /// The search and what comes of it.
    fn turn(&self, plan: &mut Plan) {
        let effects: Vec<&Effect> = self.effects.iter().flatten().collect();
        let problem = self.problem(&effects);
        let none = vec![0; effects.len()];
        let whole = problem.search();
        let now = self.cut(&problem, &effects, &whole);
        let (before, after) = (problem.spread(&none), problem.spread(&now));
        if now == none || after.0 >= before.0 - 1e-3 {
            plan.advice = Advice::Stop;
            let step = advice::turn_words(self.options.step_turns);
            plan.because.push(Point::new("smallest-turn", format!("No turn of {step} or more within the ranges of the screws brings the cylinders closer together.")));
            return;
        }
        plan.advice = Advice::Turn;
        plan.because.push(self.outside());
        plan.turns = self.rows(&now, &whole);
        for (j, s) in self.screws.iter().enumerate() {
            if s.range_turns.is_some() && whole[j].abs() == problem.most[j] && whole[j] != 0 {
                let text = "needs all the range of its screw: look for dirt on its plate, a plate that hangs or a loose link before you turn that far";
                plan.look_first.push(Point::on("end-of-range", s.cylinder, text));
            }
        }
        plan.expected = Some(self.expected(&problem, &now, &effects));
    }

    fn outside(&self) -> Point {
        let s = self.review.spread_kpa.unwrap_or(Measured { value: f64::NAN, u: f64::NAN });
        if self.review.verdict == Verdict::Outside {
            let text = format!("The spread of {:.2} kPa (\u{b1} {:.2}) is outside its limit of {:.1} kPa.", s.value, s.u, self.limit_kpa);
            Point::new("outside", text)
        } else {
            let text = format!("The spread of {:.2} kPa (\u{b1} {:.2}) sits at its limit of {:.1} kPa; no recording of a sensible length would decide, a small turn does.", s.value, s.u, self.limit_kpa);
            Point::new("at-the-limit", text)
        }
    }

    fn problem(&self, effects: &[&Effect]) -> Problem {
        let o = self.options;
        let most = |s: &Screw| (s.range_turns.unwrap_or(OPEN_RANGE_TURNS) / o.step_turns + 1e-9).floor() as i32;
        let rpm = self.review.regimes.iter().find(|s| s.regime == Regime::Idle).map(|s| s.rpm.value);
        let per_turn: Option<Vec<f64>> = effects.iter().map(|e| e.rpm_per_turn.map(|g| g.0)).collect();
        let speed = match (rpm.filter(|r| r.is_finite()), per_turn, self.machine.idle_rpm) {
            (Some(rpm), Some(per_turn), Some(band)) => Some(Speed { rpm, per_turn, band }),
            _ => None,
        };
        Problem {
            pressure_kpa: self.deviation_kpa.clone(),
            u_pair_kpa: self.u_pair_kpa(),
            effect_kpa: effects.iter().map(|e| e.column_kpa.clone()).collect(),
            own: self.screws.iter().zip(effects).map(|(s, e)| (s.index, e.u_kpa_per_turn)).collect(),
            u_effect_kpa: effects.iter().map(|e| e.u_column_kpa.clone()).collect(),
            most: self.screws.iter().map(most).collect(),
            step_turns: o.step_turns,
            u_turn: self.u_turn(),
            accept_kpa: self.accept_kpa().max(0.25 * self.limit_kpa),
            guard: o.guard,
            speed,
            hold_speed: self.live.len() == 2 && matches!(self.machine.reference, Reference::Group(_)),
        }
    }

    /// What of the whole way is made in this round.
    fn cut(&self, problem: &Problem, effects: &[&Effect], whole: &[i32]) -> Vec<i32> {
        let o = self.options;
        let most = |e: &Effect| {
            let known = e.u_kpa_per_turn <= o.known_well * e.kpa_per_turn;
            let far = (o.trust_known_kpa / e.kpa_per_turn).min(o.trust_known_turns).max(o.trust_turns);
            let turns = if known { far } else { o.trust_turns };
            (turns / o.step_turns + 1e-9).floor() as i32
        };
        let cut: Vec<i32> = whole.iter().zip(effects).map(|(s, e)| (*s).clamp(-most(e), most(e))).collect();
        if cut == whole || problem.spread(&cut).0 < problem.spread(&vec![0; cut.len()]).0 {
            return cut;
        }
        // Coupled screws cut one by one may point elsewhere: shorten them all alike.
        let share = |s: i32, c: i32| if s == 0 { 1.0 } else { f64::from(c) / f64::from(s) };
        let least = whole.iter().zip(&cut).map(|(s, c)| share(*s, *c)).fold(1.0_f64, f64::min);
        whole.iter().map(|s| (f64::from(*s) * least).round() as i32).collect()
    }

    fn rows(&self, now: &[i32], whole: &[i32]) -> Vec<TurnAdvice> {
        let step = self.options.step_turns;
        let mut made: Vec<usize> = (0..now.len()).filter(|&j| now[j] != 0).collect();
        made.sort_by_key(|&j| (-now[j].abs(), j));
        made.iter()
            .enumerate()
            .map(|(rank, &j)| {
                let direction = if now[j] > 0 { Direction::Open } else { Direction::Close };
                let later = f64::from(whole[j] - now[j]) * step;
                let later = (later != 0.0).then_some(later);
                self.row(rank, &self.screws[j], Some(direction), Some(f64::from(now[j]) * step), later, false)
            })
            .collect()
    }

    fn expected(&self, problem: &Problem, now: &[i32], effects: &[&Effect]) -> Expected {
        // The gain of the sensors stays in what is true, not in what the next recording reads.
        let told = Problem { u_pair_kpa: problem.u_pair_kpa.hypot(self.gain_kpa()), ..problem.clone() };
        let o = outlook(&told, now, self.limit_kpa);
        let after = problem.after(now);
        let base = self.middle(&after);
        let turns: Vec<f64> = now.iter().map(|s| f64::from(*s) * problem.step_turns).collect();
        let idle = self.review.regimes.iter().find(|s| s.regime == Regime::Idle).map(|s| s.rpm);
        let moved: Option<Vec<(f64, f64)>> = effects.iter().map(|e| e.rpm_per_turn).collect();
        let rpm = idle.filter(|r| r.value.is_finite()).zip(moved).map(|(rpm, g)| {
            let value = rpm.value + g.iter().zip(&turns).map(|(g, w)| g.0 * w).sum::<f64>();
            // One figure serves all screws: its error does not average out.
            let u: f64 = g.iter().zip(&turns).map(|(g, w)| 2.0 * g.1 * w.abs()).sum();
            Measured { value, u: rpm.u.hypot(u) }
        });
        Expected {
            spread_kpa: Interval { value: o.spread_kpa, low: o.low_kpa, high: o.high_kpa },
            inside: o.inside,
            rpm,
            cylinders: self
                .live
                .iter()
                .zip(&after)
                .map(|(&cylinder, v)| ExpectedCylinder { cylinder, deviation_kpa: v - base })
                .collect(),
        }
    }

    /// The reference's level among pressures of the live cylinders.
    fn middle(&self, pressure_kpa: &[f64]) -> f64 {
        let mean = pressure_kpa.iter().sum::<f64>() / pressure_kpa.len().max(1) as f64;
        match self.machine.reference {
            Reference::Cylinder(number) => {
                self.live.iter().position(|c| *c == number).map_or(mean, |i| pressure_kpa[i])
            }
            Reference::Group(GroupReference::Mean) => mean,
            Reference::Group(GroupReference::Median) => median(pressure_kpa).unwrap_or(mean),
        }
    }
}

#[cfg(test)]
#[path = "plan_tests.rs"]
pub(crate) mod tests;
