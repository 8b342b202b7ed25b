//! Do two ways of measuring agree?
//!
//! * Bland-Altman (Lancet 1986 i 307-310): bias = mean difference, limits = bias +- 1.96 s (the paper rounds to 2 s),
//!   `se(bias) = s/sqrt(n)`, `se(limit) = sqrt(3 s^2/n)`;
//! * exchange of two devices A and B between two places: with `D` = reading at place 1 minus reading at place 2, the
//!   places differ by `(D_before + D_after)/2` and the devices by `(D_before - D_after)/2`;
//! * intraclass correlation (Shrout & Fleiss, Psychol. Bull. 86 (1979) 420-428), see [`icc`];
//! * repeatability from repeats: pooled within-group standard deviation.
//!
//! A high correlation is no agreement: two devices that differ by a constant correlate perfectly.

use super::dist::student_quantile;
use super::error::StatsError;
use super::moments::moments;

/// Agreement of paired readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlandAltman {
    /// Complete pairs.
    pub n: usize,
    /// Mean of first minus second.
    pub bias: f64,
    /// Standard deviation of the differences.
    pub sd: f64,
    /// Lower limit of agreement.
    pub low: f64,
    /// Upper limit of agreement.
    pub high: f64,
    /// Standard error of the bias.
    pub bias_se: f64,
    /// Standard error of either limit.
    pub limit_se: f64,
}

impl BlandAltman {
    /// Half width of the two-sided `confidence` interval for a quantity with standard error `se` (bias or limit).
    pub fn half_width(&self, se: f64, confidence: f64) -> f64 {
        student_quantile(0.5 + confidence / 2.0, self.n as f64 - 1.0) * se
    }
}

/// Bias and limits of agreement of the complete pairs; `factor` is 1.96, or 2 as in the paper.
///
/// # Errors
/// `LengthMismatch`; `TooFew` for fewer than two complete pairs.
pub fn bland_altman(a: &[f64], b: &[f64], factor: f64) -> Result<BlandAltman, StatsError> {
    if a.len() != b.len() {
        return Err(StatsError::LengthMismatch { what: "readings", left: a.len(), right: b.len() });
    }
    let d: Vec<f64> = a.iter().zip(b).map(|(x, y)| x - y).collect();
    let found = d.iter().filter(|v| v.is_finite()).count();
    let m = moments(&d).filter(|m| m.n > 1).ok_or(StatsError::TooFew {
        method: "agreement",
        needed: 2,
        found,
    })?;
    let n = m.n as f64;
    Ok(BlandAltman {
        n: m.n,
        bias: m.mean,
        sd: m.sd,
        low: m.mean - factor * m.sd,
        high: m.mean + factor * m.sd,
        bias_se: m.sd / n.sqrt(),
        limit_se: (3.0 * m.sd * m.sd / n).sqrt(),
    })
}

/// What an exchange of two devices between two places tells apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exchange {
    /// Place 1 minus place 2.
    pub places: f64,
    /// Device first at place 1 minus the other device.
    pub devices: f64,
    /// Standard uncertainty of either.
    pub u: f64,
}

/// Separates places and devices from the differences before and after the exchange, with their standard uncertainties.
///
/// Both recordings must be made in the same condition. Missing in, missing out.
pub fn exchange(before: f64, u_before: f64, after: f64, u_after: f64) -> Exchange {
    Exchange {
        places: 0.5 * (before + after),
        devices: 0.5 * (before - after),
        u: 0.5 * u_before.hypot(u_after),
    }
}

/// Pooled standard deviation of repeats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeatability {
    /// Groups with at least two usable repeats.
    pub groups: usize,
    /// Degrees of freedom, sum of (repeats - 1).
    pub df: f64,
    /// Standard deviation of one measurement about its group.
    pub sd: f64,
    /// Largest difference of two single measurements expected in 95 % of the cases, `1.96 sqrt(2) sd`.
    pub limit: f64,
}

/// Pools repeats of several groups whose levels may differ: `sqrt(sum df_g s_g^2 / sum df_g)`.
///
/// # Errors
/// `TooFew` if no group has two usable repeats.
pub fn repeatability<C: AsRef<[f64]>>(groups: &[C]) -> Result<Repeatability, StatsError> {
    let usable: Vec<_> = groups.iter().filter_map(|g| moments(g.as_ref())).filter(|m| m.n > 1).collect();
    let df: f64 = usable.iter().map(|m| m.n as f64 - 1.0).sum();
    if usable.is_empty() {
        return Err(StatsError::TooFew { method: "repeatability", needed: 2, found: groups.len().min(1) });
    }
    let sd = (usable.iter().map(|m| (m.n as f64 - 1.0) * m.sd * m.sd).sum::<f64>() / df).sqrt();
    Ok(Repeatability { groups: usable.len(), df, sd, limit: 1.96 * 2f64.sqrt() * sd })
}

