//! How much of the scatter is the measurement? Crossed study of parts, operators and trials, by analysis of variance.
//!
//! Balanced two-way random model with interaction (AIAG Measurement Systems Analysis, 4th ed.): sums of squares for
//! part, operator, interaction and repeatability; the interaction is pooled into repeatability when its p exceeds
//! `pool_above` (0.25 in the manual, 0.05 elsewhere: state which). Negative variance components are set to 0.
//!
//! Parts are the things measured, operators whoever or whatever measures, trials the repeats. The share of the tolerance,
//! `6 s / width`, says more than the share of the scatter between the few parts at hand. Missing values are refused.

use super::dist::fisher_sf;
use super::error::StatsError;

/// Variance components of a crossed study.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaugeStudy {
    /// Sums of squares: part, operator, interaction, repeatability.
    pub sums: [f64; 4],
    /// F of the interaction and its p.
    pub interaction: (f64, f64),
    /// Whether the interaction was pooled into repeatability.
    pub pooled: bool,
    /// Variance of repeated measurements.
    pub repeatability: f64,
    /// Variance between operators, interaction included.
    pub reproducibility: f64,
    /// Their sum.
    pub gauge: f64,
    /// Variance between parts.
    pub part: f64,
    /// Everything.
    pub total: f64,
}

impl GaugeStudy {
    /// Share of the study scatter, `100 sqrt(gauge/total)`, in percent.
    pub fn percent_of_study(&self) -> f64 {
        100.0 * (self.gauge / self.total).sqrt()
    }

    /// Share of a tolerance of full width `width`, `100 * 6 s / width`, in percent.
    pub fn percent_of_tolerance(&self, width: f64) -> f64 {
        100.0 * 6.0 * self.gauge.sqrt() / width
    }

    /// Number of distinct categories, `1.41 s_part / s_gauge` cut to a whole number (infinite without gauge scatter).
    pub fn categories(&self) -> f64 {
        (1.41 * (self.part / self.gauge).sqrt()).floor()
    }
}

/// Analyses a crossed study.
///
/// # Shape
/// `readings[operator][trial][part]`, complete and balanced: at least two of each.
///
/// # Errors
/// `TooFew`, `LengthMismatch`, `Missing`; `NoSpread` if all readings are equal.
pub fn gauge_study(readings: &[Vec<Vec<f64>>], pool_above: f64) -> Result<GaugeStudy, StatsError> {
    let (o, t, p) = shape(readings)?;
    let (of, tf, pf) = (o as f64, t as f64, p as f64);
    // Differences to one reading: a far offset would eat the digits of the means.
    let origin = readings[0][0][0];
    let cell = |i: usize, j: usize| readings[i].iter().map(|r| r[j] - origin).sum::<f64>() / tf;
    let cells: Vec<Vec<f64>> = (0..o).map(|i| (0..p).map(|j| cell(i, j)).collect()).collect();
    let operator: Vec<f64> = cells.iter().map(|c| c.iter().sum::<f64>() / pf).collect();
    let part: Vec<f64> = (0..p).map(|j| cells.iter().map(|c| c[j]).sum::<f64>() / of).collect();
    let grand = operator.iter().sum::<f64>() / of;
    let square = |v: &[f64]| v.iter().map(|m| (m - grand).powi(2)).sum::<f64>();
    let mut interaction = 0.0;
    let mut within = 0.0;
    for i in 0..o {
        for j in 0..p {
            interaction += (cells[i][j] - operator[i] - part[j] + grand).powi(2);
            within += readings[i].iter().map(|r| (r[j] - origin - cells[i][j]).powi(2)).sum::<f64>();
        }
    }
    let sums = [of * tf * square(&part), pf * tf * square(&operator), tf * interaction, within];
    if sums.iter().sum::<f64>() <= 0.0 {
        return Err(StatsError::NoSpread { what: "the study" });
    }
    let df = [pf - 1.0, of - 1.0, (pf - 1.0) * (of - 1.0), pf * of * (tf - 1.0)];
    let ms: Vec<f64> = sums.iter().zip(df).map(|(s, d)| s / d).collect();
    let f = ms[2] / ms[3];
    let prob = fisher_sf(f, df[2], df[3]);
    let pooled = prob > pool_above;
    let (error, repeatability) = if pooled {
        let m = (sums[2] + sums[3]) / (df[2] + df[3]);
        (m, m)
    } else {
        (ms[2], ms[3])
    };
    let cross = if pooled { 0.0 } else { ((ms[2] - ms[3]) / tf).max(0.0) };
    let reproducibility = ((ms[1] - error) / (pf * tf)).max(0.0) + cross;
    let part = ((ms[0] - error) / (of * tf)).max(0.0);
    let gauge = repeatability + reproducibility;
    Ok(GaugeStudy {
        sums,
        interaction: (f, prob),
        pooled,
        repeatability,
        reproducibility,
        gauge,
        part,
        total: gauge + part,
    })
}

