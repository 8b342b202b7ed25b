//! Regression with a prior on every coefficient: normal prior with mean 0 and a given standard deviation.
//!
//! Posterior precision `X'WX / s^2 + diag(1/prior_sd^2)`, posterior mean `precision^-1 X'W y / s^2` (Hoerl & Kennard,
//! Technometrics 12 (1970) 55-67; Bayes form in Lindley & Smith, J. R. Stat. Soc. B 34 (1972) 1-41). The prior enters as
//! extra rows of a QR, so the condition number is not squared. An infinite prior sd means no prior. No intercept is
//! added: pass a column of ones with an infinite prior. Rows with a missing value are left out.

use nalgebra::{DMatrix, DVector};

use super::design::{Design, rows_of, same_length, solve_qr};
use crate::stats::error::StatsError;

/// Normal posterior of the coefficients.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior {
    /// Rows used.
    pub n: usize,
    /// Posterior means, one per column.
    pub mean: Vec<f64>,
    /// Posterior covariance, as rows.
    pub covariance: Vec<Vec<f64>>,
    /// Effective number of free coefficients, `p - trace(covariance diag(1/prior_sd^2))`.
    pub effective_coefficients: f64,
    /// Residual standard deviation for weight 1 with `n - effective_coefficients`; compare with the noise assumed.
    pub residual_sd: f64,
}

impl Posterior {
    /// Standard deviation of each coefficient.
    pub fn sd(&self) -> Vec<f64> {
        (0..self.mean.len()).map(|i| self.covariance[i][i].max(0.0).sqrt()).collect()
    }

    /// Mean and standard deviation of the combination `sum c_i b_i`; `None` if the lengths differ.
    pub fn combination(&self, c: &[f64]) -> Option<(f64, f64)> {
        if c.len() != self.mean.len() {
            return None;
        }
        let value = c.iter().zip(&self.mean).map(|(a, b)| a * b).sum();
        let variance: f64 = self
            .covariance
            .iter()
            .zip(c)
            .map(|(row, ci)| ci * row.iter().zip(c).map(|(v, cj)| v * cj).sum::<f64>())
            .sum();
        Some((value, variance.max(0.0).sqrt()))
    }
}

