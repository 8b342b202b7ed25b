//! Plate area and friction that make the healthy engine idle as asked.
//!
//! One cylinder is turned at the idle speed; the plate area is found by a secant search on the time mean of
//! the runner pressure, the friction torque is the mean indicated torque of all cylinders there.

use super::block::Block;
use super::bore::{Bore, STOICHIOMETRIC};
use crate::engine::Engine;
use crate::error::ModelError;
use crate::scenario::CylinderFault;

/// The healthy engine at its idle speed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Calibration {
    /// Effective inlet area of one cylinder (plate and its share of the bleed), m2.
    pub(crate) inlet_m2: f64,
    /// Friction torque of the whole engine at idle speed, warm, N m.
    pub(crate) friction_nm: f64,
    /// Air of one cylinder in one cycle, kg.
    pub(crate) air_kg: f64,
}

struct Point {
    mean_pa: f64,
    work_j: f64,
    air_kg: f64,
}

/// Settles one cylinder at constant speed with a fixed inlet area; figures of the last two cycles.
fn settle(engine: &Engine, block: &Block, inlet_m2: f64, step_deg: f64) -> Point {
    let mut bore = Bore::new(engine, block, &CylinderFault::default(), 0.0, engine.idle_kpa * 1e3);
    let steps = (block.cycle_deg / step_deg).round();
    let d_deg = block.cycle_deg / steps;
    let dt = d_deg / (engine.idle_rpm * 6.0);
    let (cycles, kept) = (30, 2);
    let (mut work, mut integral, mut air) = (0.0, 0.0, 0.0);
    for cycle in 0..cycles {
        if cycle == cycles - kept {
            (work, integral) = (0.0, 0.0);
        }
        for _ in 0..steps as usize {
            let before = bore.runner_pa();
            if bore.turn(block, d_deg, &mut work) {
                air = bore.fresh_kg(block);
                bore.ignite(air, air / (STOICHIOMETRIC * engine.lambda_target), 1.0);
            }
            bore.flow(block, inlet_m2, dt);
            integral += 0.5 * (before + bore.runner_pa());
        }
    }
    let kept = f64::from(kept);
    Point { mean_pa: integral / (steps * kept), work_j: work / kept, air_kg: air }
}

/// Finds the calibration.
///
/// # Errors
/// [`ModelError::CannotIdle`] if no area gives the pressure, or the charge does not carry the engine.
pub(crate) fn calibrate(engine: &Engine, block: &Block, step_deg: f64) -> Result<Calibration, ModelError> {
    let fail = |why| ModelError::CannotIdle { rpm: engine.idle_rpm, kpa: engine.idle_kpa, why };
    let wanted = (engine.idle_kpa * 1e3).ln();
    let miss = |ln_area: f64| {
        let point = settle(engine, block, ln_area.exp(), step_deg);
        (point.mean_pa.ln() - wanted, point)
    };
    let mut x0 = (6e-6 * engine.displacement_cc / 400.0 * engine.idle_rpm / 1_050.0).ln();
    let mut x1 = x0 + 0.1;
    let (mut f0, _) = miss(x0);
    let (mut f1, mut point) = miss(x1);
    for _ in 0..25 {
        if f1.abs() < 1e-7 {
            break;
        }
        let slope = (f1 - f0) / (x1 - x0);
        if !(slope.is_finite() && slope.abs() > 1e-6) {
            return Err(fail("the pressure does not follow the plate"));
        }
        let x2 = x1 - (f1 / slope).clamp(-0.7, 0.7);
        (x0, f0) = (x1, f1);
        x1 = x2;
        (f1, point) = miss(x1);
    }
    if f1.abs() > 1e-4 || !f1.is_finite() {
        return Err(fail("no plate area gives this pressure"));
    }
    let friction_nm = point.work_j * engine.cylinders() as f64 / block.cycle_deg.to_radians();
    if !(friction_nm.is_finite() && friction_nm > 0.0) {
        return Err(fail("the charge is too small to carry the engine"));
    }
    Ok(Calibration { inlet_m2: x1.exp(), friction_nm, air_kg: point.air_kg })
}
