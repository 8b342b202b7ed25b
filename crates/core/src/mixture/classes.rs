//! Even, lean, rich, imbalanced or undecided: who is off, and what that means for the mixture.
//!
//! # Method
//! A cylinder is off by pressure only when its departures from the median *and* from the mean of the live cylinders are both
//! beyond half the spread limit: a mean alone accuses the healthy when one is far off. Measured lambda goes before pressure.
//! Without it, and with one injected quantity for all, more air is lean and less is rich, inferred; where the pulse is
//! resolved the refill rate must agree, else the cylinder breathes differently. With individual fuelling pressure says
//! nothing about mixture. An interval of 1.645 standard uncertainties that crosses its bound is undecided.
//!
//! # Source
//! JCGM 106 for the bounds; mixture: J. B. Heywood (1988), sections 3.4 and 7; rules are own.

use crate::result::{Basis, Class, Fuelling, Verdict};

/// A value with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Value {
    /// Estimate.
    pub value: f64,
    /// Standard uncertainty.
    pub u: f64,
}

/// Where a value stands against a symmetric bound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Above the bound.
    High,
    /// Below it.
    Low,
    /// Inside.
    Inside,
    /// The interval crosses the bound.
    Open,
}

/// Side of `v` against `+-bound` with a one-sided guard.
#[must_use]
pub fn side(v: Value, bound: f64, guard: f64) -> Side {
    let reach = guard * v.u;
    if v.value - reach > bound {
        Side::High
    } else if v.value + reach < -bound {
        Side::Low
    } else if v.value.abs() + reach <= bound {
        Side::Inside
    } else {
        Side::Open
    }
}

/// Two departures together: off only when both are off to the same side, inside when either is inside.
#[must_use]
pub fn both(a: Side, b: Side) -> Side {
    match (a, b) {
        (Side::High, Side::High) => Side::High,
        (Side::Low, Side::Low) => Side::Low,
        (Side::Inside, _) | (_, Side::Inside) | (Side::High, Side::Low) | (Side::Low, Side::High) => {
            Side::Inside
        }
        _ => Side::Open,
    }
}

/// What is known of one cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facts {
    /// By pressure.
    pub pressure: Side,
    /// By refill rate; `None` where it could not be had.
    pub refill: Option<Side>,
    /// Its rise has a step that most others' have not: gas comes or goes besides the plate.
    pub stepped: bool,
    /// Mean pressure that a plate of its refill rate would give, kPa from the middle of the group, where the measured one is
    /// far from it.
    pub conflict_kpa: Option<f64>,
    /// By air per cycle; `None` where it could not be had.
    pub air: Option<Side>,
    /// Measured lambda less its target against the band; `None` where not logged.
    pub lambda: Option<Side>,
}

/// What is known of all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Decision on the spread.
    pub verdict: Verdict,
    /// How fuel is metered.
    pub fuelling: Fuelling,
    /// Direction of a pressure (absolute or vacuum) is known.
    pub direction_known: bool,
}

/// Class and basis of one cylinder.
#[must_use]
pub fn classify(facts: &Facts, frame: &Frame) -> (Class, Basis) {
    if frame.verdict == Verdict::NotApplicable && facts.lambda.is_none() {
        return (Class::Undecided, Basis::None);
    }
    let pressure = match (frame.verdict, facts.pressure) {
        // The spread decides: inside its limit nobody is off by pressure.
        (Verdict::Within, _) => Side::Inside,
        (_, side) => side,
    };
    match facts.lambda {
        Some(Side::High) => return (Class::Lean, Basis::Measured),
        Some(Side::Low) => return (Class::Rich, Basis::Measured),
        Some(Side::Open) => return (Class::Undecided, Basis::Measured),
        Some(Side::Inside) => {
            return match pressure {
                Side::High | Side::Low => (Class::Imbalanced, Basis::Measured),
                Side::Inside => (Class::Even, Basis::Measured),
                Side::Open => (Class::Undecided, Basis::Measured),
            };
        }
        None => {}
    }
    if !frame.direction_known && matches!(pressure, Side::High | Side::Low) {
        return (Class::Undecided, Basis::None);
    }
    match frame.fuelling {
        Fuelling::Shared => shared(pressure, facts),
        Fuelling::Individual | Fuelling::Unknown => individual(pressure, facts),
    }
}

fn shared(pressure: Side, facts: &Facts) -> (Class, Basis) {
    if (facts.stepped || facts.conflict_kpa.is_some()) && matches!(pressure, Side::High | Side::Low) {
        // A plate, or a leak to the air, only changes how steep the rise is, and the mean follows it.
        return (Class::Imbalanced, Basis::Inferred);
    }
    let lean_or_rich = |side| if side == Side::High { Class::Lean } else { Class::Rich };
    match (pressure, facts.refill) {
        (Side::Open, _) => (Class::Undecided, Basis::None),
        (Side::High | Side::Low, None) => (lean_or_rich(pressure), Basis::Inferred),
        // A runner that fills nearly to the barometer takes little more air for a larger plate: the air per cycle need
        // not be beyond its bound, but it must not point the other way.
        (Side::High | Side::Low, Some(refill)) => match (refill, facts.air.unwrap_or(refill)) {
            (r, a) if r == pressure && (a == pressure || matches!(a, Side::Open | Side::Inside)) => {
                (lean_or_rich(pressure), Basis::Inferred)
            }
            (Side::Open, _) => (Class::Undecided, Basis::None),
            _ => (Class::Imbalanced, Basis::Inferred),
        },
        (Side::Inside, Some(Side::High | Side::Low)) => (Class::Imbalanced, Basis::Inferred),
        (Side::Inside, _) => (Class::Even, Basis::Inferred),
    }
}

fn individual(pressure: Side, facts: &Facts) -> (Class, Basis) {
    match (pressure, facts.refill) {
        (Side::Open, _) => (Class::Undecided, Basis::None),
        (Side::High | Side::Low, _) | (Side::Inside, Some(Side::High | Side::Low)) => {
            (Class::Imbalanced, Basis::Inferred)
        }
        (Side::Inside, _) => (Class::Even, Basis::Inferred),
    }
}
