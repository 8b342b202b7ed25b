#![allow(clippy::unwrap_used)]

use std::io::Write as _;

use crate::read::{ReadOptions, read_bytes, read_stream};
use crate::recording::{Quantity, Recording};

/// A table of over a mebibyte, so that it is read in blocks; `mark` goes between fields.
fn table(rows: usize, mark: &str) -> String {
    let mut out = ["time_s", "map1_kpa", "map2_kpa", "rpm"].join(mark) + "\n";
    for row in 0..rows {
        let cells = [
            format!("{}.{:03}", row / 1000, row % 1000),
            format!("{}.{:02}", 30 + row * 7 % 41, row % 97),
            format!("{}.{:02}", 30 + row * 11 % 43, row % 89),
            format!("{}", 1100 + row % 23),
        ];
        out.push_str(&cells.join(mark));
        out.push('\n');
    }
    out
}

fn read(bytes: &[u8]) -> Recording {
    read_bytes("log.csv", bytes, &ReadOptions::default()).unwrap()
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    encoder.write_all(bytes).unwrap();
    encoder.finish().unwrap()
}

fn zstd(bytes: &[u8]) -> Vec<u8> {
    ruzstd::encoding::compress_to_vec(bytes, ruzstd::encoding::CompressionLevel::Fastest)
}

fn same_values(a: &Recording, b: &Recording) {
    assert_eq!(a.time_s, b.time_s);
    for (x, y) in a.channels.iter().zip(&b.channels) {
        let bits = |values: &[f64]| values.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&x.values), bits(&y.values), "{}", x.header);
    }
}

#[test]
fn blocks_the_quick_and_the_slow_way_give_the_same_bits() {
    let text = table(60_000, ",");
    assert!(text.len() > 1 << 20);
    let quick = read(text.as_bytes());
    assert_eq!(quick.time_s.len(), 60_000);
    // Row 54 321 was written as 30 + 54321 * 7 mod 41 and 54321 mod 97.
    assert_eq!(quick.cylinder_pressures()[0].values[54_321], 30.0 + (54_321 * 7 % 41) as f64 + 0.01);
    // Quotes and blanks for delimiters are only read the slow way.
    let quoted = table(60_000, "\",\"").replace("\n", "\"\n\"");
    same_values(&quick, &read(format!("\"{}", &quoted[..quoted.len() - 1]).as_bytes()));
    same_values(&quick, &read(table(60_000, " ").as_bytes()));
}

#[test]
fn damage_in_a_late_block_is_placed_on_its_line() {
    let text = table(300_000, ",");
    assert!(text.len() > 5 << 20, "more than one block");
    let mut lines: Vec<&str> = text.lines().collect();
    lines[123_456] = "1,2";
    lines[250_000] = "250.0,zero,31.0,1100";
    let recording = read(lines.join("\n").as_bytes());
    assert_eq!((recording.source.rows, recording.source.rows_skipped), (299_998, 2));
    let places: Vec<_> = recording.notices.iter().map(|n| (n.code.as_str(), n.line, n.column)).collect();
    assert_eq!(places, [("short-row", Some(123_457), Some(4)), ("bad-cell", Some(250_001), Some(7))]);
}

#[test]
fn archives_by_content() {
    let text = table(500, ";");
    let plain = read(text.as_bytes());
    same_values(&plain, &read(&gzip(text.as_bytes())));
    same_values(&plain, &read(&zstd(text.as_bytes())));
    let (a, b) = text.as_bytes().split_at(3000);
    same_values(&plain, &read(&[gzip(a), gzip(b)].concat()));
    same_values(&plain, &read(&[zstd(a), zstd(b)].concat()));
    same_values(&plain, &read(&gzip(&zstd(text.as_bytes()))));
    let many: Vec<u8> = text.as_bytes().chunks(7).flat_map(zstd).collect();
    same_values(&plain, &read(&many));
}

#[test]
fn the_hash_is_that_of_the_file_not_of_its_content() {
    let text = table(100, ",");
    let packed = gzip(text.as_bytes());
    assert_ne!(read(&packed).source.sha256, read(text.as_bytes()).source.sha256);
}

/// A header and then the same row for ever.
struct Endless {
    row: &'static [u8],
    at: usize,
}

