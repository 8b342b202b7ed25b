//! The plan in words for a terminal: what to turn, which way, how far, what not to do, when to stop. Pressures stand in the unit
//! of the recording; sentences that carry no figure come from the plan as they are.

use evenpull_core::adjust::advice::{cylinders, direction_word, turn_words};
use evenpull_core::adjust::effects::EffectSource;
use evenpull_core::adjust::plan_result::{Advice, Plan, Point, Rotation, TurnAdvice};
use evenpull_core::result::Verdict;
use evenpull_core::safe_text::one_line;
use evenpull_report::{DisplayUnit, cautions};

const COLUMNS: usize = 78;
const LABEL: usize = 12;

/// The plan as text, at most 78 columns.
pub(crate) fn plan_text(plan: &Plan, unit: &DisplayUnit) -> String {
    let words = Words { plan, unit };
    let mut out = String::new();
    let id = plan.machine.id.as_ref().map_or_else(String::new, |id| format!(" ({id})"));
    wrap(&mut out, "", &format!("{}{id}: {}.", plan.source.name, words.headline()));
    out.push('\n');
    block(&mut out, "Why", &words.why());
    block(&mut out, "Look first", &words.points(&plan.look_first));
    block(&mut out, "Turn", &plan.turns.iter().flat_map(|t| words.turn(t)).collect::<Vec<_>>());
    block(&mut out, "Expect", &words.expected());
    block(&mut out, "How", &words.numbered(&plan.steps));
    block(&mut out, "Do not", &words.points(&plan.do_not));
    block(&mut out, "Stop when", &words.points(&plan.stop_when));
    block(&mut out, "Known", &words.known());
    block(&mut out, "Ruled out", &words.ruled_out());
    out.push('\n');
    block(&mut out, "Caution", &cautions::short().map(str::to_owned));
    out
}

struct Words<'a> {
    plan: &'a Plan,
    unit: &'a DisplayUnit,
}

