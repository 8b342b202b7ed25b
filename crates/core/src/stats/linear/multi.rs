//! Several explaining columns with an intercept, weighted if wished.
//!
//! Columns and `y` are centred by their (weighted) means, each column is scaled to length 1, and the rest is solved by
//! QR (Bjorck, Numerical Methods for Least Squares Problems, 1996). Solving the normal equations of raw columns
//! squares the condition number and ruins the certified Longley data. Rows with a missing value are left out.

use nalgebra::DVector;

use super::design::{Design, rows_of, solve_qr};
use crate::stats::error::StatsError;

/// Least-squares fit with an intercept.
#[derive(Debug, Clone, PartialEq)]
pub struct LinearFit {
    /// Rows used.
    pub n: usize,
    /// Intercept, then one coefficient per column, in the units of `y` per unit of the column.
    pub coefficients: Vec<f64>,
    /// Standard errors in the same order.
    pub se: Vec<f64>,
    /// Covariance in the same order, as rows.
    pub covariance: Vec<Vec<f64>>,
    /// Residual standard deviation (for weight 1).
    pub residual_sd: f64,
    /// Residual degrees of freedom.
    pub df: f64,
    /// Share of the (weighted) variance explained; NaN if `y` is constant.
    pub r2: f64,
    /// Condition number of the centred and scaled columns.
    pub condition: f64,
}

