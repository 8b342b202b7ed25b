//! Causes that turning a screw would only hide, and things to look at before one is touched.
//!
//! # Method
//! A screw can always make two pressures meet. That is a repair only where the screw was the cause. Read from the review:
//! sensors on the wrong cylinder, one sensor logged twice, trouble codes, an overheated engine, a suspected leak, a linkage that is
//! uneven at raised speed only, a cylinder that drifts by itself, and a cylinder whose pressure is off while its refill rate
//! (plate and leak area) is not: it breathes differently. The last uses: a plate that is off by a share `a` moves the mean by
//! `0.78 a`; where the refill rate departs by less than half of what the pressure asks for, and by more than its own
//! uncertainty from it, the plate is not the cause. A person who has looked can rule a cause out by its code.
//!
//! # Source
//! The 0.78 comes from the engine model; the order of work (leaks, clearance, ignition before balance) is common practice, no
//! source.

use super::plan_result::Point;
use crate::codes;
use crate::notice::Level;
use crate::result::{Class, CylinderResult, FurtherTurning, Regime, Review, Undecided, Verdict};
use crate::stats::robust::median;

/// What was found.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Causes {
    /// Turning waits until these are cleared up.
    pub first: Vec<Point>,
    /// Worth a look; turning need not wait.
    pub look: Vec<Point>,
}

/// Codes of the causes that a person may rule out.
pub const CAUSES: [&str; 16] = [
    "no-pressure",
    codes::SWAPPED_SENSORS,
    codes::DUPLICATE_CHANNEL,
    codes::TROUBLE_CODE,
    codes::CODES_CLEARED,
    codes::OVERHEATING,
    codes::LEAK_SUSPECTED,
    codes::RAISED_UNEVEN,
    codes::DRIFTING_CYLINDER,
    codes::BREATHING,
    codes::FAR_CLOSED,
    codes::FAR_OPEN,
    codes::SENSORS_NOT_CHECKED,
    codes::WARM_NOT_SHOWN,
    codes::HUNTING,
    codes::MIXTURE_BIASED,
];

/// Collects causes; those whose code is in `ruled_out` are left out.
#[must_use]
pub fn causes(review: &Review, limit_kpa: f64, pressure_per_area: f64, ruled_out: &[String]) -> Causes {
    let mut out = Causes::default();
    recording(review, &mut out);
    engine(review, &mut out);
    breathing(review, limit_kpa, pressure_per_area, &mut out);
    look(review, limit_kpa, &mut out);
    let open = |p: &Point| !ruled_out.contains(&p.code);
    out.first.retain(open);
    out.look.retain(open);
    out
}

fn has<'a>(review: &'a Review, code: &str) -> Option<&'a crate::notice::Notice> {
    review.notices.iter().find(|n| n.code == code)
}

fn recording(review: &Review, out: &mut Causes) {
    if has(review, codes::SWAPPED_SENSORS).is_some() {
        let text = "the hoses or wires of two cylinders look exchanged: the wrong screw would be turned. Put them right and record again";
        out.first.push(Point::new(codes::SWAPPED_SENSORS, text));
    }
    if let Some(n) = has(review, codes::DUPLICATE_CHANNEL) {
        let text = "two columns hold the same sensor: one cylinder was not measured at all. Connect its sensor and record again";
        out.first.push(Point { cylinder: n.cylinder, ..Point::new(codes::DUPLICATE_CHANNEL, text) });
    }
    let codes_noted: Vec<&str> = review.trouble_codes.iter().map(|c| c.code.as_str()).collect();
    if !codes_noted.is_empty() || has(review, codes::TROUBLE_CODE).is_some() {
        let text = format!(
            "trouble codes are stored{}{}: find their cause by the maker's manual first. What they are about may be what is seen here",
            if codes_noted.is_empty() { "" } else { " (" },
            if codes_noted.is_empty() { String::new() } else { format!("{})", codes_noted.join(", ")) },
        );
        out.first.push(Point::new(codes::TROUBLE_CODE, text));
    }
    if !review.codes_cleared_s.is_empty() || has(review, codes::CODES_CLEARED).is_some() {
        let text = "codes were cleared during the recording: learned idle values may be reset with them. Record again after a run";
        out.first.push(Point::new(codes::CODES_CLEARED, text));
    }
}

fn engine(review: &Review, out: &mut Causes) {
    if has(review, codes::OVERHEATING).is_some() {
        let text = "the engine grew too hot: break off, let it cool, look for the reason";
        out.first.push(Point::new(codes::OVERHEATING, text));
    }
    for n in review.notices.iter().filter(|n| n.level != Level::Note && n.code == codes::LEAK_SUSPECTED) {
        let text = "looks like a leak behind its plate (boot, clamp, hose nipple, cap, gasket): a screw would hide it, and a hidden leak grows. Engine off, look; no flammable spray";
        out.first.push(Point { cylinder: n.cylinder, ..Point::new(codes::LEAK_SUSPECTED, text) });
    }
    if has(review, codes::RAISED_UNEVEN).is_some() {
        let text = "even at idle and uneven at raised speed: the linkage between the plates sets that, not the idle screws. See to its play and stops by the maker's procedure";
        out.first.push(Point::new(codes::RAISED_UNEVEN, text));
    }
    drifting(review, out);
}