impl Words<'_> {
    /// A width in the reader's unit, to a tenth of what can matter.
    fn width(&self, kpa: f64) -> String {
        format!("{} {}", self.number(self.unit.width(kpa), false), self.unit.name())
    }

    fn number(&self, value: f64, signed: bool) -> String {
        // Two decimals of a kPa, and the same step in any other unit.
        let places = (2.0 - (self.unit.width(1.0)).log10().round()).clamp(0.0, 4.0) as usize;
        let text = format!("{value:.places$}");
        let zero = text.bytes().all(|b| b"-0.".contains(&b));
        match (signed, zero) {
            (_, true) => text.trim_start_matches('-').to_owned(),
            (true, false) if value > 0.0 => format!("+{text}"),
            _ => text,
        }
    }

    fn headline(&self) -> String {
        let turned: Vec<u32> =
            self.plan.turns.iter().filter(|t| t.turns.is_some()).map(|t| t.cylinder).collect();
        match self.plan.advice {
            Advice::Turn if turned.len() == 1 => format!("turn one screw, {}", cylinders(&turned)),
            Advice::Turn => format!("turn {} screws, {}", turned.len(), cylinders(&turned)),
            Advice::TestTurn => format!("make a test turn first, at {}", cylinders(&turned)),
            Advice::Stop => "turn nothing, leave the screws as they are".to_owned(),
            Advice::CauseFirst => "turn nothing yet, find the cause first".to_owned(),
            Advice::RecordAgain => "turn nothing on this recording, record again".to_owned(),
            Advice::NothingToTurn => "there is no screw that may be turned".to_owned(),
        }
    }

    /// Sentences; those that carry pressures are put in the reader's unit.
    fn points(&self, points: &[Point]) -> Vec<String> {
        points.iter().map(|p| self.point(p)).collect()
    }

    /// Reasons, and how to say that they were looked at.
    fn why(&self) -> Vec<String> {
        let mut lines = self.points(&self.plan.because);
        if self.plan.advice == Advice::CauseFirst {
            let mut codes: Vec<&str> = self.plan.because.iter().map(|p| p.code.as_str()).collect();
            codes.dedup();
            lines.push(format!(
                "Looked, and it was not that? Plan again with --ruled-out {}",
                codes.join(",")
            ));
        }
        lines
    }

    fn numbered(&self, points: &[Point]) -> Vec<String> {
        points.iter().zip(1..).map(|(p, n)| format!("{n}. {}", self.point(p))).collect()
    }

    fn point(&self, p: &Point) -> String {
        let plan = self.plan;
        let limit = self.width(plan.machine.limit_kpa);
        let spread = plan.spread_kpa.map(|s| {
            let u = self.number(self.unit.width(s.u), false);
            format!("{} \u{b1} {u} {}", self.number(self.unit.width(s.value), false), self.unit.name())
        });
        let text = match (p.code.as_str(), spread) {
            ("inside", Some(s)) if plan.verdict == Verdict::Within => {
                format!("The spread of {s} is inside its limit of {limit} with its uncertainty.")
            }
            ("outside", Some(s)) => format!("The spread of {s} is outside its limit of {limit}."),
            ("at-the-limit", Some(s)) => format!(
                "The spread of {s} sits at its limit of {limit}: no recording of a sensible length decides, a small turn does."
            ),
            ("repeats", Some(s)) => {
                format!(
                    "The spread of {s} is no more over its limit of {limit} than repeats of the same state scatter."
                )
            }
            ("noise", Some(_)) => format!(
                "What is left is under {}, the uncertainty of a recording like this one: further turning would chase noise.",
                self.width(plan.noise_kpa.unwrap_or(0.0))
            ),
            ("inside", _) => format!(
                "The spread reads {} or less: that is the limit of {limit} less what the measurement may be off.",
                self.width(plan.accept_kpa.unwrap_or(0.0))
            ),
            ("smallest-turn", _) if plan.advice != Advice::Stop => format!(
                "What is left is under {}, the effect of {}: a hand cannot do better.",
                self.width(plan.smallest_turn_kpa.unwrap_or(0.0)),
                turn_words(plan.step_turns)
            ),
            ("rule-of-thumb", _) => format!(
                "Do not call the machine bad on {limit} alone: the limit is a rule of thumb. The maker's figure belongs in the machine file."
            ),
            _ => strip(&p.text),
        };
        match p.cylinder {
            Some(c) => format!("Cylinder {c}: {}.", text.trim_end_matches('.')),
            None => sentence(&text),
        }
    }

    fn turn(&self, t: &TurnAdvice) -> Vec<String> {
        let rotation = match t.rotation {
            Some(Rotation::Clockwise) => " (clockwise, seen from the screw's head)",
            Some(Rotation::Anticlockwise) => " (anticlockwise, seen from the screw's head)",
            None => "",
        };
        let act = match (t.direction, t.turns) {
            (Some(d), Some(w)) => format!("{} by {}{rotation}", direction_word(d), turn_words(w)),
            (Some(d), None) => format!("later {}{rotation}, how far is not known yet", direction_word(d)),
            (None, _) => "off, direction not known".to_owned(),
        };
        let mut lines = vec![format!("{}. Cylinder {}: {act}", t.order, t.cylinder)];
        let mut second: Vec<String> = Vec::new();
        if let Some(d) = t.deviation_kpa.filter(|_| t.direction.is_some()) {
            second.push(format!(
                "now {} {}",
                self.number(self.unit.difference(d.value), true),
                self.unit.name()
            ));
        }
        let after =
            self.plan.expected.as_ref().and_then(|e| e.cylinders.iter().find(|c| c.cylinder == t.cylinder));
        if let Some(after) = after {
            second.push(format!(
                "after it about {}",
                self.number(self.unit.difference(after.deviation_kpa), true)
            ));
        }
        if let Some(later) = t.later_turns {
            second.push(format!("about {} more in a later round", turn_words(later)));
        }
        if !second.is_empty() {
            lines.push(format!("\u{2003}{}", second.join(", ")));
        }
        lines
    }

    fn expected(&self) -> Vec<String> {
        let Some(e) = &self.plan.expected else { return Vec::new() };
        let s = e.spread_kpa;
        let show = |kpa: f64| self.number(self.unit.width(kpa), false);
        let mut lines = vec![format!(
            "a spread of {} {} ({} to {}), inside its limit with {} % chance",
            show(s.value),
            self.unit.name(),
            show(s.low),
            show(s.high),
            (100.0 * e.inside).floor().clamp(0.0, 99.0)
        )];
        if let (Some(now), Some(then)) = (self.plan.rpm, e.rpm) {
            lines.push(format!(
                "idle speed {:.0} to {:.0} \u{b1} {:.0} rev/min",
                now.value, then.value, then.u
            ));
        }
        lines
    }

    /// What a turn does, and where that is known from.
    fn known(&self) -> Vec<String> {
        let i = &self.plan.influence;
        let mut lines: Vec<String> = i
            .per_turn
            .iter()
            .map(|p| {
                let from = match p.source {
                    EffectSource::Learned => format!("learned from {} turns noted", i.rounds),
                    EffectSource::MachineFile => "machine file".to_owned(),
                    EffectSource::LikeTheOthers => "taken from the other screws".to_owned(),
                };
                let u = self.number(self.unit.width(p.kpa.u), false);
                format!(
                    "Cylinder {}: one turn is {} \u{b1} {u} {} ({from})",
                    p.cylinder,
                    self.number(self.unit.width(p.kpa.value), false),
                    self.unit.name()
                )
            })
            .collect();
        if !i.without_effect.is_empty() {
            lines.push(format!(
                "{}: turned and nothing moved as it should. Check the note, the hoses and the screw",
                cylinders(&i.without_effect)
            ));
        }
        lines.extend(
            i.refused_because.as_ref().map(|r| format!("Nothing was learned from the turns noted: {r}")),
        );
        lines
    }

    fn ruled_out(&self) -> Vec<String> {
        let codes: Vec<&str> = self.plan.ruled_out.iter().map(String::as_str).collect();
        if codes.is_empty() { Vec::new() } else { vec![format!("by you: {}", codes.join(", "))] }
    }
}

