//! Location and scale that one bad value cannot move.
//!
//! * median: middle of the ordered values, mean of the two middle ones for an even count;
//! * quantile: linear interpolation at rank `(n-1) q` (type 7 of Hyndman & Fan, Am. Stat. 50 (1996) 361-365);
//! * MAD sigma: `1.4826 * median|x - median|`, equal to the standard deviation for normal data (Hampel, JASA 69
//!   (1974) 383-393);
//! * Hodges-Lehmann: median of all pair means `(x_i + x_j)/2`, `i <= j` (Hodges & Lehmann, Ann. Math. Stat. 34 (1963)
//!   598-611), Gaussian efficiency 0.955 against 0.637 of the median;
//! * Huber location: iterate the mean of the values clipped to `mu -+ k s`, `s` the MAD sigma held fixed (Huber,
//!   Ann. Math. Stat. 35 (1964) 73-101).
//!
//! Missing values (NaN or infinite) are left out everywhere; with no usable value the result is `None`.

use super::order::{Ranked, kth_of_pairs};

/// Factor from the median absolute deviation to the standard deviation of a normal distribution:
/// `1 / Phi^-1(3/4)`.
pub const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// The finite values of `x`, in order.
pub(crate) fn finite(x: &[f64]) -> Vec<f64> {
    x.iter().copied().filter(|v| v.is_finite()).collect()
}

/// Median of a scratch slice of finite values; reorders it. `None` if empty.
pub(crate) fn median_of_scratch(v: &mut [f64]) -> Option<f64> {
    let n = v.len();
    if n == 0 {
        return None;
    }
    let (below, &mut upper, _) = v.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return Some(upper);
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(0.5 * lower + 0.5 * upper)
}

/// Median of the usable values, in the unit of `x`.
pub fn median(x: &[f64]) -> Option<f64> {
    median_of_scratch(&mut finite(x))
}

/// Quantile `q` (0 to 1) of the usable values by linear interpolation; `None` without values or for a `q` outside.
pub fn quantile(x: &[f64], q: f64) -> Option<f64> {
    let mut v = finite(x);
    if v.is_empty() || !(0.0..=1.0).contains(&q) {
        return None;
    }
    let rank = (v.len() - 1) as f64 * q;
    let k = (rank.floor() as usize).min(v.len() - 1);
    let (_, &mut lower, above) = v.select_nth_unstable_by(k, f64::total_cmp);
    let upper = above.iter().copied().fold(f64::INFINITY, f64::min);
    let part = rank - k as f64;
    Some(if part > 0.0 && upper.is_finite() { lower + part * (upper - lower) } else { lower })
}

/// MAD sigma of the usable values. It is 0 when more than half of them are equal: see [`robust_scale`].
pub fn mad_sigma(x: &[f64]) -> Option<f64> {
    let mut v = finite(x);
    let m = median_of_scratch(&mut v)?;
    for a in &mut v {
        *a = (*a - m).abs();
    }
    median_of_scratch(&mut v).map(|d| d * MAD_TO_SIGMA)
}

/// What a robust scale rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum ScaleBasis {
    /// The median absolute deviation.
    Mad,
    /// More than half of the values are equal: one resolution step over `sqrt(12)`.
    Resolution,
    /// All values are equal and no resolution is known: the scale is 0.
    Constant,
}

/// A scale and what it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RobustScale {
    /// Standard-deviation equivalent, in the unit of the data.
    pub sigma: f64,
    /// What it rests on.
    pub basis: ScaleBasis,
}

/// MAD sigma with a fallback for coarse data.
///
/// When more than half of the values are equal the MAD is 0 although the data scatter. Then the scale is that of
/// one resolution step, `step / sqrt(12)` (JCGM 100:2008, F.2.2.1): `resolution` if given, else the smallest
/// difference between two distinct values. `None` without usable values.
pub fn robust_scale(x: &[f64], resolution: Option<f64>) -> Option<RobustScale> {
    let sigma = mad_sigma(x)?;
    if sigma > 0.0 {
        return Some(RobustScale { sigma, basis: ScaleBasis::Mad });
    }
    let step = resolution.filter(|r| r.is_finite() && *r > 0.0).or_else(|| smallest_step(x));
    Some(match step {
        Some(s) => RobustScale { sigma: s / 12f64.sqrt(), basis: ScaleBasis::Resolution },
        None => RobustScale { sigma: 0.0, basis: ScaleBasis::Constant },
    })
}

