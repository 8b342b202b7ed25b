//! Mean, scatter, autocorrelation, robust location and the error of a mean.

use evenpull_core::stats::autocorr::autocorrelation;
use evenpull_core::stats::mean_uncertainty::{batch_means_se, moving_block_se, naive_se, newey_west_se};
use evenpull_core::stats::moments::moments;
use evenpull_core::stats::robust::{hodges_lehmann, huber_location, mad_sigma, median, quantile};

use super::{Computed, Data};

/// `base + 0.2`, then `base + 0.1` and `base + 0.3` in turn: the rule of NumAcc2 to NumAcc4.
fn num_acc(base: f64) -> Vec<f64> {
    std::iter::once(base + 0.2).chain((0..1000).map(|i| base + if i % 2 == 0 { 0.1 } else { 0.3 })).collect()
}

/// First `count` digits of pi from whole numbers: Machin's formula in groups of nine digits.
fn pi_digits(count: usize) -> Vec<f64> {
    const GROUP: u64 = 1_000_000_000;
    let groups = count / 9 + 4;
    let divide = |a: &mut Vec<u64>, by: u64| {
        let mut rest = 0;
        for d in a.iter_mut() {
            let v = rest * GROUP + *d;
            (*d, rest) = (v / by, v % by);
        }
    };
    let add = |a: &mut Vec<u64>, b: &[u64], plus: bool| {
        let mut carry = 0i64;
        for i in (0..a.len()).rev() {
            let v = a[i] as i64 + carry + if plus { b[i] as i64 } else { -(b[i] as i64) };
            carry = v.div_euclid(GROUP as i64);
            a[i] = v.rem_euclid(GROUP as i64) as u64;
        }
    };
    let mut total = vec![0u64; groups];
    // pi = 16 atan(1/5) - 4 atan(1/239)
    for (factor, x, first_plus) in [(16u64, 5u64, true), (4, 239, false)] {
        let mut power = vec![0u64; groups];
        power[0] = factor;
        divide(&mut power, x);
        let mut plus = first_plus;
        for n in (1u64..).step_by(2) {
            if power.iter().all(|d| *d == 0) {
                break;
            }
            let mut term = power.clone();
            divide(&mut term, n);
            add(&mut total, &term, plus);
            divide(&mut power, x * x);
            plus = !plus;
        }
    }
    let text: String =
        std::iter::once(total[0].to_string()).chain(total[1..].iter().map(|g| format!("{g:09}"))).collect();
    text.bytes().take(count).map(|b| f64::from(b - b'0')).collect()
}

pub(super) fn compute(data: &Data) -> Computed {
    let mut out: Computed = Vec::new();
    let mut pi = pi_digits(5000);
    pi[956] = 3.0;
    let sets = [
        (
            ["nist/numacc1/mean", "nist/numacc1/sd", "nist/numacc1/r1"],
            vec![10_000_001.0, 10_000_003.0, 10_000_002.0],
        ),
        (["nist/numacc2/mean", "nist/numacc2/sd", "nist/numacc2/r1"], num_acc(1.0)),
        (["nist/numacc3/mean", "nist/numacc3/sd", "nist/numacc3/r1"], num_acc(1e6)),
        (["nist/numacc4/mean", "nist/numacc4/sd", "nist/numacc4/r1"], num_acc(1e7)),
        (["nist/pidigits/mean", "nist/pidigits/sd", "nist/pidigits/r1"], pi),
    ];
    for (ids, x) in sets {
        let m = moments(&x).unwrap();
        out.push((ids[0], vec![m.mean]));
        out.push((ids[1], vec![m.sd]));
        out.push((ids[2], vec![autocorrelation(&x, 1).unwrap()]));
    }
    let chem = data.series("chem");
    let iqr = quantile(&chem, 0.75).unwrap() - quantile(&chem, 0.25).unwrap();
    out.push(("chem/mean", vec![moments(&chem).unwrap().mean]));
    out.push(("chem/median", vec![median(&chem).unwrap()]));
    out.push(("chem/mad_sigma", vec![mad_sigma(&chem).unwrap()]));
    out.push(("chem/mad_sigma_full", vec![mad_sigma(&chem).unwrap()]));
    // Interquartile range of the standard normal: 1.349.
    out.push(("chem/iqr_sigma", vec![iqr / 1.348_979_500_392_163_5]));
    out.push(("chem/huber", vec![huber_location(&chem, 1.5).unwrap()]));
    out.push(("chem/hodges_lehmann", vec![hodges_lehmann(&chem).unwrap()]));
    let nile = data.series("nile");
    out.push(("nile/se", vec![naive_se(&nile).unwrap(), newey_west_se(&nile, 4).unwrap()]));
    let batches = |b| batch_means_se(&nile, b).unwrap();
    out.push(("nile/se_blocks", vec![batches(5), batches(10), moving_block_se(&nile, 5).unwrap()]));
    out
}
