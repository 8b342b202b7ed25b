#![allow(clippy::unwrap_used)]

use polars::prelude::{DataFrame, IntoColumn, IpcWriter, NamedFrom, ParquetWriter, SerWriter, Series};

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
    for whole in [parquet(wide()), arrow(wide())] {
        for cut in (0..whole.len()).step_by(37) {
            assert!(read_bytes("x", &whole[..cut], &ReadOptions::default()).is_err(), "cut at {cut}");
        }
        for at in (8..whole.len()).step_by(53) {
            let mut bytes = whole.clone();
            bytes[at] ^= 0xff;
            // Damage may go unnoticed in the figures; it must not bring the program down.
            let _ = read_bytes("x", &bytes, &ReadOptions::default());
        }
    }
}
