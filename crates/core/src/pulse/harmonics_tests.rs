//! The sums behind a fit, against naive twins that take every row and every product by itself.

use super::*;

#[test]
#[allow(clippy::needless_range_loop)]
fn sums_of_single_waves_stand_for_products() {
    // The naive twin: every product of two columns added up row by row.
    let rows: Vec<usize> = (0..500).collect();
    let cycles: Vec<f64> = rows.iter().map(|k| *k as f64 * 0.137 + (*k as f64).sqrt()).collect();
    let weights: Vec<f64> = rows.iter().map(|k| ((*k * 7) % 5) as f64).collect();
    let values: Vec<f64> = rows.iter().map(|k| ((*k * 31) % 17) as f64).collect();
    for harmonics in [1, 3, 4, MOST] {
        let channel = Readings { values: &values, weights: &weights, prior_sd: None };
        let sums = gather(
            Reach { waves: 2 * harmonics, readings: harmonics },
            &cycles,
            &[(channel, 2.0)],
            rows.iter().copied(),
        )
        .remove(0);
        let normal = Normal::new(&sums, 2 * harmonics + 1);
        let mut want = vec![vec![0.0; 2 * harmonics + 1]; 2 * harmonics + 1];
        let mut with_y = vec![0.0; 2 * harmonics + 1];
        for &k in &rows {
            let wave = |i: usize| {
                let angle = std::f64::consts::TAU * cycles[k] * i.div_ceil(2) as f64;
                if i == 0 {
                    1.0
                } else if i % 2 == 1 {
                    angle.cos()
                } else {
                    angle.sin()
                }
            };
            for i in 0..=2 * harmonics {
                with_y[i] += weights[k] * wave(i) * (values[k] - 2.0);
                for j in 0..=i {
                    want[i][j] += weights[k] * wave(i) * wave(j);
                }
            }
        }
        for i in 0..=2 * harmonics {
            assert!((sums.xy[i] - with_y[i]).abs() < 1e-8, "xy {i} of {harmonics}");
            for j in 0..=i {
                assert!((normal.xx[i][j] - want[i][j]).abs() < 1e-8, "xx {i} {j} of {harmonics}");
            }
        }
    }
}

/// Channels that share some rows and not others: each must come out as if it were alone.
#[test]
fn channels_together_are_as_each_alone() {
    let rows: Vec<usize> = (0..3000).collect();
    let cycles: Vec<f64> = rows.iter().map(|k| *k as f64 * 0.037).collect();
    let pulse = |k: usize, a: f64| a * (std::f64::consts::TAU * cycles[k]).cos();
    let first: Vec<f64> = rows.iter().map(|&k| 40.0 + pulse(k, 5.0)).collect();
    let mut second: Vec<f64> = rows.iter().map(|&k| 43.0 + pulse(k, 3.0)).collect();
    second[100..900].fill(f64::NAN);
    let weights = vec![0.01; rows.len()];
    let mut other = weights.clone();
    other[2000..].iter_mut().step_by(2).for_each(|w| *w = 0.03);
    let none = vec![0.0; rows.len()];
    let channels = [(&first, &weights), (&second, &other), (&first, &none)]
        .map(|(values, weights)| Readings { values, weights, prior_sd: Some(10.0) });
    let design = Design { harmonics: 4 };
    let together = fit(design, &cycles, &channels, &rows);
    assert!(together[2].is_none());
    let sums = rest(&together, &channels, &cycles, 0..rows.len());
    for (i, channel) in channels.iter().enumerate().take(2) {
        let alone = fit(design, &cycles, &[*channel], &rows).remove(0);
        let (a, b) = (alone.as_ref().map(|f| f.mean), together[i].as_ref().map(|f| f.mean));
        assert!(a.zip(b).is_some_and(|(a, b)| (a - b).abs() < 1e-9), "{a:?} {b:?}");
        assert!(b.is_some_and(|b| (b - [40.0, 43.0][i]).abs() < 0.02), "{b:?}");
        // The naive twin takes each pulse off row by row.
        let mut want = (0.0, 0.0, 0.0);
        for &k in rows.iter().filter(|&&k| channel.weights[k] > 0.0 && channel.values[k].is_finite()) {
            let w = channel.weights[k];
            let left = channel.values[k] - together[i].as_ref().map_or(0.0, |f| f.pulse(cycles[k]));
            want = (want.0 + w, want.1 + w * left, want.2 + 1.0);
        }
        let near = |a: f64, b: f64| (a - b).abs() < 1e-8 * b.abs().max(1.0);
        assert!(near(sums[i].0, want.0) && near(sums[i].1, want.1) && near(sums[i].2, want.2));
    }
    assert_eq!(sums[2], (0.0, 0.0, 0.0));
}
