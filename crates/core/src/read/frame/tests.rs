#![allow(clippy::unwrap_used)]

use polars::prelude::{
    Column, DataFrame, DataType, IntoColumn, IpcStreamWriter, IpcWriter, NamedFrom, ParquetWriter, SerWriter,
    Series, TimeUnit,
};

use crate::read::{ReadOptions, read_bytes};
use crate::recording::{Format, Quantity, Recording};

fn wide() -> DataFrame {
    let time: Vec<f64> = (0..200).map(|i| f64::from(i) * 0.02).collect();
    let p1: Vec<Option<f64>> = (0..200).map(|i| (i != 7).then(|| 350.0 + f64::from(i % 17))).collect();
    let p2: Vec<f32> = (0..200).map(|i| (400 + i % 13) as f32).collect();
    let rpm: Vec<i32> = (0..200).map(|i| 1100 + i % 5).collect();
    DataFrame::new(
        200,
        vec![
            Series::new("time_s".into(), time).into_column(),
            Series::new("map1_hpa".into(), p1).into_column(),
            Series::new("map2_hpa".into(), p2).into_column(),
            Series::new("rpm".into(), rpm).into_column(),
        ],
    )
    .unwrap()
}

fn long() -> DataFrame {
    let rows = 0..300;
    let time: Vec<f64> = rows.clone().map(|i| f64::from(i / 3) * 0.02).collect();
    let names: Vec<&str> = rows.clone().map(|i| ["MAP1", "MAP2", "RPM"][i as usize % 3]).collect();
    let values: Vec<f64> = rows.map(|i| [35.0, 36.0, 1100.0][i as usize % 3] + f64::from(i % 7)).collect();
    let units = ["kPa", "kPa", "rpm"].repeat(100);
    DataFrame::new(
        300,
        vec![
            Series::new("time_s".into(), time).into_column(),
            Series::new("signal".into(), names).into_column(),
            Series::new("value".into(), values).into_column(),
            Series::new("unit".into(), units).into_column(),
        ],
    )
    .unwrap()
}

fn parquet(mut frame: DataFrame) -> Vec<u8> {
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes).finish(&mut frame).unwrap();
    bytes
}

fn arrow(mut frame: DataFrame) -> Vec<u8> {
    let mut bytes = Vec::new();
    IpcWriter::new(&mut bytes).finish(&mut frame).unwrap();
    bytes
}

fn stream(mut frame: DataFrame) -> Vec<u8> {
    let mut bytes = Vec::new();
    IpcStreamWriter::new(&mut bytes).finish(&mut frame).unwrap();
    bytes
}

