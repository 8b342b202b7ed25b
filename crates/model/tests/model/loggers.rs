//! The same run as different loggers see it.

use evenpull_model::{Engine, Event, Extras, Logger, Quantity, Run, Scenario, Sensor};

use super::{mean, quiet_four, run, sd};

fn uneven(duration_s: f64) -> Run {
    let mut s = Scenario::new(Engine::inline_four(), duration_s, 21);
    s.cylinder(3).plate = 0.92;
    run(&s)
}

fn ideal(logger: Logger) -> Logger {
    logger.with_sensors(vec![Sensor::ideal()])
}

#[test]
fn fast_damped_and_cycle_mean_agree_with_the_truth() {
    let run = uneven(60.0);
    let t = run.truth(0.0, 60.0).unwrap();
    let cycle_means = Logger { polled: false, jitter_s: 0.0, ..Logger::diagnostic_link(4.0) };
    for (logger, tolerance, scatter) in [
        (Logger::momentary(1_000.0), 0.05, 5.0..15.0),
        (Logger::damped(50.0, 0.1), 0.1, 1.0..5.0),
        (Logger::damped(20.0, 0.3), 0.15, 0.2..1.5),
        (cycle_means, 0.25, 0.1..1.2),
    ] {
        let log = run.log(&ideal(logger), 1).unwrap();
        for (i, column) in log.pressures_kpa().iter().enumerate() {
            assert!((mean(column) - t.mean_kpa[i]).abs() < tolerance);
            assert!(scatter.contains(&sd(column)), "scatter {}", sd(column));
        }
    }
}

/// Undamped readings at 10 a second from an engine whose pulses come at nearly that rate (1200 rev/min: 10 Hz
/// exactly): the column's mean is the pulse at some phase, kilopascals off, while the whole-cycle truth is not.
#[test]
fn the_column_mean_of_an_aliased_log_is_wrong() {
    let mut engine = super::quiet(Engine::inline_four());
    engine.idle_rpm = 1_200.0;
    let run = run(&Scenario::new(engine, 20.0, 1));
    let t = run.truth(10.0, 15.0).unwrap();
    assert!(t.spread_kpa < 0.1);
    let rate = t.rpm / 120.0;
    let log = run.log(&ideal(Logger::momentary(rate)), 1).unwrap();
    let rows: Vec<usize> = (0..log.rows()).filter(|&r| (10.0..15.0).contains(&log.time_s[r])).collect();
    let naive: Vec<f64> =
        log.pressures_kpa().iter().map(|c| mean(&rows.iter().map(|&r| c[r]).collect::<Vec<_>>())).collect();
    let high = naive.iter().copied().fold(0.0, f64::max);
    let low = naive.iter().copied().fold(200.0, f64::min);
    assert!(high - low > 5.0, "an even engine looks uneven by {}", high - low);
}

#[test]
fn a_polled_log_refreshes_one_channel_a_row() {
    let run = uneven(60.0);
    let log = run.log(&Logger::diagnostic_link(4.0), 3).unwrap();
    let turn = log.columns.len();
    assert_eq!(turn, 5);
    for (c, column) in log.columns.iter().enumerate() {
        for row in 1..log.rows() {
            if row % turn != c {
                assert_eq!(column.values[row], column.values[row - 1], "row {row} of column {c} repeats");
            }
        }
    }
    let pressure = log.pressures_kpa()[0];
    assert!(pressure.iter().all(|p| (p * 10.0 - (p * 10.0).round()).abs() < 1e-9), "whole hPa");
    assert!(sd(pressure) < 1.5, "control-unit averages barely scatter");
    let steps: Vec<f64> = log.time_s.windows(2).map(|w| w[1] - w[0]).collect();
    assert!(steps.iter().all(|s| *s > 0.0) && sd(&steps) > 0.005, "uneven row times");
}

/// One reading a cycle near the top of the pulse scatters little and still overstates the spread.
#[test]
fn a_reading_at_one_crank_angle_overstates_the_spread() {
    let run = uneven(60.0);
    let t = run.truth(0.0, 60.0).unwrap();
    let log = run.log(&ideal(Logger::crank_angle(5.0, 330.0)), 1).unwrap();
    let means: Vec<f64> = log.pressures_kpa().iter().map(|c| mean(c)).collect();
    let spread = means[0] - means[2];
    assert!((1.2..1.8).contains(&(spread / t.spread_kpa)), "{}", spread / t.spread_kpa);
    assert!(sd(log.pressures_kpa()[0]) < 2.0);
}

/// A first-order lag delays a ramp by its time constant and leaves the mean of a steady pulse alone; its gain at
/// the pulse frequency is 1 / sqrt(1 + (2 pi f tau)^2).
#[test]
fn the_lag_is_first_order() {
    let run = run(&quiet_four(20.0));
    let f = run.truth(2.0, 20.0).unwrap().rpm / 120.0;
    let amplitude = |lag: f64| {
        let log = run.log(&ideal(Logger::damped(1_000.0, lag)), 1).unwrap();
        let (mut re, mut im) = (0.0, 0.0);
        let column = log.pressures_kpa()[0];
        let periods = 80.0 / f;
        let n = (periods * 1_000.0).round() as usize;
        for (k, p) in column.iter().skip(4_000).take(n).enumerate() {
            let angle = std::f64::consts::TAU * f * k as f64 / 1_000.0;
            re += p * angle.cos();
            im += p * angle.sin();
        }
        (re * re + im * im).sqrt()
    };
    let want = 1.0 / (1.0 + (std::f64::consts::TAU * f * 0.05).powi(2)).sqrt();
    let got = amplitude(0.05) / amplitude(0.0);
    assert!((got / want - 1.0).abs() < 0.01, "{got} for {want}");
}

