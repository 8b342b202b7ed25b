//! The sentences of a plan: how to go about it, what not to do, when to stop.
//!
//! Facts of the trade (15 s after a turn, a blip, the check at raised speed) are common practice, no source.

use super::effects::Untouched;
use super::plan_result::{Advice, Direction, LeftAlone, Plan, Point, TurnAdvice};
use crate::codes;
use crate::result::{Review, Undecided, Verdict};

/// Keys of the cautions that go with every plan, in the order in which work goes on. The words stand in the report.
pub const CAUTION_KEYS: [&str; 13] = [
    "authority",
    "air",
    "moving-parts",
    "secured",
    "water-and-bilge",
    "open-intakes",
    "no-spray",
    "heat",
    "fuel-vapour",
    "hearing",
    "throttle",
    "refit",
    "sealed",
];

/// Seconds to wait after a turn.
pub const WAIT_S: f64 = 15.0;
/// Seconds to record, hands off.
pub const RECORD_S: f64 = 60.0;

/// A turn as a hand makes it: `3/8 turn`, `1 1/2 turns`; the sign is left to the direction.
#[must_use]
pub fn turn_words(turns: f64) -> String {
    let eighths = turns.abs() * 8.0;
    if (eighths - eighths.round()).abs() > 1e-6 {
        return format!("{:.2} turn{}", turns.abs(), if turns.abs() > 1.0 { "s" } else { "" });
    }
    let (whole, rest) = ((eighths.round() as u64) / 8, (eighths.round() as u64) % 8);
    let part = match rest {
        0 => String::new(),
        2 => "1/4".to_owned(),
        4 => "1/2".to_owned(),
        6 => "3/4".to_owned(),
        odd => format!("{odd}/8"),
    };
    let plural = if turns.abs() > 1.0 { "s" } else { "" };
    match (whole, part.is_empty()) {
        (0, true) => "no turn".to_owned(),
        (0, false) => format!("{part} turn"),
        (_, true) => format!("{whole} turn{plural}"),
        (_, false) => format!("{whole} {part} turns"),
    }
}

/// `cylinder 2`, `cylinders 1 and 3`, `cylinders 1, 3 and 4`.
#[must_use]
pub fn cylinders(numbers: &[u32]) -> String {
    let words: Vec<String> = numbers.iter().map(u32::to_string).collect();
    match words.as_slice() {
        [] => "no cylinder".to_owned(),
        [one] => format!("cylinder {one}"),
        [rest @ .., last] => format!("cylinders {} and {last}", rest.join(", ")),
    }
}

/// How to go about it.
#[must_use]
pub fn steps(advice: Advice, turns: &[TurnAdvice]) -> Vec<Point> {
    let mut out = Vec::new();
    let turning = matches!(advice, Advice::Turn | Advice::TestTurn);
    if turning {
        out.push(Point::new(
            "mark",
            "Engine off: mark where every screw stands, so that you can always go back. Then start it, warm it up and turn at idle.",
        ));
        if turns.iter().filter(|t| t.turns.is_some()).count() > 1 {
            out.push(Point::new("one-at-a-time", "Turn one screw at a time, in the order listed."));
        }
        out.push(Point::new("same-side", "Screws have play: come to a setting from the same side every time. When closing, go 1/8 turn beyond the new setting and come back to it."));
        out.push(Point::new(
            "wait",
            format!("Wait {WAIT_S:.0} s after each turn. The idle has to settle before a figure counts."),
        ));
        out.push(Point::new("note", "Note each turn with its cylinder and time in the visit file ([[turns]] time_s, cylinder, turns): the next plan learns from it what a turn does."));
    }
    if turning || advice == Advice::RecordAgain {
        out.push(Point::new(
            "record",
            format!("Blip the throttle once, then record {RECORD_S:.0} s of idle, hands off."),
        ));
    }
    if turning {
        out.push(Point::new("again", "Make a new plan from that recording before you turn any further."));
        out.push(Point::new("raised", "At the end record 30 s at a raised steady speed: there the linkage shows, which no idle screw mends."));
    }
    out
}

