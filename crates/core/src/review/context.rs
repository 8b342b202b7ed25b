//! What pages need beside the result: the unit as logged, what a plain display would have shown, how the numbers were made.

use rayon::prelude::*;

use crate::analysis::{Context, PairDifference};
use crate::machine::Machine;
use crate::prepare::Prepared;
use crate::recording::Recording;
use crate::result::Signal;
use crate::settings::Settings;
use crate::stats::lanes;

use super::found::Found;
use super::states::Judged;

/// Collects the context.
pub(crate) fn context(
    recording: &Recording,
    machine: &Machine,
    settings: &Settings,
    prepared: &Prepared<'_>,
    found: &Found,
    left: Option<&Judged>,
) -> Context {
    let unit = prepared
        .cylinders
        .first()
        .map_or_else(|| "kPa".to_owned(), |c| recording.channels[c.channel].unit.clone());
    let pairs = left.map_or_else(Vec::new, |j| {
        j.pairs
            .iter()
            .map(|p| PairDifference {
                first: found.numbers[p.first],
                second: found.numbers[p.second],
                difference_kpa: p.difference.value,
                u_kpa: p.difference.u(),
            })
            .collect()
    });
    let mut rows = settings.table();
    if machine.limit_kpa.is_some() {
        rows.retain(|r| r.0 != "limit_kpa");
    }
    Context {
        pressure_unit: unit,
        pressure_kind: found.ambient.kind,
        assumed_barometer_kpa: found.ambient.assumed_kpa,
        gain_allowance_kpa: left.map_or(0.0, |j| j.gain_u_kpa),
        display_mean_kpa: prepared
            .cylinders
            .par_iter()
            .map(|c| display(recording, prepared, found, c.channel))
            .collect(),
        pairs,
        method: method(found, settings),
        settings: rows.into_iter().map(|(n, v, r)| (n.to_owned(), v, r.to_owned())).collect(),
    }
}

/// Plain mean of a column as logged, over the judged idle or, where nothing was judged, over the running engine.
fn display(recording: &Recording, prepared: &Prepared<'_>, found: &Found, channel: usize) -> Option<f64> {
    let values = &recording.channels[channel].values;
    match &found.left {
        Some(m) => lanes::mean(m.data.rows.iter().map(|part| &values[part.clone()])),
        None => {
            let turning = |k: &usize| prepared.rpm.as_ref().is_none_or(|r| r[*k] > 300.0);
            crate::stats::moments::mean(
                &(0..values.len()).filter(turning).map(|k| values[k]).collect::<Vec<f64>>(),
            )
        }
    }
}

fn method(found: &Found, settings: &Settings) -> Vec<String> {
    let mut out = Vec::new();
    out.push(
        "Windows: a stretch is judged where speed and group pressure stay near their 41 s running median, away from blips, load steps, gaps and turned screws."
            .to_owned(),
    );
    out.push(
        "Means: regression of each pressure on the crank phase (speed integrated, then held on the pulses of all cylinders); the intercept is the time mean over whole engine cycles. After S. Braun, Acustica 32 (1975) 69."
            .to_owned(),
    );
    out.push(format!(
        "Uncertainty: JCGM 100:2008, expanded with k = {}; scatter from the pulse-free series of the very difference (larger of the Newey-West and the ten-batch standard error), plus the step of the values, the row rate and the sensors' zero.",
        settings.coverage
    ));
    out.push(format!(
        "Verdict: JCGM 106:2012 on all pairs of cylinders with a guard of {} standard uncertainties on either side.",
        settings.guard
    ));
    if found.refills.iter().flatten().any(Result::is_ok) {
        out.push("Refill rate: slope of the pulse while the plate is choked (under 0.528 of the barometer), proportional to plate area over runner volume; orifice flow after J. B. Heywood (1988), appendix C. Equal runner volumes are assumed unless the machine file gives them.".to_owned());
    }
    match found.signal {
        Signal::Averaged => out.push(
            "The values hold no pulse: the control unit or the damping of the line had averaged it."
                .to_owned(),
        ),
        Signal::Aliased => out.push(
            "The rows are too slow for the pulse in them; the uncertainty carries what that leaves open."
                .to_owned(),
        ),
        _ => {}
    }
    out
}
