//! Plain sums and counts over long series, eight values side by side: no value waits for the one before, and the compiler
//! takes them into wide registers. Missing values (`NaN` or infinite) do not count.

// By index: what an iterator is made of is not always taken into a loop for wide registers.
#![allow(clippy::needless_range_loop)]

const WIDE: usize = 8;

type Lanes = [f64; WIDE];

fn total(lanes: &Lanes) -> f64 {
    ((lanes[0] + lanes[4]) + (lanes[2] + lanes[6])) + ((lanes[1] + lanes[5]) + (lanes[3] + lanes[7]))
}

/// Sum and number of the usable values that weigh something.
///
/// # Shape
/// One weight per value.
#[must_use]
pub fn sum_weighing(values: &[f64], weights: &[f64]) -> (f64, f64) {
    let (mut sum, mut n): (Lanes, Lanes) = ([0.0; WIDE], [0.0; WIDE]);
    let (whole, rest) = values.as_chunks::<WIDE>();
    let (weigh, weigh_rest) = weights.as_chunks::<WIDE>();
    for (v, w) in whole.iter().zip(weigh) {
        for j in 0..WIDE {
            let used = (v[j].abs() < f64::INFINITY) & (w[j] > 0.0);
            sum[j] += if used { v[j] } else { 0.0 };
            n[j] += if used { 1.0 } else { 0.0 };
        }
    }
    for (j, (v, w)) in rest.iter().zip(weigh_rest).enumerate() {
        if v.is_finite() && *w > 0.0 {
            sum[j] += v;
            n[j] += 1.0;
        }
    }
    (total(&sum), total(&n))
}

/// Sum and number of the usable values.
#[must_use]
pub fn sum(values: &[f64]) -> (f64, f64) {
    let (mut sum, mut n): (Lanes, Lanes) = ([0.0; WIDE], [0.0; WIDE]);
    let (whole, rest) = values.as_chunks::<WIDE>();
    for v in whole {
        for j in 0..WIDE {
            let used = v[j].abs() < f64::INFINITY;
            sum[j] += if used { v[j] } else { 0.0 };
            n[j] += if used { 1.0 } else { 0.0 };
        }
    }
    for (j, v) in rest.iter().enumerate().filter(|(_, v)| v.is_finite()) {
        sum[j] += v;
        n[j] += 1.0;
    }
    (total(&sum), total(&n))
}

/// Mean of the usable values of some parts; `None` without any.
pub fn mean<'a>(parts: impl Iterator<Item = &'a [f64]>) -> Option<f64> {
    let (sum, n) = parts.map(sum).fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
    (n > 0.0).then(|| sum / n)
}

/// Lowest and highest value; infinite the wrong way round where there is none.
#[must_use]
pub fn extremes(values: &[f64]) -> (f64, f64) {
    let (mut low, mut high): (Lanes, Lanes) = ([f64::INFINITY; WIDE], [f64::NEG_INFINITY; WIDE]);
    let (whole, rest) = values.as_chunks::<WIDE>();
    for v in whole {
        for j in 0..WIDE {
            // A missing value is neither.
            let there = v[j].abs() < f64::INFINITY;
            low[j] = if there & (v[j] < low[j]) { v[j] } else { low[j] };
            high[j] = if there & (v[j] > high[j]) { v[j] } else { high[j] };
        }
    }
    let both =
        |(low, high): (f64, f64), v: f64| (if v < low { v } else { low }, if v > high { v } else { high });
    let ends = low.into_iter().chain(high).chain(rest.iter().copied());
    ends.filter(|v| v.is_finite()).fold((f64::INFINITY, f64::NEG_INFINITY), both)
}

/// Whether no value is missing.
#[must_use]
pub fn all_finite(values: &[f64]) -> bool {
    // In pieces, so that the first hole ends it; nothing times 0 is `NaN` where it was not finite.
    let piece = |part: &[f64]| {
        let mut nothing: Lanes = [0.0; WIDE];
        let (whole, rest) = part.as_chunks::<WIDE>();
        for v in whole {
            for j in 0..WIDE {
                nothing[j] += v[j] * 0.0;
            }
        }
        total(&nothing) == 0.0 && rest.iter().all(|v| v.is_finite())
    };
    values.chunks(4096).all(piece)
}

/// How many values differ from the one before.
///
/// # Shape
/// Nothing missing: a `NaN` differs from everything.
#[must_use]
pub fn changes(values: &[f64]) -> usize {
    let before = values.iter();
    before.zip(values.iter().skip(1)).map(|(a, b)| usize::from(a != b)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Halves and whole numbers, so that every sum is exact whatever its order.
    fn series(n: usize) -> (Vec<f64>, Vec<f64>) {
        let holes = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY];
        let value = |k: usize| if k % 7 == 3 { holes[k % 3] } else { ((k * 37) % 101) as f64 * 0.5 - 11.0 };
        ((0..n).map(value).collect(), (0..n).map(|k| ((k * 5) % 3) as f64).collect())
    }

    #[test]
    fn as_one_by_one() {
        for n in [0, 1, 3, 7, 8, 9, 64, 1001] {
            let (values, weights) = series(n);
            let used = |k: &usize| values[*k].is_finite();
            let one = |rows: Vec<usize>| (rows.iter().map(|k| values[*k]).sum::<f64>(), rows.len() as f64);
            let all: Vec<usize> = (0..n).filter(used).collect();
            assert_eq!(sum(&values), one(all.clone()), "{n}");
            let weighing = all.iter().copied().filter(|k| weights[*k] > 0.0).collect();
            assert_eq!(sum_weighing(&values, &weights), one(weighing), "{n}");
            let finite = all.iter().map(|k| values[*k]);
            let low = finite.clone().fold(f64::INFINITY, f64::min);
            let high = finite.fold(f64::NEG_INFINITY, f64::max);
            assert_eq!(extremes(&values), (low, high), "{n}");
            assert_eq!(all_finite(&values), values.iter().all(|v| v.is_finite()), "{n}");
            let (a, b) = values.split_at(n / 3);
            let (s, count) = sum(&values);
            assert_eq!(mean([a, b].into_iter()), (count > 0.0).then(|| s / count), "{n}");
        }
        assert!(all_finite(&[1.0; 100]) && !all_finite(&[1.0, f64::NAN]));
        assert_eq!(changes(&[1.0, 1.0, 2.0, 2.0, 1.0]), 2);
        assert_eq!((changes(&[]), changes(&[1.0])), (0, 0));
    }
}
