//! The words of a plan, for page and terminal alike: what to turn, which way, how far, what not to do, when to stop.
//!
//! Sentences that carry no figure come from the plan as they are; figures are put in the unit of the reader.

mod answers;

use evenpull_core::adjust::advice::{direction_word, turn_words};
use evenpull_core::adjust::effects::{EffectSource, Untouched};
use evenpull_core::adjust::influence::Coupling;
use evenpull_core::adjust::plan_result::{
    Advice, Direction, Expected, PerTurn, Plan, Point, Rotation, TurnAdvice,
};
use evenpull_core::codes;
use evenpull_core::result::{FurtherTurning, Measured};

use crate::digits;
use crate::texts::{capital, cylinders, labels, restate};
use crate::units::DisplayUnit;

/// A plan seen through the eyes of the words.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Words<'a> {
    /// The plan.
    pub(crate) plan: &'a Plan,
    /// How pressures are shown.
    pub(crate) unit: DisplayUnit,
}

impl Words<'_> {
    /// Screws with an amount.
    fn turned(&self) -> impl Iterator<Item = &TurnAdvice> {
        self.plan.turns.iter().filter(|t| t.turns.is_some())
    }

    /// Whether anything is turned now.
    pub(crate) fn turning(&self) -> bool {
        matches!(self.plan.advice, Advice::Turn | Advice::TestTurn)
    }

    /// The advice in a line, without a capital or a stop.
    pub(crate) fn headline(&self) -> String {
        let numbers: Vec<u32> = self.turned().map(|t| t.cylinder).collect();
        let short = |t: &TurnAdvice| match (t.direction, t.turns) {
            (Some(d), Some(w)) => {
                format!("{} cylinder {} by {}", direction_word(d), t.cylinder, turn_words(w))
            }
            _ => cylinders(&[t.cylinder]),
        };
        if let (Some(p), true) = (self.suspected_leak(), self.turning()) {
            return match self.turned().next() {
                Some(t) if numbers.len() == 1 => {
                    format!("look for a leak at cylinder {p} first; if there is none, {}", short(t))
                }
                _ => format!(
                    "look for a leak at cylinder {p} first; if there is none, turn {}",
                    cylinders(&numbers)
                ),
            };
        }
        match (self.plan.advice, self.turned().next()) {
            (Advice::Turn, Some(only)) if numbers.len() == 1 => format!("turn one screw: {}", short(only)),
            (Advice::Turn, _) => format!("turn {} screws, {}", numbers.len(), cylinders(&numbers)),
            (Advice::TestTurn, Some(test)) => format!("make a test turn first: {}", short(test)),
            (Advice::TestTurn, None) => "make a test turn first".to_owned(),
            (Advice::Stop, _) => "turn nothing, leave the screws as they are".to_owned(),
            (Advice::CauseFirst, _) => "turn nothing yet, find the cause first".to_owned(),
            (Advice::RecordAgain, _) => "turn nothing on this recording, record again".to_owned(),
            (Advice::NothingToTurn, _) => "there is no screw that may be turned".to_owned(),
        }
    }

    /// A cylinder among those to be turned that takes so much more air that a leak comes to mind.
    fn suspected_leak(&self) -> Option<u32> {
        let far = self.plan.look_first.iter().find(|p| p.code == codes::FAR_OPEN)?.cylinder?;
        self.turned().any(|t| t.cylinder == far).then_some(far)
    }

    /// A width with its unit.
    fn width(&self, kpa: f64) -> String {
        format!("{} {}", self.bare(kpa), self.unit.name())
    }

    /// A width without its unit.
    fn bare(&self, kpa: f64) -> String {
        digits::fixed(self.unit.width(kpa), self.unit.decimals())
    }

    /// Finished sentences of points, figures in the unit of the reader.
    pub(crate) fn points(&self, points: &[Point]) -> Vec<String> {
        points.iter().map(|p| self.point(p)).collect()
    }

    fn point(&self, p: &Point) -> String {
        let text = restate::sentence(p.text.strip_prefix("Stop when ").unwrap_or(&p.text), &self.unit);
        match p.cylinder {
            Some(c) => {
                let mut letters = text.chars();
                let first = letters.next().map(|c| c.to_lowercase().to_string()).unwrap_or_default();
                format!("Cylinder {c}: {first}{}", letters.as_str())
            }
            None => text,
        }
    }

    /// Reasons, and how to say that they were looked at.
    pub(crate) fn why(&self) -> Vec<String> {
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

    /// What to do with a screw: `open by 7/8 turn (anticlockwise, seen from the screw's head)`.
    pub(crate) fn act(&self, t: &TurnAdvice) -> String {
        let rotation = match t.rotation {
            Some(r) => format!(" ({}, seen from the screw's head)", rotation(r)),
            None if t.direction.is_some() => {
                " (which rotation does that is not on file: watch the plate or the figure)".to_owned()
            }
            None => String::new(),
        };
        match (t.direction, t.turns) {
            (Some(d), Some(w)) => format!("{} by {}{rotation}", direction_word(d), turn_words(w)),
            (Some(d), None) => format!("later {}{rotation}, how far is not known yet", direction_word(d)),
            (None, _) => "off, direction not known".to_owned(),
        }
    }

    /// Where the cylinder of a screw stands now, and after the turns.
    pub(crate) fn course(&self, t: &TurnAdvice) -> Option<String> {
        let mut parts: Vec<String> = Vec::new();
        if let Some(d) = t.deviation_kpa.filter(|_| t.direction.is_some()) {
            parts.push(format!("now {} {}", self.unit.deviation_text(d), self.unit.name()));
        }
        if let Some(after) = self.after(t.cylinder) {
            parts.push(format!("after it about {} {}", self.unit.deviation_text(after), self.unit.name()));
        }
        if let Some(later) = t.later_turns {
            parts.push(format!("about {} more in a later round", turn_words(later)));
        }
        (!parts.is_empty()).then(|| parts.join(", "))
    }

    /// Deviation of a cylinder after the turns.
    pub(crate) fn after(&self, cylinder: u32) -> Option<Measured> {
        let e = self.plan.expected.as_ref()?;
        let c = e.cylinders.iter().find(|c| c.cylinder == cylinder)?;
        Some(Measured { value: c.deviation_kpa, u: c.u_kpa })
    }

    /// Expected spread and idle speed.
    pub(crate) fn expected(&self) -> Vec<String> {
        let Some(e) = &self.plan.expected else { return Vec::new() };
        let s = e.spread_kpa;
        let mut lines = vec![format!(
            "A spread of {} after the turns (95 % interval {} to {}); the chance that it is inside its limit is {}.",
            self.width(s.value),
            self.bare(s.low),
            self.width(s.high),
            chance(e)
        )];
        if let (Some(now), Some(then)) = (self.plan.rpm, e.rpm) {
            lines.push(format!(
                "Idle speed from {} to about {} rev/min.",
                digits::fixed(now.value, 0),
                digits::plus_minus(then.value, then.u, 0)
            ));
        }
        lines
    }

    /// What one turn does: cylinder, amount, origin.
    pub(crate) fn one_turn(&self, p: &PerTurn) -> String {
        let kpa = format!("{} {}", self.unit.width_text(p.kpa), self.unit.name());
        format!("Cylinder {}: one turn is {kpa} ({})", p.cylinder, self.origin(p.source))
    }

    /// Where the figure of a turn comes from.
    pub(crate) fn origin(&self, source: EffectSource) -> String {
        let i = &self.plan.influence;
        match source {
            EffectSource::Learned => format!(
                "learned from {} in {}",
                counted(i.rounds, "round of turns", "rounds of turns"),
                counted(i.sessions.max(1), "session", "sessions")
            ),
            EffectSource::MachineFile => "machine file".to_owned(),
            EffectSource::LikeTheOthers => "taken from the other screws".to_owned(),
        }
    }

    /// What could not be learned, and why.
    pub(crate) fn not_learned(&self) -> Vec<String> {
        let i = &self.plan.influence;
        let mut lines = Vec::new();
        if !i.without_effect.is_empty() {
            lines.push(format!(
                "{}: turned and nothing moved as it should. Check the note, the hoses and the screw.",
                capital(&cylinders(&i.without_effect))
            ));
        }
        if let Some(r) = &i.refused_because {
            lines.push(restate::sentence(
                &format!("Nothing was learned from the turns noted: {r}"),
                &self.unit,
            ));
        }
        let passed = i.passed_over.iter();
        lines.extend(passed.map(|p| restate::sentence(&format!("Not learned from, {p}"), &self.unit)));
        lines
    }

    /// Causes that the person has ruled out.
    pub(crate) fn ruled_out(&self) -> Option<String> {
        (!self.plan.ruled_out.is_empty()).then(|| format!("By you: {}.", self.plan.ruled_out.join(", ")))
    }

    /// The spread against its limit, as it stands.
    pub(crate) fn spread_now(&self) -> String {
        let verdict = labels::verdict(self.plan.verdict);
        match self.plan.spread_kpa {
            Some(s) => format!("{} {}, {verdict}", self.unit.width_text(s), self.unit.name()),
            None => verdict.to_owned(),
        }
    }
}

