//! One cylinder and its runner: masses, energy, burning, and one small step of crank.
//!
//! Runner: ideal gas at intake temperature (isothermal), `p = m R T0 / V`. Hot gas blown back through the
//! intake valve stays beside the valve as a plug with a temperature of its own and is the first to be drawn
//! in again; it cools to the intake temperature (slowly while the valve is open, at once when it has shut,
//! so that the closed part of the pulse is isothermal). Cylinder: ideal gas with mass and
//! internal energy, `p = (gamma - 1) E / V`. Compression uses the trapezium rule on `dE = -p dV`, solved for
//! the new energy, so no power function is needed. A flow never carries more than what makes the two
//! pressures equal: a wide-open valve is then quasi-steady instead of unstable.

use super::block::Block;
use super::gas::{GAMMA_CYLINDER, R_AIR};
use super::geometry::{AngleTable, valve_share};
use crate::engine::Engine;
use crate::scenario::CylinderFault;

/// Stoichiometric air-fuel ratio of gasoline (CH1.87: Heywood eq. 3.6 gives 14.60).
pub(crate) const STOICHIOMETRIC: f64 = 14.6;
const HEAT_OF_FUEL: f64 = 44.0e6;
const BURNT_SHARE: f64 = 0.9;
const WALL_K: f64 = 400.0;
const EXHAUST_K: f64 = 700.0;
/// Time constants of the blown-back plug's cooling in the port, valve open and shut, s.
const PLUG_COOLS_S: [f64; 2] = [0.015, 0.003];
/// Two-stroke only: share of the delivered air that stays, and share of its heat that turns the crank.
const TRAPPED_SHARE: f64 = 0.6;
const TWO_STROKE_EFFICIENCY: f64 = 0.25;
const CP: f64 = GAMMA_CYLINDER / (GAMMA_CYLINDER - 1.0) * R_AIR;

/// One cylinder with its runner.
#[derive(Debug, Clone)]
pub(crate) struct Bore {
    intake: AngleTable,
    exhaust: AngleTable,
    valve_leak_m2: f64,
    pub(crate) runner_m3: f64,
    /// Pressure per mass of the runner, Pa/kg.
    pub(crate) pa_per_kg: f64,
    /// Fresh air in the runner at intake temperature, kg.
    pub(crate) runner_kg: f64,
    /// Gas blown back: mass, burnt part of it, and mass x temperature over the intake temperature, kg.
    plug_kg: f64,
    plug_burnt_kg: f64,
    plug_hot_kg: f64,
    /// Cylinder gas, kg, the burnt part of it, and its internal energy, J.
    pub(crate) gas_kg: f64,
    pub(crate) burnt_kg: f64,
    pub(crate) energy_j: f64,
    volume_m3: f64,
    /// Crank angle after the firing dead centre.
    deg: f64,
    since_spark_deg: f64,
    heat_j: f64,
    burning: bool,
    delivered_kg: f64,
    /// Net air that came in through plate, bleed and leak since the start, kg.
    pub(crate) inflow_kg: f64,
    /// Heat released, heat to the walls and net enthalpy that came in, J since the start (book-keeping).
    pub(crate) ledger_j: [f64; 3],
}

impl Bore {
    /// A cylinder at crank angle 0 with runner and cylinder at the given pressures.
    pub(crate) fn new(
        engine: &Engine,
        block: &Block,
        fault: &CylinderFault,
        firing_deg: f64,
        start_pa: f64,
    ) -> Self {
        let cycle = block.cycle_deg;
        let (intake, exhaust) = (engine.intake, engine.exhaust);
        let open = intake.open_deg + fault.intake_open_shift_deg;
        let close = intake.close_deg + fault.intake_close_shift_deg;
        let runner_m3 = (engine.runner_cc * fault.runner + engine.hose_cc) * 1e-6;
        let deg = (-firing_deg).rem_euclid(cycle) % cycle;
        let volume_m3 = block.volume.at(deg);
        let rt_cylinder = R_AIR * WALL_K;
        let gas_kg = start_pa * volume_m3 / rt_cylinder;
        let pa_per_kg = block.rt0 / runner_m3;
        Self {
            intake: AngleTable::new(cycle, 1.0, |d| {
                intake.area_mm2 * 1e-6 * valve_share(d, open, close, cycle)
            }),
            exhaust: AngleTable::new(cycle, 1.0, |d| {
                exhaust.area_mm2 * 1e-6 * valve_share(d, exhaust.open_deg, exhaust.close_deg, cycle)
            }),
            valve_leak_m2: fault.valve_leak_mm2 * 1e-6,
            runner_m3,
            pa_per_kg,
            runner_kg: start_pa / pa_per_kg,
            plug_kg: 0.0,
            plug_burnt_kg: 0.0,
            plug_hot_kg: 0.0,
            gas_kg,
            burnt_kg: 0.0,
            energy_j: start_pa * volume_m3 / (GAMMA_CYLINDER - 1.0),
            volume_m3,
            deg,
            since_spark_deg: (deg + engine.burn.advance_deg).rem_euclid(cycle),
            heat_j: 0.0,
            burning: false,
            delivered_kg: 0.0,
            inflow_kg: 0.0,
            ledger_j: [0.0; 3],
        }
    }

