//! Does a cylinder's surplus of air fade when the throttle is raised?
//!
//! # Method
//! An opening of fixed size (a leak behind the plate, an idle stop too far open) lets the same through whatever the
//! throttle does; an engine at a higher speed needs more in proportion, so its share, and with it the deviation, falls as
//! the speed rises: `d_raised = d_idle n_idle / n_raised`. A plate or linkage that opens further than the others keeps its
//! share: `d_raised = d_idle p_raised / p_idle`. Deviations are against the mean of the other cylinders. One of the two is
//! called only where the measured deviation agrees with it and excludes the other; a quarter of the prediction is allowed
//! to each, since pressure does not follow area exactly. A leak and an idle stop stay one finding: both are named.
//!
//! # Source
//! Orifice flow: J. B. Heywood (1988), appendix C; the rule is own, checked on the engine model.

use super::found::{Found, Measured};

/// What a raised stretch says of a surplus.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Opening {
    /// It fades as that of a fixed opening: deviation at idle and raised, kPa.
    Fixed(f64, f64),
    /// It keeps its share: deviation at idle and raised, kPa.
    Grows(f64, f64),
    /// The data cannot tell.
    Open,
}

/// Share of a prediction that it may be off by itself.
const ALLOWED: f64 = 0.25;

/// What the raised stretch says of cylinder `i`; `None` without one.
pub(crate) fn opening(found: &Found, i: usize) -> Option<Opening> {
    let (idle, raised) = (found.left.as_ref()?, found.raised.as_ref()?);
    let (d0, p0) = against_others(idle, i)?;
    let (d1, p1) = against_others(raised, i)?;
    let speed = idle.rpm.0 / raised.rpm.0;
    if !(speed.is_finite() && speed > 0.0) {
        return None;
    }
    Some(tell(d0, d1, speed, p1 / p0))
}

fn tell(idle: (f64, f64), raised: (f64, f64), speed: f64, level: f64) -> Opening {
    let agrees = |factor: f64| {
        let expected = idle.0 * factor;
        let u = raised.1.hypot(idle.1 * factor);
        (raised.0 - expected).abs() <= 2.0 * u + ALLOWED * expected.abs()
    };
    match (agrees(speed), agrees(level)) {
        (true, false) => Opening::Fixed(idle.0, raised.0),
        (false, true) => Opening::Grows(idle.0, raised.0),
        _ => Opening::Open,
    }
}

/// Deviation from the mean of the others with its standard uncertainty, and the mean level, kPa.
fn against_others(state: &Measured, i: usize) -> Option<((f64, f64), f64)> {
    let live = state.data.live();
    if !live.contains(&i) || live.len() < 2 {
        return None;
    }
    let others = (live.len() - 1) as f64;
    let mut c = vec![0.0; state.data.fits.len()];
    live.iter().for_each(|&k| c[k] = if k == i { 1.0 } else { -1.0 / others });
    let d = state.data.combination(&c)?;
    let levels: Vec<f64> = live.iter().filter_map(|&k| state.data.mean(k)).collect();
    let level = crate::stats::moments::mean(&levels)?;
    Some(((d.value, d.u()), level))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fixed_opening_fades_and_a_linkage_does_not() {
        // Closed forms by hand: +3 kPa at 1000 rev/min, raised 2500, same level: fixed +1.2, linkage +3.
        assert_eq!(tell((3.0, 0.05), (1.2, 0.05), 0.4, 1.0), Opening::Fixed(3.0, 1.2));
        assert_eq!(tell((3.0, 0.05), (3.1, 0.05), 0.4, 1.0), Opening::Grows(3.0, 3.1));
        // Between the two, or too uncertain: neither.
        assert_eq!(tell((3.0, 0.05), (1.9, 0.05), 0.4, 1.0), Opening::Open);
        assert_eq!(tell((3.0, 0.05), (1.2, 1.5), 0.4, 1.0), Opening::Open);
    }
}
