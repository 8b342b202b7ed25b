//! Sines and cosines of many phases at once.
//!
//! The library's sine is a call for each row, and nothing around it can be done for several rows together. Here a phase is
//! cut to the nearest whole cycle, a quarter of it goes through the series of sine and cosine, and two doublings of the
//! angle lead back: the same few products and sums for each row, without a branch.
//!
//! # Source
//! Series and doubling formulas: NIST Digital Library of Mathematical Functions, 4.19.1, 4.19.2, 4.21.27, 4.21.28 (from
//! memory).

/// Rows that are worked on together.
pub(in crate::pulse) const ROWS: usize = 16;

/// One figure for each of [`ROWS`] rows.
pub(in crate::pulse) type Lane = [f64; ROWS];

/// Adding and taking off 1.5 * 2^52 leaves the nearest whole number.
const WHOLE: f64 = 6_755_399_441_055_744.0;

/// Reciprocal factorials with the signs of the series, the highest power first: sine up to 15, cosine up to 16.
const SINE: [f64; 7] = [
    -1.0 / 1_307_674_368_000.0,
    1.0 / 6_227_020_800.0,
    -1.0 / 39_916_800.0,
    1.0 / 362_880.0,
    -1.0 / 5040.0,
    1.0 / 120.0,
    -1.0 / 6.0,
];
const COSINE: [f64; 8] = [
    1.0 / 20_922_789_888_000.0,
    -1.0 / 87_178_291_200.0,
    1.0 / 479_001_600.0,
    -1.0 / 3_628_800.0,
    1.0 / 40_320.0,
    -1.0 / 720.0,
    1.0 / 24.0,
    -0.5,
];

/// Sine and cosine of phases.
///
/// # Units
/// Engine cycles of less than 2^51 in; beyond, the cut to whole cycles is no longer exact.
#[inline(always)]
#[allow(clippy::needless_range_loop)]
pub(in crate::pulse) fn turn(cycles: &Lane, sine: &mut Lane, cosine: &mut Lane) {
    // By index: what an iterator is made of is not always taken into a loop for wide registers.
    for j in 0..ROWS {
        let x = cycles[j];
        // At most an eighth of a turn.
        let angle = std::f64::consts::FRAC_PI_2 * (x - ((x + WHOLE) - WHOLE));
        let square = angle * angle;
        let (mut odd, mut even) = (SINE[0], COSINE[0]);
        let mut k = 1;
        while k < SINE.len() {
            odd = odd * square + SINE[k];
            k += 1;
        }
        let mut k = 1;
        while k < COSINE.len() {
            even = even * square + COSINE[k];
            k += 1;
        }
        let (s1, c1) = (angle + angle * square * odd, 1.0 + square * even);
        let (s2, c2) = (2.0 * s1 * c1, c1 * c1 - s1 * s1);
        sine[j] = 2.0 * s2 * c2;
        cosine[j] = c2 * c2 - s2 * s2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_the_library_has_them() {
        let (mut s, mut c) = ([0.0; ROWS], [0.0; ROWS]);
        let mut worst: f64 = 0.0;
        for block in 0..2000 {
            let cycles: Lane = std::array::from_fn(|j| f64::from(block) * 3.7 - 900.0 + j as f64 * 0.0137);
            turn(&cycles, &mut s, &mut c);
            for j in 0..ROWS {
                let angle = std::f64::consts::TAU * (cycles[j] - cycles[j].round());
                worst = worst.max((s[j] - angle.sin()).abs()).max((c[j] - angle.cos()).abs());
            }
        }
        assert!(worst < 1e-14, "{worst:e}");
    }

    #[test]
    fn quarters_are_exact_to_the_last_bits() {
        let cycles: Lane = std::array::from_fn(|j| j as f64 * 0.25);
        let (mut s, mut c) = ([0.0; ROWS], [0.0; ROWS]);
        turn(&cycles, &mut s, &mut c);
        let want = [(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0)];
        for j in 0..ROWS {
            assert!((s[j] - want[j % 4].0).abs() < 1e-14 && (c[j] - want[j % 4].1).abs() < 1e-14, "{j}");
        }
    }
}