/// Smallest difference between two distinct usable values; `None` if all are equal.
pub fn smallest_step(x: &[f64]) -> Option<f64> {
    let mut v = finite(x);
    v.sort_unstable_by(f64::total_cmp);
    let least = v.windows(2).map(|w| w[1] - w[0]).filter(|d| *d > 0.0).fold(f64::INFINITY, f64::min);
    least.is_finite().then_some(least)
}

/// Running median over a centred window of `window` samples (an even count is raised by one).
///
/// # Shape
/// As long as `x`. Near the ends the window is cut off at the end of the series (it gets shorter, not shifted).
/// A missing sample does not count; a window without usable samples gives NaN. `window = 0` acts as 1.
///
/// Cost `O(n log n)` for any window: the samples are ranked once, then a counting tree over the ranks is updated.
pub fn running_median(x: &[f64], window: usize) -> Vec<f64> {
    let half = window / 2;
    let mut ranked = Ranked::new(x);
    let mut out = Vec::with_capacity(x.len());
    for i in 0..half.min(x.len()) {
        ranked.insert(i);
    }
    for i in 0..x.len() {
        if i + half < x.len() {
            ranked.insert(i + half);
        }
        if i > half {
            ranked.remove(i - half - 1);
        }
        out.push(ranked.median());
    }
    out
}

/// Hodges-Lehmann location: median of all pair means of the usable values.
pub fn hodges_lehmann(x: &[f64]) -> Option<f64> {
    let mut v = finite(x);
    v.sort_unstable_by(f64::total_cmp);
    let n = v.len();
    if n == 0 {
        return None;
    }
    // Sums v[i] + v[j] with j >= i that do not exceed `t`: j falls as i rises.
    let count = |t: f64| {
        let (mut total, mut j) = (0usize, n);
        for i in 0..n {
            while j > 0 && v[i] + v[j - 1] > t {
                j -= 1;
            }
            if j <= i {
                break;
            }
            total += j - i;
        }
        total
    };
    middle_pair(n * (n + 1) / 2, 2.0 * v[0], 2.0 * v[n - 1], count).map(|m| 0.5 * m)
}

/// Two-sample Hodges-Lehmann shift: median of all differences `y_j - x_i` of the usable values.
pub fn hodges_lehmann_shift(x: &[f64], y: &[f64]) -> Option<f64> {
    let (mut a, mut b) = (finite(x), finite(y));
    a.sort_unstable_by(f64::total_cmp);
    b.sort_unstable_by(f64::total_cmp);
    let (n, m) = (a.len(), b.len());
    if n == 0 || m == 0 {
        return None;
    }
    let count = |t: f64| {
        let (mut total, mut j) = (0usize, 0usize);
        for xi in &a {
            while j < m && b[j] - xi <= t {
                j += 1;
            }
            total += j;
        }
        total
    };
    middle_pair(n * m, b[0] - a[n - 1], b[m - 1] - a[0], count)
}

/// Median of `total` ordered numbers between `low` and `high` known only through how many do not exceed a bound.
fn middle_pair(total: usize, low: f64, high: f64, count: impl Fn(f64) -> usize) -> Option<f64> {
    if !(low.is_finite() && high.is_finite()) {
        return None;
    }
    let upper = kth_of_pairs(total / 2 + 1, low, high, &count);
    if total % 2 == 1 {
        return Some(upper);
    }
    let lower = kth_of_pairs(total / 2, low, high, &count);
    Some(0.5 * lower + 0.5 * upper)
}

/// Huber location with clipping at `k` MAD sigmas (usual `k` 1.5).
///
/// With a MAD of 0, or a `k` that is not positive, the median is returned.
pub fn huber_location(x: &[f64], k: f64) -> Option<f64> {
    let v = finite(x);
    let s = mad_sigma(&v)?;
    let mut mu = median(&v)?;
    if s == 0.0 || k.is_nan() || k <= 0.0 {
        return Some(mu);
    }
    for _ in 0..500 {
        let next = v.iter().map(|a| a.clamp(mu - k * s, mu + k * s) - mu).sum::<f64>() / v.len() as f64 + mu;
        let moved = (next - mu).abs();
        mu = next;
        if moved <= 1e-13 * s {
            break;
        }
    }
    Some(mu)
}

#[cfg(test)]
#[path = "robust_tests.rs"]
mod tests;
