//! The text of `inspect` on recordings made by hand: what must be said, and what must not get through.
#![allow(clippy::unwrap_used)]

use evenpull_core::recording::{Preamble, Source};

use super::*;

fn channel(header: &str, quantity: Quantity, cylinder: Option<u32>) -> Channel {
    Channel {
        header: header.to_owned(),
        quantity,
        cylinder,
        unit: "mmHg".to_owned(),
        kind: None,
        // One conventional millimetre of mercury (NIST SP 811, B.8).
        resolution: Some(0.133_322_4),
        why: format!("because {header}"),
        values: vec![40.0, 41.0, 42.0],
    }
}

fn recording(channels: Vec<Channel>) -> Recording {
    Recording {
        source: Source {
            name: "hs-01.csv".to_owned(),
            sha256: "ab".repeat(32),
            format: Format::Csv,
            rows: 3,
            rows_skipped: 2,
            layout: vec!["semicolons, decimal comma".to_owned(), "UTF-8".to_owned()],
        },
        time_s: vec![0.0, 0.25, 0.5],
        channels,
        preamble: Preamble::default(),
        notices: Vec::new(),
        trouble_codes: Vec::new(),
        codes_cleared_s: Vec::new(),
    }
}

#[test]
fn every_column_is_named_with_its_reason_and_the_left_out_ones_apart() {
    let text = inspect_text(&recording(vec![
        channel("P1", Quantity::ManifoldPressure, Some(1)),
        channel("MAP", Quantity::ManifoldPressure, None),
        channel("Gear", Quantity::Ignored, None),
    ]));
    let (used, left) = text.split_once("Columns left out: 1").unwrap();
    assert!(used.contains("Columns understood: 2"));
    assert!(used.contains("because P1") && used.contains("because MAP") && !used.contains("Gear"));
    assert!(left.contains("Gear  because Gear"));
    let row = used.lines().find(|l| l.trim_start().starts_with("MAP")).unwrap();
    assert!(row.contains("shared") && row.contains("not known") && row.contains("1 mmHg"), "{row}");
    assert!(used.contains("own: 1 only"));
    assert!(used.contains("2 skipped as damaged") && used.contains("4 rows a second"));
}

#[test]
fn columns_stand_under_each_other() {
    let text = inspect_text(&recording(vec![
        channel("a", Quantity::ManifoldPressure, Some(1)),
        channel("a much longer header", Quantity::IntakeTemperature, None),
    ]));
    let starts: Vec<usize> = text.lines().filter_map(|l| l.find("mmHg").or_else(|| l.find("unit"))).collect();
    assert_eq!(starts.len(), 3);
    assert!(starts.windows(2).all(|w| w[0] == w[1]), "{text}");
}

#[test]
fn hostile_headers_and_notices_are_made_visible() {
    let mut hostile = recording(vec![channel("\u{1b}[2Jx\u{202e}", Quantity::ManifoldPressure, Some(1))]);
    hostile.notices.push(Notice::new("bad-cell", Level::Caution, "cell \u{1b}[31m\r").at_line(7, Some(3)));
    hostile.preamble.entries.push(("key\u{7}".to_owned(), "value\u{2066}".to_owned()));
    hostile.source.name = "a\nb.csv".to_owned();
    let text = inspect_text(&hostile);
    assert!(!text.chars().any(|c| (c.is_control() && c != '\n') || ('\u{2066}'..='\u{2069}').contains(&c)));
    assert!(text.contains("<U+001B>[2Jx<U+202E>") && text.contains("line 7, column 3: cell"));
    assert!(text.starts_with("a<U+000A>b.csv\n"));
}

#[test]
fn many_notices_of_a_code_are_counted_not_listed() {
    let mut noisy = recording(vec![]);
    for row in 0..1000 {
        noisy.notices.push(Notice::new("bad-cell", Level::Caution, "no number").at_line(row, None));
    }
    noisy.notices.push(Notice::new("bad-cell", Level::Note, "the rest").counted(500));
    let text = inspect_text(&noisy);
    assert_eq!(text.matches("no number").count(), SHOWN_PER_CODE);
    // 1,000 placed ones less those shown, and 500 in the one that counts the rest.
    assert!(text.contains("and 1496 more bad-cell"), "{text}");
}

#[test]
fn figures_keep_three_digits_and_lengths_read_like_a_clock() {
    for (value, shown) in
        [(0.133_322, "0.133"), (1.0, "1"), (9.8765, "9.88"), (100.0, "100"), (2_000.0, "2000")]
    {
        assert_eq!(figure(value), shown);
    }
    for (seconds, shown) in
        [(0.0, "0.0 s"), (119.94, "119.9 s"), (127.0, "2 min 7 s"), (3_725.4, "1 h 2 min 5 s")]
    {
        assert_eq!(duration(seconds), shown);
    }
    assert_eq!(duration(f64::NAN), "not known");
}
