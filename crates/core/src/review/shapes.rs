//! The averaged pulses as they leave the core: figures for scripts, curves for the page.

use crate::analysis::AveragedPulse;
use crate::prepare::Prepared;
use crate::pulse::fold::Folded;
use crate::pulse::order::Order;
use crate::result::{Measured, PulseCylinder, PulseInfo, Signal};
use crate::settings::Settings;

use super::classes::Classed;
use super::found::Found;

/// Where degrees count from, cycles: the mark, else the lowest point of the first cylinder shown (the true crank angle is
/// not known without a mark).
fn zero(found: &Found) -> f64 {
    if matches!(found.mark, Some(Ok(_))) {
        return 0.0;
    }
    let first = found.folded.iter().flatten().next();
    first.and_then(|f| f.dip().map(|b| b as f64 / f.mean.len() as f64)).unwrap_or(0.0)
}

/// What is known of the pulse as a whole and of each cylinder's.
pub(super) fn pulse_info(
    found: &Found,
    rate_hz: f64,
    samples_per_cycle: f64,
    signal: Signal,
    settings: &Settings,
) -> PulseInfo {
    let phase_from = match (&found.mark, found.inferred.is_some()) {
        (Some(Ok(_)), _) => "mark",
        (_, true) => "pulses",
        _ => "speed",
    };
    let filed = found.order == Some(Order::AsFiled);
    let firing_from = found.inferred.as_ref().map(|_| if filed { "machine-file" } else { "inferred" });
    PulseInfo {
        rate_hz,
        samples_per_cycle,
        signal,
        phase_from: phase_from.to_owned(),
        firing_deg: found
            .inferred
            .as_ref()
            .map(|i| i.deg.iter().map(|d| (10.0 * d).round() / 10.0).collect()),
        firing_from: firing_from.map(str::to_owned),
        cylinders: (0..found.numbers.len()).filter_map(|i| cylinder(found, i, rate_hz, settings)).collect(),
    }
}

fn cylinder(found: &Found, i: usize, rate_hz: f64, settings: &Settings) -> Option<PulseCylinder> {
    let folded = found.folded[i].as_ref()?;
    let (dip, peak) = (folded.lowest()?, folded.highest()?);
    let degrees = |x: f64| (x - zero(found)).rem_euclid(1.0) * found.cycle_deg;
    let refill = found.refills[i].as_ref();
    let part = found.ripple.as_ref().and_then(|r| r.as_ref().ok()).map(|r| r.parts[i]);
    Some(PulseCylinder {
        cylinder: found.numbers[i],
        cycles: folded.cycles,
        rejected_incomplete: folded.rejected.incomplete,
        rejected_odd: folded.rejected.odd,
        variation_pct: folded.variation_pct(),
        dip_kpa: dip.1,
        dip_deg: degrees(dip.0),
        peak_kpa: peak.1,
        peak_deg: degrees(peak.0),
        refill_kpa_per_s: refill.and_then(|r| r.as_ref().ok()).map(|r| r.slope * rate_hz),
        refill_refused: refill.and_then(|r| r.as_ref().err()).map(|r| r.words().to_owned()),
        speed_rise_rpm: part.map(|p| Measured { value: p.rise_rpm, u: settings.coverage * p.u_rpm }),
    })
}

/// Curves for the page.
pub(super) fn pulses(prepared: &Prepared<'_>, found: &Found, classed: &[Classed]) -> Vec<AveragedPulse> {
    let cycle_deg = if prepared.strokes == 2 { 360.0 } else { 720.0 };
    let hz = found.sampling.map_or(1.0, |s| s.pulse_hz);
    let one = |(i, f): (usize, &Folded)| {
        let n = f.mean.len();
        let zero = (zero(found) * n as f64).round() as usize;
        let turned = |v: &[f64]| (0..n).map(|b| v[(b + zero) % n]).collect::<Vec<f64>>();
        let refill =
            found.refills[i].as_ref().and_then(|r| r.as_ref().ok()).filter(|_| classed[i].refill.is_some());
        let turn = |x: f64| (x - zero as f64 / n as f64).rem_euclid(1.0) * cycle_deg;
        AveragedPulse {
            cylinder: found.numbers[i],
            phase_deg: (0..n).map(|b| (b as f64 + 0.5) / n as f64 * cycle_deg).collect(),
            mean_kpa: turned(&f.mean),
            sd_kpa: turned(&f.sd),
            refill_deg: refill.map(|r| (turn(r.from), turn(r.from) + r.length * cycle_deg)),
            refill_kpa_per_s: refill.map(|r| r.slope * hz),
            cycles: f.cycles,
            rejected: f.rejected.incomplete + f.rejected.odd,
        }
    };
    found.folded.iter().enumerate().filter_map(|(i, f)| f.as_ref().map(|f| (i, f))).map(one).collect()
}
