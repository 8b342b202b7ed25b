//! The pulse where the sampling carries it: signal kind, averaged pulse, refill rate, crank angles.

use crate::balance::signal::HELD;
use crate::machine::Machine;
use crate::prepare::Prepared;
use crate::pulse::fold::{bins, fold};
use crate::pulse::order;
use crate::pulse::refill::{Readings, refill};
use crate::pulse::ripple;
use crate::result::Signal;

use super::found::Found;

/// Fewest fresh readings a cycle for an averaged pulse.
const FOLD_FROM: f64 = 4.0;
/// Explained share of the fast variance from which the averaged pulse is sharp enough for its shape.
const SHARP: f64 = 0.9;

/// Fills signal, averaged pulses, refill rates and crank order.
pub(super) fn look(prepared: &Prepared<'_>, machine: &Machine, limit_kpa: f64, found: &mut Found) {
    let Some(sampling) = found.sampling else { return };
    let aliased = sampling.b10_kpa > limit_kpa / 3.0;
    let Some(left) = found.left.as_ref().or(found.raised.as_ref()) else { return };
    let held = found.strength > HELD && sampling.pulses_seen && sampling.per_cycle >= FOLD_FROM;
    let rows: Vec<usize> = if held { left.data.rows.iter().cloned().flatten().collect() } else { Vec::new() };
    if held {
        for (i, c) in prepared.cylinders.iter().enumerate() {
            if left.data.fits[i].is_none() {
                continue;
            }
            let folded = fold(&found.cycles, &c.values, &c.weights, &rows, bins(sampling.per_cycle));
            if folded.filled() < 0.95 {
                continue;
            }
            if found.strength > SHARP && found.ambient.level_known {
                let kept = without(&rows, &found.cycles, &folded.rejected.odd_cycles);
                let readings =
                    Readings { cycles: &found.cycles, values: &c.values, weights: &c.weights, rows: &kept };
                found.refills[i] = Some(refill(readings, &folded, found.ambient.assumed_kpa));
            }
            found.folded[i] = Some(folded);
        }
        if let Some(phase) = phases(found) {
            let cycle_deg = if prepared.strokes == 2 { 360.0 } else { 720.0 };
            found.inferred = Some(order::infer(&phase, cycle_deg));
            if let Some(firing) =
                machine.firing_deg.as_ref().filter(|f| f.len() == phase.len() && f.len() > 1)
            {
                found.order = Some(order::compare(&phase, firing, cycle_deg));
                found.late = order::odd_one(&phase, firing, cycle_deg);
            }
        }
        found.ripple = witness(prepared, found, &rows);
    }
    let shaped = found.refills.iter().flatten().any(Result::is_ok);
    found.signal = if aliased {
        Signal::Aliased
    } else if held && shaped {
        Signal::Resolved
    } else if sampling.pulses_seen {
        Signal::Partial
    } else {
        Signal::Averaged
    };
}

/// Phase of every pulse by its first harmonic, cycles; `None` where one cylinder has none.
fn phases(found: &Found) -> Option<Vec<f64>> {
    let fits = &found.left.as_ref().or(found.raised.as_ref())?.data.fits;
    let first = |f: &Option<crate::pulse::harmonics::Fit>| {
        let (a, b) = *f.as_ref()?.waves.first()?;
        Some((b.atan2(a) / std::f64::consts::TAU).rem_euclid(1.0))
    };
    fits.iter().map(first).collect()
}

/// Rows outside some cycles.
fn without(rows: &[usize], cycles: &[f64], odd: &[i64]) -> Vec<usize> {
    if odd.is_empty() {
        return rows.to_vec();
    }
    rows.iter().copied().filter(|&k| odd.binary_search(&(cycles[k].floor() as i64)).is_err()).collect()
}

/// The cylinders' parts in the speed ripple over the judged idle.
fn witness(
    prepared: &Prepared<'_>,
    found: &Found,
    rows: &[usize],
) -> Option<Result<ripple::Ripple, ripple::Refusal>> {
    found.left.as_ref()?;
    let dips: Vec<f64> =
        found.folded.iter().map(|f| f.as_ref()?.lowest().map(|l| l.0)).collect::<Option<_>>()?;
    let speed = ripple::Speed { cycles: &found.cycles, rpm: prepared.logged_rpm?, rows };
    Some(ripple::ripple(speed, &dips, prepared.strokes))
}
