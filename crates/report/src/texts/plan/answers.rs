//! The five answers of page one.

use evenpull_core::adjust::plan_result::{Advice, Point, TurnAdvice};

use super::{Words, lower_first};
use crate::texts::{capital, cylinders};

impl Words<'_> {
    /// Which cylinder?
    pub(crate) fn which(&self) -> Vec<String> {
        let now: Vec<u32> = self.turned().map(|t| t.cylinder).collect();
        let later: Vec<u32> =
            self.plan.turns.iter().filter(|t| t.turns.is_none()).map(|t| t.cylinder).collect();
        let suspects: Vec<u32> = {
            let mut all: Vec<u32> = self.plan.because.iter().filter_map(|p| p.cylinder).collect();
            all.dedup();
            all
        };
        match self.plan.advice {
            Advice::Turn if now.len() > 1 => vec![format!("{}, in this order.", capital(&cylinders(&now)))],
            Advice::Turn => vec![format!("{}.", capital(&cylinders(&now)))],
            Advice::TestTurn => {
                let mut lines = vec![format!("{}, for a test turn.", capital(&cylinders(&now)))];
                if !later.is_empty() {
                    lines.push(format!("Later, once it is known what a turn does: {}.", cylinders(&later)));
                }
                lines
            }
            Advice::CauseFirst if !suspects.is_empty() => {
                vec![format!("{} is where to look. No screw yet.", capital(&cylinders(&suspects)))]
            }
            Advice::CauseFirst => vec!["No screw yet.".to_owned()],
            Advice::Stop => vec!["None.".to_owned()],
            Advice::RecordAgain => vec!["None on this recording.".to_owned()],
            Advice::NothingToTurn => vec!["None that may be turned would help.".to_owned()],
        }
    }

    /// Which way, how far?
    pub(crate) fn how_far(&self) -> Vec<String> {
        if !self.turning() {
            return vec!["No turn.".to_owned()];
        }
        let line = |t: &TurnAdvice| {
            let act = self.act(t);
            let course = self.course(t).map(|c| format!(" {}.", capital(&c))).unwrap_or_default();
            format!("Cylinder {}: {act}.{course}", t.cylinder)
        };
        self.turned().map(line).collect()
    }

    /// How sure?
    pub(crate) fn how_sure(&self) -> Vec<String> {
        let mut lines = self.expected();
        match self.plan.advice {
            Advice::Turn => {
                lines.push(format!("Now it is {}.", self.spread_now()));
            }
            Advice::TestTurn => {
                lines.push(format!("The spread now is {}.", self.spread_now()));
                lines.push(
                    "Which way is known if the sensors agree at rest, how far is not: only the test turn shows what a turn does here."
                        .to_owned(),
                );
            }
            _ => lines.push(format!("The spread is {}.", self.spread_now())),
        }
        if self.plan.machine.limit_source != "machine-file" {
            lines.push("The limit is a rule of thumb, not the maker's figure.".to_owned());
        }
        lines
    }

    /// What next?
    pub(crate) fn next(&self) -> Vec<String> {
        let mut lines = self.points(&self.plan.look_first);
        let wanted: &[&str] = match self.plan.advice {
            Advice::Turn | Advice::TestTurn => &["mark", "one-at-a-time", "wait", "record", "again"],
            _ => &["record"],
        };
        match self.plan.advice {
            Advice::CauseFirst | Advice::NothingToTurn => {
                lines.splice(0..0, self.points(&self.plan.because)).for_each(drop)
            }
            Advice::RecordAgain => lines.extend(self.points(&self.plan.because)),
            Advice::Stop => {
                lines.extend(self.points(&self.plan.because));
                lines.push("Keep this recording: the next visit is compared with it.".to_owned());
            }
            Advice::Turn | Advice::TestTurn => {}
        }
        if self.turning()
            && let Some(stop) = self.plan.stop_when.first()
        {
            lines.push(format!("Stop when this holds: {}", lower_first(&self.point(stop))));
        }
        let steps: Vec<Point> =
            self.plan.steps.iter().filter(|p| wanted.contains(&p.code.as_str())).cloned().collect();
        if !steps.is_empty() {
            lines.push(self.points(&steps).join(" "));
        }
        lines
    }

    /// What not to do?
    pub(crate) fn not_to_do(&self) -> Vec<String> {
        let mut lines = self.points(&self.plan.do_not);
        lines.push(crate::texts::page::HURTS.to_owned());
        lines
    }
}
