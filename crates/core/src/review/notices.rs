//! What was found, put into notices.

use crate::health::sensors::Fault;
use crate::machine::Machine;
use crate::notice::{Level, Notice};
use crate::prepare::Prepared;
use crate::pulse::order::Order;
use crate::recording::{PressureKind, Recording, TroubleCode};
use crate::result::{Signal, Verdict};
use crate::settings::Settings;

use super::classes::Classed;
use super::found::Found;
use super::states::Judged;

/// Everything a notice may be about.
pub(crate) struct Seen<'a> {
    pub recording: &'a Recording,
    pub machine: &'a Machine,
    pub settings: &'a Settings,
    pub prepared: &'a Prepared<'a>,
    pub found: &'a Found,
    pub left: Option<&'a Judged>,
    pub raised: Option<&'a Judged>,
    pub classed: &'a [Classed],
}

/// Collects the notices of a review, the reader's first.
pub(crate) fn notices(seen: &Seen<'_>, codes: &[TroubleCode]) -> Vec<Notice> {
    let mut out = seen.recording.notices.clone();
    sensors(seen, &mut out);
    crank(seen, &mut out);
    ambient(seen, &mut out);
    sampling(seen, &mut out);
    engine(seen, &mut out);
    outcome(seen, &mut out);
    super::notices_machine::add(seen, codes, &mut out);
    out
}

fn sensors(seen: &Seen<'_>, out: &mut Vec<Notice>) {
    for b in &seen.found.bad {
        let number = seen.found.numbers[b.cylinder];
        let dead = seen.found.dead.contains(&b.cylinder);
        let tail = if dead {
            "its cylinder is taken out, the others are judged"
        } else {
            "that stretch is not judged"
        };
        let (code, what) = match b.fault {
            Fault::Railed => ("railed-sensor", "reads beyond what a manifold can hold"),
            Fault::Stuck => ("stuck-sensor", "shows one value while others move"),
            Fault::DropOut => ("drop-out", "has no values"),
        };
        let level = if dead { Level::Fault } else { Level::Caution };
        let text = format!("the pressure of cylinder {number} {what}; {tail}");
        out.push(Notice::new(code, level, text).on_cylinder(number).between(b.start_s, b.end_s));
    }
    for &(a, b) in &seen.found.duplicates {
        let text = format!(
            "cylinders {a} and {b} hold the same figures: one sensor was logged twice, or one column copied"
        );
        out.push(Notice::new("duplicate-channel", Level::Fault, text).on_cylinder(b));
    }
    let limit = seen.machine.limit_kpa.unwrap_or(seen.settings.limit_kpa);
    for c in seen.prepared.cylinders.iter().filter(|c| c.alive) {
        if let Some(step) = c.resolution_kpa.filter(|s| *s > limit / 3.0) {
            let text = format!(
                "cylinder {} is logged in steps of {step:.2} kPa; the limit is {limit:.2} kPa",
                c.number
            );
            out.push(Notice::new("coarse-resolution", Level::Caution, text).on_cylinder(c.number));
        }
    }
    if let Some(Order::Swapped(ways)) = &seen.found.order {
        out.push(swapped(seen, ways));
    }
    if let (Some((i, late)), Some(s)) = (seen.found.late, seen.found.sampling) {
        let n = seen.found.numbers[i];
        let way = if late > 0.0 { "late" } else { "early" };
        let text = format!(
            "the pulse of cylinder {n} comes {:.0} ms {way} against the others: a longer hose, a restrictor or a slower sensor. Its mean holds, its shape does not",
            (1000.0 * late / s.pulse_hz).abs()
        );
        out.push(Notice::new("channel-lag", Level::Caution, text).on_cylinder(n));
    } else if matches!(seen.found.order, Some(Order::DoesNotFit)) {
        let text = "the pulses do not sit at the machine file's firing angles, whichever way they are turned";
        out.push(Notice::new("firing-order-differs", Level::Caution, text));
    }
}

