//! The turns themselves: the whole way, what of it is made in this round, and what to expect.

use super::advice;
use super::desk::Desk;
use super::effects::{Effect, Screw};
use super::outlook::outlook;
use super::plan_result::{Advice, Direction, Expected, ExpectedCylinder, Interval, Plan, Point, TurnAdvice};
use super::turns::{Problem, Speed};
use crate::result::{Measured, Regime};

/// Most turns of a screw whose range is not given.
const OPEN_RANGE_TURNS: f64 = 4.0;

impl Desk<'_> {
    /// The search and what comes of it.
    pub(super) fn turn(&self, plan: &mut Plan) {
        let effects: Vec<&Effect> = self.effects.iter().flatten().collect();
        let problem = self.problem(&effects);
        let none = vec![0; effects.len()];
        let whole = problem.search();
        let now = self.cut(&problem, &effects, &whole);
        let (before, after) = (problem.spread(&none), problem.spread(&now));
        if now == none || after.0 >= before.0 - 1e-3 {
            self.no_turn_helps(plan);
            return;
        }
        plan.advice = Advice::Turn;
        plan.because.push(self.outside());
        plan.turns = self.rows(&now, &whole);
        for (j, s) in self.screws.iter().enumerate() {
            if s.range_turns.is_some() && whole[j].abs() == problem.most[j] && whole[j] != 0 {
                let text = "it needs all the range of its screw: look for dirt on its plate, a plate that hangs or a loose link before you turn that far";
                plan.look_first.push(Point::on("end-of-range", s.cylinder, text));
            }
        }
        plan.expected = Some(self.expected(&problem, &now, &effects));
    }

    /// What is left is under the smallest turn, or the screws that may be turned do not reach it.
    fn no_turn_helps(&self, plan: &mut Plan) {
        let over = self.review.spread_kpa.map_or(f64::INFINITY, |s| s.value - self.limit_kpa);
        if plan.smallest_turn_kpa.is_some_and(|smallest| over <= smallest) {
            plan.advice = Advice::Stop;
            let step = advice::turn_words(self.options.step_turns);
            let text =
                format!("What is over the limit is under the effect of {step}: a hand cannot do better.");
            plan.because.push(Point::new("smallest-turn", text));
        } else {
            plan.advice = Advice::NothingToTurn;
            let text = "The screws that may be turned do not bring the cylinders closer together. Look for the cause at the cylinder that is off: linkage, plate, leak, sensor.";
            plan.because.push(Point::new("out-of-reach", text));
        }
    }

    fn problem(&self, effects: &[&Effect]) -> Problem {
        let o = self.options;
        let most =
            |s: &Screw| (s.range_turns.unwrap_or(OPEN_RANGE_TURNS) / o.step_turns + 1e-9).floor() as i32;
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
            hold_speed: self.nameless_twin(),
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
        let o = outlook(&told, now, self.limit_kpa, &|p| self.middle(p));
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
                .zip(after.iter().zip(&o.u_deviation_kpa))
                .map(|(&cylinder, (v, u))| ExpectedCylinder {
                    cylinder,
                    deviation_kpa: v - base,
                    u_kpa: 2.0 * u,
                })
                .collect(),
        }
    }
}
