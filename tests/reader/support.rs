//! A small recording with known figures, and ways to read it back.

use evenpull_core::machine::Machine;
use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::recording::{Quantity, Recording};

/// Rows of the known recording.
pub(super) const ROWS: usize = 240;

/// Time of a row in hundredths of a second: every 0.05 s.
pub(super) fn time_cs(row: usize) -> usize {
    row * 5
}

/// Pressure of a cylinder in tenths of a hectopascal: a ragged saw-tooth without any regularity that a reader could use.
pub(super) fn pressure(row: usize, cylinder: usize) -> i64 {
    let teeth = (row * 7 + cylinder * 5) % 19;
    2150 + (teeth as i64) * 171 + ((row * row + cylinder) % 13) as i64
}

/// Engine speed in rev/min, above a thousand.
pub(super) fn speed(row: usize) -> i64 {
    1150 + ((row * 3) % 23) as i64
}

pub(super) fn read(text: &str) -> Recording {
    read_with(text.as_bytes(), &ReadOptions::default())
}

pub(super) fn read_with(bytes: &[u8], options: &ReadOptions<'_>) -> Recording {
    read_bytes("log.csv", bytes, options).unwrap_or_else(|error| panic!("{error}"))
}

pub(super) fn read_with_machine(text: &str, machine: &str) -> Recording {
    let machine = Machine::from_toml("m.toml", machine).unwrap_or_else(|error| panic!("{error}"));
    read_with(text.as_bytes(), &ReadOptions { machine: Some(&machine), ..ReadOptions::default() })
}

/// Checks a recording of two cylinders and the speed against the known figures.
///
/// `time_tol_s` and `kpa_tol` are half the last digit that the dialect prints.
pub(super) fn check(dialect: &str, recording: &Recording, time_tol_s: f64, kpa_tol: f64) {
    assert_eq!(recording.time_s.len(), ROWS, "{dialect}: rows; {:?}", recording.notices);
    for (row, time) in recording.time_s.iter().enumerate() {
        let want = time_cs(row) as f64 / 100.0;
        assert!((time - want).abs() <= time_tol_s + 1e-9, "{dialect}: row {row} at {time}, expected {want}");
    }
    let pressures = recording.cylinder_pressures();
    assert_eq!(
        pressures.len(),
        2,
        "{dialect}: {:?}",
        recording.channels.iter().map(|c| (&c.header, &c.why)).collect::<Vec<_>>()
    );
    for (index, channel) in pressures.iter().enumerate() {
        assert_eq!(channel.cylinder, Some(index as u32 + 1), "{dialect}");
        for (row, value) in channel.values.iter().enumerate() {
            let want = pressure(row, index) as f64 / 100.0;
            assert!(
                (value - want).abs() <= kpa_tol + 1e-9,
                "{dialect}: cylinder {} row {row}: {value}, expected {want}",
                index + 1
            );
        }
    }
    let Some(rpm) = recording.first(Quantity::EngineSpeed) else { panic!("{dialect}: no speed") };
    for (row, value) in rpm.values.iter().enumerate() {
        assert!((value - speed(row) as f64).abs() < 0.51, "{dialect}: speed in row {row}: {value}");
    }
}