/// Fits `y = b0 + b1 c1 + b2 c2 + ...`; `weights` are proportional to 1/variance of each `y`.
///
/// # Errors
/// `LengthMismatch`; `TooFew` if no degree of freedom is left; `NoSpread` for a constant column; `Singular` if the
/// columns depend on each other.
pub fn multi_regression<C: AsRef<[f64]>>(
    columns: &[C],
    y: &[f64],
    weights: Option<&[f64]>,
) -> Result<LinearFit, StatsError> {
    let mut d = Design::new(columns, y, weights)?;
    let (n, p) = d.x.shape();
    if n < p + 2 {
        return Err(StatsError::TooFew { method: "regression", needed: p + 2, found: n });
    }
    let total: f64 = d.w.iter().sum();
    let weighted_mean = |v: &[f64], w: &[f64]| v.iter().zip(w).map(|(a, b)| a * b).sum::<f64>() / total;
    let centre = |v: &mut [f64], w: &[f64]| {
        let first = weighted_mean(v, w);
        v.iter_mut().for_each(|a| *a -= first);
        let rest = weighted_mean(v, w);
        v.iter_mut().for_each(|a| *a -= rest);
        first + rest
    };
    let y_mean = centre(d.y.as_mut_slice(), &d.w);
    let means: Vec<f64> = (0..p).map(|j| centre(d.x.column_mut(j).as_mut_slice(), &d.w)).collect();
    for (i, w) in d.w.iter().enumerate() {
        let root = w.sqrt();
        d.y[i] *= root;
        d.x.row_mut(i).scale_mut(root);
    }
    let scales = d.scale_columns()?;
    let (b, inverse, condition) = solve_qr(d.x.clone(), &d.y, "regression")?;
    let rss = (&d.y - &d.x * &b).norm_squared();
    let tss = d.y.norm_squared();
    let df = (n - p - 1) as f64;
    let variance = rss / df;
    let slopes = DVector::from_fn(p, |j, _| b[j] / scales[j]);
    let mx = DVector::from_vec(means);
    let spread =
        nalgebra::DMatrix::from_fn(p, p, |i, j| inverse[(i, j)] / (scales[i] * scales[j]) * variance);
    let cross = -(&spread * &mx);
    let mut full = nalgebra::DMatrix::zeros(p + 1, p + 1);
    full[(0, 0)] = variance / total - mx.dot(&cross);
    full.view_mut((1, 1), (p, p)).copy_from(&spread);
    for j in 0..p {
        full[(0, j + 1)] = cross[j];
        full[(j + 1, 0)] = cross[j];
    }
    let mut coefficients = vec![y_mean - slopes.dot(&mx)];
    coefficients.extend(slopes.iter());
    Ok(LinearFit {
        n,
        coefficients,
        se: full.diagonal().iter().map(|v| v.max(0.0).sqrt()).collect(),
        covariance: rows_of(&full),
        residual_sd: variance.sqrt(),
        df,
        r2: if tss > 0.0 { 1.0 - rss / tss } else { f64::NAN },
        condition,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use nalgebra::{DMatrix, DVector};

    use super::*;
    use crate::stats::fixtures::{LONGLEY, LONGLEY_BETA, LONGLEY_SE, ar1, close_rel};
    use crate::stats::linear::simple_regression;

    fn longley() -> (Vec<Vec<f64>>, Vec<f64>) {
        let columns = (1..7).map(|j| LONGLEY.iter().map(|r| r[j]).collect()).collect();
        (columns, LONGLEY.iter().map(|r| r[0]).collect())
    }

    #[test]
    fn longley_certified() {
        // NIST StRD Longley, certified; data as carried by statsmodels.datasets.longley.
        let (columns, y) = longley();
        let f = multi_regression(&columns, &y, None).unwrap();
        for (got, want) in f.coefficients.iter().zip(&LONGLEY_BETA) {
            close_rel(*got, *want, 1e-11);
        }
        for (got, want) in f.se.iter().zip(&LONGLEY_SE) {
            close_rel(*got, *want, 1e-11);
        }
        close_rel(f.residual_sd, 304.854_073_561_965, 1e-11);
        close_rel(f.r2, 0.995_479_004_577_296, 1e-13);
        assert_eq!(f.df, 9.0);
    }

    #[test]
    fn normal_equations_of_raw_columns_lose_the_digits() {
        let (columns, y) = longley();
        let x = DMatrix::from_fn(16, 7, |r, c| if c == 0 { 1.0 } else { columns[c - 1][r] });
        let naive = (x.transpose() * &x).lu().solve(&(x.transpose() * DVector::from_vec(y))).unwrap();
        let worst = naive.iter().zip(&LONGLEY_BETA).map(|(g, w)| (g / w - 1.0).abs()).fold(0.0, f64::max);
        assert!(worst > 1e-9, "normal equations were off by {worst} only");
    }

    #[test]
    fn one_column_equals_the_line() {
        let x: Vec<f64> = (0..40).map(f64::from).collect();
        let y = ar1(40, 0.3, 8);
        let (line, fit) = (simple_regression(&x, &y).unwrap(), multi_regression(&[&x], &y, None).unwrap());
        close_rel(fit.coefficients[0], line.intercept, 1e-11);
        close_rel(fit.coefficients[1], line.slope, 1e-11);
        close_rel(fit.se[0], line.intercept_se, 1e-11);
        close_rel(fit.se[1], line.slope_se, 1e-11);
        close_rel(fit.r2, line.r2, 1e-10);
    }

    #[test]
    fn whole_weights_equal_repeated_rows() {
        // Identity: a weight of 2 gives the coefficients of the row written twice.
        let x = [0.0, 1.0, 2.0, 3.0, 5.0];
        let y = [1.0, 0.5, 2.5, 2.0, 4.0];
        let weighted = multi_regression(&[&x], &y, Some(&[1.0, 2.0, 1.0, 1.0, 2.0])).unwrap();
        let twice = |v: &[f64]| vec![v[0], v[1], v[1], v[2], v[3], v[4], v[4]];
        let repeated = multi_regression(&[twice(&x)], &twice(&y), None).unwrap();
        for (a, b) in weighted.coefficients.iter().zip(&repeated.coefficients) {
            close_rel(*a, *b, 1e-12);
        }
        let plain = multi_regression(&[&x], &y, None).unwrap();
        assert!((plain.coefficients[1] - weighted.coefficients[1]).abs() > 0.01);
    }

    #[test]
    fn refusals() {
        let x = [1.0, 2.0, 3.0, 4.0, 5.0];
        let y = [1.0, 0.0, 2.0, 1.0, f64::NAN];
        assert!(matches!(multi_regression(&[&x, &x], &y, None), Err(StatsError::Singular { .. })));
        assert!(matches!(multi_regression(&[[2.0; 5]], &y, None), Err(StatsError::NoSpread { .. })));
        assert!(matches!(multi_regression(&[&x[..4]], &y, None), Err(StatsError::LengthMismatch { .. })));
        assert!(matches!(multi_regression(&[&x[..2]], &y[..2], None), Err(StatsError::TooFew { .. })));
        assert!(multi_regression(&[&x], &y, Some(&[1.0, 0.0, 0.0, f64::NAN, 1.0])).is_err());
        let none: [&[f64]; 0] = [];
        let mean_only = multi_regression(&none, &[1.0, 2.0, 3.0], None).unwrap();
        assert_eq!(mean_only.coefficients, vec![2.0]);
        close_rel(mean_only.se[0], (1.0f64 / 3.0).sqrt(), 1e-14);
    }
}
