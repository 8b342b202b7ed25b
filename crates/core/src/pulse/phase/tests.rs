use super::*;

/// A speed that climbs evenly: averaged over two cycles it is the same, and the phase is the integral of the climb,
/// (900 t + 200 t^2 / 120) / 120 cycles.
#[test]
fn the_phase_of_many_rows_a_cycle_is_that_of_the_climb() {
    let hz = 2000.0;
    let time: Vec<f64> = (0..(60.0 * hz) as usize).map(|k| k as f64 / hz).collect();
    let cycles = |t: f64| (900.0 * t + 200.0 * t * t / 120.0) / 120.0;
    let rpm = |t: f64| 900.0 + 200.0 / 60.0 * t;
    let found = integrate(&time, &time.iter().map(|t| rpm(*t)).collect::<Vec<f64>>(), 4);
    // Compared inside, from a place on: near the ends there is less to average over.
    let from = 2000;
    let worst = |list: &[f64]| {
        (from..list.len() - 2000)
            .map(|k| (list[k] - list[from] - (cycles(time[k]) - cycles(time[from]))).abs())
            .fold(0.0, f64::max)
    };
    assert!(worst(&found) < 1e-5, "{}", worst(&found));
    // Naive: the value of each anchor held up to the next one.
    let mut naive: Vec<f64> = (0..time.len()).map(|k| cycle_hz(rpm(time[k - k % 14]), 4)).collect();
    integral(&time, &mut naive);
    assert!(worst(&naive) > 1e-3, "{}", worst(&naive));
}

/// An engine that stops and a gap: between anchors that are far apart nothing is laid on a line.
#[test]
fn a_stop_and_a_gap_are_not_smoothed_over() {
    let hz = 2000.0;
    let time: Vec<f64> =
        (0..40_000).map(|k| f64::from(k) / hz + if k >= 20_000 { 100.0 } else { 0.0 }).collect();
    let rpm: Vec<f64> = (0..40_000).map(|k| if k < 10_000 { 1200.0 } else { 0.0 }).collect();
    let found = integrate(&time, &rpm, 4);
    // Five seconds at ten cycles a second; the stop is a step, averaged over a cycle to either side.
    assert!((found[39_999] - 50.0).abs() < 0.6, "{}", found[39_999]);
    assert_eq!(found[12_000], found[39_999]);
}
