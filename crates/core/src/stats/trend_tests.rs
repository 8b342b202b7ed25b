//! Checks of the trend on the worked examples of the EPA Unified Guidance (2009), as kept with the R package EnvStats,
//! and on small published sets.

#![allow(clippy::unwrap_used)]

use super::*;
use crate::stats::fixtures::{NILE, close, close_rel, noise};
use crate::stats::linear::simple_regression;

/// Example 17-6, sulfate; the dates are year.month as published.
const T6: [f64; 23] = [
    89.6, 89.8, 90.1, 90.3, 90.6, 90.8, 91.1, 91.3, 91.6, 91.8, 92.1, 92.6, 93.1, 93.6, 94.1, 94.6, 95.1,
    95.6, 95.8, 96.1, 96.3, 96.6, 96.8,
];
const Y6: [f64; 23] = [
    480., 450., 490., 520., 485., 510., 510., 530., 510., 560., 560., 540., 590., 550., 600., 700., 570.,
    610., 650., 620., 830., 720., 590.,
];
/// Example 17-7, sodium.
const T7: [f64; 10] = [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3];
const Y7: [f64; 10] = [56., 53., 51., 55., 52., 60., 62., 59., 61., 63.];

#[test]
fn epa_example_17_6() {
    let f = theil_sen(&T6, &Y6, 0.95).unwrap();
    assert_eq!(f.trend.s, 194);
    close(f.trend.variance, 1428.0, 1e-9);
    close(f.trend.z, 5.107_322, 5e-7);
    close_rel(f.trend.p_normal, 3.267_574e-7, 2e-7);
    close(f.trend.tau, 0.766_798_4, 5e-8);
    close(f.slope, 26.666_666_7, 5e-7);
    close(f.slope_low, 20.0, 1e-9);
    close(f.slope_high, 35.711_82, 5e-6);
    close(f.intercept, -1_909.333_333_3, 1e-6);
    assert_eq!(f.trend.p_exact, None);
}

