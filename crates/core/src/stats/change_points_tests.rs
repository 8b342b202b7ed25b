//! Checks of the change points: the Nile series (published with the R package strucchange), a step series made by a
//! rule, and a brute-force twin.

#![allow(clippy::unwrap_used)]

use super::*;
use crate::stats::fixtures::{NILE, ar1, close, close_rel, noise};

/// Levels 34.0 (20 samples), 32.5 (15), 33.2 (25) plus a repeatable sawtooth of +-0.4.
fn steps() -> Vec<f64> {
    (1..=60)
        .map(|i| {
            let level = if i <= 20 {
                34.0
            } else if i <= 35 {
                32.5
            } else {
                33.2
            };
            level + 0.8 * ((f64::from(i) * 0.618_033_988_749_894_9).fract() - 0.5)
        })
        .collect()
}

#[test]
fn nile_as_published() {
    // R strucchange breakpoints(Nile ~ 1), h = 15 %: sums of squares 2835157 1597457 1552924 1538097 1507888; breaks 28;
    // 28 83; 28 68 83; 28 45 68 83 (last year of the old level, so the same number as our 0-based first of the new).
    let all = best_partitions(&[NILE], 4, 15).unwrap();
    let rss = [2_835_157.0, 1_597_457.0, 1_552_924.0, 1_538_097.0, 1_507_888.0];
    for (p, want) in all.iter().zip(rss) {
        close(p.sse, want, 0.5);
    }
    assert_eq!(all[1].changes, [28]);
    assert_eq!(all[2].changes, [28, 83]);
    assert_eq!(all[3].changes, [28, 68, 83]);
    assert_eq!(all[4].changes, [28, 45, 68, 83]);
    // supF 75.93 in the same output.
    let f = sup_f(&NILE, 15).unwrap();
    assert_eq!(f.index, 28);
    close(f.statistic, 75.93, 5e-3);
    let c = cusum_change(&NILE).unwrap();
    assert_eq!(c.index, 28);
    close(c.statistic, 4995.2, 1e-9);
}

#[test]
fn nile_against_ruptures() {
    // ruptures 1.1.10 Pelt(model="l2", min_size=2, jump=1) with 2 s^2 ln n and 3 s^2 ln n.
    let sigma = difference_sigma(&NILE).unwrap();
    close(sigma, 115.319_389_076, 1e-8);
    for (factor, beta, objective) in
        [(2.0, 122_484.277_843, 1_719_941.472_29), (3.0, 183_726.416_765, 1_781_183.611_21)]
    {
        let penalty = step_penalty(factor, sigma * sigma, 1, 100, 0.0);
        close_rel(penalty, beta, 1e-11);
        let p = partition(&[NILE], penalty, 2).unwrap();
        assert_eq!(p.changes, [28]);
        close_rel(p.objective, objective, 1e-11);
    }
}

#[test]
fn step_series_against_ruptures() {
    let x = steps();
    close(x[0], 34.094_427_191, 1e-9);
    close(x[4], 33.672_135_955, 1e-9);
    let penalty = step_penalty(3.0, 0.64 / 12.0, 1, 60, 0.0);
    close(penalty, 0.655_095_129_956, 1e-11);
    let p = partition(&[&x], penalty, 2).unwrap();
    assert_eq!(p.changes, [20, 35]);
    close(p.objective, 4.483_864_912_25, 1e-9);
    let levels: Vec<f64> =
        p.segments(60).iter().map(|&(a, b)| x[a..b].iter().sum::<f64>() / (b - a) as f64).collect();
    for (got, want) in levels.iter().zip([33.991_485_505_5, 32.503_961_348, 33.204_505_168]) {
        close(*got, want, 1e-9);
    }
    assert_eq!(
        partition(&[&x], penalty / 20.0, 2).unwrap().changes.len(),
        21,
        "too small a penalty over-fits"
    );
}

/// Optimum by dynamic programming without any pruning and with costs summed afresh.
fn twin(channels: &[Vec<f64>], penalty: f64, min_len: usize) -> f64 {
    let n = channels[0].len();
    let cost = |a: usize, b: usize| -> f64 {
        channels
            .iter()
            .map(|c| {
                let v: Vec<f64> = c[a..b].iter().copied().filter(|v| v.is_finite()).collect();
                let m = v.iter().sum::<f64>() / v.len().max(1) as f64;
                v.iter().map(|x| (x - m).powi(2)).sum::<f64>()
            })
            .sum()
    };
    let mut f = vec![f64::INFINITY; n + 1];
    f[0] = -penalty;
    for t in min_len..=n {
        for s in 0..=t - min_len {
            f[t] = f[t].min(f[s] + penalty + cost(s, t));
        }
    }
    f[n]
}

#[test]
fn pruning_never_loses_the_optimum() {
    for seed in 0..40 {
        let n = 30 + (seed as usize % 5) * 7;
        let mut channels: Vec<Vec<f64>> = (0..3)
            .map(|c| {
                noise(n, 70 + 3 * seed + c)
                    .iter()
                    .enumerate()
                    .map(|(i, v)| v + f64::from(u8::from(i > n / 2)))
                    .collect()
            })
            .collect();
        channels[1][3] = f64::NAN;
        channels[2][n - 1] = f64::NAN;
        for min_len in [1, 2, 4, 9] {
            for penalty in [0.0, 0.3, 1.0, 3.0, 50.0] {
                let p = partition(&channels, penalty, min_len).unwrap();
                close(p.objective, twin(&channels, penalty, min_len), 1e-9);
                assert!(p.segments(n).iter().all(|(a, b)| b - a >= min_len));
            }
        }
    }
}

