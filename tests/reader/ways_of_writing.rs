//! The same short recording as people and spreadsheets write it: each way must give the same pressures, speed and length, or
//! say what it left out. What is expected follows from [`row`], which every file is written from.

use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::recording::{Quantity, Recording};

const ROWS: usize = 300;

/// Time in seconds, four pressures in kPa and the speed of one row.
fn row(k: usize) -> (f64, [f64; 4], usize) {
    let wave = |shift: usize| 40.0 + ((k * 7 + shift * 13) % 23) as f64 * 0.25;
    (k as f64 * 0.02, [wave(0), wave(1) + 1.0, wave(2), wave(3) - 1.5], 940 + k % 4)
}

fn read(text: &str) -> Recording {
    read_bytes("log", text.as_bytes(), &ReadOptions::default())
        .unwrap_or_else(|error| panic!("{error}\n{}", text.lines().next().unwrap_or("")))
}

/// A semicolon table under a header, the time as `time` writes it.
fn table(header: &str, time: impl Fn(usize) -> String) -> String {
    let line = |k: usize| {
        let (_, p, rpm) = row(k);
        format!("{};{:.2};{:.2};{:.2};{:.2};{rpm}", time(k), p[0], p[1], p[2], p[3])
    };
    std::iter::once(header.to_owned()).chain((0..ROWS).map(line)).collect::<Vec<_>>().join("\n") + "\n"
}

fn seconds(k: usize) -> String {
    format!("{:.3}", row(k).0)
}

fn check(name: &str, recording: &Recording, rows: usize, last_s: f64) {
    assert_eq!(recording.time_s.len(), rows, "{name}");
    assert!((recording.duration_s() - last_s).abs() < 1e-6, "{name}: {} s", recording.duration_s());
    let pressures = recording.cylinder_pressures();
    assert_eq!(pressures.len(), 4, "{name}");
    for (i, channel) in pressures.iter().enumerate() {
        assert_eq!(channel.cylinder, Some(i as u32 + 1), "{name}");
        assert!(
            channel.values.iter().enumerate().all(|(k, v)| (v - row(k).1[i]).abs() < 1e-9),
            "{name}: {}",
            i + 1
        );
    }
    let speed = recording.first(Quantity::EngineSpeed).unwrap_or_else(|| panic!("{name}: no engine speed"));
    assert!(speed.values.iter().enumerate().all(|(k, v)| *v == row(k).2 as f64), "{name}: engine speed");
}

fn codes(recording: &Recording) -> Vec<&str> {
    recording.notices.iter().map(|n| n.code.as_str()).collect()
}

#[test]
fn headers_in_the_words_of_people() {
    let maps = |speed: &str| format!("Time (s);MAP 1 (kPa);MAP 2 (kPa);MAP 3 (kPa);MAP 4 (kPa);{speed}");
    for header in [
        maps("Velocidad del motor (rpm)"),
        maps("Velocidad (r.p.m.)"),
        maps("Drehz."),
        maps("Engine Spd"),
        maps("Velocit\u{e0} di rotazione"),
        "Time;MAP I (kPa);MAP II (kPa);MAP III (kPa);MAP IV (kPa);RPM".to_owned(),
        "Time;MAP cylinder one (kPa);MAP cylinder two (kPa);MAP cylinder three (kPa);MAP cylinder four (kPa);RPM"
            .to_owned(),
        "\"Time\n(s)\";\"MAP 1\n(kPa)\";\"MAP 2\n(kPa)\";\"MAP 3\n(kPa)\";\"MAP 4\n(kPa)\";\"RPM\"".to_owned(),
    ] {
        check(&header, &read(&table(&header, seconds)), ROWS, 5.98);
    }
}

#[test]
fn sides_of_a_boat() {
    let two = |first: &str, second: &str| {
        let lines = (0..ROWS)
            .map(|k| format!("{:.3};{:.2};{:.2};{}\n", row(k).0, row(k).1[0], row(k).1[1], row(k).2));
        format!("Time (s);MAP {first} (kPa);MAP {second} (kPa);RPM\n") + &lines.collect::<String>()
    };
    for (first, second, numbers, told) in [
        ("port", "starboard", [1, 2], false),
        ("starboard", "port", [2, 1], false),
        ("Bb", "Stb", [1, 2], false),
        ("upper", "lower", [1, 2], true),
    ] {
        let recording = read(&two(first, second));
        let found: Vec<_> = recording.channels.iter().filter_map(|c| c.cylinder).collect();
        assert_eq!(found, numbers, "{first} {second}");
        assert_eq!(codes(&recording).contains(&"cylinder-assumed"), told, "{first} {second}");
    }
}

#[test]
fn times_in_odd_units() {
    let header = |time: &str| format!("{time};MAP 1 (kPa);MAP 2 (kPa);MAP 3 (kPa);MAP 4 (kPa);RPM");
    for (name, time) in [
        ("Time (10 ms)", (|k| (2 * k).to_string()) as fn(usize) -> String),
        ("Time [x100 us]", |k| (200 * k).to_string()),
        ("Zeit (1/100 s)", |k| (2 * k).to_string()),
        ("Time (hhmmss.sss)", |k| format!("0912{:06.3}", 44.0 + k as f64 * 0.02)),
        ("Time", |k| format!("9:12:{:06.3} a. m.", 44.0 + k as f64 * 0.02)),
    ] {
        check(name, &read(&table(&header(name), time)), ROWS, 5.98);
    }
    // Minutes of a clock, 60 rows in each: read as minutes and seconds it would be 4 s.
    let clock = |k: usize| format!("09:{:02}", 12 + k / 60);
    let recording = read(&table(&header("Zeit (hh:mm)"), clock));
    assert!((recording.duration_s() - 299.0).abs() < 1.01, "{}", recording.duration_s());
    assert!(codes(&recording).contains(&"coarse-clock"));
    // The night from 11 to 12 April as it is written in America; with the day first it would last a month.
    let night = |k: usize| {
        let (day, s) = if k < 150 { (11, 86_397.0 + k as f64 * 0.02) } else { (12, (k - 150) as f64 * 0.02) };
        format!("04/{day}/2025 {:02}:{:02}:{:06.3}", s as u32 / 3600, s as u32 / 60 % 60, s % 60.0)
    };
    let recording = read(&table(&header("Time"), night));
    check("night", &recording, ROWS, 5.98);
    assert!(codes(&recording).contains(&"time-assumed"));
}

