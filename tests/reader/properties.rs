//! Properties: no bytes bring the reader down, what it returns keeps its invariants, and the dialect does not matter.

use evenpull_core::read::{ReadError, ReadOptions, read_bytes};
use evenpull_core::recording::{Quantity, Recording};
use proptest::prelude::*;

/// The invariants that a recording promises.
fn invariants(recording: &Recording) {
    let times = &recording.time_s;
    assert!(times.len() >= 2 && times[0] == 0.0, "starts at 0");
    assert!(times.windows(2).all(|w| w[1] > w[0]) && times.iter().all(|t| t.is_finite()), "rises");
    assert_eq!(recording.source.rows, times.len());
    for channel in &recording.channels {
        let used = !matches!(channel.quantity, Quantity::Time | Quantity::Ignored);
        assert_eq!(channel.values.len(), if used { times.len() } else { 0 }, "{}", channel.header);
        assert!(channel.values.iter().all(|v| !v.is_infinite()), "{}", channel.header);
        assert!(!channel.header.contains(|c: char| c.is_control()), "{:?}", channel.header);
    }
    for notice in &recording.notices {
        assert!(!notice.text.contains(|c: char| c.is_control()), "{:?}", notice.text);
    }
}

fn try_read(bytes: &[u8]) {
    check(read_bytes("log", bytes, &ReadOptions::default()));
}

/// A recording keeps its promises; an error is in words.
pub(super) fn check(read: Result<Recording, ReadError>) {
    match read {
        Ok(recording) => invariants(&recording),
        Err(error) => {
            let text = error.to_string();
            assert!(!text.contains(|c: char| c.is_control()), "{text:?}");
            assert!(text.contains("found ") && text.contains("expected "), "{text}");
        }
    }
}

fn good() -> Vec<u8> {
    let mut text = String::from("time_s,map1_kpa,map2_kpa,rpm,coolant_degC\n");
    for row in 0..60 {
        text += &format!(
            "{}.{:02},{}.25,{}.5,{},80\n",
            row / 20,
            row % 20 * 5,
            30 + row % 17,
            31 + row % 13,
            1100 + row % 7
        );
    }
    text.into_bytes()
}

fn frames() -> Vec<u8> {
    let mut text = String::new();
    for row in 0..40 {
        text += &format!("({}.{:03}) can0 7E8#04410C1A{:02X}AAAAAA\n", 100 + row / 4, row % 4 * 250, row);
        text += &format!(
            "({}.{:03}) can0 7E8#03410B{:02X}AAAAAAAA\n",
            100 + row / 4,
            row % 4 * 250 + 50,
            30 + row
        );
    }
    text.into_bytes()
}

/// A file with bytes overwritten, taken out and put in.
fn damaged(base: Vec<u8>) -> impl Strategy<Value = Vec<u8>> {
    let change = (
        any::<prop::sample::Index>(),
        0..4u8,
        prop::sample::select(b"0,;.:-\"\n\r\t #xE\xff\x00 9".to_vec()),
    );
    prop::collection::vec(change, 1..40).prop_map(move |changes| {
        let mut bytes = base.clone();
        for (index, kind, byte) in changes {
            if bytes.is_empty() {
                break;
            }
            let at = index.index(bytes.len());
            match kind {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                2 => drop(bytes.remove(at)),
                _ => bytes.truncate(at.max(40)),
            }
        }
        bytes
    })
}

#[derive(Debug, Clone, Copy)]
struct Dialect {
    mark: &'static str,
    comma: bool,
    end: &'static str,
    unit: usize,
    clock: bool,
    long: bool,
}

fn dialect() -> impl Strategy<Value = Dialect> {
    let marks = prop::sample::select(vec![";", "\t", "|", ","]);
    let ends = prop::sample::select(vec!["\n", "\r\n", "\r"]);
    (marks, any::<bool>(), ends, 0..4usize, any::<bool>(), any::<bool>()).prop_map(
        |(mark, comma, end, unit, clock, long)| Dialect {
            mark,
            comma: comma && mark != ",",
            end,
            unit,
            clock,
            long,
        },
    )
}