/// Of a screw that did not do what it should.
const SEIZED: &str = "turned already, and the pressure did not follow; look for a seized screw, exchanged hoses or a turn noted the wrong way round";

/// What not to do.
#[must_use]
pub fn do_not(plan: &Plan) -> Vec<Point> {
    let mut out = Vec::new();
    let left = |why: Untouched| -> Vec<u32> {
        plan.left_alone.iter().filter(|l: &&LeftAlone| l.why == why).map(|l| l.cylinder).collect()
    };
    let turning = matches!(plan.advice, Advice::Turn | Advice::TestTurn);
    match plan.advice {
        Advice::Stop => out.push(Point::new(
            "not-on",
            "Turn no further to make the figures meet: it would follow noise and may leave the limit again.",
        )),
        Advice::CauseFirst => out.push(Point::new(
            "not-yet",
            "Do not turn any screw until the cause above is found or ruled out: turning would only hide it.",
        )),
        Advice::RecordAgain => {
            out.push(Point::new("not-on-this", "Do not turn any screw on the strength of this recording."))
        }
        Advice::Turn | Advice::TestTurn | Advice::NothingToTurn => {}
    }
    for (why, one, several) in [
        (Untouched::Reference, "the others are matched to it", "the others are matched to them"),
        (Untouched::Sealed, "its adjuster is sealed", "their adjusters are sealed"),
        (
            Untouched::NoAdjuster,
            "the machine file lists no adjuster for it",
            "the machine file lists no adjusters for them",
        ),
        (Untouched::NoPressure, "nobody knows where it stands", "nobody knows where they stand"),
        (Untouched::NoEffect, SEIZED, SEIZED),
    ] {
        let who = left(why);
        if !who.is_empty() {
            let tail = if who.len() > 1 { several } else { one };
            out.push(Point::new("leave", format!("Do not turn {}: {tail}.", cylinders(&who))));
        }
    }
    let even = left(Untouched::Even);
    if turning && !even.is_empty() {
        let tail = if plan.advice == Advice::TestTurn {
            "the test turn moves one screw only"
        } else {
            "a healthy cylinder set to a sick one makes two sick ones"
        };
        out.push(Point::new("healthy", format!("Do not turn {}: {tail}.", cylinders(&even))));
    }
    if turning {
        out.push(Point::new(
            "more",
            "Do not turn further than listed in one go, and do not force a screw against its seat.",
        ));
        out.push(Point::new("mixture", "Do not touch mixture screws for this: they are another matter, and pressure says nothing about them."));
    }
    if plan.machine.limit_source == "default" && plan.verdict == Verdict::Outside {
        out.push(Point::new("rule-of-thumb", format!("Do not call the machine bad on {:.1} kPa alone: the limit is a rule of thumb. The maker's figure belongs in the machine file.", plan.machine.limit_kpa)));
    }
    out
}

/// When to stop.
#[must_use]
pub fn stop_when(plan: &Plan) -> Vec<Point> {
    if !matches!(plan.advice, Advice::Turn | Advice::TestTurn) {
        return Vec::new();
    }
    let mut out = Vec::new();
    if let Some(accept) = plan.accept_kpa {
        out.push(Point::new("inside", format!("Stop when the spread reads {accept:.2} kPa or less: that is the limit of {:.1} kPa less what the measurement may be off{}.", plan.machine.limit_kpa, if plan.look_first.iter().any(|p| p.code == codes::SENSORS_NOT_CHECKED) { "; the zero of the sensors, which was not checked, is not in it" } else { "" })));
    }
    // Only what can come before the first counts; two figures for one decision would leave the reader to choose.
    let before = |kpa: &f64| plan.accept_kpa.is_none_or(|a| *kpa > a);
    if let Some(noise) = plan.noise_kpa.filter(before) {
        out.push(Point::new("noise", format!("Stop when what is left is under {noise:.2} kPa, the uncertainty of a recording like this one: further turning would chase noise.")));
    }
    if let Some(smallest) = plan.smallest_turn_kpa.filter(before) {
        out.push(Point::new("smallest-turn", format!("Stop when what is left is under {smallest:.2} kPa, the effect of {}: a hand cannot do better.", turn_words(plan.step_turns))));
    }
    out.push(Point::new("no-effect", "Stop when a turn changes nothing, or changes another cylinder: look for a loose link, a seized screw or exchanged hoses."));
    out.push(Point::new("rough", "Stop when the spread grows, the idle leaves its band, runs rough or grows hot: turn back to the marks."));
    out
}