/// The same text with a small letter at its head.
fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|c| c.to_lowercase().to_string()).unwrap_or_default() + letters.as_str()
}

/// `1 round`, `3 rounds`.
fn counted(n: usize, one: &str, several: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {several}") }
}

/// A chance in per cent, never said to be certain.
fn chance(e: &Expected) -> String {
    let percent = (100.0 * e.inside).floor().clamp(0.0, 99.0);
    if percent < 1.0 { "under 1 %".to_owned() } else { format!("{percent:.0} %") }
}

/// Rotation in a word.
pub(crate) fn rotation(r: Rotation) -> &'static str {
    match r {
        Rotation::Clockwise => "clockwise",
        Rotation::Anticlockwise => "anticlockwise",
    }
}

/// Whether turning further makes sense, for scripts and people alike.
pub(crate) fn further(f: Option<FurtherTurning>) -> &'static str {
    match f {
        Some(FurtherTurning::Worthwhile) => "Yes, as listed",
        Some(FurtherTurning::WithinNoise) => "No: it would chase noise",
        Some(FurtherTurning::NotTheCure) => "No: it would hide the cause",
        None => "That cannot be said from this recording",
    }
}

/// Heading of the reasons.
pub(crate) fn why_heading(advice: Advice) -> &'static str {
    match advice {
        Advice::Turn | Advice::TestTurn => "Why turn",
        Advice::Stop => "Why the screws stay as they are",
        Advice::CauseFirst => "Why no screw should be turned yet",
        Advice::RecordAgain => "Why this recording carries no plan",
        Advice::NothingToTurn => "Why there is nothing to turn",
    }
}

