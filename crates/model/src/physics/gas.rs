//! Isentropic flow of an ideal gas through an orifice.
//!
//! Mass flow = effective area x upstream pressure / sqrt(R T) x psi(pressure ratio); below the critical
//! ratio psi is constant (choked).
//!
//! # Source
//! Heywood 1988, Appendix C, eqs C.8 and C.9.

/// Gas constant of dry air, J/(kg K).
pub const R_AIR: f64 = 287.05;
/// Heat capacity ratio of air, used for every orifice.
pub const GAMMA_AIR: f64 = 1.4;
/// Heat capacity ratio of the gas in a cylinder (burnt and unburnt alike).
pub const GAMMA_CYLINDER: f64 = 1.33;

/// Downstream over upstream pressure at which the flow chokes.
#[must_use]
pub fn critical_ratio(gamma: f64) -> f64 {
    (2.0 / (gamma + 1.0)).powf(gamma / (gamma - 1.0))
}

/// Flow function psi of the downstream over upstream pressure ratio; 0 at a ratio of 1 and above.
#[must_use]
pub fn psi(ratio: f64, gamma: f64) -> f64 {
    if ratio >= 1.0 {
        return 0.0;
    }
    let r = ratio.max(critical_ratio(gamma));
    let head = 2.0 * gamma / (gamma - 1.0) * (1.0 - r.powf((gamma - 1.0) / gamma));
    r.powf(1.0 / gamma) * head.max(0.0).sqrt()
}

/// Mass flow through an orifice from the higher pressure to the lower one.
///
/// # Units
/// Effective area (discharge coefficient x area) m2, pressures Pa, temperature K, result kg/s.
#[must_use]
pub fn orifice_kg_s(area_m2: f64, up_pa: f64, up_k: f64, down_pa: f64, gamma: f64) -> f64 {
    area_m2 * up_pa / (R_AIR * up_k).sqrt() * psi(down_pa / up_pa, gamma)
}

const CELLS: usize = 512;

/// psi without powers: `psi^2 / (1 - ratio)` is smooth up to a ratio of 1, so a straight line between
/// 513 points of it leaves a relative error under 1e-6.
#[derive(Debug, Clone)]
pub struct PsiTable {
    critical: f64,
    choked: f64,
    cells_per_ratio: f64,
    squared_over_gap: Vec<f64>,
}

impl PsiTable {
    /// Tabulates psi for one heat capacity ratio.
    #[must_use]
    pub fn new(gamma: f64) -> Self {
        let critical = critical_ratio(gamma);
        let step = (1.0 - critical) / CELLS as f64;
        let mut squared_over_gap: Vec<f64> = (0..CELLS)
            .map(|i| {
                let r = critical + step * i as f64;
                psi(r, gamma).powi(2) / (1.0 - r)
            })
            .collect();
        // psi^2 -> 2 (1 - ratio) at a ratio of 1, for every gas; one spare cell guards the upper edge.
        squared_over_gap.extend([2.0, 2.0]);
        Self { critical, choked: psi(critical, gamma), cells_per_ratio: 1.0 / step, squared_over_gap }
    }

    /// psi of a pressure ratio between 0 and 1; 0 above.
    #[inline]
    #[must_use]
    pub fn psi(&self, ratio: f64) -> f64 {
        if ratio <= self.critical {
            return self.choked;
        }
        let gap = 1.0 - ratio;
        if gap <= 0.0 || gap.is_nan() {
            return 0.0;
        }
        let x = (ratio - self.critical) * self.cells_per_ratio;
        let cell = (x as usize).min(CELLS);
        let a = self.squared_over_gap[cell];
        let b = self.squared_over_gap[cell + 1];
        (gap * (a + (b - a) * (x - cell as f64))).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Heywood 1988 eqs C.8, C.9 evaluated for gamma 1.4, and the critical ratios for three gases.
    #[test]
    fn psi_matches_the_published_formula() {
        let cases = [
            (0.95, 0.307641100392),
            (0.9, 0.422580863819),
            (0.8, 0.560661019192),
            (0.7, 0.638317233286),
            (0.6, 0.676915252863),
            (0.55, 0.684021205958),
            (0.3, 0.684731456377),
        ];
        for (ratio, want) in cases {
            assert!((psi(ratio, 1.4) - want).abs() < 1e-11, "psi({ratio})");
        }
        assert!((critical_ratio(1.4) - 0.528281787717).abs() < 1e-12);
        assert!((critical_ratio(1.35) - 0.536851).abs() < 1e-6);
        assert!((critical_ratio(1.3) - 0.545728).abs() < 1e-6);
    }

    /// A/A* of NACA Report 1135 at Mach 0.3, 0.5, 0.8 (p/pt 0.9395, 0.8430, 0.6560).
    #[test]
    fn psi_gives_the_area_ratios_of_the_compressible_flow_tables() {
        for (p_over_pt, area_ratio, tol) in
            [(0.9395, 2.0351, 1e-3), (0.8430, 1.3398, 1e-4), (0.6560, 1.0382, 1e-4)]
        {
            let got = psi(0.1, 1.4) / psi(p_over_pt, 1.4);
            assert!((got - area_ratio).abs() < tol, "{got} for {area_ratio}");
        }
    }

    /// Worked case: 8 mm2 effective, 101.325 kPa, 298.15 K; Bernoulli's incompressible form is 10 % off.
    #[test]
    fn worked_mass_flow() {
        let choked = orifice_kg_s(8e-6, 101_325.0, 298.15, 40_000.0, 1.4) * 1e3;
        assert!((choked - 1.89727680213).abs() < 1e-10);
        let at_08 = orifice_kg_s(8e-6, 101_325.0, 298.15, 0.8 * 101_325.0, 1.4) * 1e3;
        assert!((at_08 - 1.55349828851).abs() < 1e-10);
        let bernoulli = 8e-6 * (2.0f64 * 0.2).sqrt() * 101_325.0 / (R_AIR * 298.15).sqrt() * 1e3;
        assert!((bernoulli / at_08 - 1.0).abs() > 0.1, "the naive form must be told apart");
    }

    #[test]
    fn the_table_follows_the_formula() {
        let table = PsiTable::new(1.4);
        for i in 0..=20_000 {
            let r = f64::from(i) / 20_000.0;
            let exact = psi(r, 1.4);
            assert!((table.psi(r) - exact).abs() <= 1e-6 * exact.max(1e-3), "at {r}");
        }
        assert_eq!(table.psi(1.2), 0.0);
        assert_eq!(table.psi(f64::NAN), 0.0);
    }
}
