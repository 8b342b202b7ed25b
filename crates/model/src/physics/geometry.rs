//! Slider-crank volume, valve opening and burnt fraction over crank angle.
//!
//! # Source
//! Heywood 1988: cylinder volume eq. 2.6, Wiebe function eq. 9.27 (a = 5, m = 2). Valve lift is a squared
//! sine between opening and closing, a common drawing-board shape.

use std::f64::consts::PI;

/// Volume over a piston, same unit as `displacement`, `deg` crank angle after top dead centre.
///
/// `rod_ratio` is connecting-rod length over crank radius.
#[must_use]
pub fn slider_crank_volume(displacement: f64, compression_ratio: f64, rod_ratio: f64, deg: f64) -> f64 {
    let (sin, cos) = deg.to_radians().sin_cos();
    let clearance = displacement / (compression_ratio - 1.0);
    clearance + 0.5 * displacement * (rod_ratio + 1.0 - cos - (rod_ratio * rod_ratio - sin * sin).sqrt())
}

/// Burnt fraction at the share `x` (0 to 1) of the burn duration.
#[must_use]
pub fn wiebe(x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    1.0 - (-5.0 * x.min(1.0).powi(3)).exp()
}

/// A function of crank angle on a uniform periodic grid, read by straight lines.
#[derive(Debug, Clone, PartialEq)]
pub struct AngleTable {
    period_deg: f64,
    points_per_deg: f64,
    values: Vec<f64>,
}

impl AngleTable {
    /// Tabulates `f` (of degrees) over one period with `points_per_deg` points a degree.
    #[must_use]
    pub fn new(period_deg: f64, points_per_deg: f64, f: impl Fn(f64) -> f64) -> Self {
        let n = (period_deg * points_per_deg).round().max(1.0) as usize;
        let mut values: Vec<f64> = (0..n).map(|i| f(i as f64 / points_per_deg)).collect();
        values.extend([values[0], values[1 % n]]);
        Self { period_deg, points_per_deg, values }
    }

    /// The value at an angle between 0 and the period.
    #[inline]
    #[must_use]
    pub fn at(&self, deg: f64) -> f64 {
        let x = deg * self.points_per_deg;
        let cell = (x as usize).min(self.values.len() - 2);
        let a = self.values[cell];
        a + (self.values[cell + 1] - a) * (x - cell as f64)
    }

    /// Length of the period, degrees.
    #[must_use]
    pub fn period_deg(&self) -> f64 {
        self.period_deg
    }
}

/// Share of full opening (0 to 1) of a valve at `deg`, events wrapped into the cycle.
#[must_use]
pub fn valve_share(deg: f64, open_deg: f64, close_deg: f64, cycle_deg: f64) -> f64 {
    let span = close_deg - open_deg;
    let since = (deg - open_deg).rem_euclid(cycle_deg);
    if span <= 0.0 || since >= span {
        return 0.0;
    }
    (PI * since / span).sin().powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Heywood eq. 2.6 by hand: clearance at top, clearance plus displacement at bottom, and at 90 degrees
    /// R + 1 - sqrt(R^2 - 1) half strokes. A pure cosine (no rod) would give exactly half the displacement.
    #[test]
    fn volumes_at_dead_centres_and_mid_stroke() {
        let v = |deg| slider_crank_volume(400.0, 10.0, 3.5, deg);
        assert!((v(0.0) - 400.0 / 9.0).abs() < 1e-9);
        assert!((v(180.0) - 400.0 * 10.0 / 9.0).abs() < 1e-9);
        let mid = 400.0 / 9.0 + 200.0 * (4.5 - 11.25f64.sqrt());
        assert!((v(90.0) - mid).abs() < 1e-9);
        assert!(mid - (400.0 / 9.0 + 200.0) > 25.0, "the rod matters");
        assert!((v(90.0) - v(270.0)).abs() < 1e-9);
    }

    #[test]
    fn the_volume_table_follows_the_formula() {
        let table = AngleTable::new(360.0, 2.0, |d| slider_crank_volume(400.0, 10.0, 3.5, d));
        for i in 0..3600 {
            let d = f64::from(i) * 0.1;
            let exact = slider_crank_volume(400.0, 10.0, 3.5, d);
            assert!((table.at(d) / exact - 1.0).abs() < 1e-4, "at {d}");
        }
    }

    /// Wiebe function: 1 - exp(-5) = 0.99326 at the end, by definition of its efficiency factor.
    #[test]
    fn the_burn_runs_from_nothing_to_all() {
        assert_eq!(wiebe(-1.0), 0.0);
        assert!((wiebe(1.0) - 0.993262053000915).abs() < 1e-12);
        assert!((wiebe(0.5) - (1.0 - (-0.625f64).exp())).abs() < 1e-12);
    }

    #[test]
    fn a_valve_opens_only_inside_its_events_and_may_wrap() {
        assert_eq!(valve_share(100.0, 350.0, 580.0, 720.0), 0.0);
        assert!((valve_share(465.0, 350.0, 580.0, 720.0) - 1.0).abs() < 1e-12);
        assert!(valve_share(10.0, 700.0, 760.0, 720.0) > 0.9);
        assert_eq!(valve_share(10.0, 300.0, 300.0, 720.0), 0.0);
    }
}
