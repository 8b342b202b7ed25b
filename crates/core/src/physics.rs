//! Air through a throttle plate and into a cylinder.
//!
//! * orifice (Heywood 1988, Appendix C, eqs C.8 and C.9): `m_dot = C_d A p_0 / sqrt(R T_0) * psi(p/p_0)`, with
//!   `psi(r) = r^(1/g) { 2g/(g-1) [1 - r^((g-1)/g)] }^(1/2)` above the critical ratio `(2/(g+1))^(g/(g-1))` and constant
//!   below it, `g^(1/2) (2/(g+1))^((g+1)/(2(g-1)))`: then the flow depends on the area only;
//! * ideal volumetric efficiency (Heywood eq. 6.2), the brace
//!   `r_c/(r_c-1) - [1/(g(r_c-1))] [(p_e/p_i) + (g-1)]`: the share of the swept volume that fresh charge fills at manifold
//!   conditions; trapped air goes as `a p_i - b p_e`.
//!
//! Pressures are absolute. An argument outside its range (or missing) gives NaN, never a wrong number.

/// Ratio of specific heats of air at room temperature.
pub const GAMMA_AIR: f64 = 1.4;

/// Gas constant of air, J/(kg K).
pub const R_AIR: f64 = 287.05;

/// Pressure ratio at and below which an orifice is choked: `(2/(g+1))^(g/(g-1))`, 0.5283 for air.
///
/// NaN unless `gamma > 1`.
pub fn critical_ratio(gamma: f64) -> f64 {
    if gamma > 1.0 { (2.0 / (gamma + 1.0)).powf(gamma / (gamma - 1.0)) } else { f64::NAN }
}

/// Flow factor of a choked orifice, 0.6847 for air; NaN unless `gamma > 1`.
pub fn psi_choked(gamma: f64) -> f64 {
    if gamma > 1.0 {
        gamma.sqrt() * (2.0 / (gamma + 1.0)).powf((gamma + 1.0) / (2.0 * (gamma - 1.0)))
    } else {
        f64::NAN
    }
}

/// Flow factor at pressure ratio `ratio` (downstream over upstream, 0 to 1).
///
/// 0 at a ratio of 1; NaN outside 0..=1 (for flow the other way, swap the sides) and unless `gamma > 1`.
pub fn psi(ratio: f64, gamma: f64) -> f64 {
    if !(0.0..=1.0).contains(&ratio) {
        return f64::NAN;
    }
    if ratio <= critical_ratio(gamma) {
        return psi_choked(gamma);
    }
    if gamma.is_nan() || gamma <= 1.0 {
        return f64::NAN;
    }
    let bracket = 1.0 - ratio.powf((gamma - 1.0) / gamma);
    ratio.powf(1.0 / gamma) * (2.0 * gamma / (gamma - 1.0) * bracket.max(0.0)).sqrt()
}

/// Flow factor of air relative to the choked orifice: 1 up to the critical ratio, falling to 0 at a ratio of 1 and held at
/// 0 above (the flow then goes the other way). Missing in, missing out.
pub fn psi_over_choked(ratio: f64) -> f64 {
    if ratio.is_nan() { ratio } else { psi(ratio.clamp(0.0, 1.0), GAMMA_AIR) / psi_choked(GAMMA_AIR) }
}

/// Gas on both sides of an orifice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OrificeState {
    /// Upstream pressure.
    pub upstream_kpa: f64,
    /// Upstream temperature.
    pub upstream_k: f64,
    /// Downstream pressure.
    pub downstream_kpa: f64,
    /// Ratio of specific heats.
    pub gamma: f64,
    /// Gas constant, J/(kg K).
    pub gas_constant: f64,
}

impl OrificeState {
    /// Mass flow in g/s through an effective area (discharge coefficient times area) in mm2.
    ///
    /// NaN for pressures or a temperature that are not positive, or flow the other way.
    pub fn flow_g_per_s(&self, effective_area_mm2: f64) -> f64 {
        if !(self.upstream_kpa > 0.0 && self.upstream_k > 0.0 && self.gas_constant > 0.0) {
            return f64::NAN;
        }
        let factor = psi(self.downstream_kpa / self.upstream_kpa, self.gamma);
        // mm2 * kPa = 1e-3 N; kg/s to g/s brings back 1e3.
        effective_area_mm2 * self.upstream_kpa / (self.gas_constant * self.upstream_k).sqrt() * factor
    }
}

/// Open area in mm2 of a round plate turned from its closed angle, simple projection:
/// `pi D^2/4 (1 - cos(angle)/cos(closed angle))`. Shaft and edge thickness are left out.
///
/// NaN for angles outside 0..90 degrees or below the closed angle.
pub fn plate_area_mm2(diameter_mm: f64, angle_deg: f64, closed_deg: f64) -> f64 {
    if !(0.0..90.0).contains(&closed_deg) || !(closed_deg..=90.0).contains(&angle_deg) {
        return f64::NAN;
    }
    let ratio = angle_deg.to_radians().cos() / closed_deg.to_radians().cos();
    std::f64::consts::FRAC_PI_4 * diameter_mm * diameter_mm * (1.0 - ratio)
}