impl std::io::Read for Endless {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        for slot in buffer.iter_mut() {
            *slot = self.row[self.at % self.row.len()];
            self.at += 1;
        }
        Ok(buffer.len())
    }
}

#[test]
fn what_has_no_end_is_refused_within_bounds() {
    let said = |source: &mut (dyn std::io::Read + Send)| {
        read_stream("-", source, &ReadOptions::default())
            .map_or_else(|error| error.to_string(), |_| String::new())
    };
    let rows = Endless { row: b"1,1\n", at: 0 };
    let mut table = std::io::Read::chain(&b"time_s,map1_kpa\n"[..], rows);
    let want = "-: found more than 80 million figures, expected a recording of an idle, minutes and not days long; cut out \
                the part to be judged, or export fewer columns";
    assert_eq!(said(&mut table), want);
    assert!(said(&mut std::io::repeat(0)).starts_with("-: found binary data"));
    assert!(said(&mut std::io::repeat(b'7')).contains("a line of 1048576 bytes and more"));
    // A bomb of zeros is known by its first mebibyte.
    let bomb = gzip(&vec![0; 8 << 20]);
    assert!(bomb.len() < 100_000);
    assert!(said(&mut &bomb[..]).starts_with("-: found binary data"));
}

#[test]
fn codes_of_a_control_unit_and_their_clearing() {
    // ISO 15765-4 answers: stored P0107 (manifold pressure), pending P0301 (misfire), then service 04.
    let mut text = String::new();
    for at in 0..40 {
        text += &format!("({:.3}) can0 7E8#04410C1AF8AAAAAA\n", 10.0 + f64::from(at) * 0.5);
        text += &format!("({:.3}) can0 7E8#03410B23AAAAAAAA\n", 10.1 + f64::from(at) * 0.5);
        if at == 10 {
            text += "(15.2) can0 7E8#0443010107AAAAAA\n(15.3) can0 7E8#0447010301AAAAAA\n";
        }
        if at == 20 {
            text += "(20.2) can0 7DF#0104555555555555\n(20.3) can0 7E8#0144AAAAAAAAAAAA\n";
        }
    }
    let recording = read(text.as_bytes());
    let codes: Vec<_> =
        recording.trouble_codes.iter().map(|c| (c.code.as_str(), c.status.as_str())).collect();
    assert_eq!(codes, [("P0107", "stored"), ("P0301", "pending")]);
    // The codes came 5.2 s after the first sample; their time is that of the next value, 5.5 s at the latest.
    assert!(recording.trouble_codes[0].time_s.is_some_and(|t| (5.0..=5.6).contains(&t)));
    assert!((10.0..=10.6).contains(&recording.codes_cleared_s[0]));
}

#[test]
fn answers_of_several_frames_and_long_identifiers() {
    // ISO 15765-2: one answer with 0C, 0B, 05, 33 and 11 in two frames; a 29-bit answer by ISO 15765-4.
    let mut text = String::from("(9.0) can0 7DF#06010C0B05331155\n");
    for at in 0..10 {
        let t = 10.0 + f64::from(at) * 0.5;
        text +=
            &format!("({t:.4}) can0 7E8#100C410C1AF80B23\n({:.4}) can0 7E0#3000000000000000\n", t + 0.001);
        text += &format!("({:.4}) can0 7E8#21057B3364112BAA\n", t + 0.002);
    }
    let recording = read(text.as_bytes());
    let value = |quantity| recording.first(quantity).map_or(f64::NAN, |c| c.values[3]);
    assert_eq!(value(Quantity::EngineSpeed), 1726.0);
    assert_eq!(value(Quantity::ManifoldPressure), 35.0);
    assert_eq!(value(Quantity::CoolantTemperature), 83.0);
    assert_eq!(value(Quantity::Barometer), 100.0);
    let wide = "(1.0) can0 18DAF110#03410B23AAAAAAAA R\n(1.5) can0 18DAF110#03410B24AAAAAAAA R\n";
    assert_eq!(
        read(wide.as_bytes()).first(Quantity::ManifoldPressure).map(|c| c.values.clone()),
        Some(vec![35.0, 36.0])
    );
}
