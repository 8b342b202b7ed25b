//! What next, and what not to do.

use evenpull_core::notice::Level;
use evenpull_core::result::{Class, CylinderResult, FurtherTurning, Regime, Undecided, Verdict};

use crate::digits;
use crate::texts::verdict::Case;
use crate::texts::{cylinders, list};

/// What next.
pub(crate) fn next(case: &Case<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    if !case.review.trouble_codes.is_empty() {
        lines.push(
            "Trouble codes are stored: find and clear up their cause first, then record again; the result below may be one of its effects."
                .to_owned(),
        );
    }
    if case.review.notices.iter().any(|n| n.code == "overheating") {
        lines.push("The engine grew too hot: let it cool before anything else.".to_owned());
    }
    lines.extend(sensors_off(case));
    match case.review.verdict {
        Verdict::Within => within(case, &mut lines),
        Verdict::Outside => outside(case, &mut lines),
        Verdict::CannotTell => open(case, &mut lines),
        Verdict::NotApplicable => lines.push(
            "Record the pressure of every cylinder, each in a column of its own, together with the engine speed."
                .to_owned(),
        ),
    }
    lines
}

fn within(case: &Case<'_>, lines: &mut Vec<String>) {
    for c in &case.named {
        lines.push(if case.mixture_only(c) { fuel(c) } else { look(c) });
    }
    lines.push(
        "Leave the adjusters as they are and keep this recording: the next visit is compared with it."
            .to_owned(),
    );
}

fn outside(case: &Case<'_>, lines: &mut Vec<String>) {
    let first = causes_first(case);
    if !first.is_empty() {
        lines.extend(first);
        lines.push("Turn no adjuster until that is cleared up, then record again.".to_owned());
        return;
    }
    match case.review.further_turning {
        Some(FurtherTurning::NotTheCure) => {
            if case.twin() {
                lines.push(
                    "The two differ in pressure and not in the air their plates let through: look at both for valve clearance and timing, compression and a leaking valve."
                        .to_owned(),
                );
            }
            for c in case.named.iter().filter(|_| !case.twin()) {
                lines.push(look(c));
            }
            lines.push("Turn no adjuster until that is found: turning would only hide it.".to_owned());
            return;
        }
        Some(FurtherTurning::WithinNoise) => {
            lines.push(
                "Stop turning: what is left is smaller than this recording can measure. Record a longer idle before going on."
                    .to_owned(),
            );
            return;
        }
        _ => {}
    }
    if case.twin() {
        lines.push(
            "Look for a leak at both first (boots, hose nipples, caps). If there is none, open the one with the lower pressure (more vacuum) or close the other, a little; if one of them has no adjuster, turn the other and name that one as reference in the machine file."
                .to_owned(),
        );
    }
    for c in case.named.iter().filter(|_| !case.twin()) {
        lines.push(if case.mixture_only(c) { fuel(c) } else { turn(c) });
    }
    if case.named.is_empty() && !case.twin() {
        lines.push("Check linkage and boots of all cylinders, then bring the highest and the lowest towards the middle.".to_owned());
    }
    lines.push("Wait 15 s after each turn, then record 60 s of idle, hands off, and compare.".to_owned());
}

/// What makes the figures themselves doubtful: it comes before any adjuster, here as in the plan.
fn causes_first(case: &Case<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    if case.swapped() {
        lines.push("The hoses or wires of two cylinders look exchanged, so the figures may stand at the wrong cylinder: put them right first.".to_owned());
    }
    if case.review.notices.iter().any(|n| n.code == "duplicate-channel") {
        lines.push(
            "Two columns hold the same sensor: one cylinder was not measured. Connect its sensor first."
                .to_owned(),
        );
    }
    let idle = case.review.regimes.iter().find(|s| s.regime == Regime::Idle);
    let minutes = idle.map_or(1.0, |s| s.seconds / 60.0);
    for c in &case.review.cylinders {
        let told = case.review.notices.iter().any(|n| {
            n.code == "drifting-cylinder" && n.level != Level::Note && n.cylinder == Some(c.cylinder)
        });
        let way = c.drift_kpa_per_min.map_or(0.0, |d| d.value.abs() * minutes);
        if told && way > 0.5 * case.review.machine.limit_kpa {
            lines.push(format!(
                "Cylinder {} moved by itself while it was recorded (warming up, a creeping sensor or a loose screw): find out which.",
                c.cylinder
            ));
        }
    }
    lines
}