#[test]
fn common_jump_is_seen_where_single_channels_are_blind() {
    // Three channels, a jump of 0.9 noise s.d. in each at sample 60: alone no channel pays the penalty, together they do.
    let channels: Vec<Vec<f64>> = (0..3)
        .map(|c| {
            ar1(120, 0.0, 40 + c)
                .iter()
                .enumerate()
                .map(|(i, e)| e + if i >= 60 { 0.9 } else { 0.0 })
                .collect()
        })
        .collect();
    let alone = step_penalty(3.0, 1.0, 1, 120, 0.0) * 1.6;
    let blind =
        channels.iter().filter(|c| partition(&[c.as_slice()], alone, 4).unwrap().changes.is_empty()).count();
    assert!(blind >= 2, "{blind} channels saw nothing alone");
    let joint = partition(&channels, alone, 4).unwrap();
    assert_eq!(joint.changes.len(), 1);
    assert!((57..=63).contains(&joint.changes[0]), "{:?}", joint.changes);
}

#[test]
fn pulse_is_found_where_one_split_after_the_other_fails() {
    // Up for 10 of 100 samples: a single split explains little of it (binary segmentation stops), the optimum has both.
    let x: Vec<f64> = noise(100, 4)
        .iter()
        .enumerate()
        .map(|(i, e)| 0.4 * e + if (45..55).contains(&i) { 1.0 } else { 0.0 })
        .collect();
    let penalty = 2.5;
    let one = best_partitions(&[&x], 1, 4).unwrap();
    assert!(one[0].sse - one[1].sse < penalty, "one split gains {}", one[0].sse - one[1].sse);
    assert_eq!(partition(&[&x], penalty, 4).unwrap().changes, [45, 55]);
}

#[test]
fn correlated_noise_needs_the_larger_penalty() {
    let x = ar1(300, 0.8, 77);
    let variance = difference_sigma(&x).unwrap().powi(2);
    let naive = partition(&[&x], step_penalty(3.0, variance, 1, 300, 0.0), 4).unwrap();
    let aware = partition(&[&x], step_penalty(3.0, 1.0 / (1.0 - 0.64), 1, 300, 0.8), 4).unwrap();
    assert!(naive.changes.len() > 10, "white-noise penalty: {} false jumps", naive.changes.len());
    assert!(aware.changes.is_empty(), "{:?}", aware.changes);
}

#[test]
fn refusals_and_edges() {
    assert!(partition(&[&NILE[..3]], 1.0, 4).is_err());
    assert!(partition(&[&NILE[..3], &NILE[..4]], 1.0, 1).is_err());
    assert!(partition(&[&NILE], f64::NAN, 1).is_err() && partition(&[&NILE], -1.0, 1).is_err());
    let none: [&[f64]; 0] = [];
    assert!(partition(&none, 1.0, 1).is_err());
    assert!(partition(&[[f64::NAN; 6]], 1.0, 1).unwrap().changes.is_empty());
    assert!(partition(&[[5.0; 6]], 1e-12, 1).unwrap().changes.is_empty());
    assert_eq!(partition(&[&NILE[..5]], f64::INFINITY, 2).unwrap().changes, Vec::<usize>::new());
    assert_eq!(best_partitions(&[&NILE[..5]], 9, 2).unwrap().len(), 2);
    assert_eq!(cusum_change(&[1.0, 1.0]), None);
    assert_eq!(cusum_change(&[]), None);
    assert_eq!(sup_f(&[1.0, 2.0], 1), None);
    assert_eq!(sup_f(&NILE, 80), None);
    assert_eq!(difference_sigma(&[1.0]), None);
}

#[test]
fn side_by_side_is_as_one_by_one() {
    // Two channels with jumps of many sizes, shared and not; the way for series with holes is the twin.
    let mut state = 12_345u64;
    let mut noise = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / f64::from(1u32 << 31) - 0.5
    };
    for (n, every) in [(7, 3), (60, 9), (400, 37), (400, 1000)] {
        let series = |noise: &mut dyn FnMut() -> f64, size: f64| -> Vec<f64> {
            (0..n).map(|k| size * ((k / every) % 3) as f64 + noise()).collect()
        };
        let channels = [series(&mut noise, 2.0), series(&mut noise, -0.7)];
        for (penalty, m) in [(0.0, 1), (0.5, 1), (3.0, 2), (9.0, 4)] {
            let costs = Costs::new(&channels, m).unwrap();
            assert!(costs.is_dense());
            assert_eq!(
                dense::last_starts(&costs, penalty, m),
                last_starts(&costs, penalty, m),
                "{n} {penalty}"
            );
        }
    }
    let holed = [vec![1.0, f64::NAN, 1.0, 5.0, 5.0]];
    assert!(!Costs::new(&holed, 1).unwrap().is_dense());
}
