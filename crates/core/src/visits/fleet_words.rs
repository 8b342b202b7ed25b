//! Why a machine stands where it stands, in finished sentences.

use super::comparison::{Comparison, Place};
use super::fleet_result::{Attention, FleetMachine};
use crate::result::Verdict;

/// Sentences, the weightiest first.
pub(crate) fn why(m: &FleetMachine, c: &Comparison) -> Vec<String> {
    let mut lines = vec![state(m)];
    if let Some(d) = m.drift.as_ref().filter(|d| d.significant) {
        let way = if d.outward { "away from the others" } else { "back toward the others" };
        lines.push(format!(
            "Cylinder {} drifts {way} by {:+.2} \u{b1} {:.2} kPa per {} ({}).",
            d.cylinder,
            d.slope_kpa.value,
            d.slope_kpa.u,
            d.per,
            if d.q < 0.0005 { "q under 0.001".to_owned() } else { format!("q = {:.3}", d.q) }
        ));
    }
    if let Some(f) = &m.forecast {
        let at = match &f.at {
            Place::Number(n) => format!("{n:.0} {}", if f.unit == "km" { "km" } else { "h" }),
            Place::Date(d) => d.clone(),
        };
        lines.push(format!("At this rate the spread reaches its limit at {at}."));
    }
    if let Some(j) = &m.change {
        let word = if j.worse { "worse" } else { "better" };
        lines.push(format!(
            "Cylinder {} changed by {:+.2} \u{b1} {:.2} kPa since the visit before, for the {word}.",
            j.cylinder, j.step_kpa.value, j.step_kpa.u
        ));
    } else if let Some(j) = c.changes.last() {
        let date = j.between[1].clone().unwrap_or_else(|| j.visits[1].clone());
        lines.push(format!("Cylinder {} was changed before {date} and has held since.", j.cylinder));
    }
    if let Some(s) = m.sisters.as_ref().filter(|s| s.outlier) {
        lines.push(format!("Stands out among {} machines with as many cylinders.", s.machines));
    }
    if !m.notices.is_empty() && m.attention != Attention::Fine {
        lines.push(format!("The last recording has: {}.", m.notices.join(", ")));
    }
    lines
}

fn state(m: &FleetMachine) -> String {
    let Some(s) = m.spread_kpa else {
        return "The last recording gave no spread.".to_owned();
    };
    let spread =
        format!("Spread {:.2} \u{b1} {:.2} kPa against a limit of {} kPa", s.value, s.u, m.limit_kpa);
    match m.verdict {
        Verdict::Outside => {
            let who = m.cylinder.map_or(String::new(), |c| format!("; cylinder {c} is furthest off"));
            let sure = match m.attention {
                Attention::Act => String::new(),
                _ => "; among so many machines this may be chance".to_owned(),
            };
            format!("{spread}: outside{who}{sure}.")
        }
        Verdict::Within => format!("{spread}: within."),
        Verdict::CannotTell | Verdict::NotApplicable => format!("{spread}: the recording cannot tell."),
    }
}
