//! Layouts that are rarer and still sane. The expected figures are those that were written.

use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::recording::{PressureKind, Quantity};

use super::support::{ROWS, check, pressure, read, speed, time_cs};

fn kpa(row: usize, cylinder: usize) -> String {
    let p = pressure(row, cylinder);
    format!("{}.{:02}", p / 100, p % 100)
}

fn time(row: usize) -> String {
    format!("{}.{:02}", time_cs(row) / 100, time_cs(row) % 100)
}

fn rows(mark: &str) -> Vec<String> {
    (0..ROWS).map(|r| [time(r), kpa(r, 0), kpa(r, 1), speed(r).to_string()].join(mark)).collect()
}

fn with_header(head: &str, mark: &str) -> String {
    format!("{head}\n{}\n", rows(mark).join("\n"))
}

#[test]
fn newest_first_is_read_from_the_end() {
    let mut lines = rows(",");
    lines.reverse();
    let recording = read(&format!("time_s,map1_kpa,map2_kpa,rpm\n{}\n", lines.join("\n")));
    check("newest first", &recording, 1e-9, 0.0);
    assert!(recording.notices.iter().any(|n| n.code == "newest-first"));
}

#[test]
fn names_over_two_lines_and_in_two_rows() {
    let quoted = with_header("\"Time\n[s]\";\"MAP 1\n[kPa]\";\"MAP 2\n[kPa]\";\"Speed\n[1/min]\"", ";");
    let recording = read(&quoted);
    check("line ends in quoted names", &recording, 0.0, 0.0);
    assert_eq!(recording.channels[1].header, "MAP 1 [kPa]");
    check(
        "groups above names",
        &read(&with_header(";Cylinder 1;Cylinder 2;\nTime;MAP;MAP;Speed\ns;kPa;kPa;rpm", ";")),
        0.0,
        0.0,
    );
    check(
        "a line for spreadsheets",
        &read(&format!("sep=;\n{}", with_header("time_s;map1_kpa;map2_kpa;rpm", ";"))),
        0.0,
        0.0,
    );
    check("only units", &read(&with_header("s,kPa,kPa,rpm", ",")), 0.0, 0.0);
    check("numbers for names", &read(&with_header("Time;1;2;n\ns;kPa;kPa;rpm", ";")), 0.0, 0.0);
}

#[test]
fn blanks_between_and_inside_names() {
    check(
        "units in brackets",
        &read(&with_header("Time [s] MAP1 [kPa] MAP2 [kPa] n [1/min]", " ")),
        0.0,
        0.0,
    );
    check(
        "wide blanks",
        &read(&with_header("Time (s)  MAP 1 (kPa)  MAP 2 (kPa)  Engine speed", "   ")),
        0.0,
        0.0,
    );
    check("letters for cylinders", &read(&with_header("t MAP_A MAP_B n\ns kPa kPa rpm", " ")), 0.0, 0.0);
}

#[test]
fn every_group_with_its_own_time() {
    // Pressures every 0.05 s, the speed every 0.1 s and half a step later, side by side.
    let mut text = String::from("time 1 [s];map1 [kPa];map2 [kPa];time 2 [s];rpm\n");
    for row in 0..ROWS {
        let slow = if row < ROWS / 2 {
            format!("{:.3};{}", row as f64 * 0.1 + 0.025, 1100 + row)
        } else {
            ";".to_owned()
        };
        text += &format!("{};{};{};{slow}\n", time(row), kpa(row, 0), kpa(row, 1));
    }
    let recording = read(&text);
    let pressures = recording.cylinder_pressures();
    assert_eq!(pressures.len(), 2);
    let rpm = &recording.first(Quantity::EngineSpeed).map(|c| c.values.clone()).unwrap_or_default();
    for row in 0..ROWS {
        // Read row by row the speed at 5 s would be the one of 10 s.
        let at = recording.time_s.iter().position(|t| (t - time_cs(row) as f64 / 100.0).abs() < 1e-6);
        let Some(at) = at else { panic!("no row at {} s", time(row)) };
        assert!((pressures[0].values[at] - pressure(row, 0) as f64 / 100.0).abs() < 1e-9);
        if row > 2 && row < ROWS - 4 {
            let want = 1100.0 + (time_cs(row) as f64 / 100.0) / 0.1;
            assert!((rpm[at] - want).abs() < 0.6, "row {row}: {} expected {want}", rpm[at]);
        }
    }
}

#[test]
fn vacuum_in_other_words_and_signs() {
    let text = with_header("Zeit [s];Vakuum 1 [kPa];Vakuum 2 [kPa];Drehzahl [U/min]", ";");
    let recording = read(&text);
    check("Vakuum", &recording, 0.0, 0.0);
    assert!(recording.cylinder_pressures().iter().all(|c| c.kind == Some(PressureKind::Vacuum)));
}

#[test]
fn two_interfaces_on_one_bus_and_frames_without_times() {
    let mut text = String::new();
    for row in 0..50 {
        for bus in ["can0", "can1"] {
            text += &format!("({}.{:03}000) {bus} 7E8#04410C1AF8AAAAAA\n", 10 + row / 2, row % 2 * 500);
            text += &format!(
                "({}.{:03}000) {bus} 7E8#03410B{:02X}AAAAAAAA\n",
                10 + row / 2,
                row % 2 * 500 + 100,
                30 + row
            );
        }
    }
    let recording = read(&text);
    assert_eq!(recording.time_s.len(), 50);
    let map = recording.first(Quantity::ManifoldPressure).map(|c| c.values.clone()).unwrap_or_default();
    assert_eq!(map[49], 79.0);
    let bare = "can0  7E8   [8]  04 41 0C 1A F8 AA AA AA\n".repeat(20);
    let error = read_bytes("x.log", bare.as_bytes(), &ReadOptions::default()).err().map(|e| e.to_string());
    let want = "x.log:1:1: found CAN frames without time stamps, expected the log form, with the time of each frame in \
                brackets; record with candump -l, or -t a for the screen form";
    assert_eq!(error.as_deref(), Some(want));
}

#[test]
fn figures_that_no_engine_has_count_as_missing() {
    // Fill values of loggers: 65535 rev/min, -9999 kPa, 9999 degrees.
    let mut text = String::from("time_s,map1_kpa,rpm,coolant_degC\n");
    for row in 0..60 {
        let (p, n, t) = match row {
            20 => ("-9999", "1100", "80"),
            30 => ("40.1", "65535", "80"),
            40 => ("40.1", "1100", "9999"),
            _ => ("40.1", "1100", "80"),
        };
        text += &format!("{}.{:02},{p},{n},{t}\n", row / 20, row % 20 * 5);
    }
    let recording = read(&text);
    let missing = |at: usize| recording.channels[at].values.iter().filter(|v| v.is_nan()).count();
    assert_eq!((missing(1), missing(2)), (1, 1));
    let said: Vec<_> = recording.notices.iter().map(|n| (n.code.as_str(), n.line)).collect();
    assert_eq!(
        said,
        [("impossible-value", Some(22)), ("impossible-value", Some(32)), ("impossible-value", Some(42))]
    );
}
