//! Which parts of a good recording are there.

use crate::prepare::Prepared;
use crate::result::{RecordedPart, Regime};

use super::found::Found;

/// Lists the parts of a good recording, found or missing.
pub(crate) fn recorded(prepared: &Prepared<'_>, found: &Found) -> Vec<RecordedPart> {
    let off: f64 = found.ambient.off.stretches.iter().map(|(a, b)| b - a).sum();
    let windows = |regime: Regime, from: f64| -> f64 {
        found
            .stretches
            .windows
            .iter()
            .filter(|w| w.regime == regime && w.start_s >= from)
            .map(|w| w.end_s - w.start_s)
            .sum()
    };
    let idle = windows(Regime::Idle, f64::NEG_INFINITY);
    let blip = blip_end(found);
    let after = blip.map_or(0.0, |t| windows(Regime::Idle, t));
    let raised = windows(Regime::Raised, f64::NEG_INFINITY);
    let part = |name: &str, found: bool, seconds: f64, why: String| RecordedPart {
        part: name.to_owned(),
        found,
        seconds,
        why,
    };
    let warm = found.warmth.shown && idle + raised > 0.0;
    vec![
        part(
            "engine-off",
            off >= 2.0,
            off,
            if off >= 2.0 {
                "sensors were compared with the engine off".to_owned()
            } else if prepared.rpm.is_none() {
                "no engine speed, so engine-off rows cannot be told".to_owned()
            } else {
                "no stretch of 2 s with the engine off and the pressures flat".to_owned()
            },
        ),
        part(
            "warm",
            warm,
            if warm { idle + raised } else { 0.0 },
            match (found.warmth.shown, found.warmth.flat) {
                (true, _) if warm => "the coolant shows a warm engine in the judged stretches".to_owned(),
                (true, _) => "the coolant shows a cold engine, or nothing was judged".to_owned(),
                (false, true) => "the temperature never moved, which proves nothing".to_owned(),
                (false, false) => "no coolant temperature was logged".to_owned(),
            },
        ),
        part(
            "idle",
            idle >= 30.0,
            idle,
            if idle >= 30.0 {
                "steady idle, hands off".to_owned()
            } else {
                format!("{idle:.0} s of steady idle; 60 s is a good length")
            },
        ),
        part(
            "after-blip",
            after >= 10.0,
            after,
            if after >= 10.0 {
                "idle was recorded again after the throttle had been opened".to_owned()
            } else {
                "no steady idle after a throttle blip: a sticking plate would not show".to_owned()
            },
        ),
        part(
            "raised",
            raised >= 10.0,
            raised,
            if raised >= 10.0 {
                "a steady raised speed was recorded: it shows the linkage".to_owned()
            } else {
                "no steady raised speed: the linkage between the plates was not looked at".to_owned()
            },
        ),
    ]
}

/// End of the first blip or raised stretch.
fn blip_end(found: &Found) -> Option<f64> {
    let blips = found.stretches.excluded.iter().filter(|e| e.reason == "speed").map(|e| e.end_s);
    let raised = found.stretches.windows.iter().filter(|w| w.regime == Regime::Raised).map(|w| w.end_s);
    blips.chain(raised).min_by(f64::total_cmp)
}