fn turn(c: &CylinderResult) -> String {
    let n = c.cylinder;
    if c.deviation_kpa.is_some_and(|d| d.value < 0.0) {
        format!(
            "Cylinder {n}: look for dirt on its plate and for a cable or link that holds it. If it is clean and free, open it a little at its adjuster."
        )
    } else {
        format!(
            "Cylinder {n}: look for a leak between plate and cylinder first (boot, hose nipple, missing cap). If it is tight, close its plate a little at its adjuster."
        )
    }
}

fn look(c: &CylinderResult) -> String {
    // The refill rate saw the same air pass the plate: a leak behind it would have shown there.
    let causes = if breathes(c) {
        "valve clearance and timing, a leaking valve, compression; then its sensor"
    } else {
        "a leak behind the plate, valve clearance, compression, its sensor"
    };
    format!("Cylinder {}: before anything is turned, look for the cause ({causes}).", c.cylinder)
}

/// Sensors whose zero was off by more than half the limit: the page took it out, somebody has to see to it.
fn sensors_off(case: &Case<'_>) -> Option<String> {
    let bound = case.review.machine.limit_kpa / 2.0;
    let off: Vec<String> = case
        .review
        .cylinders
        .iter()
        .filter_map(|c| {
            let b = case.unit.difference(c.bias_removed_kpa.filter(|b| b.abs() > bound)?);
            let text = digits::signed(b, case.unit.decimals());
            Some(format!("cylinder {} by {text} {}", c.cylinder, case.unit.name()))
        })
        .collect();
    (!off.is_empty()).then(|| {
        format!(
            "Have the sensor checked that read wrong with the engine off: {}. The figures here are without that error; a plain display shows it.",
            list(&off)
        )
    })
}

/// Whether the refill rate was seen and does not differ from the others': the plate is not at fault.
pub(crate) fn breathes(c: &CylinderResult) -> bool {
    c.class == Class::Imbalanced && c.same_air()
}

fn fuel(c: &CylinderResult) -> String {
    format!(
        "Cylinder {}: its pressure is even, so look at its fuel and spark (injector or jet, mixture screw, plug), not at its plate.",
        c.cylinder
    )
}

fn open(case: &Case<'_>, lines: &mut Vec<String>) {
    lines.push(match case.review.undecided_because {
        Some(Undecided::Scatter) => match case.review.seconds_to_decide.filter(|s| s.is_finite()) {
            Some(s) => format!("Record about {} of warm idle, hands off: that would decide it.", digits::duration(s.ceil())),
            None => "Record several minutes of warm idle, hands off.".to_owned(),
        },
        Some(Undecided::Resolution) => {
            "Log the pressures in a finer step (a smaller unit, or one more decimal), then record again.".to_owned()
        }
        Some(Undecided::Bias) => {
            "Record again with 15 s of key on, engine off, at the start: every sensor then shows its own zero. Swapping two sensors and repeating settles the rest."
                .to_owned()
        }
        Some(Undecided::Aliasing) => {
            let rate = case.review.pulse.as_ref().map(|p| p.rate_hz).filter(|r| r.is_finite());
            match rate {
                Some(r) => format!(
                    "Each cylinder pulses {} times a second. Log at least {} rows a second, or put a restrictor and a longer hose in each line so that only the mean is left.",
                    digits::short(r),
                    digits::short((r * 20.0 / 10.0).ceil() * 10.0)
                ),
                None => "Log many more rows a second, or put a restrictor and a longer hose in each line.".to_owned(),
            }
        }
        Some(Undecided::Signal) => {
            "Find out what the logger's figure stands for and say so in the machine file (pressure_is); a logger that averages over the cycle is best.".to_owned()
        }
        Some(Undecided::Windows) => {
            windows(case)
        }
        Some(Undecided::Sensor) => {
            "See to the sensors named in the notices, or name unit and kind of the columns in the machine file, then record again.".to_owned()
        }
        None => "Record 60 s of warm idle, hands off, after 15 s of key on, engine off.".to_owned(),
    });
}

