//! Screws in order of need, and the test turn: what can be said without knowing what a turn does.

use super::advice;
use super::desk::Desk;
use super::effects::Screw;
use super::plan_result::{Advice, Direction, Plan, Point, Rotation, TurnAdvice};
use super::test_turn::test_turn;
use crate::codes;
use crate::machine::Opens;
use crate::result::Reference;

impl Desk<'_> {
    /// Screws in order of need, without amounts; those that are off, or `all`. `test` is the one of the test turn with its turns.
    pub(super) fn order(&self, test: Option<(u32, f64)>, all: bool) -> Vec<TurnAdvice> {
        let target = self.middle(&self.deviation_kpa);
        let mut off: Vec<(f64, &Screw)> =
            self.screws.iter().map(|s| (self.deviation_kpa[s.index] - target, s)).collect();
        off.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
        if let Some(asked) = self.speed_asks().filter(|_| self.nameless_twin()) {
            off.sort_by_key(|o| (o.0 > 0.0) != (asked == Direction::Close));
        }
        let half = match self.machine.reference {
            Reference::Cylinder(_) => self.accept_kpa(),
            Reference::Group(_) => 0.5 * self.accept_kpa(),
        };
        let furthest = off.iter().fold(0.0_f64, |a, o| a.max(o.0.abs()));
        let blind = self.review.notices.iter().any(|n| n.code == codes::KIND_AMBIGUOUS);
        off.iter()
            .filter(|o| all || o.0.abs() > half || o.0.abs() >= furthest)
            .enumerate()
            .map(|(rank, (d, s))| {
                let towards = if *d > 0.0 { Direction::Close } else { Direction::Open };
                let direction = (!blind).then_some(towards);
                let made = test.filter(|t| t.0 == s.cylinder).map(|t| t.1);
                self.row(rank, s, direction, made, None, made.is_some())
            })
            .collect()
    }

    pub(super) fn row(
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
    pub(super) fn test(&self, plan: &mut Plan) {
        let options = self.options;
        let tried = self.chained().unwrap_or_default();
        let mut order = self.order(None, self.chained().is_some());
        order.sort_by_key(|t| (tried.contains(&t.cylinder), t.order));
        let first = order.iter().find_map(|t| {
            let screw = self.screws.iter().find(|s| s.cylinder == t.cylinder)?;
            let u = (self.u_pair_kpa() * std::f64::consts::SQRT_2 / options.usual_kpa_per_turn)
                .hypot(self.u_turn());
            let size = test_turn(u, options.step_turns, screw.range_turns);
            let sign = if t.direction == Some(Direction::Close) { -1.0 } else { 1.0 };
            (size > 0.0).then_some((t.cylinder, sign * size))
        });
        let Some((cylinder, turns)) = first else {
            plan.advice = Advice::NothingToTurn;
            plan.because
                .push(Point::new("no-range", "No screw has room for the smallest turn within its range."));
            return;
        };
        plan.advice = Advice::TestTurn;
        let size = advice::turn_words(turns);
        plan.because.push(if self.chained().is_some() {
            Point::new("screws-chained", format!("Turning moved more than the cylinder of the screw, as with a chained linkage, and it is not known yet which moves what. Turning cylinder {cylinder} alone by {size} teaches it; one screw a round, every screw once."))
        } else {
            Point::new("effect-unknown", format!("What a turn does on this machine is not known yet. Turning cylinder {cylinder} by {size}, which it needs anyhow, teaches it."))
        });
        plan.turns = self.order(Some((cylinder, turns)), self.chained().is_some());
        plan.turns.sort_by_key(|t| (!t.test, t.order));
        plan.turns.iter_mut().zip(1..).for_each(|(t, n)| t.order = n);
    }
}
