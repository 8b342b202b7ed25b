//! Influence learned from rounds whose truth is known, and from published trial weights (rotor balancing uses the same
//! algebra).
#![allow(clippy::unwrap_used)]

use super::*;
use crate::adjust::rounds::centred;
use crate::stats::fixtures::{close, noise};

fn round(turns: &[(u32, f64)], effect: &[(u32, Vec<f64>)], n: usize, u: f64, seed: u64) -> Round {
    let wobble = noise(n, seed);
    let change: Vec<f64> = (0..n)
        .map(|i| {
            let moved: f64 = turns
                .iter()
                .map(|(s, w)| effect.iter().find(|e| e.0 == *s).map_or(0.0, |e| e.1[i]) * w)
                .sum();
            moved + u * 1.732 * wobble[i]
        })
        .collect();
    Round {
        cylinders: (1..=n as u32).collect(),
        turns: turns.to_vec(),
        change_kpa: centred(&change),
        u_kpa: u,
        change_rpm: Some((20.0 * turns.iter().map(|t| t.1).sum::<f64>(), 2.0)),
        own_only: false,
    }
}

/// Each screw moves its own cylinder.
fn plain(k: &[(u32, f64)], n: usize) -> Vec<(u32, Vec<f64>)> {
    k.iter()
        .map(|(s, k)| (*s, (0..n).map(|i| if i + 1 == *s as usize { *k } else { 0.0 }).collect()))
        .collect()
}

#[test]
fn two_screws_turned_together_are_told_apart_by_their_own_cylinders() {
    let truth = plain(&[(2, 2.0), (3, 3.0)], 4);
    let fit = learn(&[round(&[(2, 0.5), (3, -0.5)], &truth, 4, 0.02, 1)], &LearnOptions::default()).unwrap();
    assert_eq!(fit.coupling, Coupling::OwnCylinder);
    for (c, k) in fit.columns.iter().zip([2.0, 3.0]) {
        close(c.kpa_per_turn, k, 3.0 * c.u_kpa_per_turn);
        assert!(c.u_kpa_per_turn < 0.2, "{}", c.u_kpa_per_turn);
        close(c.effect_kpa.iter().sum::<f64>(), 0.0, 1e-12);
    }
}

#[test]
fn one_trial_has_the_uncertainty_of_its_closed_form() {
    // One trial of 0.5 turn read with 0.1 kPa before and after: sqrt(2) 0.1 / 0.5 = 0.2828 kPa a turn for the cylinder alone;
    // against the mean of the n - 1 others sqrt(n/(n - 1)) times that.
    let truth = plain(&[(2, 2.0)], 4);
    let options = LearnOptions { u_turn: 0.0, ..LearnOptions::default() };
    let mut one = round(&[(2, 0.5)], &truth, 4, 0.0, 1);
    one.u_kpa = 2f64.sqrt() * 0.1;
    let fit = learn(&[one.clone()], &options).unwrap();
    close(fit.columns[0].kpa_per_turn, 2.0, 1e-9);
    close(fit.columns[0].u_kpa_per_turn, 0.2828 * (4.0f64 / 3.0).sqrt(), 1e-4);
    // Four such rounds, over sessions, halve it.
    let four = learn(&vec![one; 4], &options).unwrap();
    close(four.columns[0].u_kpa_per_turn, 0.1414 * (4.0f64 / 3.0).sqrt(), 1e-4);
}

#[test]
fn chained_linkage_is_found_and_the_plain_model_would_miss_it() {
    // Screw 2 moves plates 2, 3 and 4 (chained), screws 3 and 4 their own.
    let mut truth = plain(&[(3, 2.0), (4, 2.0)], 4);
    truth.insert(0, (2, vec![0.0, 2.0, 2.0, 2.0]));
    let rounds: Vec<Round> = [[(2, 0.5)], [(3, 0.5)], [(4, 0.5)], [(2, -0.5)], [(3, 0.375)]]
        .iter()
        .enumerate()
        .map(|(s, t)| round(t, &truth, 4, 0.03, 10 + s as u64))
        .collect();
    let fit = learn(&rounds, &LearnOptions::default()).unwrap();
    assert_eq!(fit.coupling, Coupling::Coupled);
    let chained = &fit.columns[0];
    let want = centred(&truth[0].1);
    for ((got, want), u) in chained.effect_kpa.iter().zip(&want).zip(&chained.u_effect_kpa) {
        close(*got, *want, 4.0 * u);
    }
    // With the first round alone the chain shows, but not how three screws act.
    let few = learn(
        &[rounds[0].clone(), round(&[(3, 0.5), (4, 0.5)], &truth, 4, 0.03, 20)],
        &LearnOptions::default(),
    );
    assert!(few == Err(InfluenceError::TooFewRounds { found: 2, screws: 3, alone: vec![2] }), "{few:?}");
}

#[test]
fn speed_is_learned_with_its_uncertainty() {
    let truth = plain(&[(1, 2.0), (2, 2.0)], 3);
    let rounds = [round(&[(1, 0.5)], &truth, 3, 0.01, 3), round(&[(2, -0.25)], &truth, 3, 0.01, 4)];
    let fit = learn(&rounds, &LearnOptions::default()).unwrap();
    let (rpm, u) = fit.columns[0].rpm_per_turn.unwrap();
    close(rpm, 20.0, 0.5);
    // Closed form: u = 2 / sqrt(0.5^2 + 0.25^2) per turn of either screw, with k equal.
    close(u, 2.0 / (0.3125f64).sqrt(), 0.3);
}

