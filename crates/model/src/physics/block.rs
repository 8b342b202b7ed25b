//! What all cylinders of an engine share: tables and constants, made once per run.

use super::gas::{GAMMA_AIR, PsiTable, R_AIR};
use super::geometry::{AngleTable, slider_crank_volume, wiebe};
use crate::engine::{Engine, Strokes};

/// What all cylinders of an engine have in common.
#[derive(Debug, Clone)]
pub(crate) struct Block {
    pub(crate) psi: PsiTable,
    pub(crate) cycle_deg: f64,
    pub(crate) baro_pa: f64,
    /// R T of the intake gas, J/kg.
    pub(crate) rt0: f64,
    pub(super) inv_sqrt_rt0: f64,
    pub(super) air_k: f64,
    pub(super) two_stroke: bool,
    pub(super) volume: AngleTable,
    pub(super) burn_curve: AngleTable,
    pub(super) burn_deg: f64,
    pub(super) wall: f64,
}

impl Block {
    pub(crate) fn new(engine: &Engine) -> Self {
        let air_k = engine.air_c + 273.15;
        let rt0 = R_AIR * air_k;
        let two_stroke = engine.strokes == Strokes::Two;
        let turn = if two_stroke { 180.0 } else { 0.0 }; // a crankcase is largest at top dead centre
        let m3 = engine.displacement_cc * 1e-6;
        let burn_deg = engine.burn.duration_deg;
        Self {
            psi: PsiTable::new(GAMMA_AIR),
            cycle_deg: engine.cycle_deg(),
            baro_pa: engine.barometer_kpa * 1e3,
            rt0,
            inv_sqrt_rt0: 1.0 / rt0.sqrt(),
            air_k,
            two_stroke,
            volume: AngleTable::new(engine.cycle_deg(), 2.0, |d| {
                slider_crank_volume(m3, engine.compression_ratio, engine.rod_ratio, d + turn)
            }),
            burn_curve: AngleTable::new(engine.cycle_deg(), 2.0, |d| wiebe(d / burn_deg)),
            burn_deg,
            wall: 4e-6 * (engine.displacement_cc / 400.0).powf(2.0 / 3.0),
        }
    }
}
