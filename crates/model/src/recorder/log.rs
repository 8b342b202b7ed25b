//! The table a logger wrote, still in kPa absolute.

use serde::Serialize;

use super::logger::Mark;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Quantity {
    /// Pressure of a cylinder (from 1), kPa absolute.
    Pressure(usize),
    /// Engine speed, rev/min.
    Speed,
    /// Coolant temperature, degrees C.
    Coolant,
    /// Throttle opening, %.
    Throttle,
    /// Air over stoichiometric air of a cylinder (from 1).
    Lambda(usize),
    /// Barometer, kPa absolute.
    Barometer,
    /// A mark on crank or camshaft: 1 where it passed since the row before.
    Mark(Mark),
}

/// One column.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// What it holds.
    pub quantity: Quantity,
    /// One value per row; NaN where missing.
    pub values: Vec<f64>,
    /// Decimals to be written (pressures: the style decides).
    pub decimals: usize,
}

/// A recorded log: rows in time order, pressures kPa absolute, NaN where a cell is empty.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    /// Row times, s.
    pub time_s: Vec<f64>,
    /// Columns, all as long as `time_s`.
    pub columns: Vec<Column>,
    /// Barometer while recording, kPa absolute (for vacuum readings).
    pub barometer_kpa: f64,
}

impl Log {
    /// The column of a quantity.
    #[must_use]
    pub fn column(&self, quantity: Quantity) -> Option<&[f64]> {
        self.columns.iter().find(|c| c.quantity == quantity).map(|c| c.values.as_slice())
    }

    /// Pressures of all cylinders in order, kPa absolute.
    #[must_use]
    pub fn pressures_kpa(&self) -> Vec<&[f64]> {
        let pressure = |c: &&Column| matches!(c.quantity, Quantity::Pressure(_));
        self.columns.iter().filter(pressure).map(|c| c.values.as_slice()).collect()
    }

    /// How many rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.time_s.len()
    }
}
