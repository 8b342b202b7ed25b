//! The plan in words for a terminal: the sentences of [`crate::texts::plan`], at most 78 columns wide.

use evenpull_core::adjust::plan_result::{Plan, Point, TurnAdvice};

use crate::cautions;
use crate::terminal::{block, wrap};
use crate::texts::page;
use crate::texts::plan::Words;
use crate::units::DisplayUnit;

/// The plan as text.
#[must_use]
pub fn terminal_plan(plan: &Plan, unit: &DisplayUnit) -> String {
    let words = Words { plan, unit: *unit };
    let mut out = String::new();
    let id = plan.machine.id.as_ref().map_or_else(String::new, |id| format!(" ({id})"));
    wrap(&mut out, "", &format!("{}{id}: {}.", plan.source.name, words.headline()));
    out.push('\n');
    block(&mut out, "Why", &words.why());
    block(&mut out, "Look first", &words.points(&plan.look_first));
    block(&mut out, "Turn", &plan.turns.iter().map(|t| turn(&words, t)).collect::<Vec<_>>());
    block(&mut out, "Expect", &words.expected());
    block(&mut out, "How", &numbered(&words, &plan.steps));
    block(&mut out, "Do not", &words.points(&plan.do_not));
    block(&mut out, "Stop when", &words.points(&plan.stop_when));
    let mut known: Vec<String> = plan.influence.per_turn.iter().map(|p| words.one_turn(p)).collect();
    known.extend(words.not_learned());
    block(&mut out, "Known", &known);
    block(&mut out, "Ruled out", &words.ruled_out().into_iter().collect::<Vec<_>>());
    block(&mut out, "Checked", &[page::CHECKED.to_owned()]);
    out.push('\n');
    block(&mut out, "Caution", &cautions::short().map(str::to_owned));
    out
}

fn turn(words: &Words<'_>, t: &TurnAdvice) -> String {
    let course = words.course(t).map_or_else(String::new, |c| format!("; {c}"));
    format!("{}. Cylinder {}: {}{course}", t.order, t.cylinder, words.act(t))
}

fn numbered(words: &Words<'_>, points: &[Point]) -> Vec<String> {
    words.points(points).iter().zip(1..).map(|(text, n)| format!("{n}. {text}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_their_width_and_their_indent() {
        let mut out = String::new();
        let long = "1. Cylinder 3: open by 5/8 turn (anticlockwise, seen from the screw's head), and then a good deal more of it";
        block(&mut out, "Turn", &[long.to_owned()]);
        let lines: Vec<&str> = out.lines().collect();
        assert!(lines.iter().all(|l| l.chars().count() <= 78), "{out}");
        assert!(lines[0].starts_with("Turn        1. Cylinder 3"));
        assert!(lines[1].starts_with("               "), "behind the number: {out}");
    }
}
