//! CAN frames: the same answers under every kind of time stamp, and logs larger than what is held.

use std::fmt::Write as _;
use std::io::{Cursor, Read};

use evenpull_core::read::{ReadOptions, read_bytes, read_stream};
use evenpull_core::recording::{Format, Quantity, Recording};

/// Microseconds between two frames: uneven, as on a bus.
const STEPS_US: [u64; 7] = [1_203, 48_110, 2_004, 50_907, 900, 47_333, 3_100];
const FRAMES: usize = 240;

/// Time of a frame in microseconds, the first at 0.
fn times_us() -> Vec<u64> {
    let mut sum = 0;
    (0..FRAMES)
        .map(|n| {
            sum += if n == 0 { 0 } else { STEPS_US[n % STEPS_US.len()] };
            sum
        })
        .collect()
}

/// Question, speed, question, pressure: the data of frame `n`. Questions take time and are no answers.
fn frame(n: usize) -> (&'static str, [u8; 8]) {
    let speed = 4400 + (n as u16 % 50) * 4;
    match n % 4 {
        0 => ("7DF", [2, 1, 0x0c, 0x55, 0x55, 0x55, 0x55, 0x55]),
        1 => ("7E8", [4, 0x41, 0x0c, (speed >> 8) as u8, speed as u8, 0xaa, 0xaa, 0xaa]),
        2 => ("7DF", [2, 1, 0x0b, 0x55, 0x55, 0x55, 0x55, 0x55]),
        _ => ("7E8", [3, 0x41, 0x0b, 30 + (n % 40) as u8, 0xaa, 0xaa, 0xaa, 0xaa]),
    }
}

fn hex(data: &[u8], between: &str) -> String {
    data.iter().map(|byte| format!("{byte:02X}")).collect::<Vec<_>>().join(between)
}

/// Log form (`-L`, `-l`) with a stamp.
fn log_form(stamp: impl Fn(usize) -> String) -> String {
    (0..FRAMES).fold(String::new(), |mut out, n| {
        let (id, data) = frame(n);
        let _ = writeln!(out, "({}) can0 {id}#{}", stamp(n), hex(&data, ""));
        out
    })
}

/// Screen form (`-t`) with a stamp and perhaps further words (`-x`).
fn screen_form(words: &str, stamp: impl Fn(usize) -> String) -> String {
    (0..FRAMES).fold(String::new(), |mut out, n| {
        let (id, data) = frame(n);
        let _ = writeln!(out, " ({})  can0  {words}{id}   [8]  {}", stamp(n), hex(&data, " "));
        out
    })
}

fn read(text: &str) -> Recording {
    read_bytes("x.log", text.as_bytes(), &ReadOptions::default()).unwrap_or_else(|error| panic!("{error}"))
}

/// Times of the rows: where the first answer of each round came, counted from the first.
fn check(name: &str, recording: &Recording) {
    assert_eq!(recording.source.format, Format::Candump, "{name}");
    assert_eq!(recording.time_s.len(), FRAMES / 4, "{name}: {:?}", recording.notices);
    let times = times_us();
    for (row, time) in recording.time_s.iter().enumerate() {
        let want = (times[row * 4 + 1] - times[1]) as f64 * 1e-6;
        assert!((time - want).abs() < 2e-6, "{name}: row {row} at {time}, expected {want}");
    }
    let map = recording.first(Quantity::ManifoldPressure).map(|c| c.values.clone()).unwrap_or_default();
    assert!(map.iter().enumerate().all(|(row, v)| *v == (30 + (row * 4 + 3) % 40) as f64), "{name}");
    let rpm = recording.first(Quantity::EngineSpeed).map(|c| c.values.clone()).unwrap_or_default();
    assert!(rpm.iter().enumerate().all(|(row, v)| *v == 1100.0 + ((row * 4 + 1) % 50) as f64), "{name}");
}

