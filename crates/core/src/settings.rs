//! Every number that a person could reasonably want to change, in one table with its default and its reason.

use crate::result::SettingValue;

/// Settings of a review. [`Settings::table`] lists them with reasons.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Largest allowed spread, kPa, where the machine file names none.
    pub limit_kpa: f64,
    /// Half-width of the band around the lambda target.
    pub lambda_band: f64,
    /// Gain error left after the zero at the barometer, as a fraction of the distance to it (half-width).
    pub gain_allowance: f64,
    /// Standard deviation between visits, kPa, until repeats are known.
    pub repeatability_kpa: f64,
    /// Coverage factor of every stated uncertainty.
    pub coverage: f64,
    /// One-sided guard in standard uncertainties.
    pub guard: f64,
    /// Coolant slope under which the engine counts as warm, K/min.
    pub warm_slope_k_per_min: f64,
    /// Coolant temperature under which no slope counts as warm, deg C.
    pub warm_floor_c: f64,
    /// Speed over idle speed from which a steady stretch counts as raised.
    pub raised_factor: f64,
    /// Time after a step that is not judged, s.
    pub settle_s: f64,
    /// Shortest window, s.
    pub window_s: f64,
    /// Shortest window, engine cycles.
    pub window_cycles: f64,
    /// d ln p / d ln area of a runner at idle.
    pub pressure_per_area: f64,
    /// Largest overstatement of a spread by one reading a cycle at a fixed crank angle.
    pub fixed_angle_factor: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            limit_kpa: 1.3,
            lambda_band: 0.05,
            gain_allowance: 0.005,
            repeatability_kpa: 0.3,
            coverage: 2.0,
            guard: 1.645,
            warm_slope_k_per_min: 1.0,
            warm_floor_c: 45.0,
            raised_factor: 1.6,
            settle_s: 1.5,
            window_s: 10.0,
            window_cycles: 60.0,
            pressure_per_area: 0.78,
            fixed_angle_factor: 1.7,
        }
    }
}

/// One row of the settings table: name, value, reason.
pub type SettingRow = (&'static str, String, &'static str);

impl Settings {
    /// Names and values, in the order of [`Settings::table`].
    #[must_use]
    pub fn values(&self) -> Vec<SettingValue> {
        let number =
            |row: SettingRow| row.1.parse().ok().map(|value| SettingValue { name: row.0.to_owned(), value });
        // The table writes a number with all its digits, so that it is read back as it was.
        self.table().into_iter().filter_map(number).collect()
    }

    /// All settings with their reasons, in a fixed order.
    #[must_use]
    pub fn table(&self) -> Vec<SettingRow> {
        let row = |name, value: f64, reason| (name, format!("{value}"), reason);
        vec![
            row("limit_kpa", self.limit_kpa, "common practice, no source; the maker's figure overrides"),
            row("lambda_band", self.lambda_band, "common practice, no source"),
            row(
                "gain_allowance",
                self.gain_allowance,
                "share of the distance to the barometer; common practice, no source",
            ),
            row(
                "repeatability_kpa",
                self.repeatability_kpa,
                "between visits, until repeats are known; common practice, no source",
            ),
            row("coverage", self.coverage, "JCGM 100"),
            row("guard", self.guard, "JCGM 106, one-sided 95 %"),
            row(
                "warm_slope_k_per_min",
                self.warm_slope_k_per_min,
                "coolant no longer rising; common practice, no source",
            ),
            row(
                "warm_floor_c",
                self.warm_floor_c,
                "raw-water-cooled marine engines run at 50 to 65 deg C; common practice, no source",
            ),
            row(
                "raised_factor",
                self.raised_factor,
                "a steady stretch well above idle; common practice, no source",
            ),
            row(
                "settle_s",
                self.settle_s,
                "the idle settles after a screw was turned; common practice, no source",
            ),
            row("window_s", self.window_s, "shortest stretch judged; common practice, no source"),
            row(
                "window_cycles",
                self.window_cycles,
                "shortest stretch judged, in engine cycles; common practice, no source",
            ),
            row(
                "pressure_per_area",
                self.pressure_per_area,
                "d ln pressure / d ln plate area at idle, from the engine model",
            ),
            row(
                "fixed_angle_factor",
                self.fixed_angle_factor,
                "one reading a cycle can overstate a spread by this, from the engine model",
            ),
        ]
    }
}
