//! Smallest remainder under bounds: minimise `||y + A w||` with `lower <= w <= upper`.
//!
//! The problem is convex: cyclic descent with clipping (Hildreth, Naval Res. Logist. Q. 4 (1957) 79-85) finds the set of
//! unknowns at their bounds, the free ones are then solved exactly (as in Stark & Parker, Comput. Stat. 10 (1995)
//! 129-141). Setting both bounds of an unknown to 0 leaves it untouched; rounding an unbounded solution to the bounds
//! afterwards is not optimal.
//!
//! [`to_reference`] turns "make all rows equal" into "make all differences to one row zero". The common level is then
//! free: the matrix loses one rank, and [`minimum_norm`] picks the solution with the smallest steps.
//!
//! Missing values are refused: a plan made from half of the rows is none.

use nalgebra::{DMatrix, DVector};

use super::design::{condition, same_length};
use crate::stats::error::StatsError;

const MAX_SWEEPS: usize = 200_000;

/// Solution of a least-squares problem `||y + A w||`.
#[derive(Debug, Clone, PartialEq)]
pub struct BoundedFit {
    /// One value per column of `A`.
    pub w: Vec<f64>,
    /// `y + A w`, one value per row.
    pub remainder: Vec<f64>,
    /// Sum of squares of the remainder.
    pub rss: f64,
    /// Whether the value sits at one of its bounds.
    pub at_bound: Vec<bool>,
    /// Rank of the columns that were free to move.
    pub free_rank: usize,
    /// Whether the solution is the only one (the free columns have full rank).
    pub unique: bool,
}

fn matrix<C: AsRef<[f64]>>(columns: &[C], y: &[f64]) -> Result<(DMatrix<f64>, DVector<f64>), StatsError> {
    for c in columns {
        same_length("column and y", c.as_ref().len(), y.len())?;
        all_finite("a column", c.as_ref())?;
    }
    all_finite("y", y)?;
    if y.is_empty() || columns.is_empty() {
        return Err(StatsError::TooFew { method: "least squares", needed: 1, found: 0 });
    }
    Ok((
        DMatrix::from_fn(y.len(), columns.len(), |r, c| columns[c].as_ref()[r]),
        DVector::from_column_slice(y),
    ))
}

fn all_finite(what: &'static str, v: &[f64]) -> Result<(), StatsError> {
    match v.iter().position(|a| !a.is_finite()) {
        Some(position) => Err(StatsError::Missing { what, position }),
        None => Ok(()),
    }
}

/// Condition number of the columns (largest over smallest singular value); infinite if they depend on each other.
///
/// # Errors
/// `LengthMismatch`, `Missing`, `TooFew`.
pub fn condition_number<C: AsRef<[f64]>>(columns: &[C]) -> Result<f64, StatsError> {
    let rows = columns.first().map_or(0, |c| c.as_ref().len());
    let (a, _) = matrix(columns, &vec![0.0; rows])?;
    let c = condition(&a);
    Ok(if c > 1e15 { f64::INFINITY } else { c })
}

/// Minimises `||y + A w||` with `lower <= w <= upper` (bounds may be infinite).
///
/// # Errors
/// `LengthMismatch`, `Missing`, `TooFew`; `Parameter` for bounds out of order; `NoConvergence`.
pub fn bounded_least_squares<C: AsRef<[f64]>>(
    columns: &[C],
    y: &[f64],
    lower: &[f64],
    upper: &[f64],
) -> Result<BoundedFit, StatsError> {
    let (a, rhs) = matrix(columns, y)?;
    same_length("columns and lower bounds", columns.len(), lower.len())?;
    same_length("columns and upper bounds", columns.len(), upper.len())?;
    if let Some(j) = (0..lower.len()).find(|&j| lower[j].is_nan() || upper[j].is_nan() || lower[j] > upper[j])
    {
        return Err(StatsError::Parameter {
            name: "lower",
            value: lower[j],
            rule: "must not exceed the upper bound",
        });
    }
    let mut w = descend(&a, &rhs, lower, upper)?;
    let at_bound: Vec<bool> = (0..w.len()).map(|j| w[j] <= lower[j] || w[j] >= upper[j]).collect();
    let free: Vec<usize> = (0..w.len()).filter(|&j| !at_bound[j]).collect();
    let mut free_rank = 0;
    if !free.is_empty() {
        let fixed = DVector::from_fn(w.len(), |j, _| if at_bound[j] { w[j] } else { 0.0 });
        let part = a.select_columns(&free);
        let (exact, rank) = pseudo_solve(&part, &(-(&rhs + &a * fixed)));
        free_rank = rank;
        let inside = free.iter().zip(exact.iter()).all(|(&j, v)| *v >= lower[j] && *v <= upper[j]);
        if rank == free.len() && inside {
            free.iter().zip(exact.iter()).for_each(|(&j, v)| w[j] = *v);
        }
    }
    let unique = free_rank == free.len();
    Ok(finish(&a, &rhs, w, at_bound, free_rank, unique))
}

