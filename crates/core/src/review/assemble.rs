//! Puts the findings into the result as it is written.

use crate::analysis::Analysis;
use crate::balance::series;
use crate::machine::Machine;
use crate::prepare::Prepared;
use crate::pulse::phase::cycle_hz;
use crate::recording::{Quantity, Recording, TroubleCode};
use crate::result::{
    Adjustment, Basis, ChannelInfo, Class, CylinderResult, Fuelling, FurtherTurning, MachineInfo, MadeWith,
    Measured, PulseInfo, REVIEW_SCHEMA, Review, Signal, SourceInfo, Undecided, Verdict,
};
use crate::settings::Settings;

use super::classes::{Classed, classes};
use super::found::Found;
use super::notices::{Seen, notices};
use super::shapes::{pulse_info, pulses};
use super::states::{Judged, judge, seconds_to_decide};
use super::traces::traces;
use super::{ReviewNotes, context, recorded};

/// Assembles the analysis.
pub(crate) fn assemble(
    recording: &Recording,
    machine: &Machine,
    settings: &Settings,
    notes: &ReviewNotes,
    prepared: &Prepared<'_>,
    found: &Found,
) -> Analysis {
    let one = |m: &Option<super::found::Measured>| m.as_ref().map(|m| judge(m, machine, settings, found));
    let (left, as_found, raised) = (one(&found.left), one(&found.as_found), one(&found.raised));
    let classed = classes(recording, prepared, machine, settings, found, left.as_ref());
    let seen = Seen {
        recording,
        machine,
        settings,
        prepared,
        found,
        left: left.as_ref(),
        raised: raised.as_ref(),
        classed: &classed,
    };
    let trouble_codes = codes(recording, notes);
    let (verdict, because) = verdict(found, left.as_ref());
    let (common, differential) = movement(found);
    let review = Review {
        schema: REVIEW_SCHEMA.to_owned(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        source: source(recording),
        made_with: Some(made_with(machine, settings, notes)),
        machine: machine_info(machine, settings, found, recording),
        channels: channels(recording, found),
        notices: notices(&seen, &trouble_codes),
        recorded: recorded::recorded(prepared, found),
        trouble_codes,
        codes_cleared_s: recording.codes_cleared_s.clone(),
        windows: found.stretches.windows.clone(),
        excluded: found.stretches.excluded.clone(),
        barometer_kpa: found.ambient.barometer_kpa,
        barometer_source: found.ambient.source.map(str::to_owned),
        pulse: pulse(prepared, found, settings),
        regimes: [&left, &raised].into_iter().flatten().map(|j| j.state.clone()).collect(),
        as_found: as_found.as_ref().map(|j| j.state.clone()),
        cylinders: cylinders(found, left.as_ref(), &classed, settings),
        spread_kpa: left.as_ref().and_then(|j| j.state.spread_kpa),
        common_mode_kpa: common,
        differential_kpa: differential,
        verdict,
        undecided_because: because,
        seconds_to_decide: left
            .as_ref()
            .filter(|_| verdict == Verdict::CannotTell)
            .and_then(seconds_to_decide),
        adjustments: adjustments(found, settings),
        further_turning: further_turning(verdict, because, left.as_ref(), &classed, machine, settings),
    };
    Analysis {
        context: context::context(recording, machine, settings, prepared, found, left.as_ref()),
        traces: traces(prepared, found),
        pulses: pulses(prepared, found, &classed),
        review,
    }
}

fn verdict(found: &Found, left: Option<&Judged>) -> (Verdict, Option<Undecided>) {
    let live = found.numbers.len().saturating_sub(found.dead.len());
    if live < 2 {
        return (Verdict::NotApplicable, None);
    }
    match left {
        Some(j) => (j.decision.verdict, j.decision.because),
        None => (Verdict::CannotTell, Some(Undecided::Windows)),
    }
}

fn source(recording: &Recording) -> SourceInfo {
    let s = &recording.source;
    SourceInfo {
        name: s.name.clone(),
        sha256: s.sha256.clone(),
        format: s.format,
        rows: s.rows,
        rows_skipped: s.rows_skipped,
        duration_s: recording.duration_s(),
        sample_rate_hz: recording.sample_rate_hz(),
    }
}

fn made_with(machine: &Machine, settings: &Settings, notes: &ReviewNotes) -> MadeWith {
    MadeWith {
        machine_file: Some(machine.to_toml()).filter(|text| !text.is_empty()),
        columns: notes.columns.clone(),
        rate_hz: notes.rate_hz,
        codes: notes.codes.clone(),
        settings: settings.values(),
    }
}

fn machine_info(machine: &Machine, settings: &Settings, found: &Found, recording: &Recording) -> MachineInfo {
    let seen = found.numbers.iter().copied().max().unwrap_or(0);
    MachineInfo {
        id: machine.id.clone().or_else(|| recording.preamble.machine_id.clone()),
        cylinders: machine.cylinders.unwrap_or(seen),
        strokes: machine.strokes,
        reference: machine.reference,
        limit_kpa: machine.limit_kpa.unwrap_or(settings.limit_kpa),
        limit_source: if machine.limit_kpa.is_some() { "machine-file" } else { "default" }.to_owned(),
        fuelling: machine.fuelling,
    }
}

fn channels(recording: &Recording, found: &Found) -> Vec<ChannelInfo> {
    recording
        .channels
        .iter()
        .map(|c| {
            let settled =
                (c.quantity == Quantity::ManifoldPressure && c.kind.is_none() && c.cylinder.is_some())
                    .then_some(found.ambient.kind_why.as_ref())
                    .flatten();
            ChannelInfo {
                header: c.header.clone(),
                quantity: c.quantity,
                cylinder: c.cylinder,
                unit: c.unit.clone(),
                pressure_kind: c.kind.or_else(|| settled.and(found.ambient.kind)),
                resolution: c.resolution,
                why: settled.map_or_else(|| c.why.clone(), |w| format!("{}; {w}", c.why)),
            }
        })
        .collect()
}

fn codes(recording: &Recording, notes: &ReviewNotes) -> Vec<TroubleCode> {
    let noted = notes.codes.iter().map(|code| TroubleCode {
        code: code.trim().to_ascii_uppercase(),
        status: "noted".to_owned(),
        time_s: None,
        text: None,
    });
    recording
        .trouble_codes
        .iter()
        .cloned()
        .chain(noted)
        .map(|c| TroubleCode { text: c.text.or_else(|| crate::trouble::meaning(&c.code).map(|m| m.1)), ..c })
        .collect()
}

fn pulse(prepared: &Prepared<'_>, found: &Found, settings: &Settings) -> Option<PulseInfo> {
    if let Some(s) = found.sampling {
        return Some(pulse_info(found, s.pulse_hz, s.per_cycle, found.signal, settings));
    }
    let rate_hz = cycle_hz(found.idle_rpm?, prepared.strokes);
    let slowest =
        prepared.cylinders.iter().filter(|c| c.alive).map(|c| c.update_hz).fold(f64::INFINITY, f64::min);
    slowest.is_finite().then(|| pulse_info(found, rate_hz, slowest / rate_hz, Signal::Unknown, settings))
}

fn cylinders(
    found: &Found,
    left: Option<&Judged>,
    classed: &[Classed],
    settings: &Settings,
) -> Vec<CylinderResult> {
    let k = settings.coverage;
    let expanded = |v: crate::mixture::classes::Value| Measured { value: v.value, u: k * v.u };
    found
        .numbers
        .iter()
        .enumerate()
        .map(|(i, &cylinder)| {
            let state = left.map(|j| &j.state.cylinders[i]);
            let c = &classed[i];
            CylinderResult {
                cylinder,
                pressure_kpa: state.and_then(|s| s.pressure_kpa),
                bias_removed_kpa: found.ambient.bias_kpa[i],
                deviation_kpa: state.and_then(|s| s.deviation_kpa),
                drift_kpa_per_min: found.drifts[i].map(|d| Measured { value: d.per_min, u: k * d.u_per_min }),
                effective_samples: left
                    .and_then(|j| j.deviations[i])
                    .map(|d| d.effective)
                    .filter(|e| *e > 0.0),
                refill_ratio: c.refill.map(expanded),
                air_ratio: c.air.map(expanded),
                lambda: c.lambda.map(expanded),
                class: c.class,
                basis: c.basis,
                evidence: c.evidence.clone(),
            }
        })
        .collect()
}

/// Standard deviation of the group mean, and rms over the cylinders of the standard deviation of their differences from it.
fn movement(found: &Found) -> (Option<f64>, Option<f64>) {
    let Some(left) = &found.left else { return (None, None) };
    let live = left.data.live();
    let n = live.len() as f64;
    if live.len() < 2 {
        return (None, None);
    }
    let mut group = vec![0.0; found.numbers.len()];
    live.iter().for_each(|&i| group[i] = 1.0 / n);
    let sd = |c: &[f64]| crate::stats::moments::sd(&series::combine(&left.data.blocks, c).1);
    let common = sd(&group);
    let own: Option<Vec<f64>> = live
        .iter()
        .map(|&i| {
            let mut c: Vec<f64> = group.iter().map(|g| -g).collect();
            c[i] += 1.0;
            sd(&c)
        })
        .collect();
    let differential = own.map(|v| (v.iter().map(|s| s * s).sum::<f64>() / n).sqrt());
    // Read one after the other, the channels see the shared movement at different moments: what leaks from it cannot be told from
    // true differences unless it is small.
    let skewed = found.polled_round.is_some();
    let unknown = skewed && matches!((common, differential), (Some(c), Some(d)) if c > 0.5 * d);
    (common, differential.filter(|_| !unknown))
}

fn adjustments(found: &Found, settings: &Settings) -> Vec<Adjustment> {
    found
        .steps
        .iter()
        .map(|s| Adjustment {
            time_s: s.time_s,
            cylinder: found.numbers[s.cylinder],
            step_kpa: Measured { value: s.shift_kpa, u: settings.coverage * s.u_kpa },
        })
        .collect()
}

fn further_turning(
    verdict: Verdict,
    because: Option<Undecided>,
    left: Option<&Judged>,
    classed: &[Classed],
    machine: &Machine,
    settings: &Settings,
) -> Option<FurtherTurning> {
    let spread = left?.state.spread_kpa?;
    let limit = machine.limit_kpa.unwrap_or(settings.limit_kpa);
    match verdict {
        Verdict::Within => Some(FurtherTurning::WithinNoise),
        Verdict::Outside => {
            let breathing = classed.iter().any(|c| {
                c.class == Class::Imbalanced
                    && c.basis == Basis::Inferred
                    && c.refill.is_some()
                    && (machine.fuelling == Fuelling::Shared || c.breathes)
            });
            Some(if breathing { FurtherTurning::NotTheCure } else { FurtherTurning::Worthwhile })
        }
        Verdict::CannotTell
            if because == Some(Undecided::Scatter) && spread.value < limit && spread.u > spread.value =>
        {
            Some(FurtherTurning::WithinNoise)
        }
        _ => None,
    }
}