#[test]
fn an_exact_time_goes_before_a_coarse_clock() {
    let header = "Clock;time_s;MAP 1 (kPa);MAP 2 (kPa);MAP 3 (kPa);MAP 4 (kPa);RPM";
    // Bursts of 0.4 s; spread over their seconds the rows would be invented times.
    let time = |k: usize| {
        let t = (k / 20) as f64 + (k % 20) as f64 * 0.02;
        format!("09:12:{:02};{t:.3}", 44 + k / 20)
    };
    let recording = read(&table(header, time));
    assert!((recording.duration_s() - 14.38).abs() < 1e-6, "{}", recording.duration_s());
    assert!((recording.time_s[19] - 0.38).abs() < 1e-9);
    assert!(!codes(&recording).contains(&"coarse-clock"));
}

#[test]
fn of_several_engine_speeds_the_measured_one_is_used() {
    for (extra, value, told) in
        [("Solldrehzahl (1/min)", "900", false), ("Max RPM", "5500", false), ("n", "1000", true)]
    {
        let header = format!("Time (s);{extra};MAP 1 (kPa);MAP 2 (kPa);MAP 3 (kPa);MAP 4 (kPa);RPM");
        let recording = read(&table(&header, |k| format!("{};{value}", seconds(k))));
        check(extra, &recording, ROWS, 5.98);
        assert_eq!(codes(&recording).contains(&"duplicate-column"), told, "{extra}");
    }
}

#[test]
fn another_header_ends_the_table_and_says_so() {
    let header = "Time (s);MAP 1 (kPa);MAP 2 (kPa);MAP 3 (kPa);MAP 4 (kPa);RPM";
    let whole = table(header, seconds);
    let lines: Vec<&str> = whole.lines().collect();
    let with = |second: &str| {
        let (first, rest) = lines.split_at(201);
        [first, &[second], rest].concat().join("\n") + "\n"
    };
    for second in [
        "Time (s);MAP 2 (kPa);MAP 1 (kPa);MAP 3 (kPa);MAP 4 (kPa);RPM",
        "Time (s);MAP 1 (inHg);MAP 2 (inHg);MAP 3 (inHg);MAP 4 (inHg);RPM",
        "Time (s);RPM;MAP 1 (kPa);MAP 2 (kPa);MAP 3 (kPa);MAP 4 (kPa)",
        "Time (s);MAP 1 (kPa);MAP 2 (kPa);MAP 3 (kPa);MAP 4 (kPa);RPM;Coolant (C)",
    ] {
        let recording = read(&with(second));
        check(second, &recording, 200, 3.98);
        assert_eq!(recording.source.rows_skipped, 100, "{second}");
        let notice = recording.notices.iter().find(|n| n.code == "header-again");
        assert_eq!(notice.and_then(|n| n.line), Some(202), "{second}");
        assert!(notice.is_some_and(|n| n.text.contains("left out")), "{second}");
    }
    // The same header again loses nothing.
    check("again", &read(&with(header)), ROWS, 5.98);
}

#[test]
fn rows_of_an_earlier_table_are_counted() {
    let first = "Time (s);MAP 1 (kPa);MAP 2 (kPa);MAP 3 (kPa);MAP 4 (kPa);RPM;Coolant (C)\n".to_owned()
        + &(0..40).map(|k| format!("{:.2};41;41;41;41;900;80\n", k as f64 * 0.02)).collect::<String>();
    let second = table("Time (s);MAP 1 (kPa);MAP 2 (kPa);MAP 3 (kPa);MAP 4 (kPa);RPM", seconds);
    let recording = read(&(first + &second));
    check("second table", &recording, ROWS, 5.98);
    assert_eq!(recording.source.rows_skipped, 40);
    assert!(
        recording.notices.iter().any(|n| n.text.contains("found 40 rows with another number of columns"))
    );
}

#[test]
fn leftovers_of_spreadsheets() {
    let header = "Time (s);MAP 1 (kPa);MAP 2 (kPa);MAP 3 (kPa);MAP 4 (kPa);RPM";
    let recording = read(&(table(header, seconds) + &";;;;;\n".repeat(40)));
    check("empty rows", &recording, ROWS, 5.98);
    assert_eq!(codes(&recording), Vec::<&str>::new());
}

#[test]
fn a_stamp_with_a_blank_in_a_table_cut_at_blanks() {
    for gap in ["  ", " "] {
        let mut text = ["Timestamp", "P1_kPa", "P2_kPa", "P3_kPa", "P4_kPa", "RPM"].join(gap) + "\n";
        for k in 0..ROWS {
            let (t, p, rpm) = row(k);
            let stamp = format!("2025-04-10 09:12:{:06.3}", 44.0 + t);
            let cells: Vec<String> = p.iter().map(|p| format!("{p:.2}")).collect();
            text += &format!("{stamp}{gap}{}{gap}{rpm}\n", cells.join(gap));
        }
        check("stamp", &read(&text), ROWS, 5.98);
    }
}