#[test]
fn refusals() {
    let truth = plain(&[(1, 2.0), (2, -2.0)], 3);
    let options = LearnOptions::default();
    assert_eq!(learn(&[], &options), Err(InfluenceError::NoRound));
    let mut other = round(&[(1, 0.5)], &truth, 3, 0.01, 5);
    other.cylinders = vec![1, 2, 4];
    assert_eq!(
        learn(&[round(&[(1, 0.5)], &truth, 3, 0.01, 5), other], &options),
        Err(InfluenceError::OtherCylinders)
    );
    // A screw that works the wrong way was noted wrongly: it is left out and named.
    let wrong = learn(&[round(&[(1, 0.5), (2, 0.5)], &truth, 3, 0.01, 6)], &options).unwrap();
    assert_eq!((wrong.columns.len(), wrong.without_effect[0].0), (1, 2));
    close(wrong.without_effect[0].1, -2.0, 0.2);
    // Nothing above the noise.
    let faint = learn(&[round(&[(1, 0.05)], &truth, 3, 0.5, 7)], &options);
    assert_eq!(faint, Err(InfluenceError::NoEffect));
    // Turned together in every round: the matrix of turns is singular.
    let t = vec![vec![0.5, 0.25], vec![0.5, 0.25]];
    let bad = least_squares(&t, &[vec![1.0, 0.5]], None, 30.0);
    assert!(matches!(bad, Err(InfluenceError::IllConditioned { .. })));
    // Two unit columns with cosine c have the condition number sqrt((1 + c)/(1 - c)), 6.4 at c = 0.953: the usual limit accepts
    // it, a tighter one does not.
    let near = vec![vec![1.0, 0.0], vec![0.953, 0.303]];
    assert!(least_squares(&near, &[vec![1.0, 0.5]], None, 30.0).is_ok());
    assert!(least_squares(&near, &[vec![1.0, 0.5]], None, 5.0).is_err());
}

#[test]
fn goodman_1964_as_three_rounds_of_two_screws() {
    // Goodman, J. Eng. Ind. 86 (1964), 3 readings and 2 planes, as carried by a public balancing library's tests: weights (0.81,
    // 1.48), exactly 17/21 and 31/21. The same least squares serves to learn: rounds (3, -2), (5, -2), (5, -3), change -y0.
    let Table { columns: c, condition, .. } =
        least_squares(&[vec![3.0, 5.0, 5.0], vec![-2.0, -2.0, -3.0]], &[vec![-1.0, 1.0, 0.0]], None, 30.0)
            .unwrap();
    close(c[0][0], 17.0 / 21.0, 1e-12);
    close(c[1][0], 31.0 / 21.0, 1e-12);
    close(condition, 11.641_152_449_2, 1e-9);
}

fn polar(size: f64, deg: f64) -> (f64, f64) {
    let (s, c) = deg.to_radians().sin_cos();
    (size * c, size * s)
}

#[test]
fn two_plane_trial_weights_of_an_application_note() {
    // Two-plane example of application note 17-227 (table 2, example 6), figures as carried by a public balancing library: trial
    // 1.15 g in each plane; |C| 78.433, 9.462, 15.34, 32.56 at 58.4, 10.2, 145.3, 142.4 degrees. A complex weight is two real
    // "screws": the same trial turned by 90 degrees turns its effect by 90 degrees.
    let start = [polar(170.0, 112.0), polar(53.0, 78.0)];
    let trials = [[polar(235.0, 94.0), polar(58.0, 68.0)], [polar(185.0, 115.0), polar(77.0, 104.0)]];
    let mut turns = vec![vec![0.0; 4]; 4];
    let mut change = vec![vec![0.0; 4]; 4];
    for (p, trial) in trials.iter().enumerate() {
        for quarter in 0..2 {
            let r = 2 * p + quarter;
            turns[r][r] = 1.15;
            for (i, (after, before)) in trial.iter().zip(&start).enumerate() {
                let d = (after.0 - before.0, after.1 - before.1);
                let d = if quarter == 0 { d } else { (-d.1, d.0) };
                (change[2 * i][r], change[2 * i + 1][r]) = d;
            }
        }
    }
    let c = least_squares(&turns, &change, None, 30.0).unwrap().columns;
    let want = [(0, 0, 78.433, 58.4), (0, 1, 9.462, 10.2), (1, 0, 15.34, 145.3), (1, 1, 32.56, 142.4)];
    for (plane, reading, size, deg) in want {
        let (re, im) = (c[2 * plane][2 * reading], c[2 * plane][2 * reading + 1]);
        close(re.hypot(im), size, 6e-3);
        close(im.atan2(re).to_degrees().rem_euclid(360.0), deg, 0.06);
    }
}

#[test]
fn chi_square_limits_of_printed_tables() {
    // Upper 1 % points as printed in common tables (from memory): 6.635, 15.086, 23.209, 50.892.
    for (df, want) in [(1.0, 6.635), (5.0, 15.086), (10.0, 23.209), (30.0, 50.892)] {
        close(chi_square_limit(df), want, 0.02 * want);
    }
}
