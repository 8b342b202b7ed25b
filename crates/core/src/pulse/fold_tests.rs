//! The averaged pulse against closed forms.

#![allow(clippy::unwrap_used)]

use super::*;

/// Seeded uniform numbers: splitmix64 (Steele, Lea and Flood, OOPSLA 2014; constants from memory).
struct Mix(u64);

impl Mix {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / 9_007_199_254_740_992.0
    }
}

/// Closed form of the pulse, kPa: three harmonics.
fn pulse(x: f64) -> f64 {
    let t = std::f64::consts::TAU * x;
    40.0 - 12.0 * t.cos() + 4.0 * (2.0 * t + 0.5).cos() + 2.0 * (3.0 * t).sin()
}

fn normal(rng: &mut Mix) -> f64 {
    let (a, b) = (1.0 - rng.next(), rng.next());
    (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

/// Readings with white noise, `per_cycle` of them in each of `cycles` cycles, at phases that creep through the cycle.
fn readings(cycles: usize, per_cycle: f64, sd: f64, seed: u64) -> (Vec<f64>, Vec<f64>) {
    let mut rng = Mix(seed);
    let rows = (cycles as f64 * per_cycle) as usize;
    let at: Vec<f64> = (0..rows).map(|k| (k as f64 + 0.5) / per_cycle).collect();
    let values = at.iter().map(|x| pulse(*x) + sd * normal(&mut rng)).collect();
    (at, values)
}

fn folded(at: &[f64], values: &[f64], bins: usize) -> Folded {
    let rows: Vec<usize> = (0..at.len()).collect();
    fold(at, values, &vec![1.0; at.len()], &rows, bins)
}

/// Mean of the closed form over a bin, by a fine sum.
fn truth(b: usize, bins: usize) -> f64 {
    (0..100).map(|k| pulse((b as f64 + (k as f64 + 0.5) / 100.0) / bins as f64)).sum::<f64>() / 100.0
}

fn rms_error(f: &Folded) -> f64 {
    let n = f.mean.len();
    let sum: f64 = (0..n).map(|b| (f.mean[b] - truth(b, n)).powi(2)).sum();
    (sum / n as f64).sqrt()
}

/// Closed form (Braun 1975): white noise of the average of N is sd / sqrt N. 180 readings a cycle on 180 bins: one
/// reading a bin and cycle. The naive band (sd itself) does not fall at all.
#[test]
fn noise_falls_as_one_over_root_n() {
    for cycles in [16usize, 64, 256, 1024] {
        let (at, values) = readings(cycles, 180.0, 2.0, 7 + cycles as u64);
        let f = folded(&at, &values, 180);
        let want = 2.0 / (cycles as f64).sqrt();
        // The rms over 180 bins scatters by 1 / sqrt 360 = 5 %.
        assert!((rms_error(&f) / want - 1.0).abs() < 0.2, "{cycles}: {} for {want}", rms_error(&f));
        // The extreme of 180 readings has a long tail: one cycle in some hundreds may be taken for odd by chance.
        assert_eq!(f.cycles + f.rejected.odd, cycles as u64);
        assert!(f.rejected.odd <= 1 + cycles as u64 / 300, "{} of {cycles}", f.rejected.odd);
        let band = f.sd.iter().sum::<f64>() / 180.0;
        assert!((band - 2.0).abs() < 0.2, "the band stays: {band}");
        assert!((f.standard_error(90) * (cycles as f64).sqrt() / f.sd[90] - 1.0).abs() < 0.01);
    }
}

/// Equivalent time: 4.03 readings a cycle fill sixty bins; a plain line through the four readings of one cycle misses the
/// dip by kilopascals.
#[test]
fn four_readings_a_cycle_are_enough() {
    let (at, values) = readings(2_000, 4.03, 0.5, 3);
    let f = folded(&at, &values, 60);
    assert!(f.filled() == 1.0);
    let n = 2_000.0 * 4.03 / 60.0;
    // Not every bin gets the same share, and readings do not lie evenly inside a bin: 1.6 times the closed form.
    assert!(rms_error(&f) < 1.6 * 0.5 / f64::sqrt(n), "{} with {n} a bin", rms_error(&f));
    assert_eq!(f.level_sd_kpa, None, "four readings say nothing of a cycle's mean");
    // Closed form of the dip by a fine search.
    let (phase, low) = (0..100_000)
        .map(|k| f64::from(k) / 1e5)
        .map(|x| (x, pulse(x)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap();
    let (got_phase, got) = f.lowest().unwrap();
    assert!((got - low).abs() < 0.3 && (got_phase - phase).abs() < 0.02, "{got_phase} {got}, {phase} {low}");
    // Naive: the lowest of the four readings of each cycle, on the average.
    let lowest: Vec<f64> =
        values.chunks_exact(4).map(|c| c.iter().copied().fold(f64::INFINITY, f64::min)).collect();
    let naive = lowest.iter().sum::<f64>() / lowest.len() as f64;
    assert!(naive - low > 0.5, "{naive} for {low}");
}

#[test]
fn rejected_cycles_are_counted_with_their_reason() {
    let (mut at, mut values) = readings(200, 180.0, 0.2, 5);
    values[50 * 180 + 30] += 60.0; // a spike
    values[120 * 180 + 10..120 * 180 + 150].fill(101.3); // a filled drop-out
    let cut = 80 * 180..80 * 180 + 100;
    at.drain(cut.clone());
    values.drain(cut);
    let f = folded(&at, &values, 180);
    assert_eq!((f.cycles, f.rejected.odd, f.rejected.incomplete), (197, 2, 1));
    assert_eq!(f.rejected.odd_cycles, [50, 120]);
    assert!(rms_error(&f) < 0.03);
    // Naive: a mean over everything keeps 60 kPa / 200 in the spike's bin and more in the drop-out's.
    let naive: f64 = values
        .iter()
        .zip(&at)
        .filter(|(_, x)| ((*x - x.floor()) * 180.0) as usize == 30)
        .map(|(v, _)| v)
        .sum::<f64>();
    let n = at.iter().filter(|x| ((*x - x.floor()) * 180.0) as usize == 30).count() as f64;
    assert!((naive / n - truth(30, 180)).abs() > 0.15, "{}", naive / n - truth(30, 180));
}

/// Heywood 9.4.2 by hand: per-cycle levels of known scatter.
#[test]
fn variation_from_cycle_to_cycle() {
    let levels = [34.1, 35.0, 33.6, 34.7, 34.4, 33.9, 34.8, 34.2];
    let at: Vec<f64> = (0..800).map(|k| (k as f64 + 0.5) / 100.0).collect();
    let values: Vec<f64> = (0..800).map(|k| levels[k / 100]).collect();
    // 100 s / mean with n - 1, worked by hand: 1.39178639323 %.
    assert!((folded(&at, &values, 180).variation_pct().unwrap() - 1.391_786_393_23).abs() < 1e-6);
}

#[test]
fn the_same_bytes_for_any_number_of_threads() {
    let (at, values) = readings(1_000, 150.0, 1.0, 9);
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| folded(&at, &values, 180))
    };
    let bits = |f: &Folded| f.mean.iter().chain(&f.sd).map(|v| v.to_bits()).collect::<Vec<_>>();
    let one = bits(&with(1));
    for threads in [2, 3, 8] {
        assert_eq!(one, bits(&with(threads)));
    }
}

#[test]
fn nothing_gives_nothing() {
    let f = folded(&[], &[], 60);
    assert_eq!((f.cycles, f.filled()), (0, 0.0));
    assert!(f.lowest().is_none() && f.variation_pct().is_none());
}