/// The crank: order read from the pulses, a mark that does not serve, a cylinder that works less.
fn crank(seen: &Seen<'_>, out: &mut Vec<Notice>) {
    if let Some(Err(why)) = &seen.found.mark {
        let text =
            format!("the crank or cam mark is not used: {}; the phase is held on the pulses", why.words());
        out.push(Notice::new("mark-unusable", Level::Note, text));
    }
    if let (Some(inferred), None, true) =
        (&seen.found.inferred, &seen.found.order, seen.found.numbers.len() > 1)
    {
        let order: Vec<String> = inferred.order.iter().map(|&i| seen.found.numbers[i].to_string()).collect();
        let gaps: Vec<String> = (0..order.len())
            .map(|k| {
                let at = |k: usize| inferred.deg[inferred.order[k % order.len()]];
                let gap = (at(k + 1) - at(k)).rem_euclid(seen.found.cycle_deg);
                format!("{gap:.0}")
            })
            .collect();
        let text = format!(
            "the cylinders pull in the order {}, {} degrees of crank apart (inferred from the pulses: the machine file names no firing angles)",
            order.join("-"),
            gaps.join("-")
        );
        out.push(Notice::new("firing-order-inferred", Level::Note, text));
    }
    for (i, _) in seen.classed.iter().enumerate().filter(|(_, c)| c.weak) {
        let n = seen.found.numbers[i];
        let text = format!(
            "cylinder {n} breathes like the others and gives the crank less: look at its ignition, injector and compression before its plate"
        );
        out.push(Notice::new("weak-burn", Level::Caution, text).on_cylinder(n));
    }
}

fn swapped(seen: &Seen<'_>, ways: &[Vec<usize>]) -> Notice {
    let name = |way: &Vec<usize>| {
        way.iter().map(|&i| seen.found.numbers[i].to_string()).collect::<Vec<_>>().join(" and ")
    };
    let ways: Vec<String> = ways.iter().map(name).collect();
    let text = format!(
        "pulses sit at each other's crank angle; exchanged hoses or wires of cylinders {} explain it",
        ways.join(", or of ")
    );
    Notice::new("swapped-sensors", Level::Fault, text)
}

fn ambient(seen: &Seen<'_>, out: &mut Vec<Notice>) {
    let a = &seen.found.ambient;
    if seen.prepared.cylinders.is_empty() {
        return;
    }
    if a.kind.is_none() {
        let text = "nothing tells whether the pressures are absolute or vacuum; no direction is given. Engine-off rows, a throttle blip or the machine file settle it";
        out.push(Notice::new("kind-ambiguous", Level::Caution, text));
    }
    if a.barometer_kpa.is_none() && a.kind != Some(PressureKind::Absolute) {
        let text = "no barometer: absolute pressures cannot be had, differences can";
        out.push(Notice::new("no-barometer", Level::Note, text));
    }
    let bias: Vec<(u32, f64, f64)> = seen
        .found
        .numbers
        .iter()
        .enumerate()
        .filter_map(|(i, &n)| a.bias_kpa[i].map(|b| (n, b, a.bias_u_kpa[i])))
        .collect();
    if bias.len() < 2 {
        if seen.prepared.cylinders.len() > 1 {
            let text = "no engine-off rows: the sensors are taken as equal; 15 s with the key on and the engine off would show their bias";
            out.push(Notice::new("sensors-not-checked", Level::Note, text));
        }
        return;
    }
    let limit = seen.machine.limit_kpa.unwrap_or(seen.settings.limit_kpa);
    let low = bias.iter().map(|b| b.1).fold(f64::INFINITY, f64::min);
    let high = bias.iter().map(|b| b.1).fold(f64::NEG_INFINITY, f64::max);
    let u = bias.iter().map(|b| b.2).fold(0.0, f64::max);
    if high - low > (limit / 5.0).max(3.0 * u) {
        let list: Vec<String> = bias.iter().map(|(n, b, _)| format!("cylinder {n} {b:+.2}")).collect();
        let text = format!(
            "with the engine off the sensors disagree by {:.2} kPa ({}); removed",
            high - low,
            list.join(", ")
        );
        out.push(Notice::new("sensor-bias", Level::Caution, text));
    }
}

