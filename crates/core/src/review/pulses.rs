//! The pulse where the sampling carries it: signal kind, averaged pulse, refill rate, crank angles.

use crate::balance::signal::HELD;
use crate::machine::Machine;
use crate::prepare::Prepared;
use crate::pulse::fold::{bins, fold};
use crate::pulse::order;
use crate::pulse::refill::{Readings, refill};
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
    if held {
        for (i, c) in prepared.cylinders.iter().enumerate() {
            if left.data.fits[i].is_none() {
                continue;
            }
            let rows = &left.data.rows;
            let folded = fold(&found.cycles, &c.values, &c.weights, rows, bins(sampling.per_cycle));
            if folded.filled() < 0.95 {
                continue;
            }
            if found.strength > SHARP && found.ambient.level_known {
                let readings =
                    Readings { cycles: &found.cycles, values: &c.values, weights: &c.weights, rows };
                found.refills[i] = Some(refill(readings, &folded, found.ambient.assumed_kpa));
            }
            found.folded[i] = Some(folded);
        }
        if let Some((order, late)) = crank_order(machine, found) {
            found.order = Some(order);
            found.late = late;
        }
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

/// Order of the pulses, and the one channel that comes late, if any.
fn crank_order(machine: &Machine, found: &Found) -> Option<(order::Order, Option<(usize, f64)>)> {
    let firing = machine.firing_deg.as_ref()?;
    let fits = &found.left.as_ref().or(found.raised.as_ref())?.data.fits;
    if firing.len() != fits.len() || fits.len() < 2 {
        return None;
    }
    // First harmonics place the pulses.
    let first = |f: &Option<crate::pulse::harmonics::Fit>| {
        let (a, b) = *f.as_ref()?.waves.first()?;
        Some((b.atan2(a) / std::f64::consts::TAU).rem_euclid(1.0))
    };
    let phase: Vec<f64> = fits.iter().map(first).collect::<Option<_>>()?;
    let cycle_deg = if machine.strokes == 2 { 360.0 } else { 720.0 };
    Some((order::compare(&phase, firing, cycle_deg), order::odd_one(&phase, firing, cycle_deg)))
}