/// Why a screw is left alone, for a table.
pub(crate) fn left_alone(why: Untouched) -> &'static str {
    match why {
        Untouched::Reference => "not turned: the others are matched to it",
        Untouched::Sealed => "not turned: sealed",
        Untouched::NoAdjuster => "none in the machine file",
        Untouched::NoPressure => "not turned: its pressure is not known",
        Untouched::NoEffect => "not turned: it did not do what it should",
        Untouched::Even => "not turned: nothing is gained",
    }
}

/// How screws act on each other, where it was learned.
pub(crate) fn coupling(c: Option<Coupling>) -> Option<&'static str> {
    match c? {
        Coupling::OwnCylinder => Some("The rounds fit screws that move their own cylinder alone."),
        Coupling::Coupled => {
            Some("The rounds show screws that move several cylinders (chained); the plan counts with that.")
        }
    }
}

/// What a test turn is for.
pub(crate) const TEST_TURN: &str = "Nothing says yet what one turn does on this machine: neither the machine file (kpa_per_turn) nor turns noted in a visit file. The test turn is small, goes the way that the cylinder needs anyhow, and is large enough to be seen above the scatter. Record it, note it with [[turns]] in the visit file and plan again: the plan then says how far.";

/// Caption of the figure.
pub(crate) fn caption(reference: &str, limit: &str, rule_of_thumb: bool, expected: bool) -> String {
    let whose =
        if rule_of_thumb { "a rule of thumb, not the maker's figure" } else { "from the machine file" };
    let what = if expected {
        "Small rings: each cylinder now, with its 95 % interval. Full marks below them: where it is expected after the turns, with the interval that measurement, effect of a turn and play of the screws leave. An arrow: a screw is turned. It also moves what the others are counted from."
    } else {
        "Each mark is one cylinder now, with its 95 % interval."
    };
    format!(
        "{what} Counted against {reference}. The shaded band is as wide as the limit on the spread ({limit}, {whose}) and lies where it holds the most cylinders."
    )
}