/// What to record where nothing was fit to judge: by the reason that took most of the time.
fn windows(case: &Case<'_>) -> String {
    let again = "record 60 s of steady idle: nobody touches the throttle, and no pump, fan or lamp is switched on or off";
    match unfit(case) {
        Some("cold") => format!("Let the engine warm up first, then {again}."),
        Some("sensor") => format!("See to the sensors first, then {again}."),
        _ => format!("With the engine warm, {again}."),
    }
}

/// Reason that kept the most seconds from being judged.
pub(crate) fn unfit<'a>(case: &Case<'a>) -> Option<&'a str> {
    let mut by_reason: Vec<(&str, f64)> = Vec::new();
    for e in &case.review.excluded {
        let length = e.end_s - e.start_s;
        match by_reason.iter_mut().find(|(reason, _)| *reason == e.reason) {
            Some((_, sum)) => *sum += length,
            None => by_reason.push((&e.reason, length)),
        }
    }
    by_reason.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(reason, _)| reason)
}

/// What not to do.
pub(crate) fn not_to_do(case: &Case<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    let named: Vec<u32> = case.named.iter().map(|c| c.cylinder).collect();
    let rest: Vec<u32> = case.live.iter().copied().filter(|c| !named.contains(c)).collect();
    match case.review.verdict {
        Verdict::Outside
            if case.twin() && case.review.further_turning == Some(FurtherTurning::NotTheCure) =>
        {
            lines.push("Do not turn a screw to make the two meet: it would hide what is wrong.".to_owned());
        }
        Verdict::Outside if case.twin() => {
            lines.push("Do not turn both at once: turn one, let the idle settle, see to it that the idle speed is in its band again, then look.".to_owned());
        }
        Verdict::Outside => {
            if case.swapped() {
                lines.push(
                    "Do not go by the cylinder numbers while hoses or wires may be exchanged.".to_owned(),
                );
            } else if !rest.is_empty() && !named.is_empty() {
                lines.push(format!(
                    "Do not turn {}: they agree. A healthy cylinder matched to a sick one makes two sick ones.",
                    cylinders(&rest)
                ));
            }
            if !case.zero_checked() {
                lines.push(
                    "Do not chase what is left once it is inside the limit: the zero of the sensors was not checked."
                        .to_owned(),
                );
            } else if let Some(u) = smallest_step(case) {
                lines.push(format!("Do not chase differences below {u}: this recording cannot see them."));
            }
        }
        Verdict::Within => {
            lines.push(
                "Do not turn anything to make the dots meet: what is left is inside the limit.".to_owned(),
            );
        }
        Verdict::CannotTell | Verdict::NotApplicable => {
            lines.push("Do not turn any adjuster on the strength of this recording.".to_owned());
        }
    }
    if case.rule_of_thumb() && case.review.verdict == Verdict::Outside {
        lines.push("Do not condemn the machine on this limit alone: it is a rule of thumb.".to_owned());
    }
    if case.review.notices.iter().any(|n| n.level == Level::Fault) {
        lines.push("Do not pass over the faults listed under the notices.".to_owned());
    }
    lines.push(crate::texts::page::HURTS.to_owned());
    lines
}

fn smallest_step(case: &Case<'_>) -> Option<String> {
    let u = case.review.spread_kpa?.u.max(case.gain_kpa.unwrap_or(0.0));
    (u.is_finite() && u > 0.0).then(|| format!("{} {}", case.unit.least_text(u), case.unit.name()))
}