/// All three containers of a frame, with a name.
fn containers(frame: &DataFrame) -> [(&'static str, Vec<u8>); 3] {
    [
        ("Parquet", parquet(frame.clone())),
        ("Arrow file", arrow(frame.clone())),
        ("Arrow stream", stream(frame.clone())),
    ]
}

fn check(recording: &Recording, format: Format) {
    assert_eq!(recording.source.format, format);
    assert_eq!(recording.time_s.len(), 200);
    assert!((recording.time_s[100] - 2.0).abs() < 1e-12);
    let pressures = recording.cylinder_pressures();
    assert_eq!(pressures.len(), 2);
    // 350 + 10 mod 17 hPa in row 10 are 36.0 kPa.
    assert!((pressures[0].values[10] - 36.0).abs() < 1e-12);
    assert!(pressures[0].values[7].is_nan(), "a null is missing, not 0");
    assert!((pressures[1].values[3] - 40.3).abs() < 1e-9);
    assert_eq!(recording.first(Quantity::EngineSpeed).unwrap().values[4], 1104.0);
}

#[test]
fn parquet_and_arrow_by_content() {
    let options = ReadOptions::default();
    check(&read_bytes("x.csv", &parquet(wide()), &options).unwrap(), Format::Parquet);
    check(&read_bytes("x.bin", &arrow(wide()), &options).unwrap(), Format::Arrow);
    let streamed = read_bytes("x.txt", &stream(wide()), &options).unwrap();
    check(&streamed, Format::Arrow);
    assert_eq!(streamed.source.layout[0], "written as a stream");
}

#[test]
fn long_layout_with_names_as_text() {
    let recording = read_bytes("x", &parquet(long()), &ReadOptions::default()).unwrap();
    assert_eq!(recording.source.format, Format::Parquet);
    assert_eq!(recording.time_s.len(), 100);
    assert_eq!(recording.cylinder_pressures().len(), 2);
}

#[test]
fn cut_and_damaged_files_are_errors() {
    for (name, whole) in containers(&wide()) {
        for cut in (0..whole.len()).step_by(37) {
            match read_bytes("x", &whole[..cut], &ReadOptions::default()) {
                Err(_) => {}
                // A stream cut behind its last rows has lost only its end mark; that is said.
                Ok(read) => {
                    assert_eq!((name, read.time_s.len()), ("Arrow stream", 200), "cut at {cut}");
                    assert_eq!(read.notices[0].code, "cut-off", "cut at {cut}");
                }
            }
        }
        for at in (8..whole.len()).step_by(53) {
            let mut bytes = whole.clone();
            bytes[at] ^= 0xff;
            // Damage may go unnoticed in the figures; it must not bring the program down.
            let _ = read_bytes("x", &bytes, &ReadOptions::default());
        }
    }
}

/// The frame of [`wide`] with other columns for the time.
fn timed(times: Vec<Column>) -> DataFrame {
    let rest = wide().columns()[1..].to_vec();
    DataFrame::new(200, [times, rest].concat()).unwrap()
}

/// 14:59:58 on 2026-03-21, in milliseconds since 1970: 20 533 days of 86 400 s (Python: `date(2026,3,21) -
/// date(1970,1,1)`).
const START_MS: i64 = 20_533 * 86_400_000 + 53_998_000;

fn counts(per_ms: i64, name: &str) -> Series {
    let list: Vec<i64> = (0..200).map(|i| (START_MS + i * 20) * per_ms).collect();
    Series::new(name.into(), list)
}

#[test]
fn moments_of_every_unit() {
    for (unit, per_ms) in
        [(TimeUnit::Milliseconds, 1), (TimeUnit::Microseconds, 1000), (TimeUnit::Nanoseconds, 1_000_000)]
    {
        let time = counts(per_ms, "when").cast(&DataType::Datetime(unit, None)).unwrap();
        for (name, bytes) in containers(&timed(vec![time.into_column()])) {
            let recording = read_bytes("x", &bytes, &ReadOptions::default())
                .unwrap_or_else(|error| panic!("{name} {unit:?}: {error}"));
            check(&recording, recording.source.format);
            assert!(recording.time_s.iter().zip(0..).all(|(t, i)| (t - f64::from(i) * 0.02).abs() < 1e-9));
            assert_eq!(recording.preamble.date.as_deref(), Some("2026-03-21"), "{name} {unit:?}");
            assert!(recording.notices.iter().all(|n| n.code != "column-type"));
        }
    }
}

/// Forty rows of 0.02 s with moments in nanoseconds and the zone Europe/Berlin, written by polars 2.1 for Python: the
/// build of polars used here writes no zones.
#[test]
fn moments_with_a_zone_bring_no_day() {
    const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/fuzz/seeds/columnar/");
    for name in ["zone.arrow", "zone.stream.arrow", "zone.parquet"] {
        let bytes = std::fs::read(format!("{FOLDER}{name}")).unwrap();
        let recording = read_bytes("x", &bytes, &ReadOptions::default())
            .unwrap_or_else(|error| panic!("{name}: {error}"));
        assert_eq!(recording.time_s.len(), 40, "{name}");
        assert!(recording.time_s.iter().zip(0..).all(|(t, i)| (t - f64::from(i) * 0.02).abs() < 1e-9));
        // The naive way takes the day from universal time; which day it was where the clock stood is not in the file.
        assert_eq!(recording.preamble.date, None, "{name}");
    }
}

#[test]
fn dates_times_of_day_and_durations() {
    let date = Series::new("date".into(), vec![20_533i32; 200]).cast(&DataType::Date).unwrap();
    let of_day: Vec<i64> = (0..200).map(|i| (53_998_000 + i * 20) * 1_000_000).collect();
    let of_day = Series::new("time".into(), of_day).cast(&DataType::Time).unwrap();
    let since: Vec<i64> = (0..200).map(|i| i * 20_000).collect();
    let since =
        Series::new("elapsed".into(), since).cast(&DataType::Duration(TimeUnit::Microseconds)).unwrap();
    let both = vec![date.clone().into_column(), of_day.clone().into_column()];
    for (frame, day) in [
        (timed(both), Some("2026-03-21")),
        (timed(vec![of_day.into_column()]), None),
        (timed(vec![since.into_column()]), None),
    ] {
        for (name, bytes) in containers(&frame) {
            let recording = read_bytes("x", &bytes, &ReadOptions::default())
                .unwrap_or_else(|error| panic!("{name}: {error}"));
            check(&recording, recording.source.format);
            assert_eq!(recording.preamble.date.as_deref(), day, "{name}");
        }
    }
}

#[test]
fn short_integers_and_yes_no() {
    let speed: Vec<i16> = (0..200).map(|i| 1100 + i % 5).collect();
    let one: Vec<u16> = (0..200).map(|i| 350 + i % 17).collect();
    let two: Vec<u8> = (0..200).map(|i| (200 + i % 13) as u8).collect();
    let coolant: Vec<i8> = (0..200).map(|i| 80 + (i % 2) as i8).collect();
    let time: Vec<f64> = (0..200).map(|i| f64::from(i) * 0.02).collect();
    let frame = DataFrame::new(
        200,
        vec![
            Series::new("time_s".into(), time).into_column(),
            Series::new("map1_hpa".into(), one).into_column(),
            Series::new("map2_hpa".into(), two).into_column(),
            Series::new("rpm".into(), speed).into_column(),
            Series::new("coolant_degC".into(), coolant).into_column(),
        ],
    )
    .unwrap();
    for (name, bytes) in containers(&frame) {
        let recording = read_bytes("x", &bytes, &ReadOptions::default()).unwrap();
        let pressures = recording.cylinder_pressures();
        assert_eq!(pressures.len(), 2, "{name}");
        assert!((pressures[0].values[10] - 36.0).abs() < 1e-12, "{name}");
        assert!((pressures[1].values[12] - 21.2).abs() < 1e-12, "{name}");
        assert_eq!(recording.first(Quantity::EngineSpeed).unwrap().values[4], 1104.0);
        assert_eq!(recording.first(Quantity::CoolantTemperature).unwrap().values[1], 81.0);
    }
}

#[test]
fn moments_beside_names_as_text() {
    let list: Vec<i64> = (0..300).map(|i| (START_MS + i / 3 * 20) * 1000).collect();
    let when =
        Series::new("when".into(), list).cast(&DataType::Datetime(TimeUnit::Microseconds, None)).unwrap();
    let rest = long().columns()[1..].to_vec();
    let frame = DataFrame::new(300, [vec![when.into_column()], rest].concat()).unwrap();
    for (name, bytes) in containers(&frame) {
        let recording = read_bytes("x", &bytes, &ReadOptions::default())
            .unwrap_or_else(|error| panic!("{name}: {error}"));
        assert_eq!(recording.time_s.len(), 100, "{name}");
        // Read as plain counts the step would be 20 000.
        assert!((recording.time_s[99] - 1.98).abs() < 1e-6, "{name}: {}", recording.time_s[99]);
        assert_eq!(recording.preamble.date.as_deref(), Some("2026-03-21"), "{name}");
    }
}

#[test]
fn a_column_of_another_kind_is_named_in_plain_words() {
    let raw = Series::new("raw".into(), vec![&b"x"[..]; 200]).into_column();
    let want = "`raw` is left out: found raw bytes, expected figures; write them as floating-point figures, or names \
                as text";
    let frame = DataFrame::new(200, [wide().columns().to_vec(), vec![raw.clone()]].concat()).unwrap();
    for (name, bytes) in containers(&frame) {
        let recording = read_bytes("x", &bytes, &ReadOptions::default()).unwrap();
        check(&recording, recording.source.format);
        let said: Vec<_> = recording.notices.iter().filter(|n| n.code == "column-type").collect();
        assert_eq!((said.len(), said[0].text.as_str()), (1, want), "{name}");
    }
    // Where nothing else tells an engine the column may be why.
    let frame = DataFrame::new(200, vec![wide().columns()[0].clone(), raw]).unwrap();
    for (name, bytes) in containers(&frame) {
        let error = read_bytes("x", &bytes, &ReadOptions::default()).unwrap_err().to_string();
        assert!(error.contains("`raw` holds raw bytes: write them as floating-point"), "{name}: {error}");
    }
}