fn shape(readings: &[Vec<Vec<f64>>]) -> Result<(usize, usize, usize), StatsError> {
    let o = readings.len();
    let t = readings.first().map_or(0, Vec::len);
    let p = readings.first().and_then(|r| r.first()).map_or(0, Vec::len);
    let least = o.min(t).min(p);
    if least < 2 {
        return Err(StatsError::TooFew { method: "gauge study", needed: 2, found: least });
    }
    let mut position = 0;
    for operator in readings {
        if operator.len() != t {
            return Err(StatsError::LengthMismatch {
                what: "trials per operator",
                left: t,
                right: operator.len(),
            });
        }
        for trial in operator {
            if trial.len() != p {
                return Err(StatsError::LengthMismatch {
                    what: "parts per trial",
                    left: p,
                    right: trial.len(),
                });
            }
            if let Some(k) = trial.iter().position(|v| !v.is_finite()) {
                return Err(StatsError::Missing { what: "the study", position: position + k });
            }
            position += p;
        }
    }
    Ok((o, t, p))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::close;

    /// AIAG MSA 4th ed. example: 3 appraisers, 3 trials, 10 parts.
    const AIAG: [[f64; 10]; 9] = [
        [0.29, -0.56, 1.34, 0.47, -0.80, 0.02, 0.59, -0.31, 2.26, -1.36],
        [0.41, -0.68, 1.17, 0.50, -0.92, -0.11, 0.75, -0.20, 1.99, -1.25],
        [0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31],
        [0.08, -0.47, 1.19, 0.01, -0.56, -0.20, 0.47, -0.63, 1.80, -1.68],
        [0.25, -1.22, 0.94, 1.03, -1.20, 0.22, 0.55, 0.08, 2.12, -1.62],
        [0.07, -0.68, 1.34, 0.20, -1.28, 0.06, 0.83, -0.34, 2.19, -1.50],
        [0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49],
        [-0.11, -1.13, 1.09, 0.20, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77],
        [-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16],
    ];

    fn aiag() -> Vec<Vec<Vec<f64>>> {
        AIAG.chunks(3).map(|c| c.iter().map(|r| r.to_vec()).collect()).collect()
    }

    #[test]
    fn aiag_example_pooled() {
        // AIAG MSA 4th ed. (several public copies): F 0.434 (p 0.974), components 0.03997 0.05146 0.09143 1.08645 1.17788,
        // 27.86 % of the study, 4 categories.
        let f = gauge_study(&aiag(), 0.25).unwrap();
        assert!(f.pooled);
        close(f.interaction.0, 0.434, 5e-4);
        close(f.interaction.1, 0.974, 5e-4);
        close(f.repeatability, 0.039_97, 5e-6);
        close(f.reproducibility, 0.051_46, 5e-6);
        close(f.gauge, 0.091_43, 5e-6);
        close(f.part, 1.086_45, 5e-6);
        close(f.total, 1.177_88, 5e-6);
        close(f.percent_of_study(), 27.86, 5e-3);
        assert_eq!(f.categories(), 4.0);
        // Sums of squares recomputed with numpy 2.4.6.
        for (got, want) in
            f.sums.iter().zip([88.361_934_444_4, 3.167_262_222_22, 0.358_982_222_222, 2.758_933_333_33])
        {
            close(*got, want, 1e-9);
        }
        close(f.percent_of_tolerance(8.0), 600.0 * 0.091_428_537_511_9f64.sqrt() / 8.0, 1e-8);
    }

    #[test]
    fn unpooled_components() {
        // Same data without pooling, recomputed with numpy 2.4.6: repeatability 0.0459822, negative interaction set to 0.
        let f = gauge_study(&aiag(), 1.0).unwrap();
        assert!(!f.pooled);
        close(f.repeatability, 0.045_982_222_222_2, 1e-12);
        close(f.reproducibility, 0.052_122_921_810_7, 1e-12);
        close(f.part, 1.088_672_139_92, 1e-10);
    }

    #[test]
    fn averaging_the_operators_away_hides_their_difference() {
        // The plain scatter of one operator's repeats (repeatability) is less than half of the gauge variance.
        let f = gauge_study(&aiag(), 0.25).unwrap();
        assert!(f.repeatability < 0.5 * f.gauge);
    }

    #[test]
    fn refusals() {
        let mut bad = aiag();
        bad[1][2][3] = f64::NAN;
        assert_eq!(gauge_study(&bad, 0.25), Err(StatsError::Missing { what: "the study", position: 53 }));
        bad[1].pop();
        assert!(gauge_study(&bad, 0.25).is_err());
        assert!(gauge_study(&aiag()[..1], 0.25).is_err() && gauge_study(&[], 0.25).is_err());
        assert!(gauge_study(&vec![vec![vec![1.0; 3]; 2]; 2], 0.25).is_err());
    }
}