#[test]
fn sensors_err_as_told() {
    let mut s = quiet_four(40.0);
    s.start_s = 8.0;
    let run = run(&s);
    let t = run.truth(15.0, 40.0).unwrap();
    let sensors = vec![
        Sensor { bias_kpa: 1.5, ..Sensor::ideal() },
        Sensor { gain: 1.02, ..Sensor::ideal() },
        Sensor { stuck_from_s: Some(20.0), step_kpa: 0.5, ..Sensor::ideal() },
        Sensor { railed: Some((30.0, 120.0)), dropouts: vec![(12.0, 14.0)], ..Sensor::ideal() },
    ];
    let log = run.log(&Logger::damped(50.0, 0.1).with_sensors(sensors), 1).unwrap();
    let part = |c: usize, from: f64, to: f64| -> Vec<f64> {
        (0..log.rows())
            .filter(|&r| log.time_s[r] >= from && log.time_s[r] < to)
            .map(|r| log.pressures_kpa()[c][r])
            .collect()
    };
    let baro = s.engine.barometer_kpa;
    assert!((mean(&part(0, 1.0, 7.0)) - baro - 1.5).abs() < 1e-3);
    assert!((mean(&part(0, 15.0, 40.0)) - t.mean_kpa[0] - 1.5).abs() < 0.1);
    assert!((mean(&part(1, 1.0, 7.0)) - baro).abs() < 1e-3, "a gain error hides at the barometer");
    let want = 1.02 * t.mean_kpa[1] - 0.02 * baro;
    assert!((mean(&part(1, 15.0, 40.0)) - want).abs() < 0.1);
    assert_eq!(sd(&part(2, 20.0, 40.0)), 0.0);
    assert!(part(2, 0.0, 20.0).iter().all(|p| (p * 2.0).fract() == 0.0), "half-kPa steps");
    assert!(part(3, 30.0, 40.0).iter().all(|p| *p == 120.0));
    assert!(part(3, 12.0, 14.0).iter().all(|p| p.is_nan()));
}

#[test]
fn swapped_hoses_exchange_columns_and_not_sensors() {
    let run = uneven(20.0);
    let sensors = vec![Sensor::ideal(), Sensor::ideal(), Sensor { bias_kpa: 2.0, ..Sensor::ideal() }];
    let straight = Logger { sensors: sensors.clone(), ..Logger::damped(20.0, 0.1) };
    let crossed = Logger { swapped: vec![(1, 3)], ..straight.clone() };
    let mean_of = |l: &Logger, c: usize| mean(run.log(l, 1).unwrap().pressures_kpa()[c]);
    // Half the difference of the swapped pairs cancels the bias.
    let true_gap = run.truth(0.0, 20.0).unwrap().mean_kpa[0] - run.truth(0.0, 20.0).unwrap().mean_kpa[2];
    let first = mean_of(&straight, 0) - mean_of(&straight, 2);
    let second = mean_of(&crossed, 2) - mean_of(&crossed, 0);
    assert!((0.5 * (first + second) - true_gap).abs() < 0.1);
    assert!((first - true_gap + 2.0).abs() < 0.1, "one reading alone is off by the bias");
}

#[test]
fn rows_go_missing_and_extras_are_written() {
    let mut s = quiet_four(60.0);
    s.event(Event::Raised { from_s: 20.0, to_s: 50.0, rpm: 2_500.0 });
    let run = run(&s);
    let logger = Logger {
        missing_rows: 0.2,
        rpm_step: 10.0,
        extras: Extras { speed: true, coolant: true, throttle: true, lambda: true, barometer: true },
        ..Logger::damped(20.0, 0.1)
    };
    let log = run.log(&logger, 4).unwrap();
    assert!((900..1_020).contains(&log.rows()), "{}", log.rows());
    assert_eq!(log.columns.len(), 4 + 1 + 1 + 1 + 4 + 1);
    let rpm = log.column(Quantity::Speed).unwrap();
    assert!(rpm.iter().all(|v| v % 10.0 == 0.0));
    assert!((mean(log.column(Quantity::Lambda(2)).unwrap()) - 1.0).abs() < 0.03);
    assert!(log.column(Quantity::Throttle).unwrap().iter().copied().fold(0.0, f64::max) > 5.0);
    assert_eq!(log.column(Quantity::Barometer).unwrap()[0], s.engine.barometer_kpa);
}

#[test]
fn the_log_is_repeatable_by_seed() {
    let run = uneven(5.0);
    let text = |seed| run.log(&Logger::diagnostic_link(4.0), seed).unwrap().to_csv(&Default::default());
    assert_eq!(text(1), text(1));
    assert_ne!(text(1), text(2));
}

#[test]
fn loggers_without_meaning_are_refused() {
    let run = uneven(2.0);
    assert!(run.log(&Logger::momentary(f64::NAN), 1).is_err());
    assert!(run.log(&Logger { sensors: vec![], ..Logger::momentary(10.0) }, 1).is_err());
    assert!(run.log(&Logger { swapped: vec![(1, 7)], ..Logger::momentary(10.0) }, 1).is_err());
}