/// Coefficients `(a, b)` of trapped fresh charge, proportional to `a p_i - b p_e`:
/// `a = r_c/(r_c-1) - (g-1)/(g(r_c-1))`, `b = 1/(g(r_c-1))`.
///
/// NaN unless `compression_ratio > 1` and `gamma > 1`.
pub fn charge_coefficients(compression_ratio: f64, gamma: f64) -> (f64, f64) {
    if !(compression_ratio > 1.0 && gamma > 1.0) {
        return (f64::NAN, f64::NAN);
    }
    let c = compression_ratio - 1.0;
    (compression_ratio / c - (gamma - 1.0) / (gamma * c), 1.0 / (gamma * c))
}

/// Ideal volumetric efficiency relative to manifold conditions (the brace), at the pressure ratio exhaust over intake.
///
/// 1 when both pressures are equal; NaN for a ratio that is negative or missing.
pub fn ideal_efficiency(exhaust_over_intake: f64, compression_ratio: f64, gamma: f64) -> f64 {
    if exhaust_over_intake.is_nan() || exhaust_over_intake < 0.0 {
        return f64::NAN;
    }
    let (a, b) = charge_coefficients(compression_ratio, gamma);
    a - b * exhaust_over_intake
}

/// Relative change of trapped air per relative change of intake pressure, `a p_i / (a p_i - b p_e)`: over 1, because
/// exhaust gas left behind takes its share first.
///
/// NaN where the ideal cycle traps no fresh charge.
pub fn air_per_pressure(intake_kpa: f64, exhaust_kpa: f64, compression_ratio: f64, gamma: f64) -> f64 {
    let (a, b) = charge_coefficients(compression_ratio, gamma);
    let fresh = a * intake_kpa - b * exhaust_kpa;
    if fresh > 0.0 { a * intake_kpa / fresh } else { f64::NAN }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{close, close_rel};

    #[test]
    fn critical_ratios() {
        // (2/(g+1))^(g/(g-1)): 0.5283 printed in NACA Report 1135 for 1.4; the others recomputed with fluids 1.3.1.
        close(critical_ratio(1.4), 0.5283, 5e-5);
        close(critical_ratio(1.4), 0.528_281_787_717, 1e-12);
        close(critical_ratio(1.35), 0.536_851, 5e-7);
        close(critical_ratio(1.3), 0.545_728, 5e-7);
        assert!(critical_ratio(1.0).is_nan());
    }

    #[test]
    fn flow_factor_against_the_area_ratio_of_gas_tables() {
        // NACA Report 1135, subsonic table (from memory): M 0.3, 0.5, 0.8: p/pt .9395 .8430 .6560, A/A* 2.0351 1.3398
        // 1.0382. Continuity: psi_choked / psi(p/pt) = A/A*.
        for (mach, printed, area) in [(0.3, 0.9395, 2.0351), (0.5, 0.8430, 1.3398), (0.8, 0.6560, 1.0382)] {
            let ratio = (1.0f64 + 0.2 * mach * mach).powf(-3.5);
            close(ratio, printed, 5e-5);
            close(psi_choked(1.4) / psi(ratio, 1.4), area, 5e-5);
        }
    }

    #[test]
    fn flow_factor_values() {
        // Formula evaluated with numpy 2.4.6.
        close(psi_choked(1.4), 0.684_731_456_377, 1e-12);
        for (r, want) in [
            (0.95, 0.307_641_100_392),
            (0.9, 0.422_580_863_819),
            (0.8, 0.560_661_019_192),
            (0.7, 0.638_317_233_286),
            (0.6, 0.676_915_252_863),
            (0.55, 0.684_021_205_958),
        ] {
            close(psi(r, 1.4), want, 1e-11);
        }
        for (r, want) in [(0.95, 0.449_287_231_552), (0.8, 0.818_804_239_196), (0.55, 0.998_962_731_429)] {
            close(psi_over_choked(r), want, 1e-11);
        }
        assert_eq!((psi_over_choked(0.3), psi_over_choked(1.2), psi_over_choked(-0.1)), (1.0, 0.0, 1.0));
        assert!(psi_over_choked(f64::NAN).is_nan());
        assert_eq!(psi(1.0, 1.4), 0.0);
        // Smooth where choking sets in.
        close(psi(critical_ratio(1.4) + 1e-9, 1.4), psi_choked(1.4), 1e-12);
    }

    #[test]
    fn incompressible_formula_misses_choking() {
        // Bernoulli, sqrt(2 (1 - r)): within 5 % near 1, 60 % too much at a ratio of 0.4 where the flow is choked.
        let bernoulli = |r: f64| (2.0 * (1.0 - r)).sqrt();
        assert!((bernoulli(0.95) / psi(0.95, 1.4) - 1.0).abs() < 0.05);
        assert!(bernoulli(0.4) / psi(0.4, 1.4) > 1.5);
        assert_eq!(psi(0.4, 1.4), psi(0.2, 1.4));
    }

    #[test]
    fn worked_orifice() {
        // C_d 0.8, 10 mm2, 101.325 kPa, 298.15 K: hand formula 1.89727680213 g/s choked, 1.55349828851 g/s at 0.8.
        let state = |ratio: f64| OrificeState {
            upstream_kpa: 101.325,
            upstream_k: 298.15,
            downstream_kpa: 101.325 * ratio,
            gamma: GAMMA_AIR,
            gas_constant: R_AIR,
        };
        close_rel(state(0.4).flow_g_per_s(8.0), 1.897_276_802_13, 1e-11);
        close_rel(state(0.8).flow_g_per_s(8.0), 1.553_498_288_51, 1e-11);
        assert!(state(1.2).flow_g_per_s(8.0).is_nan());
        assert!(OrificeState { upstream_k: 0.0, ..state(0.8) }.flow_g_per_s(8.0).is_nan());
        // Plate of 40 mm, 8 degrees from a closed angle of 5: hand formula.
        close_rel(plate_area_mm2(40.0, 8.0, 5.0), 7.476_070_797_3, 1e-10);
        assert_eq!(plate_area_mm2(40.0, 5.0, 5.0), 0.0);
        assert!(plate_area_mm2(40.0, 4.0, 5.0).is_nan());
    }

    #[test]
    fn brace_values() {
        // r_c 10, g 1.3, exhaust 101.325 kPa (formula evaluated with numpy 2.4.6).
        for (intake, want) in [
            (100.0, 0.998_867_521_368),
            (60.0, 0.941_132_478_632),
            (45.0, 0.893_019_943_02),
            (35.0, 0.838_034_188_034),
            (30.0, 0.796_794_871_795),
        ] {
            close(ideal_efficiency(101.325 / intake, 10.0, 1.3), want, 1e-11);
        }
        close(ideal_efficiency(3.0, 9.5, 1.35), 0.825_708_061_002, 1e-11);
        // Closed form: equal pressures leave the whole swept volume to fresh charge.
        for rc in [6.0, 10.0, 14.0] {
            close(ideal_efficiency(1.0, rc, 1.3), 1.0, 1e-14);
        }
    }

    #[test]
    fn brace_from_the_first_law() {
        // Independent route: adiabatic filling of the clearance gas. With V_c = 1, V_max = r_c, pressures p_i, p_e:
        // energy balance m_f c_p T_i + U_residual - p_i (V_max - V_c) = U_end, and U = p V/(g-1).
        let (rc, g, pi, pe) = (9.0f64, 1.33f64, 40.0f64, 100.0f64);
        let enthalpy_in = pi * rc / (g - 1.0) - pe / (g - 1.0) + pi * (rc - 1.0);
        // m_f R T_i = enthalpy_in (g-1)/g, the volume it fills at p_i, over the swept volume.
        let filled = enthalpy_in * (g - 1.0) / g / pi / (rc - 1.0);
        close(ideal_efficiency(pe / pi, rc, g), filled, 1e-12);
    }

    #[test]
    fn air_follows_pressure_more_than_in_proportion() {
        // r_c 10, g 1.3, exhaust 101.325 kPa: closed form at 30, 35, 45, 60 kPa; the naive reading is 1.
        for (intake, want) in [
            (30.0, 1.362_295_521_59),
            (35.0, 1.295_257_521_67),
            (45.0, 1.215_504_865_21),
            (60.0, 1.153_365_875_81),
        ] {
            close(air_per_pressure(intake, 101.325, 10.0, 1.3), want, 1e-10);
            // Same slope by finite difference of p times the brace.
            let air = |p: f64| p * ideal_efficiency(101.325 / p, 10.0, 1.3);
            let h = 1e-4;
            close(((air(intake * (1.0 + h)) / air(intake)).ln()) / (1.0 + h).ln(), want, 1e-4);
        }
        assert!(air_per_pressure(5.0, 101.325, 10.0, 1.3).is_nan());
    }

    #[test]
    fn nothing_but_nan_outside_the_range() {
        for v in [f64::NAN, -1.0, f64::INFINITY] {
            assert!(psi(v, 1.4).is_nan());
            assert!(ideal_efficiency(-1.0, v, 1.3).is_nan());
        }
        assert!(psi(0.9, 1.0).is_nan() && psi_choked(f64::NAN).is_nan());
        assert!(ideal_efficiency(2.0, 1.0, 1.3).is_nan() && charge_coefficients(f64::NAN, 1.3).0.is_nan());
    }
}