/// A drift that could make up a good part of what is seen comes first; a smaller one is worth a look.
fn drifting(review: &Review, out: &mut Causes) {
    let minutes = review.regimes.iter().find(|s| s.regime == Regime::Idle).map_or(1.0, |s| s.seconds / 60.0);
    let told = |n: &&crate::notice::Notice| n.level != Level::Note && n.code == codes::DRIFTING_CYLINDER;
    for n in review.notices.iter().filter(told) {
        let own = review.cylinders.iter().find(|c| Some(c.cylinder) == n.cylinder);
        let way = own.and_then(|c| c.drift_kpa_per_min).map(|d| d.value.abs() * minutes);
        let text = "moves by itself while nothing is turned: warming up, a creeping sensor or a loose screw. Find which, then record again";
        let point = Point { cylinder: n.cylinder, ..Point::new(codes::DRIFTING_CYLINDER, text) };
        if way.is_none_or(|w| w > 0.5 * review.machine.limit_kpa) { &mut out.first } else { &mut out.look }
            .push(point);
    }
}

/// Pressure off, plate not.
fn breathing(review: &Review, limit_kpa: f64, pressure_per_area: f64, out: &mut Causes) {
    if review.verdict != Verdict::Outside {
        return;
    }
    let deviations: Vec<f64> =
        review.cylinders.iter().filter_map(|c| c.deviation_kpa.map(|d| d.value)).collect();
    let middle = median(&deviations).unwrap_or(0.0);
    let said = review.further_turning == Some(FurtherTurning::NotTheCure);
    let differs = |c: &&CylinderResult| {
        (said && c.class == Class::Imbalanced) || plate_is_innocent(c, middle, limit_kpa, pressure_per_area)
    };
    let who: Vec<u32> = review.cylinders.iter().filter(differs).map(|c| c.cylinder).collect();
    if deviations.len() == 2 && !who.is_empty() {
        let text = format!(
            "the two cylinders differ in pressure and not in refill rate: one of them breathes differently ({FAULTS}), and a screw would only hide that. See to it first"
        );
        out.first.push(Point::new(codes::BREATHING, text));
        return;
    }
    for c in who {
        let text = format!(
            "its pressure is off and its refill rate is not: it breathes differently ({FAULTS}), and a screw would only hide that. See to it first"
        );
        out.first.push(Point::on(codes::BREATHING, c, text));
    }
}

/// What makes a cylinder breathe differently.
const FAULTS: &str = "valve clearance or timing, compression, a valve that leaks";

fn plate_is_innocent(c: &CylinderResult, middle: f64, limit_kpa: f64, pressure_per_area: f64) -> bool {
    let (Some(d), Some(r), Some(p)) = (c.deviation_kpa, c.refill_ratio, c.pressure_kpa) else { return false };
    let off = d.value - middle;
    let asked = off / (pressure_per_area * p.value);
    let shown = r.value - 1.0;
    off.abs() - d.u > 0.5 * limit_kpa
        && shown * asked.signum() < 0.5 * asked.abs()
        && (asked - shown).abs() > r.u + d.u / (pressure_per_area * p.value)
}

fn look(review: &Review, limit_kpa: f64, out: &mut Causes) {
    for c in &review.cylinders {
        let Some(d) = c.deviation_kpa else {
            // Where nothing was fit to judge a sensor is to blame only where its own notice says so.
            let faulty =
                |n: &crate::notice::Notice| n.level == Level::Fault && n.cylinder == Some(c.cylinder);
            if review.undecided_because == Some(Undecided::Windows) && !review.notices.iter().any(faulty) {
                continue;
            }
            let text = "no pressure of this cylinder could be used: where it stands is not known. Mend its sensor or hose";
            out.look.push(Point::on("no-pressure", c.cylinder, text));
            continue;
        };
        let off = !matches!(c.class, Class::Even | Class::Undecided) || d.value - d.u > 2.0 * limit_kpa;
        // Where as much air passes its plate as the others', neither dirt nor a leak is to blame.
        let named = off && review.verdict == Verdict::Outside && !c.same_air();
        if named && d.value < 0.0 {
            let text = "takes less air than the others (more vacuum): look for dirt on its plate and for a cable or link that holds it first. A screw that makes up for dirt is wrong again when the dirt is gone";
            out.look.push(Point::on(codes::FAR_CLOSED, c.cylinder, text));
        }
        if named && d.value > 0.0 {
            let text = "takes more air than the others (less vacuum): look for a leak behind its plate first (boot, clamp, hose nipple, cap). Closing the screw on a leak hides it";
            out.look.push(Point::on(codes::FAR_OPEN, c.cylinder, text));
        }
    }
    if has(review, codes::SENSORS_NOT_CHECKED).is_some() {
        let text = "the sensors were not compared at rest: 15 s with the key on and the engine off would show whether a sensor is off rather than a cylinder";
        out.look.push(Point::new(codes::SENSORS_NOT_CHECKED, text));
    }
    if has(review, codes::FLAT_TEMPERATURE).is_some() || has(review, codes::WARM_NOT_SHOWN).is_some() {
        let text =
            "the recording does not show that the engine was warm: only a warm engine is worth adjusting";
        out.look.push(Point::new(codes::WARM_NOT_SHOWN, text));
    }
    if has(review, codes::HUNTING).is_some() {
        let text = "the idle speed swings: look for a leak or a sticking idle control before you balance";
        out.look.push(Point::new(codes::HUNTING, text));
    }
    if has(review, codes::MIXTURE_BIASED).is_some() {
        let text = "the mixture of the whole group is off its target: that is no matter of balance and no screw listed here mends it";
        out.look.push(Point::new(codes::MIXTURE_BIASED, text));
    }
}

#[cfg(test)]
#[path = "causes_tests.rs"]
mod tests;