/// Direction for a table.
pub(crate) fn way(d: Option<Direction>) -> &'static str {
    d.map_or("not known", direction_word)
}

/// How the plan was made, with sources.
pub(crate) fn method(plan: &Plan) -> Vec<String> {
    let mut lines = vec![
        "Causes that turning would hide come first: exchanged hoses, trouble codes, leaks, a linkage uneven at raised speed, and a cylinder whose pressure is off while its refill rate is not. Order of work: common practice, no source.".to_owned(),
        "Inside means: the spread with its uncertainty and a guard band lies under the limit (JCGM 106:2012, guarded acceptance).".to_owned(),
        "What one turn does comes from turns noted with their effect, by weighted least squares over all rounds (influence coefficients; T. P. Goodman, J. Eng. Ind. 86 (1964) 273), else from the machine file. A screw is taken to move its own cylinder alone until the rounds say otherwise. The engine speed is fitted with it, because opening one plate speeds the engine up and with that lowers every runner's pressure.".to_owned(),
    ];
    if plan.expected.is_some() {
        lines.push("The turns are searched in steps of 1/8 turn within the range of each screw: the least movement that brings every pair of cylinders inside the limit with its uncertainty, then the fewest screws. One round goes at most half a turn where the effect of a turn is not known well, and up to two turns where it is (own rules).".to_owned());
        lines.push("The expectation is 4,000 draws from all uncertainties: measurement, gain of the sensors, effect of a turn, lost motion of 1/16 turn (JCGM 101:2008; the lost motion is common practice, no source).".to_owned());
    }
    if plan.advice == Advice::TestTurn {
        lines.push("The test turn is the smallest step that teaches the effect to a fifth, at least 1/4 and at most 1/2 turn (own rule; propagation as in JCGM 100:2008, 5.1).".to_owned());
    }
    lines.push("On simulated engines of 3, 4 and 6 cylinders, started far outside their limit, with play in the screws and sensors that differ, plans like this one brought 200 of 200 inside the limit within two rounds; with plates chained to each other and nobody saying so, 58 of 200.".to_owned());
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chance_is_never_certain() {
        let e = |inside| Expected {
            spread_kpa: evenpull_core::adjust::plan_result::Interval { value: 0.1, low: 0.0, high: 0.2 },
            inside,
            rpm: None,
            cylinders: Vec::new(),
        };
        assert_eq!(chance(&e(1.0)), "99 %");
        assert_eq!(chance(&e(0.857)), "85 %");
        assert_eq!(chance(&e(0.001)), "under 1 %");
        assert_eq!(counted(1, "round", "rounds"), "1 round");
        assert_eq!(counted(3, "round", "rounds"), "3 rounds");
    }
}
