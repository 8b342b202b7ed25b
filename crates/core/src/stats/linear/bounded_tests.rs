//! Checks of the bounded least squares on published influence-coefficient examples (rotor balancing uses the same
//! algebra) and on a 4 x 4 example recomputed with scipy.

#![allow(clippy::unwrap_used)]

use super::*;
use crate::stats::fixtures::{close, noise};

const INF: f64 = f64::INFINITY;

/// Columns of the 4 x 4 example.
const C4: [[f64; 4]; 4] =
    [[-2.0, 0.18, 0.12, 0.10], [0.15, -2.2, 0.16, 0.12], [0.10, 0.14, -1.8, 0.15], [0.12, 0.11, 0.13, -2.1]];
const Y4: [f64; 4] = [1.5, -0.8, 0.4, -1.1];

#[track_caller]
fn all_close(got: &[f64], want: &[f64], tol: f64) {
    assert_eq!(got.len(), want.len());
    got.iter().zip(want).for_each(|(g, w)| close(*g, *w, tol));
}

#[test]
fn goodman_1964_least_squares() {
    // Goodman, J. Eng. Ind. 86 (1964), 3 readings and 2 planes, as carried by a public balancing library's tests:
    // weights (0.81, 1.48); exact fractions 17/21 and 31/21, sum of squares 8/21.
    let columns = [[3.0, 5.0, 5.0], [-2.0, -2.0, -3.0]];
    let fit = minimum_norm(&columns, &[1.0, -1.0, 0.0]).unwrap();
    all_close(&fit.w, &[0.81, 1.48], 5e-3);
    all_close(&fit.w, &[17.0 / 21.0, 31.0 / 21.0], 1e-13);
    close(fit.rss, 8.0 / 21.0, 1e-13);
    all_close(&fit.remainder, &[10.0 / 21.0, 2.0 / 21.0, -8.0 / 21.0], 1e-13);
    assert!(fit.unique && fit.free_rank == 2);
    close(condition_number(&columns).unwrap(), 11.641_152_449_2, 1e-9);
    let free = bounded_least_squares(&columns, &[1.0, -1.0, 0.0], &[-INF; 2], &[INF; 2]).unwrap();
    all_close(&free.w, &fit.w, 1e-12);
}

/// Rows of the real form of complex columns: `[re -im; im re]`.
fn real_form(columns: &[Vec<(f64, f64)>], y: &[(f64, f64)]) -> (Vec<Vec<f64>>, Vec<f64>) {
    let mut out = Vec::new();
    for c in columns {
        out.push(c.iter().map(|v| v.0).chain(c.iter().map(|v| v.1)).collect());
        out.push(c.iter().map(|v| -v.1).chain(c.iter().map(|v| v.0)).collect());
    }
    (out, y.iter().map(|v| v.0).chain(y.iter().map(|v| v.1)).collect())
}

fn polar(size: f64, deg: f64) -> (f64, f64) {
    let (s, c) = deg.to_radians().sin_cos();
    (size * c, size * s)
}

#[test]
fn two_plane_application_note() {
    // Two-plane example of application note 17-227 (table 2, example 6), as carried by a public balancing library:
    // trial 1.15 g each; corrections 1.979 g at 236.2 deg and 1.071 g at 121.8 deg.
    let start = [polar(170.0, 112.0), polar(53.0, 78.0)];
    let trials = [[polar(235.0, 94.0), polar(58.0, 68.0)], [polar(185.0, 115.0), polar(77.0, 104.0)]];
    let columns: Vec<Vec<(f64, f64)>> = trials
        .iter()
        .map(|t| t.iter().zip(&start).map(|(a, b)| ((a.0 - b.0) / 1.15, (a.1 - b.1) / 1.15)).collect())
        .collect();
    let sizes: Vec<f64> = columns.iter().flatten().map(|v| v.0.hypot(v.1)).collect();
    all_close(&sizes, &[78.433, 9.462, 15.34, 32.56], 6e-3);
    let (a, y) = real_form(&columns, &start);
    let fit = minimum_norm(&a, &y).unwrap();
    let size = |k: usize| fit.w[2 * k].hypot(fit.w[2 * k + 1]);
    let angle = |k: usize| fit.w[2 * k + 1].atan2(fit.w[2 * k]).to_degrees().rem_euclid(360.0);
    all_close(&[size(0), size(1)], &[1.979, 1.071], 1e-3);
    all_close(&[angle(0), angle(1)], &[236.2, 121.8], 0.06);
    assert!(fit.rss < 1e-18);
}

#[test]
fn darlow_case_one() {
    // Darlow 1982, case 1 (4 readings, 3 planes), inputs to two digits, as carried by a public balancing library:
    // 1.39 at -4, 1.25 at -144, 0.98 at 168 degrees; 5 % tolerance as there.
    let columns = vec![
        vec![polar(1.41, 45.0), polar(3.16, 72.0), polar(2.83, 45.0), polar(3.16, 18.0)],
        vec![polar(2.24, 27.0), polar(4.47, 27.0), polar(2.24, 27.0), polar(3.61, 34.0)],
        vec![polar(3.61, 34.0), polar(2.24, 27.0), polar(5.0, 37.0), polar(4.47, 27.0)],
    ];
    let y = [polar(3.16, 72.0), polar(3.16, 18.0), polar(4.12, 14.0), polar(5.39, 68.0)];
    let (a, y) = real_form(&columns, &y);
    let fit = minimum_norm(&a, &y).unwrap();
    for (k, (size, deg)) in [(1.39, -4.0), (1.25, -144.0), (0.98, 168.0)].into_iter().enumerate() {
        let (re, im) = polar(size, deg);
        close((fit.w[2 * k] - re).hypot(fit.w[2 * k + 1] - im), 0.0, 0.05 * size);
    }
}

