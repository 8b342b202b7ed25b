//! The cylinder and its runner against closed forms.

use super::super::gas::{orifice_kg_s, psi};
use super::*;

fn healthy() -> (Engine, Block) {
    let engine = Engine::inline_four();
    let block = Block::new(&engine);
    (engine, block)
}

/// A cylinder in mid-compression (both valves shut) with its runner at `pa`.
fn shut(engine: &Engine, block: &Block, pa: f64) -> Bore {
    Bore::new(engine, block, &CylinderFault::default(), 720.0 - 640.0, pa)
}

/// Closed form (ideal gas law, choked orifice of Heywood C.9): isothermal filling of a volume gives a straight
/// line of slope R T mdot / V. The adiabatic form would be 1.4 times as steep.
#[test]
fn choked_refill_is_a_straight_line() {
    let (engine, block) = healthy();
    let mut bore = shut(&engine, &block, 20e3);
    let (area, dt) = (2e-6, 2.5e-4);
    let mdot = orifice_kg_s(area, block.baro_pa, engine.air_c + 273.15, 20e3, 1.4);
    let slope = block.rt0 * mdot / (248e-6);
    let critical = 0.528281787717 * block.baro_pa;
    let (mut t, mut steps) = (0.0, 0);
    while bore.runner_pa() + slope * dt < critical {
        bore.flow(&block, area, dt);
        t += dt;
        steps += 1;
        assert!((bore.runner_pa() - (20e3 + slope * t)).abs() < 1e-3, "after {t} s");
    }
    assert!(steps > 100);
    assert!((1.4 * slope * t - (bore.runner_pa() - 20e3)).abs() > 10e3, "the adiabatic slope is told apart");
}

/// The worked mass flow of the orifice (Heywood C.9: 1.897277 g/s for 8 mm2 effective at 101.325 kPa and
/// 298.15 K) through a quarter of that area into 150 cm3, isothermal.
#[test]
fn the_refill_rate_of_a_worked_case() {
    let rate = 1.89727680213e-3 / 4.0 * 287.05 * 298.15 / 150e-6 / 1e3;
    let engine = Engine { runner_cc: 142.0, barometer_kpa: 101.325, air_c: 25.0, ..Engine::inline_four() };
    let block = Block::new(&engine);
    let mut bore = shut(&engine, &block, 30e3);
    bore.flow(&block, 2e-6, 0.01);
    assert!(((bore.runner_pa() - 30e3) / 10.0 - rate).abs() < 1e-6);
}

/// Closed form: a choked isothermal blow-down falls as exp(-t / tau), tau = V / (A psi* sqrt(R T)). A linear
/// fall with the first slope would be far below after one tau.
#[test]
fn isothermal_blow_down_is_exponential() {
    let (engine, block) = healthy();
    let mut bore = shut(&engine, &block, 900e3);
    let area = 5e-6;
    let tau = 248e-6 / (area * psi(0.0, 1.4) * block.rt0.sqrt());
    let steps = 20_000;
    for _ in 0..steps {
        bore.flow(&block, area, tau / f64::from(steps));
    }
    let want = 900e3 * (-1.0f64).exp();
    assert!(want > block.baro_pa / 0.528, "still choked");
    assert!((bore.runner_pa() / want - 1.0).abs() < 1e-4);
}

/// Closed form: p V^gamma is constant when nothing flows. Forward Euler with the same steps drifts tenfold more.
#[test]
fn compression_is_isentropic() {
    let (engine, block) = healthy();
    let mut bore = Bore::new(&engine, &block, &CylinderFault::default(), 180.0, 40e3);
    let start = bore.cylinder_pa() * bore.volume_m3.powf(GAMMA_CYLINDER);
    let (mut naive, mut volume, mut work) = (bore.energy_j, bore.volume_m3, 0.0);
    for _ in 0..90 {
        bore.turn(&block, 2.0, &mut work);
        naive -= (GAMMA_CYLINDER - 1.0) * naive / volume * (bore.volume_m3 - volume);
        volume = bore.volume_m3;
    }
    assert!((volume * 1e6 - 400.0 / 9.0).abs() < 1e-6, "top dead centre");
    let off = bore.cylinder_pa() * volume.powf(GAMMA_CYLINDER) / start - 1.0;
    assert!(off.abs() < 1e-3, "{off}");
    assert!((naive / bore.energy_j - 1.0).abs() > 10.0 * off.abs());
    assert!(work < 0.0, "compression costs work");
}