    /// Runner pressure, Pa.
    #[inline]
    pub(crate) fn runner_pa(&self) -> f64 {
        (self.runner_kg + self.plug_hot_kg) * self.pa_per_kg
    }

    #[inline]
    fn cylinder_pa(&self) -> f64 {
        (GAMMA_CYLINDER - 1.0) * self.energy_j / self.volume_m3
    }

    /// Fresh air that will burn in this cycle, kg (asked at the spark).
    pub(crate) fn fresh_kg(&self, block: &Block) -> f64 {
        if block.two_stroke {
            TRAPPED_SHARE * self.delivered_kg.max(0.0)
        } else {
            (self.gas_kg - self.burnt_kg).max(0.0)
        }
    }

    /// Starts the burn of `fuel_kg` with `air_kg`; `factor` multiplies the heat. From here on the charge
    /// counts as burnt: what leaks back later is no fresh air.
    pub(crate) fn ignite(&mut self, air_kg: f64, fuel_kg: f64, factor: f64) {
        let burnable = fuel_kg.min(air_kg / STOICHIOMETRIC);
        self.heat_j = burnable * HEAT_OF_FUEL * BURNT_SHARE * factor;
        self.burning = true;
        self.burnt_kg = self.gas_kg;
        self.delivered_kg = 0.0;
    }

    /// Turns the crank by `d_deg` (piston and burning); true when the spark fell inside the step.
    #[inline]
    pub(crate) fn turn(&mut self, block: &Block, d_deg: f64, work_j: &mut f64) -> bool {
        self.deg += d_deg;
        if self.deg >= block.cycle_deg {
            self.deg -= block.cycle_deg;
        }
        let next = block.volume.at(self.deg);
        let (g1, dv) = (GAMMA_CYLINDER - 1.0, next - self.volume_m3);
        let before = self.energy_j;
        self.energy_j *= (1.0 - 0.5 * g1 * dv / self.volume_m3) / (1.0 + 0.5 * g1 * dv / next);
        self.volume_m3 = next;
        *work_j += before - self.energy_j - block.baro_pa * dv;
        let old = self.since_spark_deg;
        self.since_spark_deg += d_deg;
        if self.burning {
            self.burn(block, old, work_j);
        }
        if self.since_spark_deg >= block.cycle_deg {
            self.since_spark_deg -= block.cycle_deg;
            return true;
        }
        false
    }

    fn burn(&mut self, block: &Block, old_deg: f64, work_j: &mut f64) {
        let share = |deg: f64| block.burn_curve.at(deg.min(block.burn_deg));
        let heat = self.heat_j * (share(self.since_spark_deg) - share(old_deg));
        if block.two_stroke {
            *work_j += TWO_STROKE_EFFICIENCY * heat;
        } else {
            self.energy_j += heat;
            self.ledger_j[0] += heat;
        }
        if self.since_spark_deg >= block.burn_deg {
            self.burning = false;
        }
    }

    /// Lets gas flow for `dt` seconds with `inlet_m2` of plate, bleed and leak open to the air.
    #[inline]
    pub(crate) fn flow(&mut self, block: &Block, inlet_m2: f64, dt: f64) {
        self.breathe_in(block, inlet_m2, dt);
        let opening = self.intake.at(self.deg);
        let cools_s = PLUG_COOLS_S[usize::from(opening <= 0.0)];
        self.plug_hot_kg += (self.plug_kg - self.plug_hot_kg) * (dt / cools_s).min(1.0);
        let area = opening + self.valve_leak_m2;
        if area > 0.0 {
            self.through_intake(block, area, dt);
        }
        let area = self.exhaust.at(self.deg);
        if area > 0.0 {
            self.through_exhaust(block, area, dt);
        }
        let pa = self.cylinder_pa();
        let kelvin = pa * self.volume_m3 / (self.gas_kg * R_AIR);
        let wall = block.wall * pa * (kelvin - WALL_K) * dt;
        self.energy_j -= wall;
        self.ledger_j[1] += wall;
    }

    #[inline]
    fn breathe_in(&mut self, block: &Block, area: f64, dt: f64) {
        let (pa, baro) = (self.runner_pa(), block.baro_pa);
        if pa <= baro {
            let most = (baro - pa) / self.pa_per_kg;
            let dm = (area * baro * block.inv_sqrt_rt0 * block.psi.psi(pa / baro) * dt).min(most);
            self.runner_kg += dm;
            self.inflow_kg += dm;
        } else {
            let most = (pa - baro) / self.pa_per_kg;
            let dm = (area * pa * block.inv_sqrt_rt0 * block.psi.psi(baro / pa) * dt).min(most);
            let dm = dm.min(self.runner_kg);
            self.runner_kg -= dm;
            self.inflow_kg -= dm;
        }
    }