/// Minimises `||y + A w||`; among several solutions the one with the smallest `||w||`.
///
/// # Errors
/// `LengthMismatch`, `Missing`, `TooFew`.
pub fn minimum_norm<C: AsRef<[f64]>>(columns: &[C], y: &[f64]) -> Result<BoundedFit, StatsError> {
    let (a, rhs) = matrix(columns, y)?;
    let (w, rank) = pseudo_solve(&a, &(-&rhs));
    let unique = rank == a.ncols();
    let at_bound = vec![false; a.ncols()];
    Ok(finish(&a, &rhs, w, at_bound, rank, unique))
}

/// Rewrites the problem in differences to row `reference`: row `i` becomes row `i` minus that row, which is dropped.
///
/// # Errors
/// `LengthMismatch`, `Missing`, `TooFew`; `Parameter` if there is no such row.
pub fn to_reference<C: AsRef<[f64]>>(
    columns: &[C],
    y: &[f64],
    reference: usize,
) -> Result<(Vec<Vec<f64>>, Vec<f64>), StatsError> {
    matrix(columns, y)?;
    if reference >= y.len() {
        return Err(StatsError::Parameter {
            name: "reference",
            value: reference as f64,
            rule: "must be a row of the problem",
        });
    }
    let reduce = |v: &[f64]| -> Vec<f64> {
        (0..v.len()).filter(|&i| i != reference).map(|i| v[i] - v[reference]).collect()
    };
    Ok((columns.iter().map(|c| reduce(c.as_ref())).collect(), reduce(y)))
}

/// Cyclic descent on the normal equations, each unknown clipped to its bounds.
fn descend(
    a: &DMatrix<f64>,
    y: &DVector<f64>,
    lower: &[f64],
    upper: &[f64],
) -> Result<DVector<f64>, StatsError> {
    let p = a.ncols();
    let gram = a.tr_mul(a);
    let g = a.tr_mul(y);
    let mut w = DVector::from_fn(p, |j, _| 0f64.clamp(lower[j], upper[j]));
    for _ in 0..MAX_SWEEPS {
        let mut moved = 0.0f64;
        for j in 0..p {
            if gram[(j, j)] <= 0.0 {
                continue;
            }
            let slope = g[j] + gram.column(j).dot(&w);
            let next = (w[j] - slope / gram[(j, j)]).clamp(lower[j], upper[j]);
            moved = moved.max((next - w[j]).abs() / (1.0 + w[j].abs()));
            w[j] = next;
        }
        if moved <= 1e-14 {
            return Ok(w);
        }
    }
    Err(StatsError::NoConvergence { method: "bounded least squares", steps: MAX_SWEEPS })
}

/// Minimum-norm solution of `a w = b` and the numerical rank of `a`, by singular values.
fn pseudo_solve(a: &DMatrix<f64>, b: &DVector<f64>) -> (DVector<f64>, usize) {
    let Some(svd) = a.clone().try_svd(true, true, f64::EPSILON, 10_000) else {
        return (DVector::zeros(a.ncols()), 0);
    };
    let floor = svd.singular_values.max() * f64::EPSILON * a.nrows().max(a.ncols()) as f64 * 4.0;
    let rank = svd.singular_values.iter().filter(|s| **s > floor).count();
    (svd.solve(b, floor).unwrap_or_else(|_| DVector::zeros(a.ncols())), rank)
}

fn finish(
    a: &DMatrix<f64>,
    y: &DVector<f64>,
    w: DVector<f64>,
    at_bound: Vec<bool>,
    free_rank: usize,
    unique: bool,
) -> BoundedFit {
    let remainder = y + a * &w;
    BoundedFit {
        rss: remainder.norm_squared(),
        remainder: remainder.iter().copied().collect(),
        w: w.iter().copied().collect(),
        at_bound,
        free_rank,
        unique,
    }
}

#[cfg(test)]
#[path = "bounded_tests.rs"]
mod tests;