/// "Stop when" stands in front already.
fn strip(text: &str) -> String {
    match text.strip_prefix("Stop when ") {
        Some(rest) => rest.to_owned(),
        None => text.trim_end_matches('.').to_owned(),
    }
}

/// A sentence: capital in front, full stop behind.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", letters.as_str().trim_end_matches('.'))
}

fn block(out: &mut String, label: &str, lines: &[String]) {
    for (i, line) in lines.iter().enumerate() {
        wrap(out, &format!("{:LABEL$}", if i == 0 { label } else { "" }), line);
    }
}

/// Breaks at blanks; a word too long for a line is cut by the terminal, not here. Later lines are moved in like the first, and
/// behind a number of a list.
fn wrap(out: &mut String, label: &str, text: &str) {
    let safe = one_line(text);
    let hang = match safe.split_once(' ') {
        Some((number, _)) if number.len() < 4 && number.ends_with('.') => number.len() + 1,
        _ => usize::from(safe.starts_with('\u{2003}')) * 3,
    };
    let (mut line, mut used) = (label.to_owned(), 0);
    if safe.starts_with('\u{2003}') {
        line.push_str("   ");
    }
    for word in safe.split_whitespace() {
        let length = word.chars().count();
        if used > 0 && line.chars().count() + 1 + length > COLUMNS {
            out.push_str(line.trim_end());
            out.push('\n');
            line = " ".repeat(label.chars().count() + hang);
            used = 0;
        }
        if used > 0 {
            line.push(' ');
        }
        line.push_str(word);
        used += length;
    }
    out.push_str(line.trim_end());
    out.push('\n');
}

#[cfg(test)]
#[path = "plan_text_tests.rs"]
mod tests;