    #[inline]
    fn through_intake(&mut self, block: &Block, area: f64, dt: f64) {
        let (runner, cylinder) = (self.runner_pa(), self.cylinder_pa());
        if runner >= cylinder {
            let plug = self.plug_kg > 0.0;
            let hot = if plug { self.plug_hot_kg / self.plug_kg } else { 1.0 };
            let slope = hot * self.pa_per_kg + GAMMA_CYLINDER * hot * block.rt0 / self.volume_m3;
            let slow = if plug { 1.0 / hot.sqrt() } else { 1.0 };
            let flow = area * runner * block.inv_sqrt_rt0 * slow * block.psi.psi(cylinder / runner);
            self.draw((flow * dt).min((runner - cylinder) / slope), block);
        } else {
            let rt = cylinder * self.volume_m3 / self.gas_kg;
            let hot = rt / block.rt0;
            let slope = hot * self.pa_per_kg + GAMMA_CYLINDER * cylinder / self.gas_kg;
            let flow = area * cylinder / rt.sqrt() * block.psi.psi(runner / cylinder);
            let dm = (flow * dt).min((cylinder - runner) / slope);
            let burnt = dm * self.burnt_kg / self.gas_kg;
            self.plug_kg += dm;
            self.plug_hot_kg += dm * hot;
            self.plug_burnt_kg += burnt;
            self.gas_kg -= dm;
            self.burnt_kg -= burnt;
            self.add_enthalpy(-CP / R_AIR * rt * dm);
        }
    }

    /// Draws `dm` from the runner into the cylinder: the plug first, then fresh air.
    #[inline]
    fn draw(&mut self, dm: f64, block: &Block) {
        let (mut fresh, mut hot, mut gained) = (dm, 0.0, 0.0);
        if self.plug_kg > 0.0 {
            let share = (dm / self.plug_kg).min(1.0);
            hot = share * self.plug_hot_kg;
            fresh = (dm - self.plug_kg).max(0.0);
            gained = dm.min(self.plug_kg);
            self.burnt_kg += share * self.plug_burnt_kg;
            let left = if share < 1.0 { 1.0 - share } else { 0.0 };
            self.plug_kg *= left;
            self.plug_hot_kg *= left;
            self.plug_burnt_kg *= left;
        }
        fresh = fresh.min(self.runner_kg);
        self.runner_kg -= fresh;
        self.gas_kg += gained + fresh;
        self.add_enthalpy(CP * block.air_k * (fresh + hot));
    }

    #[inline]
    fn through_exhaust(&mut self, block: &Block, area: f64, dt: f64) {
        let (cylinder, outside) = (self.cylinder_pa(), block.baro_pa);
        let rt = cylinder * self.volume_m3 / self.gas_kg;
        if cylinder >= outside {
            let most = (cylinder - outside) * self.gas_kg / (GAMMA_CYLINDER * cylinder);
            let dm = (area * cylinder / rt.sqrt() * block.psi.psi(outside / cylinder) * dt).min(most);
            self.burnt_kg -= dm * self.burnt_kg / self.gas_kg;
            self.gas_kg -= dm;
            self.delivered_kg += dm;
            self.add_enthalpy(-CP / R_AIR * rt * dm);
        } else {
            let kelvin = if block.two_stroke { block.air_k } else { EXHAUST_K };
            let rt = R_AIR * kelvin;
            let most = (outside - cylinder) * self.volume_m3 / (GAMMA_CYLINDER * rt);
            let dm = (area * outside / rt.sqrt() * block.psi.psi(cylinder / outside) * dt).min(most);
            self.gas_kg += dm;
            self.delivered_kg -= dm;
            if !block.two_stroke {
                self.burnt_kg += dm;
            }
            self.add_enthalpy(CP * kelvin * dm);
        }
    }

    #[inline]
    fn add_enthalpy(&mut self, joule: f64) {
        self.energy_j += joule;
        self.ledger_j[2] += joule;
    }
}

/// Equalises two runners through an opening of `area` m2 for `dt` seconds.
pub(crate) fn cross(block: &Block, a: &mut Bore, b: &mut Bore, area: f64, dt: f64) {
    let (up, down) = if a.runner_pa() >= b.runner_pa() { (a, b) } else { (b, a) };
    let (high, low) = (up.runner_pa(), down.runner_pa());
    let most = ((high - low) / (up.pa_per_kg + down.pa_per_kg)).min(up.runner_kg);
    let dm = (area * high * block.inv_sqrt_rt0 * block.psi.psi(low / high) * dt).min(most);
    up.runner_kg -= dm;
    down.runner_kg += dm;
}

#[cfg(test)]
#[path = "bore_tests.rs"]
mod tests;
