//! Trend across a handful of occasions, without assuming a distribution.
//!
//! * Mann-Kendall (Mann, Econometrica 13 (1945) 245-259; Kendall 1975): `S = sum_{i<j} sign(x_j - x_i)`,
//!   `Var S = [n(n-1)(2n+5) - sum_ties t(t-1)(2t+5)]/18`, `z = (S -+ 1)/sqrt(Var S)`; up to 10 values without ties the
//!   exact distribution of `S` (counting permutations by inversions);
//! * Theil-Sen slope (Sen, JASA 63 (1968) 1379-1389): median of all `(y_j - y_i)/(t_j - t_i)`; interval after Gilbert,
//!   Statistical Methods for Environmental Pollution Monitoring (1987), section 16.5: with `C = z sqrt(Var S)` and `N`
//!   slopes the ordered slopes number `(N - C)/2` and `(N + C)/2 + 1`, interpolated;
//! * line `y = a + b t` with `a = median(y) - b median(t)` (Conover);
//! * forecast: where the line meets a limit, refused unless there are enough points and a significant trend.
//!
//! With `n` values the smallest possible two-sided p is `2/n!`: fewer than 5 can never be significant at 5 %. A step
//! looks like a trend: restart the series after one. Pairs with a missing member are left out.

use super::dist::{normal_quantile, normal_two_sided};
use super::error::StatsError;
use super::robust::{median, median_of_scratch};

/// Fewest values for which a trend can be significant at 5 %.
pub const FEWEST_FOR_TREND: usize = 5;

/// Mann-Kendall test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannKendall {
    /// Usable values.
    pub n: usize,
    /// Rising minus falling pairs.
    pub s: i64,
    /// Variance of `s` without trend, corrected for ties.
    pub variance: f64,
    /// Standardised `s` with continuity correction.
    pub z: f64,
    /// `s` over the number of pairs.
    pub tau: f64,
    /// Two-sided p by the normal approximation.
    pub p_normal: f64,
    /// Two-sided p from the exact distribution, for 2 to 10 values without ties.
    pub p_exact: Option<f64>,
}

impl MannKendall {
    /// The exact two-sided p if there is one, else the normal approximation.
    pub fn p(&self) -> f64 {
        self.p_exact.unwrap_or(self.p_normal)
    }
}

/// Mann-Kendall test of the usable values in their order.
///
/// # Errors
/// `TooFew` for fewer than two usable values.
pub fn mann_kendall(x: &[f64]) -> Result<MannKendall, StatsError> {
    let mut v = super::robust::finite(x);
    let n = v.len();
    if n < 2 {
        return Err(StatsError::TooFew { method: "Mann-Kendall", needed: 2, found: n });
    }
    let mut s = 0i64;
    for i in 0..n {
        for j in i + 1..n {
            s += i64::from(v[j] > v[i]) - i64::from(v[j] < v[i]);
        }
    }
    v.sort_by(f64::total_cmp);
    let ties: Vec<f64> = v.chunk_by(|a, b| a == b).map(|c| c.len() as f64).collect();
    let term = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    let variance = (term(n as f64) - ties.iter().map(|t| term(*t)).sum::<f64>()) / 18.0;
    let z = if s == 0 || variance <= 0.0 { 0.0 } else { (s - s.signum()) as f64 / variance.sqrt() };
    let tied = ties.len() < n;
    Ok(MannKendall {
        n,
        s,
        variance,
        z,
        tau: s as f64 / (n * (n - 1) / 2) as f64,
        p_normal: normal_two_sided(z),
        p_exact: (n <= 10 && !tied).then(|| exact_two_sided(n, s)),
    })
}

/// `P(|S| >= |s|)` over all orders of `n` distinct values: counts of permutations by number of falling pairs.
fn exact_two_sided(n: usize, s: i64) -> f64 {
    let mut counts = vec![1.0f64];
    for m in 2..=n {
        let mut next = vec![0.0; counts.len() + m - 1];
        for (k, c) in counts.iter().enumerate() {
            next[k..k + m].iter_mut().for_each(|v| *v += c);
        }
        counts = next;
    }
    let pairs = (n * (n - 1) / 2) as i64;
    let total: f64 = counts.iter().sum();
    let extreme: f64 = counts
        .iter()
        .enumerate()
        .filter(|(k, _)| (pairs - 2 * *k as i64).abs() >= s.abs())
        .map(|(_, c)| c)
        .sum();
    extreme / total
}

/// Theil-Sen line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TheilSen {
    /// Points used.
    pub n: usize,
    /// Slopes between points of different `t`.
    pub pairs: usize,
    /// Median slope.
    pub slope: f64,
    /// Lower end of the slope interval.
    pub slope_low: f64,
    /// Upper end of the slope interval.
    pub slope_high: f64,
    /// `median(y) - slope median(t)`.
    pub intercept: f64,
    /// `median(t)`.
    pub t_median: f64,
    /// `median(y)`.
    pub y_median: f64,
    /// Smallest `t`.
    pub t_first: f64,
    /// Largest `t`.
    pub t_last: f64,
    /// Mann-Kendall test of `y` in the order of `t`.
    pub trend: MannKendall,
}