/// Intraclass correlations and the mean squares behind them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Icc {
    /// Mean square between targets, within targets, between raters, and error.
    pub mean_squares: [f64; 4],
    /// One-way, one rater: each target by other raters.
    pub one_way: f64,
    /// Two-way, raters a sample: absolute agreement of single readings.
    pub agreement: f64,
    /// Two-way, raters fixed: agreement apart from constant offsets.
    pub consistency: f64,
    /// The same three for the mean over the raters.
    pub of_means: [f64; 3],
}

/// Intraclass correlations of a complete table.
///
/// # Shape
/// `rows`: one row per target (thing measured), one column per rater (device). A transposed table gives plausible wrong
/// numbers.
///
/// # Errors
/// `TooFew` for fewer than two rows or columns; `LengthMismatch`; `Missing`; `NoSpread` for a constant table.
pub fn icc<C: AsRef<[f64]>>(rows: &[C]) -> Result<Icc, StatsError> {
    let (n, k) = (rows.len(), rows.first().map_or(0, |r| r.as_ref().len()));
    if n < 2 || k < 2 {
        return Err(StatsError::TooFew { method: "intraclass correlation", needed: 2, found: n.min(k) });
    }
    for (i, r) in rows.iter().enumerate() {
        if r.as_ref().len() != k {
            return Err(StatsError::LengthMismatch { what: "rows", left: k, right: r.as_ref().len() });
        }
        if let Some(j) = r.as_ref().iter().position(|v| !v.is_finite()) {
            return Err(StatsError::Missing { what: "the table", position: i * k + j });
        }
    }
    let (nf, kf) = (n as f64, k as f64);
    // Differences to one reading: a far offset would eat the digits of the means.
    let origin = rows[0].as_ref()[0];
    let at = |i: usize, j: usize| rows[i].as_ref()[j] - origin;
    let row_mean: Vec<f64> = (0..n).map(|i| (0..k).map(|j| at(i, j)).sum::<f64>() / kf).collect();
    let col_mean: Vec<f64> = (0..k).map(|j| (0..n).map(|i| at(i, j)).sum::<f64>() / nf).collect();
    let grand = row_mean.iter().sum::<f64>() / nf;
    let (mut within, mut error) = (0.0, 0.0);
    for (i, r) in row_mean.iter().enumerate() {
        for (j, c) in col_mean.iter().enumerate() {
            within += (at(i, j) - r).powi(2);
            error += (at(i, j) - r - c + grand).powi(2);
        }
    }
    let b = kf * row_mean.iter().map(|m| (m - grand).powi(2)).sum::<f64>() / (nf - 1.0);
    let j = nf * col_mean.iter().map(|m| (m - grand).powi(2)).sum::<f64>() / (kf - 1.0);
    let w = within / (nf * (kf - 1.0));
    let e = error / ((nf - 1.0) * (kf - 1.0));
    if b + w <= 0.0 {
        return Err(StatsError::NoSpread { what: "the table" });
    }
    Ok(Icc {
        mean_squares: [b, w, j, e],
        one_way: (b - w) / (b + (kf - 1.0) * w),
        agreement: (b - e) / (b + (kf - 1.0) * e + kf * (j - e) / nf),
        consistency: (b - e) / (b + (kf - 1.0) * e),
        of_means: [(b - w) / b, (b - e) / (b + (j - e) / nf), (b - e) / b],
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{close, noise};

    const WRIGHT: [f64; 17] = [
        494., 395., 516., 434., 476., 557., 413., 442., 650., 433., 417., 656., 267., 478., 178., 423., 427.,
    ];
    const MINI: [f64; 17] = [
        512., 430., 520., 428., 500., 600., 364., 380., 658., 445., 432., 626., 260., 477., 259., 350., 451.,
    ];
    const JUDGES: [[f64; 4]; 6] = [
        [9., 2., 5., 8.],
        [6., 1., 3., 2.],
        [8., 4., 6., 8.],
        [7., 1., 2., 6.],
        [10., 5., 6., 9.],
        [6., 2., 4., 7.],
    ];

    #[test]
    fn bland_altman_1986() {
        // Lancet 1986: bias -2.1, s 38.8, interval of the lower limit -114.3 to -45.1; from memory: limits -79.7 and 75.5
        // (from rounded inputs), interval of the bias -22.0 to 17.8.
        let f = bland_altman(&WRIGHT, &MINI, 2.0).unwrap();
        close(f.bias, -2.1, 0.05);
        close(f.sd, 38.8, 0.05);
        close(f.low, -79.7, 0.25);
        close(f.high, 75.5, 0.25);
        let half = f.half_width(f.bias_se, 0.95);
        close(f.bias - half, -22.0, 0.25);
        close(f.bias + half, 17.8, 0.25);
        let half = f.half_width(f.limit_se, 0.95);
        close(f.low - half, -114.3, 0.25);
        close(f.low + half, -45.1, 0.25);
        // Recomputed with numpy 2.4.6.
        close(f.sd, 38.765_129_873_6, 1e-9);
        close(bland_altman(&WRIGHT, &MINI, 1.96).unwrap().low, -78.097_301_6, 1e-6);
    }

    #[test]
    fn correlation_calls_a_constant_offset_perfect() {
        let a = noise(30, 1);
        let b: Vec<f64> = a.iter().map(|v| v + 5.0).collect();
        let table: Vec<[f64; 2]> = a.iter().zip(&b).map(|(x, y)| [*x, *y]).collect();
        let f = icc(&table).unwrap();
        close(f.consistency, 1.0, 1e-12);
        assert!(f.agreement < 0.1, "absolute agreement {}", f.agreement);
        close(bland_altman(&a, &b, 1.96).unwrap().bias, -5.0, 1e-12);
    }

    #[test]
    fn shrout_fleiss_1979() {
        // Mean squares 11.24 6.26 32.49 1.02; ICC .17 .29 .71, of means .44 .62 .91.
        let f = icc(&JUDGES).unwrap();
        for (got, want) in f.mean_squares.iter().zip([11.24, 6.26, 32.49, 1.02]) {
            close(*got, want, 5e-3);
        }
        let all = [f.one_way, f.agreement, f.consistency, f.of_means[0], f.of_means[1], f.of_means[2]];
        for (got, want) in all.iter().zip([0.17, 0.29, 0.71, 0.44, 0.62, 0.91]) {
            close(*got, want, 5e-3);
        }
        close(f.one_way, 448.0 / 2703.0, 1e-12);
        close(f.agreement, 184.0 / 635.0, 1e-12);
        close(f.consistency, 920.0 / 1287.0, 1e-12);
        let transposed: Vec<Vec<f64>> = (0..4).map(|j| JUDGES.iter().map(|r| r[j]).collect()).collect();
        assert!(
            (icc(&transposed).unwrap().consistency - f.consistency).abs() > 0.02,
            "a transposed table must differ"
        );
    }

    #[test]
    fn far_offset_of_simon_and_lesage() {
        // NIST StRD SmLs07, certified F = 21: 9 treatments x 21 about 1e12, tenths 4 3 5 3 5 3 5 3 5, then -1 and +1 in turn.
        let rows: Vec<Vec<f64>> = [4, 3, 5, 3, 5, 3, 5, 3, 5]
            .iter()
            .map(|l| {
                (0..21).map(|i| 1e12 + f64::from(l + [1, -1][i % 2] * i32::from(i > 0)) / 10.0).collect()
            })
            .collect();
        let [b, w, ..] = icc(&rows).unwrap().mean_squares;
        close(b / w, 21.0, 0.1);
        // The short cut, sums of squares about zero, has no digit left.
        let square = |v: f64| v * v;
        let correction = square(rows.iter().flatten().sum::<f64>()) / 189.0;
        let between = rows.iter().map(|r| square(r.iter().sum())).sum::<f64>() / 21.0 - correction;
        let total = rows.iter().flatten().map(|v| v * v).sum::<f64>() - correction;
        let naive = (between / 8.0) / ((total - between) / 180.0);
        assert!(!(15.0..30.0).contains(&naive), "naive F {naive}");
    }

    #[test]
    fn exchange_separates_place_and_device() {
        // Places 10 and 8, device errors +0.5 and -0.3: before 10.5 - 7.7, after 9.7 - 8.5.
        let f = exchange(10.5 - 7.7, 0.1, 9.7 - 8.5, 0.1);
        close(f.places, 2.0, 1e-12);
        close(f.devices, 0.8, 1e-12);
        close(f.u, 0.1 / 2f64.sqrt(), 1e-12);
        // The single reading is off by the device difference.
        assert!((2.8 - f.places).abs() > 0.7);
        assert!(exchange(f64::NAN, 0.1, 1.0, 0.1).places.is_nan());
    }

    #[test]
    fn repeats_are_pooled_about_their_own_level() {
        // By hand: groups (1, 3), (10, 12, 14): 2 + 8 over 1 + 2 degrees of freedom.
        let f = repeatability(&[vec![1.0, 3.0], vec![10.0, 12.0, 14.0], vec![7.0, f64::NAN]]).unwrap();
        assert_eq!((f.groups, f.df), (2, 3.0));
        close(f.sd, (10.0f64 / 3.0).sqrt(), 1e-12);
        // Thrown together, the levels would pass for scatter.
        assert!(super::super::moments::sd(&[1.0, 3.0, 10.0, 12.0, 14.0]).unwrap() > 3.0 * f.sd - 0.1);
    }

    #[test]
    fn refusals() {
        assert!(bland_altman(&[1.0], &[1.0, 2.0], 2.0).is_err());
        assert!(bland_altman(&[1.0, f64::NAN], &[1.0, 2.0], 2.0).is_err());
        assert!(icc(&[[1.0, 2.0]]).is_err() && icc(&[vec![1.0, 2.0], vec![1.0]]).is_err());
        assert!(icc(&[[1.0, f64::NAN], [1.0, 2.0]]).is_err() && icc(&[[1.0; 2]; 2]).is_err());
        assert!(repeatability(&[[1.0]]).is_err());
        let none: [&[f64]; 0] = [];
        assert!(repeatability(&none).is_err() && icc(&none).is_err());
    }
}