#[test]
fn epa_example_17_7() {
    let f = theil_sen(&T7, &Y7, 0.95).unwrap();
    assert_eq!(f.trend.s, 25);
    close(f.trend.variance, 125.0, 1e-9);
    close(f.trend.z, 2.146_625, 5e-7);
    close(f.trend.p_normal, 0.031_823_13, 5e-9);
    close(f.slope, 1.333_333_3, 1e-7);
    close(f.slope_low, 0.399_208_3, 5e-8);
    close(f.slope_high, 2.333_333_3, 1e-7);
    close(f.intercept, -65.966_666_7, 1e-7);
    // Crossing of 70 by the line through the medians, recomputed by hand formula: 101.975, 97.957 to 123.911976.
    match forecast(&f, 70.0, 0.05) {
        Forecast::At { t, low, high } => {
            close(t, 101.975, 1e-9);
            close(low, 97.957_142_857, 1e-8);
            close(high, 123.911_976, 1e-5);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn rounded_ranks_give_another_interval() {
    // scipy.stats.theilslopes rounds the ranks: 20 to 35.849 for example 17-6; EPA interpolates: 35.71182.
    let f = theil_sen(&T6, &Y6, 0.95).unwrap();
    assert!((f.slope_high - 35.849).abs() > 0.1);
}

#[test]
fn sen_1968_example() {
    // As in the tests of scipy and of the R package deming: slope 4, 93 % interval 26/7 to 35/8; scipy intercept 4
    // ("separate").
    let (t, y) = ([1., 2., 3., 4., 10., 12., 18.], [9., 15., 19., 20., 45., 55., 78.]);
    let f = theil_sen(&t, &y, 0.93).unwrap();
    assert_eq!((f.slope, f.intercept, f.pairs), (4.0, 4.0, 21));
    let wide = theil_sen(&t, &y, 0.999_999).unwrap();
    assert!(
        wide.slope_low == f64::NEG_INFINITY && wide.slope_high == f64::INFINITY,
        "7 points cannot give that"
    );
    // Published ends are the slopes number 4 and 18, that is C = 13; ours at 93 % lie within half a rank inside.
    assert!(f.slope_low >= 26.0 / 7.0 && f.slope_low < 3.75, "{}", f.slope_low);
    assert!(f.slope_high <= 35.0 / 8.0 && f.slope_high > 25.0 / 6.0, "{}", f.slope_high);
    let thirteen = 1.0 - normal_two_sided(13.0 / (133.0f64 / 3.0).sqrt());
    let ends = theil_sen(&t, &y, thirteen).unwrap();
    close(ends.slope_low, 26.0 / 7.0, 1e-6);
    close(ends.slope_high, 35.0 / 8.0, 1e-6);
}

#[test]
fn one_wild_point_moves_least_squares_only() {
    // Helsel & Hirsch, chapter 10: slope 1, S 19, tau 0.904762 (from memory, arithmetic redone); least squares 48/28.
    let t: Vec<f64> = (1..8).map(f64::from).collect();
    let y = [1., 2., 3., 4., 5., 16., 7.];
    let f = theil_sen(&t, &y, 0.95).unwrap();
    assert_eq!((f.slope, f.trend.s), (1.0, 19));
    close(f.trend.tau, 0.904_762, 5e-7);
    let ols = simple_regression(&t, &y).unwrap();
    assert!(ols.slope > 1.7);
}

#[test]
fn exact_distribution_of_small_samples() {
    // Gilbert, figure 16.1 (10, 15, 14, 20): S = 4 (from memory); P(S >= 4) = 4/24, counted by hand; two-sided 8/24.
    let m = mann_kendall(&[10.0, 15.0, 14.0, 20.0]).unwrap();
    assert_eq!(m.s, 4);
    close(m.p_exact.unwrap(), 8.0 / 24.0, 1e-15);
    // Smallest p: 2/n!.
    let mut factorial = 1.0;
    for n in 2..=10u32 {
        factorial *= f64::from(n);
        let rising: Vec<f64> = (0..n).map(f64::from).collect();
        close_rel(mann_kendall(&rising).unwrap().p_exact.unwrap(), 2.0 / factorial, 1e-12);
    }
    assert_eq!(mann_kendall(&[2.0, 1.0, 1.0]).unwrap().p_exact, None);
}

#[test]
fn normal_approximation_claims_too_much_for_four_points() {
    // Four rising points: exact p 2/24 = 0.083; without continuity correction z = 6/sqrt(8.667) gives 0.0415, "significant".
    let m = mann_kendall(&[1.0, 2.0, 3.0, 4.0]).unwrap();
    close(m.p(), 2.0 / 24.0, 1e-15);
    assert!(normal_two_sided(6.0 / m.variance.sqrt()) < 0.05);
}

#[test]
fn ties_and_nile() {
    // pymannkendall 1.4.3 original_test.
    let m = mann_kendall(&[5., 5., 6., 6., 6., 7., 5., 8., 8., 9.]).unwrap();
    assert_eq!(m.s, 30);
    close(m.variance, 116.666_666_667, 1e-8);
    close(m.z, 2.684_878_289_34, 1e-10);
    close(m.p_normal, 0.007_255_622_276_78, 1e-11);
    let m = mann_kendall(&NILE).unwrap();
    assert_eq!(m.s, -1387);
    close(m.variance, 112_728.333_333, 1e-5);
    close(m.z, -4.128_066_522_84, 1e-10);
    let t: Vec<f64> = (0..100).map(f64::from).collect();
    close(theil_sen(&t, &NILE, 0.95).unwrap().slope, -2.6, 1e-12);
}

#[test]
fn interval_holds_as_often_as_it_says() {
    let t: Vec<f64> = (0..20).map(f64::from).collect();
    let hits = (0..400)
        .filter(|s| {
            let y: Vec<f64> = noise(20, 3000 + s).iter().zip(&t).map(|(e, x)| e + 0.1 * x).collect();
            let f = theil_sen(&t, &y, 0.9).unwrap();
            (f.slope_low..=f.slope_high).contains(&0.1)
        })
        .count();
    assert!((340..385).contains(&hits), "90 % interval held {hits} of 400");
}

#[test]
fn forecast_refusals() {
    let line = |t: &[f64], y: &[f64]| theil_sen(t, y, 0.95).unwrap();
    let f = line(&[0., 1., 2., 3.], &[1., 2., 3., 4.]);
    assert_eq!(forecast(&f, 5.0, 0.05), Forecast::TooFew { n: 4 });
    let flat = line(&[0., 1., 2., 3., 4., 5.], &[1., 2., 1.1, 1.9, 1.2, 1.8]);
    assert!(matches!(forecast(&flat, 5.0, 0.05), Forecast::NoTrend { .. }));
    let t: Vec<f64> = (0..8).map(f64::from).collect();
    let rising = line(&t, &t);
    assert_eq!(forecast(&rising, -5.0, 0.05), Forecast::Never);
    assert_eq!(forecast(&rising, 6.0, 0.05), Forecast::Reached);
    assert_eq!(forecast(&rising, 15.0, 0.05), Forecast::BeyondReach { horizon: 14.0 });
    assert!(matches!(forecast(&rising, 10.0, 0.05), Forecast::At { t, .. } if t == 10.0));
    let falling: Vec<f64> = t.iter().map(|v| -v).collect();
    assert!(matches!(forecast(&line(&t, &falling), -10.0, 0.05), Forecast::At { t, .. } if t == 10.0));
    assert_eq!(forecast(&line(&t, &falling), 3.0, 0.05), Forecast::Never);
    // The naive way, a least-squares line run to the limit, would promise a date for the flat series.
    let ols = simple_regression(&[0., 1., 2., 3., 4., 5.], &[1., 2., 1.1, 1.9, 1.2, 1.8]).unwrap();
    assert!(ols.slope > 0.0 && (5.0 - ols.intercept) / ols.slope > 5.0);
}

#[test]
fn unordered_times_and_gaps() {
    let shuffled = theil_sen(&[3., 1., 2., f64::NAN, 0.], &[6., 2., 4., 9., 0.], 0.95).unwrap();
    assert_eq!((shuffled.n, shuffled.slope, shuffled.trend.s), (4, 2.0, 6));
    assert!(theil_sen(&[1.0, 1.0], &[1.0, 2.0], 0.95).is_err());
    assert!(theil_sen(&[1.0], &[1.0, 2.0], 0.95).is_err());
    assert!(theil_sen(&[1.0, 2.0], &[1.0, f64::NAN], 0.95).is_err());
    assert!(theil_sen(&[1.0, 2.0], &[1.0, 2.0], 1.0).is_err());
    assert!(mann_kendall(&[f64::NAN]).is_err());
    assert_eq!(mann_kendall(&[3.0, 3.0, 3.0]).unwrap().p(), 1.0);
}
