//! Checks of the robust measures. Chem data: copper in wholemeal flour, Analytical Methods Committee, Analyst 114
//! (1989) 1693, as carried by the robust-scale tests of statsmodels (values there from R).

#![allow(clippy::unwrap_used)]

use super::*;
use crate::stats::fixtures::{CHEM, close, noise};

#[test]
fn chem_values_as_published_with_statsmodels_tests() {
    // statsmodels test_scale.py (from R): median 3.385, MAD * 1.4826 = 0.52632; mean 4.2804.
    close(median(&CHEM).unwrap(), 3.385, 1e-12);
    close(mad_sigma(&CHEM).unwrap(), 0.52632, 1e-4);
    // Recomputed with statsmodels 0.15.0 in full digits.
    close(mad_sigma(&CHEM).unwrap(), 0.526_323_787_569, 1e-11);
    // MASS huber(chem): 3.206724 (from memory), in full digits recomputed.
    close(huber_location(&CHEM, 1.5).unwrap(), 3.206_724, 5e-7);
    close(huber_location(&CHEM, 1.5).unwrap(), 3.206_723_813_18, 1e-10);
    close(hodges_lehmann(&CHEM).unwrap(), 3.225, 1e-12);
    // The naive mean is dragged by the one value 28.95: most values lie below it.
    let mean = CHEM.iter().sum::<f64>() / CHEM.len() as f64;
    close(mean, 4.280_416_666_67, 1e-10);
    assert!(CHEM.iter().filter(|v| **v < mean).count() == 22);
}

#[test]
fn iqr_of_chem() {
    // statsmodels test_scale.py: IQR / 1.349 = 0.68570 (R IQR, type 7 quantiles).
    let iqr = quantile(&CHEM, 0.75).unwrap() - quantile(&CHEM, 0.25).unwrap();
    close(iqr / 1.348_979_500_392_163, 0.685_70, 1e-4);
    assert_eq!(quantile(&CHEM, 0.0), Some(2.20));
    assert_eq!(quantile(&CHEM, 1.0), Some(28.95));
    assert_eq!(quantile(&CHEM, 1.1), None);
    assert_eq!(quantile(&[], 0.5), None);
    assert_eq!(quantile(&CHEM, f64::NAN), None);
}

#[test]
#[allow(clippy::approx_constant)] // 3.14 is a reading
fn hodges_lehmann_depression_scores() {
    // Hollander & Wolfe, depression scale under a tranquilizer: estimate -0.46 (from memory; arithmetic redone).
    let x = [1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30];
    let y = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29];
    let d: Vec<f64> = y.iter().zip(&x).map(|(b, a)| b - a).collect();
    close(hodges_lehmann(&d).unwrap(), -0.46, 1e-12);
    // Median of the 20 differences written out by hand.
    let shift = hodges_lehmann_shift(&[1.1, 2.2, 2.9, 4.1], &[1.9, 3.4, 3.6, 5.2, 4.4]).unwrap();
    close(shift, 1.15, 1e-12);
}

#[test]
fn hodges_lehmann_equals_the_sorted_list_of_pairs() {
    for n in [1usize, 2, 3, 10, 41, 60] {
        let x: Vec<f64> = noise(n, 7).iter().map(|v| (v * 8.0).round() / 8.0).collect();
        let y: Vec<f64> = noise(n + 3, 9);
        let mut walsh = Vec::new();
        for i in 0..n {
            for j in i..n {
                walsh.push(0.5 * (x[i] + x[j]));
            }
        }
        let mut shifts: Vec<f64> = x.iter().flat_map(|a| y.iter().map(move |b| b - a)).collect();
        close(hodges_lehmann(&x).unwrap(), sorted_median(&mut walsh), 1e-14);
        close(hodges_lehmann_shift(&x, &y).unwrap(), sorted_median(&mut shifts), 1e-14);
    }
}

fn sorted_median(v: &mut [f64]) -> f64 {
    v.sort_by(f64::total_cmp);
    let n = v.len();
    if n % 2 == 1 { v[n / 2] } else { (v[n / 2 - 1] + v[n / 2]) / 2.0 }
}

#[test]
fn running_median_equals_sorting_every_window() {
    let mut x = noise(200, 3);
    for i in [4, 5, 6, 90, 199] {
        x[i] = f64::NAN;
    }
    x[50] = f64::INFINITY;
    x[20] = x[21];
    for window in [0usize, 1, 2, 3, 7, 40, 199, 500] {
        let half = window / 2;
        let fast = running_median(&x, window);
        assert_eq!(fast.len(), x.len());
        for i in 0..x.len() {
            let mut w: Vec<f64> = x[i.saturating_sub(half)..(i + half + 1).min(x.len())]
                .iter()
                .copied()
                .filter(|v| v.is_finite())
                .collect();
            if w.is_empty() {
                assert!(fast[i].is_nan());
            } else {
                close(fast[i], sorted_median(&mut w), 1e-15);
            }
        }
    }
    assert!(running_median(&[], 5).is_empty());
}

#[test]
fn running_median_keeps_a_step_that_a_running_mean_smears() {
    let x: Vec<f64> = (0..40).map(|i| if i < 20 { 0.0 } else { 1.0 }).collect();
    assert_eq!(running_median(&x, 9), x);
    let smeared = x[16..25].iter().sum::<f64>() / 9.0;
    assert!(smeared > 0.5, "the mean around sample 20 mixes both levels");
}

#[test]
fn zero_mad_falls_back_to_the_resolution() {
    // 1-unit steps, three quarters of the values equal: the MAD is 0, a step over sqrt(12) is 0.2887 (JCGM 100 F.2.2.1).
    let x = [5.0, 5.0, 5.0, 6.0, 5.0, 5.0, 5.0, 4.0];
    assert_eq!(mad_sigma(&x), Some(0.0));
    let s = robust_scale(&x, None).unwrap();
    assert_eq!(s.basis, ScaleBasis::Resolution);
    close(s.sigma, 0.288_675_134_595, 1e-12);
    close(robust_scale(&x, Some(0.5)).unwrap().sigma, 0.5 * 0.288_675_134_595, 1e-12);
    assert_eq!(robust_scale(&[2.0; 4], None).unwrap().basis, ScaleBasis::Constant);
    assert_eq!(robust_scale(&CHEM, None).unwrap().basis, ScaleBasis::Mad);
    assert_eq!(robust_scale(&[f64::NAN], None), None);
}

#[test]
fn missing_values_are_left_out_not_read_as_zero() {
    let x = [f64::NAN, 10.0, 12.0, f64::NAN, 11.0, f64::INFINITY];
    assert_eq!(median(&x), Some(11.0));
    assert_eq!(hodges_lehmann(&x), Some(11.0));
    assert_eq!(median(&[f64::NAN]), None);
    assert_eq!(hodges_lehmann(&[]), None);
    assert_eq!(hodges_lehmann_shift(&[], &[1.0]), None);
    assert_eq!(huber_location(&[], 1.5), None);
    assert_eq!(huber_location(&[3.0, 3.0, 3.0, 9.0], 1.5), Some(3.0));
    assert_eq!(median(&[f64::MAX, f64::MAX]), Some(f64::MAX));
    assert_eq!(hodges_lehmann(&[f64::MAX, f64::MAX]), None, "pair sums overflow");
}