/// Fits `y = sum b_j c_j` with noise `noise_sd` (at weight 1) and prior standard deviations `prior_sd`.
///
/// # Errors
/// `LengthMismatch`; `Parameter` for a prior or noise that is not positive; `TooFew` without rows; `NoSpread` for a
/// column of zeros without prior; `Singular` if data and priors together leave a coefficient undetermined.
pub fn ridge<C: AsRef<[f64]>>(
    columns: &[C],
    y: &[f64],
    weights: Option<&[f64]>,
    prior_sd: &[f64],
    noise_sd: f64,
) -> Result<Posterior, StatsError> {
    same_length("columns and priors", columns.len(), prior_sd.len())?;
    if !(noise_sd > 0.0 && noise_sd.is_finite()) {
        return Err(StatsError::Parameter { name: "noise_sd", value: noise_sd, rule: "must be positive" });
    }
    if let Some(bad) = prior_sd.iter().find(|s| s.is_nan() || **s <= 0.0) {
        return Err(StatsError::Parameter { name: "prior_sd", value: *bad, rule: "must be positive" });
    }
    let mut d = Design::new(columns, y, weights)?;
    let (n, p) = d.x.shape();
    if n == 0 || p == 0 {
        return Err(StatsError::TooFew { method: "ridge regression", needed: 1, found: n.min(p) });
    }
    for (i, w) in d.w.iter().enumerate() {
        let root = w.sqrt() / noise_sd;
        d.y[i] *= root;
        d.x.row_mut(i).scale_mut(root);
    }
    let priors: Vec<usize> = (0..p).filter(|&j| prior_sd[j].is_finite()).collect();
    let mut stacked = DMatrix::zeros(n + priors.len(), p);
    stacked.view_mut((0, 0), (n, p)).copy_from(&d.x);
    for (r, &j) in priors.iter().enumerate() {
        stacked[(n + r, j)] = 1.0 / prior_sd[j];
    }
    let mut rhs = DVector::zeros(n + priors.len());
    rhs.rows_mut(0, n).copy_from(&d.y);
    let mut system = Design { x: stacked, y: rhs, w: Vec::new() };
    let scales = system.scale_columns()?;
    let (b, inverse, _) = solve_qr(system.x, &system.y, "ridge regression")?;
    let mean = DVector::from_fn(p, |j, _| b[j] / scales[j]);
    let covariance = DMatrix::from_fn(p, p, |i, j| inverse[(i, j)] / (scales[i] * scales[j]));
    let shrunk: f64 = priors.iter().map(|&j| covariance[(j, j)] / (prior_sd[j] * prior_sd[j])).sum();
    let effective = p as f64 - shrunk;
    let rss = (&d.y - &d.x * &mean).norm_squared() * noise_sd * noise_sd;
    let free = n as f64 - effective;
    Ok(Posterior {
        n,
        mean: mean.iter().copied().collect(),
        covariance: rows_of(&covariance),
        effective_coefficients: effective,
        residual_sd: if free > 0.0 { (rss / free).sqrt() } else { f64::NAN },
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{LONGLEY, LONGLEY_BETA, LONGLEY_SE, ar1, close, close_rel};

    #[test]
    fn without_priors_it_is_least_squares() {
        // NIST StRD Longley, certified: ones as the first column, infinite priors, noise at the certified residual sd.
        let mut columns = vec![vec![1.0; 16]];
        columns.extend((1..7).map(|j| LONGLEY.iter().map(|r| r[j]).collect::<Vec<f64>>()));
        let y: Vec<f64> = LONGLEY.iter().map(|r| r[0]).collect();
        let f = ridge(&columns, &y, None, &[f64::INFINITY; 7], 304.854_073_561_965).unwrap();
        for ((got, want), (sd, se)) in f.mean.iter().zip(&LONGLEY_BETA).zip(f.sd().iter().zip(&LONGLEY_SE)) {
            close_rel(*got, *want, 1e-8);
            close_rel(*sd, *se, 1e-8);
        }
        close_rel(f.residual_sd, 304.854_073_561_965, 1e-9);
        close(f.effective_coefficients, 7.0, 1e-12);
    }

    #[test]
    fn four_by_four_example() {
        // Influence example solved with numpy 2.4.6: (C'C + 0.09 I)^-1 C'(-y0).
        let columns = [
            [-2.0, 0.18, 0.12, 0.10],
            [0.15, -2.2, 0.16, 0.12],
            [0.10, 0.14, -1.8, 0.15],
            [0.12, 0.11, 0.13, -2.1],
        ];
        let y: Vec<f64> = [1.5, -0.8, 0.4, -1.1].iter().map(|v| -v).collect();
        let f = ridge(&columns, &y, None, &[1.0 / 0.3; 4], 1.0).unwrap();
        let want = [0.692_514_577_616, -0.313_416_885_088, 0.200_362_466_317, -0.485_328_555_659];
        for (got, want) in f.mean.iter().zip(&want) {
            close(*got, *want, 1e-11);
        }
    }

    #[test]
    fn one_column_closed_form() {
        // Precision-weighted mean of data and prior: n 4, mean 2, noise 1, prior sd 0.5: 4*2/(4+4) = 1, sd 1/sqrt 8.
        let f = ridge(&[[1.0; 5]], &[1.0, 3.0, 2.0, f64::NAN, 2.0], None, &[0.5], 1.0).unwrap();
        assert_eq!(f.n, 4);
        close(f.mean[0], 1.0, 1e-14);
        close(f.sd()[0], 8f64.sqrt().recip(), 1e-14);
        close(f.effective_coefficients, 0.5, 1e-14);
    }

    #[test]
    fn prior_tames_columns_that_nearly_agree() {
        // y = 1*c1 + 0*c2 + noise, c2 = c1 + tiny: least squares throws the two apart, the prior shares them.
        let c1 = ar1(60, 0.0, 3);
        let c2: Vec<f64> = c1.iter().zip(ar1(60, 0.0, 4)).map(|(a, e)| a + 1e-3 * e).collect();
        let y: Vec<f64> = c1.iter().zip(ar1(60, 0.0, 5)).map(|(a, e)| a + 0.5 * e).collect();
        let naive = ridge(&[&c1, &c2], &y, None, &[f64::INFINITY; 2], 0.5).unwrap();
        let tamed = ridge(&[&c1, &c2], &y, None, &[1.0; 2], 0.5).unwrap();
        assert!(naive.mean.iter().any(|b| b.abs() > 5.0), "{:?}", naive.mean);
        assert!(tamed.mean.iter().all(|b| (b - 0.5).abs() < 0.3), "{:?}", tamed.mean);
        // What the data do determine, the sum, is left alone and known well.
        let (sum, sd) = tamed.combination(&[1.0, 1.0]).unwrap();
        close(sum, 1.0, 4.0 * sd);
        assert!(sd < 0.1 && tamed.sd()[0] > 0.5);
        assert_eq!(tamed.combination(&[1.0]), None);
    }

    #[test]
    fn refusals() {
        let c = [[1.0, 2.0, 3.0]];
        assert!(ridge(&c, &[1.0, 2.0, 3.0], None, &[0.0], 1.0).is_err());
        assert!(ridge(&c, &[1.0, 2.0, 3.0], None, &[1.0], 0.0).is_err());
        assert!(ridge(&c, &[1.0, 2.0, 3.0], None, &[1.0, 1.0], 1.0).is_err());
        assert!(ridge(&c, &[f64::NAN; 3], None, &[1.0], 1.0).is_err());
        assert!(ridge(&[[0.0; 3]], &[1.0, 2.0, 3.0], None, &[f64::INFINITY], 1.0).is_err());
        assert_eq!(ridge(&[[0.0; 3]], &[1.0, 2.0, 3.0], None, &[2.0], 1.0).unwrap().sd(), vec![2.0]);
    }
}
