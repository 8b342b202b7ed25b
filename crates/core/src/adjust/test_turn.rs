//! The first turn where it is not known what a turn does: small, in the right direction, and large enough to be seen.
//!
//! # Method
//! A trial of `w` turns read with standard uncertainty `u` per difference teaches the effect with `sqrt(2) u / w`. The turn is
//! the smallest whole step for which that is a fifth of a usual effect, at least a quarter and at most half a turn. The screw of the
//! cylinder furthest out is turned, towards the others: its turn is needed anyhow, and of all screws it is the least likely to make
//! things worse.
//!
//! # Source
//! Propagation as in JCGM 100:2008, 5.1; the usual effect of 2 kPa a turn is common practice, no source, and only sizes this turn.

/// Size of the test turn, turns.
#[must_use]
pub fn test_turn(u_pair_kpa: f64, usual_kpa_per_turn: f64, step_turns: f64, range_turns: Option<f64>) -> f64 {
    let needed = std::f64::consts::SQRT_2 * u_pair_kpa / (0.2 * usual_kpa_per_turn);
    let wanted = if needed.is_finite() { needed.clamp(0.25, 0.5) } else { 0.5 };
    let steps = (wanted / step_turns - 1e-9).ceil().max(1.0);
    let most = range_turns.map_or(f64::INFINITY, |r| (r / step_turns + 1e-9).floor());
    step_turns * steps.min(most)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_turn_grows_with_the_noise_and_stays_small() {
        // sqrt(2) 0.1 / 0.4 = 0.354: next eighth 0.375.
        assert_eq!(test_turn(0.1, 2.0, 0.125, None), 0.375);
        assert_eq!(test_turn(0.01, 2.0, 0.125, None), 0.25);
        assert_eq!(test_turn(3.0, 2.0, 0.125, None), 0.5);
        assert_eq!(test_turn(f64::NAN, 2.0, 0.125, None), 0.5);
        assert_eq!(test_turn(0.1, 2.0, 0.125, Some(0.3)), 0.25);
        assert_eq!(test_turn(0.1, 2.0, 0.125, Some(0.1)), 0.0, "a screw without room is not turned");
    }
}