fn sampling(seen: &Seen<'_>, out: &mut Vec<Notice>) {
    if let Some(round) = seen.found.polled_round {
        let text = format!(
            "channels are polled in turn: each is fresh in one row of {round}; repeats are not counted as readings"
        );
        out.push(Notice::new("polled-in-turn", Level::Note, text));
    }
    if let (Signal::Aliased, Some(s)) = (seen.found.signal, seen.found.sampling) {
        let text = format!(
            "{:.1} readings a cycle cannot carry this pulse: a mean of 10 s may be off by {:.1} kPa; the uncertainties here carry what this recording leaves of it. Damp the sensors, let the control unit average, or log faster",
            s.per_cycle, s.b10_kpa
        );
        out.push(Notice::new("aliased", Level::Caution, text));
    }
}

fn engine(seen: &Seen<'_>, out: &mut Vec<Notice>) {
    let w = &seen.found.warmth;
    let judged = seen.left.is_some();
    if w.flat {
        let text = "the temperature never moves; a control unit that misses its sensor shows such a substitute, so warmth is not proven";
        out.push(Notice::new("flat-temperature", Level::Caution, text));
    } else if !w.shown && judged {
        let text = "no coolant temperature was logged: that the engine was warm is not shown";
        out.push(Notice::new("warm-not-shown", Level::Note, text));
    }
    let cold: f64 = seen
        .found
        .stretches
        .excluded
        .iter()
        .filter(|e| e.reason == "cold" || e.reason == "warming")
        .map(|e| e.end_s - e.start_s)
        .sum();
    if cold > 5.0 {
        let (level, tail) = if judged {
            (Level::Note, "the rest is judged")
        } else {
            (Level::Caution, "nothing is left to judge")
        };
        let text =
            format!("{cold:.0} s are not judged because the engine was cold or still warming up; {tail}");
        out.push(Notice::new("cold-engine", level, text));
    }
    if let (Some(rise), Some(hot)) = (w.late_rise_k_per_min, w.hottest_c)
        && ((hot > 98.0 && rise > 0.5) || hot > 105.0)
    {
        let text = format!(
            "the coolant reached {hot:.0} deg C and still rose by {rise:.1} K a minute: idling without airflow overheats an engine; let it cool"
        );
        out.push(Notice::new("overheating", Level::Fault, text));
    }
    if seen.prepared.rpm.is_none() && !seen.prepared.cylinders.is_empty() {
        let text = "no engine speed was logged: idle cannot be told from other running, and whole cycles cannot be counted";
        out.push(Notice::new("no-speed", Level::Caution, text));
    }
}

fn outcome(seen: &Seen<'_>, out: &mut Vec<Notice>) {
    if !seen.prepared.cylinders.is_empty() && seen.left.is_none() {
        let text = "no stretch of idle is long and steady enough to judge (10 s and 60 engine cycles)";
        out.push(Notice::new("too-short", Level::Caution, text));
    }
    if let (Some(left), Some(raised)) = (seen.left, seen.raised)
        && left.decision.verdict == Verdict::Within
        && raised.decision.verdict == Verdict::Outside
    {
        let text = format!(
            "even at idle, but outside the limit at {:.0} rev/min: there the linkage between the plates sets the balance, not the idle screws",
            raised.state.rpm.value
        );
        out.push(Notice::new("raised-uneven", Level::Caution, text));
    }
    for (i, d) in seen.found.drifts.iter().enumerate() {
        if let Some(d) = d.filter(|d| d.per_min.abs() > 4.0 * d.u_per_min && d.per_min.abs() > 0.1) {
            let n = seen.found.numbers[i];
            let text = format!("cylinder {n} drifts by {:+.2} kPa a minute against the others", d.per_min);
            out.push(Notice::new("drifting-cylinder", Level::Caution, text).on_cylinder(n));
        }
    }
    let mut lambdas: Vec<f64> = seen.classed.iter().filter_map(|c| c.lambda.map(|l| l.value)).collect();
    lambdas.sort_by(f64::total_cmp);
    if let Some(middle) = crate::stats::robust::median(&lambdas).filter(|_| lambdas.len() > 1)
        && (middle - seen.machine.lambda_target).abs() > seen.settings.lambda_band
    {
        let text = format!(
            "the middle of the measured mixtures is lambda {middle:.3}; the target is {:.2}",
            seen.machine.lambda_target
        );
        out.push(Notice::new("mixture-biased", Level::Caution, text));
    }
}