/// First law and conservation of mass over forty whole cycles: what came in minus what went out is what is
/// there. Work on the piston, heat, wall loss and enthalpy are summed apart from the state.
#[test]
fn mass_and_energy_are_conserved() {
    let (engine, block) = healthy();
    let mut bore = Bore::new(&engine, &block, &CylinderFault::default(), 0.0, 42e3);
    let mass = |b: &Bore| b.runner_kg + b.plug_kg + b.gas_kg;
    let (mass0, energy0) = (mass(&bore), bore.energy_j);
    let (mut work, mut out) = (0.0, 0.0);
    for _ in 0..40 * 480 {
        if bore.turn(&block, 1.5, &mut work) {
            out += bore.delivered_kg;
            let air = bore.fresh_kg(&block);
            bore.ignite(air, air / STOICHIOMETRIC, 1.0);
        }
        bore.flow(&block, 4.5e-6, 1.5 / 6_300.0);
    }
    out += bore.delivered_kg;
    let gained = mass(&bore) - mass0;
    assert!((gained - (bore.inflow_kg - out)).abs() < 1e-9 * out, "mass");
    let [heat, wall, enthalpy] = bore.ledger_j;
    let want = heat - wall + enthalpy - work;
    assert!((bore.energy_j - energy0 - want).abs() < 1e-8 * heat, "energy");
    assert!(work > 0.1 * heat && work < 0.45 * heat, "an idling engine's indicated efficiency");
}

/// In steady running the fresh air at the spark is the air that came through the plate in one cycle, and while
/// the plate stays choked that is mdot* times the cycle time (Heywood C.9).
#[test]
fn trapped_air_is_what_the_plate_let_in() {
    let engine = Engine { idle_kpa: 35.0, ..Engine::inline_four() };
    let block = Block::new(&engine);
    let mut bore = Bore::new(&engine, &block, &CylinderFault::default(), 0.0, 35e3);
    let (area, dt) = (3e-6, 1.5 / 6_300.0);
    let (mut work, mut air, mut start, mut top) = (0.0, 0.0, 0.0, 0.0f64);
    for step in 0..40 * 480 {
        if bore.turn(&block, 1.5, &mut work) {
            air = bore.fresh_kg(&block);
            bore.ignite(air, air / STOICHIOMETRIC, 1.0);
        }
        bore.flow(&block, area, dt);
        if step == 39 * 480 - 1 {
            start = bore.inflow_kg;
        }
        if step >= 39 * 480 {
            top = top.max(bore.runner_pa());
        }
    }
    let inflow = bore.inflow_kg - start;
    assert!((air / inflow - 1.0).abs() < 1e-3, "{air} against {inflow}");
    assert!(top < 0.53 * block.baro_pa, "choked all the time, {top}");
    let closed_form = orifice_kg_s(area, block.baro_pa, engine.air_c + 273.15, 0.0, 1.4) * 480.0 * dt;
    assert!((inflow / closed_form - 1.0).abs() < 1e-3);
}

/// Ideal gas, isothermal: two equal runners joined end at the mean of their pressures.
#[test]
fn a_crossover_equalises() {
    let (engine, block) = healthy();
    let (mut a, mut b) = (shut(&engine, &block, 30e3), shut(&engine, &block, 50e3));
    for _ in 0..20_000 {
        cross(&block, &mut a, &mut b, 10e-6, 1e-4);
    }
    assert!((a.runner_pa() - 40e3).abs() < 1.0 && (b.runner_pa() - 40e3).abs() < 1.0);
}
