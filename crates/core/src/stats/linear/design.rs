//! From columns with gaps to a complete matrix.

use nalgebra::{DMatrix, DVector};

use crate::stats::error::StatsError;

/// Largest condition number that is still solved.
pub(super) const MAX_CONDITION: f64 = 1e12;

/// Rows in which every value is usable.
pub(super) struct Design {
    pub(super) x: DMatrix<f64>,
    pub(super) y: DVector<f64>,
    /// One weight per row, positive.
    pub(super) w: Vec<f64>,
}

impl Design {
    /// Keeps the rows whose `y`, columns and weight are finite and whose weight is positive.
    pub(super) fn new<C: AsRef<[f64]>>(
        columns: &[C],
        y: &[f64],
        weights: Option<&[f64]>,
    ) -> Result<Self, StatsError> {
        for c in columns {
            same_length("column and y", c.as_ref().len(), y.len())?;
        }
        if let Some(w) = weights {
            same_length("weights and y", w.len(), y.len())?;
        }
        let weight = |i: usize| weights.map_or(1.0, |w| w[i]);
        let rows: Vec<usize> = (0..y.len())
            .filter(|&i| {
                let w = weight(i);
                y[i].is_finite()
                    && w.is_finite()
                    && w > 0.0
                    && columns.iter().all(|c| c.as_ref()[i].is_finite())
            })
            .collect();
        Ok(Self {
            x: DMatrix::from_fn(rows.len(), columns.len(), |r, c| columns[c].as_ref()[rows[r]]),
            y: DVector::from_fn(rows.len(), |r, _| y[rows[r]]),
            w: rows.iter().map(|&i| weight(i)).collect(),
        })
    }

    /// Divides every column by its length; a column of zeros is refused.
    pub(super) fn scale_columns(&mut self) -> Result<Vec<f64>, StatsError> {
        let mut scales = Vec::with_capacity(self.x.ncols());
        for mut c in self.x.column_iter_mut() {
            let s = c.norm();
            if s <= 0.0 || !s.is_finite() {
                return Err(StatsError::NoSpread { what: "an explaining column" });
            }
            c /= s;
            scales.push(s);
        }
        Ok(scales)
    }
}

pub(super) fn same_length(what: &'static str, left: usize, right: usize) -> Result<(), StatsError> {
    if left == right { Ok(()) } else { Err(StatsError::LengthMismatch { what, left, right }) }
}

/// Largest over smallest singular value; infinite if singular, NaN never.
pub(super) fn condition(m: &DMatrix<f64>) -> f64 {
    if m.ncols() == 0 {
        return 1.0;
    }
    if m.nrows() < m.ncols() || m.iter().any(|v| !v.is_finite()) {
        return f64::INFINITY;
    }
    let Some(svd) = m.clone().try_svd(false, false, f64::EPSILON, 10_000) else {
        return f64::INFINITY;
    };
    let s = svd.singular_values;
    let (low, high) = s.iter().fold((f64::INFINITY, 0.0f64), |(l, h), v| (l.min(*v), h.max(*v)));
    if low > 0.0 { high / low } else { f64::INFINITY }
}

/// Solves `x b = y` in least squares and gives `b` with `(x'x)^-1`, by QR.
pub(super) fn solve_qr(
    x: DMatrix<f64>,
    y: &DVector<f64>,
    what: &'static str,
) -> Result<(DVector<f64>, DMatrix<f64>, f64), StatsError> {
    let p = x.ncols();
    if x.nrows() < p {
        return Err(StatsError::TooFew { method: what, needed: p, found: x.nrows() });
    }
    let qr = x.qr();
    let r = qr.r();
    let condition = condition(&r);
    let singular = StatsError::Singular { what, condition };
    if condition > MAX_CONDITION {
        return Err(singular);
    }
    let mut rhs = y.clone();
    qr.q_tr_mul(&mut rhs);
    let head = rhs.rows(0, p).into_owned();
    let b = r.solve_upper_triangular(&head).ok_or(singular.clone())?;
    let inverse = r.solve_upper_triangular(&DMatrix::identity(p, p)).ok_or(singular)?;
    Ok((b, &inverse * inverse.transpose(), condition))
}

/// Rows of a square matrix as plain numbers.
pub(super) fn rows_of(m: &DMatrix<f64>) -> Vec<Vec<f64>> {
    m.row_iter().map(|r| r.iter().copied().collect()).collect()
}