#[test]
fn bounds_against_scipy() {
    // scipy 1.17.1 optimize.lsq_linear(C, -y, bounds=(-0.5, 0.5), tol=1e-14).
    let fit = bounded_least_squares(&C4, &Y4, &[-0.5; 4], &[0.5; 4]).unwrap();
    all_close(&fit.w, &[0.5, -0.349_509_079_328, 0.175_367_208_875, -0.5], 1e-9);
    all_close(
        &fit.remainder,
        &[0.405_110_358_988, 0.028_471_383_763_1, 0.023_417_571_331_9, -0.015_636_008_188],
        1e-9,
    );
    close(0.5 * fit.rss, 0.082_858_945_026_1, 1e-10);
    assert_eq!(fit.at_bound, [true, false, false, true]);
    // Wide bounds: numpy 2.4.6 linalg.solve.
    let free = bounded_least_squares(&C4, &Y4, &[-2.0; 4], &[2.0; 4]).unwrap();
    all_close(
        &free.w,
        &[0.706_851_937_433, -0.317_407_400_765, 0.205_482_069_222, -0.493_610_182_841],
        1e-11,
    );
    close(condition_number(&C4).unwrap(), 1.458_672_535_98, 1e-9);
}

#[test]
fn clipping_afterwards_is_worse() {
    let free = minimum_norm(&C4, &Y4).unwrap();
    let clipped: Vec<f64> = free.w.iter().map(|v| v.clamp(-0.5, 0.5)).collect();
    let rss: f64 = (0..4).map(|i| (Y4[i] + (0..4).map(|j| C4[j][i] * clipped[j]).sum::<f64>()).powi(2)).sum();
    let best = bounded_least_squares(&C4, &Y4, &[-0.5; 4], &[0.5; 4]).unwrap();
    assert!(rss > 1.02 * best.rss, "clipped {rss}, bounded {}", best.rss);
}

#[test]
fn differences_to_a_reference() {
    // numpy 2.4.6 linalg.lstsq of D C and D y, D = differences to the first row.
    let (c, y) = to_reference(&C4, &Y4, 0).unwrap();
    let fixed = bounded_least_squares(&c, &y, &[0.0, -INF, -INF, -INF], &[0.0, INF, INF, INF]).unwrap();
    all_close(&fixed.w, &[0.0, -0.983_787_172_225, -0.590_289_256_449, -1.171_171_553], 1e-9);
    assert!(fixed.rss < 1e-20 && fixed.unique);
    let common: Vec<f64> =
        (0..4).map(|i| Y4[i] + (0..4).map(|j| C4[j][i] * fixed.w[j]).sum::<f64>()).collect();
    all_close(&common, &[1.152_862_412_16; 4], 1e-9);
    // All four free: the common level is not determined; smallest steps.
    let all = minimum_norm(&c, &y).unwrap();
    all_close(&all.w, &[0.666_166_686_362, -0.355_763_139_605, 0.159_678_762_383, -0.532_609_516_366], 1e-10);
    assert_eq!((all.free_rank, all.unique), (3, false));
    let open = bounded_least_squares(&c, &y, &[-2.0; 4], &[2.0; 4]).unwrap();
    assert!(open.rss < 1e-18 && !open.unique, "the solver must say that it chose");
}

#[test]
fn optimality_conditions_hold_on_random_problems() {
    // Convexity: a solution is right if and only if the slope is 0 where free and points outwards at a bound.
    for seed in 0..60 {
        let v = noise(8 * 4 + 8, 900 + seed);
        let columns: Vec<Vec<f64>> = v[..32].chunks(8).map(<[f64]>::to_vec).collect();
        let y: Vec<f64> = v[32..].iter().map(|a| 3.0 * a).collect();
        let fit = bounded_least_squares(&columns, &y, &[-0.4; 4], &[0.3; 4]).unwrap();
        for (j, column) in columns.iter().enumerate() {
            let slope: f64 = column.iter().zip(&fit.remainder).map(|(a, r)| a * r).sum();
            assert!((-0.4..=0.3).contains(&fit.w[j]));
            let fine = if fit.w[j] >= 0.3 { slope <= 1e-9 } else { fit.w[j] <= -0.4 && slope >= -1e-9 };
            assert!(fine || (!fit.at_bound[j] && slope.abs() < 1e-9), "seed {seed} column {j} slope {slope}");
        }
    }
}

#[test]
fn refusals() {
    let c = [[1.0, 2.0], [2.0, 4.0]];
    assert!(matches!(minimum_norm(&c, &[1.0, f64::NAN]), Err(StatsError::Missing { position: 1, .. })));
    assert!(bounded_least_squares(&c, &[1.0, 2.0], &[1.0, 0.0], &[0.0, 1.0]).is_err());
    assert!(bounded_least_squares(&c, &[1.0, 2.0], &[0.0], &[0.0]).is_err());
    assert!(to_reference(&c, &[1.0, 2.0], 2).is_err());
    assert!(minimum_norm::<Vec<f64>>(&[], &[]).is_err());
    assert_eq!(condition_number(&c).unwrap(), INF);
    let zero = bounded_least_squares(&[[0.0, 0.0]], &[1.0, 2.0], &[-1.0], &[1.0]).unwrap();
    assert_eq!((zero.w[0], zero.unique), (0.0, false));
}
