//! A table of figures as read, before it is understood.

use super::plan::Plan;
use super::row_lines::RowLines;

/// Columns of equal length with their plans.
#[derive(Debug, Clone, Default)]
pub(crate) struct Table {
    pub(crate) plans: Vec<Plan>,
    /// Values of each column as logged (`NaN` = missing); empty for columns left out. Clock columns in seconds.
    pub(crate) values: Vec<Vec<f64>>,
    /// Line of each row; empty where rows have none.
    pub(crate) lines: RowLines,
    pub(crate) skipped: usize,
}
