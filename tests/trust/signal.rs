//! How the pulse shows in the values, decided from the data: never from row rate and engine speed alone.

use evenpull_core::result::{Signal, Undecided, Verdict};
use evenpull_model::{Logger, Run, Sensor};
use std::sync::LazyLock;

use super::support::*;

static SLIGHT: LazyLock<Run> = LazyLock::new(|| run(&four([1.0, 0.99, 1.005, 1.0], 150.0, 71)));
/// About 2.2 kPa apart.
static PLAIN: LazyLock<Run> = LazyLock::new(|| run(&four([1.0, 0.935, 1.0, 1.0], 150.0, 72)));

fn signal(logger: &Logger, seconds: f64) -> Signal {
    let log = part(&SLIGHT.log(logger, 9).unwrap(), 0.0, seconds);
    judge(&recording(&log), "").pulse.unwrap().signal
}

#[test]
fn averages_of_a_control_unit_are_not_aliased() {
    for rate in [2.0, 4.0, 8.0] {
        let log = SLIGHT.log(&Logger::diagnostic_link(rate), 5).unwrap();
        let review = judge(&recording(&log), "pressure_is = \"mean\"\n");
        let pulse = review.pulse.clone().unwrap();
        // Naive: fewer than two rows a cycle cannot carry the pulse, so it must be aliased.
        assert!(rate < 2.0 * pulse.rate_hz);
        assert_eq!(pulse.signal, Signal::Averaged, "{rate} rows a second");
        assert!(!has(&review, "aliased"), "{:?}", codes(&review));
        assert_true(&format!("{rate} rows a second"), &review, &SLIGHT.truth(5.0, 150.0).unwrap().mean_kpa);
    }
}

#[test]
fn undamped_sensors_at_the_same_row_rate_are() {
    for rate in [2.0, 4.0, 8.0, 10.0] {
        let log = SLIGHT.log(&Logger::momentary(rate), 5).unwrap();
        let review = judge(&recording(&log), "");
        assert_eq!(review.pulse.clone().unwrap().signal, Signal::Aliased, "{rate} rows a second");
        assert!(has(&review, "aliased"));
    }
}

#[test]
fn each_kind_from_its_data() {
    assert_eq!(signal(&Logger::momentary(1000.0), 30.0), Signal::Resolved);
    assert_eq!(signal(&Logger::momentary(100.0), 60.0), Signal::Resolved);
    assert_eq!(signal(&Logger::damped(50.0, 0.05), 60.0), Signal::Partial);
    let averages = Logger { polled: false, ..Logger::diagnostic_link(20.0) };
    assert_eq!(signal(&averages, 90.0), Signal::Averaged);
}

#[test]
fn readings_are_counted_not_changes() {
    let coarse = Sensor { step_kpa: 0.5, noise_kpa: 0.05, ..Sensor::default() };
    let logger = Logger { sensors: vec![coarse], ..Logger::diagnostic_link(4.0) };
    let log = SLIGHT.log(&logger, 5).unwrap();
    // Five columns polled in turn at 4 rows a second: 0.8 fresh readings a second.
    let truth = 4.0 / 5.0;
    let changes = log.columns[0].values.windows(2).filter(|w| w[0] != w[1]).count() as f64 / 150.0;
    assert!(changes < 0.8 * truth, "naive count of changes: {changes:.2} a second");
    let review = judge(&recording(&log), "");
    let pulse = review.pulse.clone().unwrap();
    let updates = pulse.samples_per_cycle * pulse.rate_hz;
    assert!((updates - truth).abs() < 0.03, "{updates:.3} readings a second");
    assert!(has(&review, "polled-in-turn"));

    // Keeping only the changes picks the jumps: the scatter between kept values is far larger.
    let kept: Vec<f64> = log.columns[0].values.windows(2).filter(|w| w[0] != w[1]).map(|w| w[1]).collect();
    let every: Vec<f64> = log.columns[0].values.iter().copied().step_by(5).collect();
    let jump = |v: &[f64]| mean(&v.windows(2).map(|w| (w[1] - w[0]).powi(2)).collect::<Vec<_>>()).sqrt();
    assert!(jump(&kept) > 1.1 * jump(&every), "{:.3} {:.3}", jump(&kept), jump(&every));
    assert_eq!(pulse.signal, Signal::Averaged);
}

#[test]
fn a_difference_that_the_polling_skew_can_make_is_not_given() {
    // Read one after the other, the channels see a shared wander at different moments.
    let wander = |t: f64| 40.0 + 3.0 * (std::f64::consts::TAU * t / 9.0).sin();
    let mut held = [40.0; 3];
    let mut columns = vec![Vec::new(); 3];
    let table = Table::even(120.0, 4.0);
    for (k, t) in table.time_s.iter().enumerate() {
        held[k % 3] = wander(*t);
        for (c, h) in columns.iter_mut().zip(held) {
            c.push(h);
        }
    }
    // Naive: the rms of the differences from the row's mean, though the engine moves as one.
    let naive = sd(&(0..480).map(|k| columns[0][k] - columns[1][k]).collect::<Vec<_>>());
    assert!(naive > 0.5, "{naive}");
    let mut table = table.idling(1100.0);
    for (i, c) in columns.into_iter().enumerate() {
        table = table.column(&format!("Cyl {} absolute pressure [kPa]", i + 1), 2, c);
    }
    let review = table.review_for("pressure_is = \"mean\"\n");
    assert!(has(&review, "polled-in-turn"), "{:?}", codes(&review));
    assert_eq!(review.differential_kpa, None);
    assert_ne!(review.verdict, Verdict::Outside);
}

#[test]
fn one_reading_a_cycle_at_a_fixed_angle_is_not_an_average() {
    let truth = PLAIN.truth(5.0, 150.0).unwrap();
    let log = PLAIN.log(&Logger::crank_angle(4.0, 300.0), 5).unwrap();
    let open = judge(&recording(&log), "");
    let spread = open.spread_kpa.unwrap();
    // Naive: an unscattering reading taken for the mean overstates the spread.
    assert!(spread.value > 1.15 * truth.spread_kpa, "{spread:?}, true {:.2}", truth.spread_kpa);

    let limit = |kpa: f64| format!("limit_kpa = {kpa:.3}\n");
    let between = limit(spread.value / 1.35);
    let review = judge(&recording(&log), &between);
    assert_eq!(review.verdict, Verdict::CannotTell);
    assert_eq!(review.undecided_because, Some(Undecided::Signal));
    assert_eq!(judge(&recording(&log), &limit(spread.value / 2.0)).verdict, Verdict::Outside);
    assert_eq!(judge(&recording(&log), &limit(spread.value * 1.3)).verdict, Verdict::Within);
    let told = judge(&recording(&log), &format!("{between}pressure_is = \"mean\"\n"));
    assert_eq!(told.verdict, Verdict::Outside, "the machine file says that it is the mean");
    // Order and sign stay right.
    assert!(deviation(&open, 2) < -1.0 && [1, 3, 4].iter().all(|&n| deviation(&open, n).abs() < 0.5));
}
