//! Channels that are logged less often than the rows come.
//!
//! Engine speed, temperatures, throttle and barometer change slowly against the rows: between two of their own
//! values they are filled in on a straight line, over at most three of their usual steps or two seconds. Pressures
//! and lambda are never filled: a made-up pressure would pass for a measured one.

use crate::recording::Quantity;

/// Fills `values` in place; the remark says so, `None` when nothing was to be done.
pub(crate) fn fill(quantity: Quantity, time_s: &[f64], values: &mut [f64]) -> Option<String> {
    let slow = matches!(
        quantity,
        Quantity::EngineSpeed
            | Quantity::CoolantTemperature
            | Quantity::IntakeTemperature
            | Quantity::Throttle
            | Quantity::Barometer
    );
    let count = if slow { values.iter().filter(|v| v.is_finite()).count() } else { 0 };
    if count < 2 || count * 20 >= values.len() * 19 {
        return None;
    }
    let known: Vec<usize> = (0..values.len()).filter(|at| values[*at].is_finite()).collect();
    let mut steps: Vec<f64> = known.windows(2).map(|w| time_s[w[1]] - time_s[w[0]]).collect();
    let mid = steps.len() / 2;
    let usual = *steps.select_nth_unstable_by(mid, f64::total_cmp).1;
    let most = (3.0 * usual).max(2.0);
    for pair in known.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let span = time_s[b] - time_s[a];
        if span > most {
            continue;
        }
        let (from, to) = (values[a], values[b]);
        for at in a + 1..b {
            values[at] = from + (to - from) * (time_s[at] - time_s[a]) / span;
        }
    }
    let (first, last) = (known[0], known[known.len() - 1]);
    for at in 0..first {
        if time_s[first] - time_s[at] <= most {
            values[at] = values[first];
        }
    }
    for at in last + 1..values.len() {
        if time_s[at] - time_s[last] <= most {
            values[at] = values[last];
        }
    }
    Some(format!("logged every {usual:.2} s, filled in on straight lines between"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slow_channel_is_filled_and_a_pressure_is_not() {
        let time: Vec<f64> = (0..9).map(|i| f64::from(i) * 0.1).collect();
        let sparse = || {
            let mut v = vec![f64::NAN; 9];
            (v[0], v[4], v[8]) = (1000.0, 1040.0, 1000.0);
            v
        };
        let mut rpm = sparse();
        assert!(fill(Quantity::EngineSpeed, &time, &mut rpm).is_some());
        assert!((rpm[1] - 1010.0).abs() < 1e-9 && (rpm[6] - 1020.0).abs() < 1e-9);
        let mut pressure = sparse();
        assert!(fill(Quantity::ManifoldPressure, &time, &mut pressure).is_none());
        assert!(pressure[1].is_nan());
    }
}