/// Why a recording cannot carry a plan, and which would.
#[must_use]
pub fn record_again(review: &Review) -> Point {
    let text = match review.undecided_because {
        Some(Undecided::Scatter) => match review.seconds_to_decide {
            Some(s) => format!("Too close to the limit for this recording. About {s:.0} s of warm idle, hands off, would decide."),
            None => "Too close to the limit for this recording. Record several minutes of warm idle, hands off.".to_owned(),
        },
        Some(Undecided::Resolution) => "The values come in steps too coarse for the limit. Log a smaller unit or one more decimal.".to_owned(),
        Some(Undecided::Bias) => "The sensors may differ by as much as the cylinders. Record 15 s with the key on and the engine off first, or swap two sensors and repeat.".to_owned(),
        Some(Undecided::Aliasing) => "The rows are too slow for the pulse in them. Damp the sensors, let the control unit average, or log faster.".to_owned(),
        Some(Undecided::Signal) => "What the logged figure stands for is not known. Say so in the machine file (pressure_is).".to_owned(),
        Some(Undecided::Windows) if mostly_cold(review) => "The engine was cold or still warming up. Let it get warm, then record 60 s with nobody touching the throttle.".to_owned(),
        Some(Undecided::Windows) if review.notices.iter().any(|n| n.code == codes::IDLE_SPEED) => "The engine does not idle in the band of the machine file. See whether it is the right machine file, or bring the idle speed into its band, then record 60 s with nobody touching the throttle.".to_owned(),
        Some(Undecided::Windows) => "No stretch of warm idle is long and steady enough. Record 60 s with nobody touching the throttle.".to_owned(),
        Some(Undecided::Sensor) | None => "There are not two usable cylinder pressures. Log one pressure for each cylinder and the engine speed.".to_owned(),
    };
    Point::new("cannot-tell", text)
}

/// Whether most of what was left out was left out for its temperature.
fn mostly_cold(review: &Review) -> bool {
    let seconds = |cold: bool| -> f64 {
        let of = review.excluded.iter().filter(|e| matches!(e.reason.as_str(), "cold" | "warming") == cold);
        of.map(|e| e.end_s - e.start_s).sum()
    };
    review.notices.iter().any(|n| n.code == codes::COLD_ENGINE) && seconds(true) >= seconds(false)
}

/// Word for a direction.
#[must_use]
pub fn direction_word(direction: Direction) -> &'static str {
    match direction {
        Direction::Open => "open",
        Direction::Close => "close",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_read_as_a_hand_makes_them() {
        for (turns, words) in [
            (0.125, "1/8 turn"),
            (-0.25, "1/4 turn"),
            (0.375, "3/8 turn"),
            (0.5, "1/2 turn"),
            (0.75, "3/4 turn"),
            (1.0, "1 turn"),
            (1.125, "1 1/8 turns"),
            (2.0, "2 turns"),
            (0.0, "no turn"),
            (0.3, "0.30 turn"),
        ] {
            assert_eq!(turn_words(turns), words);
        }
    }

    #[test]
    fn lists_of_cylinders_read_as_spoken() {
        assert_eq!(cylinders(&[2]), "cylinder 2");
        assert_eq!(cylinders(&[1, 3]), "cylinders 1 and 3");
        assert_eq!(cylinders(&[1, 3, 4]), "cylinders 1, 3 and 4");
    }
}
