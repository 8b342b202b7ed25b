//! Notices about the machine as a whole: trouble codes, what the machine file promised, a twin, a likely leak.

use crate::notice::{Level, Notice};
use crate::recording::{Quantity, TroubleCode};
use crate::result::{Measured, Reference, Undecided, Verdict, same_air};
use crate::trouble::{self, Touches};

use super::notices::Seen;

/// Adds the notices of this room.
pub(crate) fn add(seen: &Seen<'_>, codes: &[TroubleCode], out: &mut Vec<Notice>) {
    trouble_codes(codes, seen, out);
    promised(seen, out);
    running(seen, out);
    findings(seen, out);
}

fn trouble_codes(codes: &[TroubleCode], seen: &Seen<'_>, out: &mut Vec<Notice>) {
    for c in codes {
        let (level, text) = match trouble::meaning(&c.code) {
            Some((touches, words)) => {
                let doubt = match touches {
                    Touches::Pressure => {
                        "a pressure of this recording may be a substitute value: the whole result is in doubt until it is cleared up"
                    }
                    Touches::Throttle => {
                        "the throttle may not be where the control unit believes: the whole result is in doubt until it is cleared up"
                    }
                    Touches::Temperature => {
                        "the temperature may be a substitute value: that the engine was warm is in doubt"
                    }
                    Touches::Misfire => {
                        "a misfiring engine does not idle evenly whatever its plates do: the whole result is in doubt until it is cleared up"
                    }
                    Touches::Mixture => {
                        "mixture control is at its limit: look for a leak or a fuel fault before turning anything"
                    }
                    Touches::Idle => {
                        "the idle control is not doing its work: speed and balance may both be held wrongly"
                    }
                    Touches::Speed => "the engine speed may be wrong: cycles and windows hang on it",
                    Touches::Air => {
                        "the control unit does not know its air: speed and mixture may be held wrongly"
                    }
                };
                (Level::Caution, format!("trouble code {} ({}): {words}; {doubt}", c.code, c.status))
            }
            None => (
                Level::Note,
                format!(
                    "trouble code {} ({}): not one that speaks about idle balance as far as this program knows",
                    c.code, c.status
                ),
            ),
        };
        let mut notice = Notice::new("trouble-code", level, text);
        notice.start_s = c.time_s;
        out.push(notice);
    }
    for &t in &seen.recording.codes_cleared_s {
        let text = "stored trouble codes were cleared while recording: learned idle values may be reset with them; record again after a run";
        out.push(Notice::new("codes-cleared", Level::Caution, text).between(t, t));
    }
}

fn promised(seen: &Seen<'_>, out: &mut Vec<Notice>) {
    let logged = seen.found.numbers.len();
    if let Some(all) = seen.machine.cylinders.filter(|&n| logged > 0 && (n as usize) > logged) {
        let text = format!(
            "{logged} of {all} cylinders have a pressure in this recording; the machine cannot be signed off on part of them"
        );
        out.push(Notice::new("missing-cylinder", Level::Caution, text));
    }
    if let (Some(file), Some(log)) = (&seen.machine.id, &seen.recording.preamble.machine_id)
        && file != log
    {
        let text = format!("the recording names machine {log}, the machine file {file}");
        out.push(Notice::new("other-machine", Level::Caution, text));
    }
    for name in seen.machine.columns.keys() {
        if !seen.recording.channels.iter().any(|c| &c.header == name) {
            let text = format!("the machine file explains a column `{name}` that this recording lacks");
            out.push(Notice::new("unused-rule", Level::Note, text));
        }
    }
    let shared = seen.recording.all(Quantity::ManifoldPressure).filter(|c| c.cylinder.is_none()).count();
    if logged < 2 && logged + shared > 0 {
        let text = "one manifold pressure only: how evenly the cylinders pull cannot be told from it; windows, warm-up and steadiness can";
        out.push(Notice::new("one-pressure", Level::Note, text));
    }
}

fn running(seen: &Seen<'_>, out: &mut Vec<Notice>) {
    let Some(left) = &seen.found.left else {
        if let (Some((low, high)), Some(found)) = (seen.machine.idle_rpm, seen.found.free_idle_rpm)
            && !(low..=high).contains(&found)
        {
            let text = format!(
                "the engine idles at {found:.0} rev/min, outside the machine's band of {low:.0} to {high:.0}"
            );
            out.push(Notice::new("idle-speed", Level::Caution, text));
        }
        return;
    };
    let speeds = crate::prepare::finite(&left.data.blocks.rpm);
    if let (Some(sd), Some(mean)) = (crate::stats::moments::sd(&speeds), crate::stats::moments::mean(&speeds))
        && sd > 0.03 * mean
    {
        let text = format!("the idle swings by {:.0} rev/min (one standard deviation) around {mean:.0}", sd);
        out.push(Notice::new("hunting", Level::Caution, text));
    }
}

fn findings(seen: &Seen<'_>, out: &mut Vec<Notice>) {
    let Some(left) = seen.left else { return };
    if left.decision.because == Some(Undecided::Signal) {
        let text = format!(
            "one reading a cycle at a fixed crank angle looks like an average and can overstate the spread {} times; `pressure_is = \"mean\"` in the machine file settles it where the maker says so",
            seen.settings.fixed_angle_factor
        );
        out.push(Notice::new("fixed-angle", Level::Note, text));
    }
    let numbered = matches!(seen.machine.reference, Reference::Cylinder(_));
    if seen.found.numbers.len() == 2 && !numbered && left.decision.verdict == Verdict::Outside {
        let text = "a twin without a reference cylinder: one recording cannot tell which of the two moved";
        out.push(Notice::new("either-of-two", Level::Note, text));
    }
    if seen.found.ambient.kind.is_none() || seen.found.numbers.len() < 3 {
        return;
    }
    let limit = seen.machine.limit_kpa.unwrap_or(seen.settings.limit_kpa);
    for (i, d) in left.deviations.iter().enumerate() {
        // A leak lets its air past the others' measure too: a refill rate that is the others' rules it out.
        let level = left.state.cylinders[i].pressure_kpa;
        let same_air = seen.classed[i].refill.zip(d.as_ref()).zip(level).is_some_and(|((r, d), p)| {
            same_air(Measured { value: r.value, u: seen.settings.coverage * r.u }, d.value, p.value)
        });
        let far = d.filter(|d| !same_air && d.value - seen.settings.guard * d.u() > 3.0 * limit);
        if let Some(d) = far {
            let n = seen.found.numbers[i];
            let text = format!(
                "cylinder {n} lies {:.1} kPa above the others, more than three limits: a leak behind its plate (boot, hose nipple, missing cap) may be likelier than a screw",
                d.value
            );
            // Size alone is a hint, not a finding: a note.
            out.push(Notice::new("leak-suspected", Level::Note, text).on_cylinder(n));
        }
    }
}
