//! The first turn where it is not known what a turn does: small, in the right direction, and large enough to be seen.
//!
//! # Method
//! A trial of `w` turns read twice with standard uncertainty `u` per difference teaches the effect `k` with a relative
//! uncertainty of `sqrt((sqrt(2) u / k)^2 + u_t^2) / w`, `u_t` the motion lost in the screw's play. The turn is the smallest whole
//! step for which that is a fifth, at least a quarter and at most half a turn. The screw of the cylinder furthest out is turned,
//! towards the others: its turn is needed anyhow, and of all screws it is the least likely to make things worse.
//!
//! # Source
//! Propagation as in JCGM 100:2008, 5.1; the usual effect of 2 kPa a turn is common practice, no source, and only sizes this turn.

/// Size of the test turn, turns. `u_turns` is the uncertainty of the trial as a turn: `sqrt((sqrt(2) u / k)^2 + u_t^2)`.
#[must_use]
pub fn test_turn(u_turns: f64, step_turns: f64, range_turns: Option<f64>) -> f64 {
    let needed = u_turns / 0.2;
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
        // Closed form: 0.07 / 0.2 = 0.35, next eighth 0.375; bounds of a quarter and a half.
        assert_eq!(test_turn(0.07, 0.125, None), 0.375);
        assert_eq!(test_turn(0.01, 0.125, None), 0.25);
        assert_eq!(test_turn(3.0, 0.125, None), 0.5);
        assert_eq!(test_turn(f64::NAN, 0.125, None), 0.5);
        assert_eq!(test_turn(0.07, 0.125, Some(0.3)), 0.25);
        assert_eq!(test_turn(0.07, 0.125, Some(0.1)), 0.0, "a screw without room is not turned");
    }
}