impl TheilSen {
    /// Value of the line at `t`.
    pub fn at(&self, t: f64) -> f64 {
        self.intercept + self.slope * t
    }
}

/// Fits a Theil-Sen line with a two-sided slope interval at `confidence` (0 to 1).
///
/// # Errors
/// `LengthMismatch`; `TooFew` for fewer than two complete points; `NoSpread` if all `t` are equal; `Parameter`.
pub fn theil_sen(t: &[f64], y: &[f64], confidence: f64) -> Result<TheilSen, StatsError> {
    if t.len() != y.len() {
        return Err(StatsError::LengthMismatch { what: "t and y", left: t.len(), right: y.len() });
    }
    if !(confidence > 0.0 && confidence < 1.0) {
        return Err(StatsError::Parameter {
            name: "confidence",
            value: confidence,
            rule: "must lie between 0 and 1",
        });
    }
    let mut points: Vec<(f64, f64)> =
        t.iter().copied().zip(y.iter().copied()).filter(|(a, b)| a.is_finite() && b.is_finite()).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (ts, ys): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let trend = mann_kendall(&ys)?;
    let mut slopes = Vec::with_capacity(points.len() * (points.len() - 1) / 2);
    for (i, a) in points.iter().enumerate() {
        slopes.extend(points[i + 1..].iter().filter(|b| b.0 > a.0).map(|b| (b.1 - a.1) / (b.0 - a.0)));
    }
    let slope = median_of_scratch(&mut slopes).ok_or(StatsError::NoSpread { what: "t" })?;
    slopes.sort_by(f64::total_cmp);
    let count = slopes.len() as f64;
    let c = normal_quantile(0.5 + confidence / 2.0) * trend.variance.max(0.0).sqrt();
    let (t_median, y_median) = (median(&ts).unwrap_or(f64::NAN), median(&ys).unwrap_or(f64::NAN));
    Ok(TheilSen {
        n: points.len(),
        pairs: slopes.len(),
        slope,
        slope_low: at_rank(&slopes, (count - c) / 2.0),
        slope_high: at_rank(&slopes, (count + c) / 2.0 + 1.0),
        intercept: y_median - slope * t_median,
        t_median,
        y_median,
        t_first: ts[0],
        t_last: ts[ts.len() - 1],
        trend,
    })
}

/// Value at a 1-based, possibly fractional rank; infinite beyond the ends, where the data set no bound.
fn at_rank(sorted: &[f64], rank: f64) -> f64 {
    if rank < 1.0 {
        return f64::NEG_INFINITY;
    }
    if rank > sorted.len() as f64 {
        return f64::INFINITY;
    }
    let k = rank.floor() as usize;
    let part = rank - rank.floor();
    if part > 0.0 { sorted[k - 1] + part * (sorted[k] - sorted[k - 1]) } else { sorted[k - 1] }
}

/// When a trend reaches a limit, or why that is not said.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Forecast {
    /// Fewer than [`FEWEST_FOR_TREND`] points.
    TooFew {
        /// Points there are.
        n: usize,
    },
    /// The trend is not significant.
    NoTrend {
        /// Two-sided p of the trend.
        p: f64,
    },
    /// The line has met the limit already.
    Reached,
    /// The line moves away from the limit.
    Never,
    /// The line meets the limit more than one observed span after the last point.
    BeyondReach {
        /// Last `t` about which something may be said.
        horizon: f64,
    },
    /// The line meets the limit.
    At {
        /// Where the line meets the limit.
        t: f64,
        /// Earliest, by the steeper end of the slope interval.
        low: f64,
        /// Latest, by the flatter end; infinite if that end moves away from the limit.
        high: f64,
    },
}

/// Forecasts where the line meets `limit`; a trend counts as significant at `alpha`.
///
/// The interval turns the line about `(t_median, y_median)` by the ends of the slope interval. Only a significant trend
/// of at least [`FEWEST_FOR_TREND`] points is carried on, and never further than one observed span.
pub fn forecast(line: &TheilSen, limit: f64, alpha: f64) -> Forecast {
    if line.n < FEWEST_FOR_TREND {
        return Forecast::TooFew { n: line.n };
    }
    let p = line.trend.p();
    if p.is_nan() || p > alpha || line.slope == 0.0 {
        return Forecast::NoTrend { p };
    }
    let crossing = |slope: f64| line.t_median + (limit - line.y_median) / slope;
    let t = crossing(line.slope);
    let rising = line.slope > 0.0;
    let now = line.at(line.t_last);
    let start = line.at(line.t_first);
    if (rising && now >= limit && start <= limit) || (!rising && now <= limit && start >= limit) {
        return Forecast::Reached;
    }
    if t.is_nan() || t <= line.t_last {
        return Forecast::Never;
    }
    let horizon = line.t_last + (line.t_last - line.t_first);
    if t > horizon {
        return Forecast::BeyondReach { horizon };
    }
    let (steep, flat) =
        if rising { (line.slope_high, line.slope_low) } else { (line.slope_low, line.slope_high) };
    let toward = if rising { flat > 0.0 } else { flat < 0.0 };
    Forecast::At { t, low: crossing(steep), high: if toward { crossing(flat) } else { f64::INFINITY } }
}

#[cfg(test)]
#[path = "trend_tests.rs"]
mod tests;