#[test]
fn stamps_of_every_kind() {
    let times = times_us();
    let seconds = |us: u64| format!("{}.{:06}", us / 1_000_000, us % 1_000_000);
    let padded = |us: u64| format!("{:03}.{:06}", us / 1_000_000, us % 1_000_000);
    let since = |n: usize| if n == 0 { 0 } else { times[n] - times[n - 1] };
    let unix = |n: usize| seconds(1_436_509_052_249_713 + times[n]);
    let nano = |n: usize| format!("{}000", unix(n));
    let dated = |n: usize| {
        // 23:59:58, so that the day changes on the way.
        let us = 86_398_000_000 + times[n];
        let (day, us) = (10 + us / 86_400_000_000, us % 86_400_000_000);
        let s = us / 1_000_000;
        format!("2015-07-{day} {:02}:{:02}:{:02}.{:06}", s / 3600, s / 60 % 60, s % 60, us % 1_000_000)
    };
    check("-l, -L", &read(&log_form(unix)));
    check("-l -N", &read(&log_form(nano)));
    check("-t a", &read(&screen_form("", unix)));
    check("-t a -x", &read(&screen_form("RX - -  ", unix)));
    check("-t A", &read(&screen_form("", dated)));
    check("-t z", &read(&screen_form("", |n| padded(times[n]))));
    let differences = read(&screen_form("", |n| padded(since(n))));
    check("-t d", &differences);
    assert!(differences.source.layout.iter().any(|line| line.contains("since the frame before")));
    // The naive way, each stamp for a moment, ends after the longest step and not after six seconds.
    assert!(differences.duration_s() > 2.0);
}

/// A text repeated, with its head once in front; the bytes count.
struct Long {
    head: Cursor<Vec<u8>>,
    row: usize,
    rows: usize,
    line: Cursor<Vec<u8>>,
    write: fn(usize, &mut String),
}

impl Read for Long {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let got = self.head.read(buffer)?;
        if got > 0 {
            return Ok(got);
        }
        let got = self.line.read(buffer)?;
        if got > 0 || self.row == self.rows {
            return Ok(got);
        }
        let mut text = String::new();
        for _ in 0..2000.min(self.rows - self.row) {
            (self.write)(self.row, &mut text);
            self.row += 1;
        }
        self.line = Cursor::new(text.into_bytes());
        self.line.read(buffer)
    }
}

fn long(head: &str, rows: usize, write: fn(usize, &mut String)) -> Long {
    Long { head: Cursor::new(head.as_bytes().to_vec()), row: 0, rows, line: Cursor::default(), write }
}

#[test]
fn logs_over_what_is_held_are_read_in_passes() {
    // 7 000 000 frames of 46 bytes: 322 MB, of which every fiftieth is an answer.
    let frames = long("", 7_000_000, |n, out| {
        let (s, us) = (n / 10_000, n % 10_000 * 100);
        let id = if n % 50 == 0 { "7E8" } else { "123" };
        let _ = writeln!(out, "({:010}.{us:06}) can0 {id}#04410C1A{:02X}AAAAAA", 1_000_000 + s, n / 50 % 256);
    });
    let recording =
        read_stream("x.log", frames, &ReadOptions::default()).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(recording.time_s.len(), 140_000);
    assert!((recording.duration_s() - 699.995).abs() < 1e-6, "{}", recording.duration_s());
    // 6 000 000 values of 46 bytes and more: 290 MB.
    let head = "time_s;signal;value;unit\n";
    let rows = long(head, 6_000_000, |n, out| {
        let (ms, at) = (n / 3, n % 3);
        let (name, value, unit) = [
            ("manifold pressure of cylinder 1", 35 + ms % 7, "kPa"),
            ("manifold pressure of cylinder 2", 36 + ms % 5, "kPa"),
            ("engine speed as it was measured", 1100 + ms % 9, "rpm"),
        ][at];
        let _ = writeln!(out, "{}.{:03};{name};{value};{unit}", ms / 1000, ms % 1000);
    });
    let recording =
        read_stream("x.csv", rows, &ReadOptions::default()).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!((recording.time_s.len(), recording.cylinder_pressures().len()), (2_000_000, 2));
    assert_eq!(recording.cylinder_pressures()[1].values[1_999_999], 36.0 + (1_999_999 % 5) as f64);
}
