//! One slow channel among quick ones: named by how late its pulse comes, and its mean still holds.

use evenpull_model::{Logger, Sensor};

use super::support::{cylinder, four, has, judge, recording, run};

#[test]
fn a_slow_channel_is_named_and_its_mean_holds() {
    let engine = run(&four([1.0, 1.0, 1.0, 1.0], 60.0, 77));
    let with = |lag_s: f64| {
        let sensors =
            (1..=4).map(|n| Sensor { lag_s: if n == 3 { lag_s } else { 0.0 }, ..Sensor::default() });
        let log = engine.log(&Logger::momentary(250.0).with_sensors(sensors.collect()), 5).unwrap();
        let firing: Vec<String> = engine.firing_deg.iter().map(|d| format!("{d:.1}")).collect();
        judge(&recording(&log), &format!("cylinders = 4\nfiring_deg = [{}]\n", firing.join(", ")))
    };
    // Closed form: a first-order lag delays the first harmonic by atan(2 pi f tau) / (2 pi f), here about 7.6 ms for 9 ms.
    let slow = with(0.009);
    let notice = slow.notices.iter().find(|n| n.code == "channel-lag").unwrap();
    assert_eq!(notice.cylinder, Some(3));
    // Naive: an early and a late dip look like a leak or a breathing fault; the mean says otherwise.
    let d = cylinder(&slow, 3).deviation_kpa.unwrap();
    assert!(d.value.abs() < 0.1, "{d:?}");
    assert!(!has(&with(0.0), "channel-lag"));
}