/// Figures in the unit of a dialect: factor to tenths of a hectopascal and decimals that hold them exactly.
const UNITS: [(&str, f64, usize); 4] =
    [("kPa", 100.0, 2), ("hPa", 10.0, 1), ("mbar", 10.0, 1), ("Pa", 0.1, 0)];

fn write(rows: &[(i32, i32, i32)], dialect: Dialect) -> String {
    let (unit, size, decimals) = UNITS[dialect.unit];
    let figure = |value: f64, decimals: usize| {
        let text = format!("{value:.decimals$}");
        if dialect.comma { text.replace('.', ",") } else { text }
    };
    let time = |row: usize| {
        let seconds = row as f64 * 0.05;
        if dialect.clock {
            let second = if dialect.comma {
                format!("{:05.2}", seconds % 60.0).replace('.', ",")
            } else {
                format!("{:05.2}", seconds % 60.0)
            };
            format!("10:{:02}:{second}", (seconds / 60.0) as u32)
        } else {
            figure(seconds, 2)
        }
    };
    let mut lines = Vec::new();
    let mark = dialect.mark;
    if dialect.long {
        lines.push(["time", "signal", "value", "unit"].join(mark));
    } else {
        lines.push(
            ["time".to_owned(), format!("map1 [{unit}]"), format!("map2 [{unit}]"), "rpm".to_owned()]
                .join(mark),
        );
    }
    for (row, (a, b, n)) in rows.iter().enumerate() {
        let cells =
            [figure(f64::from(*a) / size, decimals), figure(f64::from(*b) / size, decimals), n.to_string()];
        if dialect.long {
            for ((name, unit), cell) in [("map1", unit), ("map2", unit), ("rpm", "rpm")].iter().zip(&cells) {
                lines.push([&time(row), *name, cell, *unit].join(mark));
            }
        } else {
            lines.push([&time(row), &cells[0], &cells[1], &cells[2]].map(String::as_str).join(mark));
        }
    }
    lines.join(dialect.end) + dialect.end
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_bring_it_down(bytes in prop::collection::vec(any::<u8>(), 0..2000)) {
        try_read(&bytes);
    }

    #[test]
    fn no_text_brings_it_down(text in "[0-9a-zA-Z,;:.\t \n\r\"#()\\[\\]{}<>/%+\u{b0}\u{2212}-]{0,1500}") {
        try_read(text.as_bytes());
    }

    #[test]
    fn no_damage_brings_a_table_down(bytes in damaged(good())) {
        try_read(&bytes);
    }

    #[test]
    fn no_damage_brings_frames_down(bytes in damaged(frames())) {
        try_read(&bytes);
    }

    #[test]
    fn any_header_is_safe(names in prop::collection::vec("\\PC{0,40}", 1..8)) {
        let names: Vec<String> = names.iter().map(|name| name.replace(['\n', '\r', ';', '"'], " ")).collect();
        let mut text = format!("time_s;rpm;{}\n", names.join(";"));
        for row in 0..30 {
            text += &format!("{}.5;1100{}\n", row, ";40.5".repeat(names.len()));
        }
        try_read(text.as_bytes());
    }

    #[test]
    fn the_dialect_does_not_matter(
        rows in prop::collection::vec((1500..9000i32, 1500..9000i32, 900..1400i32), 40..120),
        dialect in dialect(),
    ) {
        let text = write(&rows, dialect);
        let recording = read_bytes("log", text.as_bytes(), &ReadOptions::default());
        let recording = recording.unwrap_or_else(|error| panic!("{error}\n{}", &text[..text.len().min(300)]));
        invariants(&recording);
        prop_assert_eq!(recording.time_s.len(), rows.len());
        let pressures = recording.cylinder_pressures();
        prop_assert_eq!(pressures.len(), 2);
        for (row, (a, b, n)) in rows.iter().enumerate() {
            prop_assert!((recording.time_s[row] - row as f64 * 0.05).abs() < 1e-9);
            prop_assert!((pressures[0].values[row] - f64::from(*a) / 100.0).abs() < 1e-9);
            prop_assert!((pressures[1].values[row] - f64::from(*b) / 100.0).abs() < 1e-9);
            let rpm = recording.first(Quantity::EngineSpeed).map_or(f64::NAN, |c| c.values[row]);
            prop_assert!((rpm - f64::from(*n)).abs() < 1e-9);
        }
    }
}
