//! Damaged files, each with the whole of what is said about it. Every file was damaged by hand at a known place; the
//! lines, columns and cells below are those places.

use std::fmt::Write as _;
use std::path::Path;

use evenpull_core::read::{ReadOptions, read_path};

const TEXT: &str = "a log as text, Parquet or Arrow; export the recording as CSV from the logger";
const TABLE: &str = "a table with a time and at least one more column, or CAN frames as candump text; export the \
                     recording as CSV with a header line";
const COPY: &str = "a whole file; copy it again from the logger";
const FRAME: &str = "a whole Parquet or Arrow IPC file; copy or export it again";
const OBD: &str = "answers by ISO 15765-4 (identifiers 7E8 to 7EF or 18DAF1xx) with engine speed or manifold pressure; \
                   ask for service 01, parameters 0B and 0C, while recording";
const TIME: &str = "a column with the time of each row; name it in [columns] of the machine file, or give the sample rate \
                    with --rate when rows come at an even pace";

/// Rows used and left out, then one line a notice; or the error.
fn said(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reader/damaged").join(name);
    match read_path(&path, &ReadOptions::default()) {
        Err(error) => error.to_string(),
        Ok(recording) => {
            let mut out = format!("{}+{}", recording.source.rows, recording.source.rows_skipped);
            for notice in &recording.notices {
                let place = match (notice.line, notice.column) {
                    (Some(line), Some(column)) => format!(" {line}:{column}"),
                    (Some(line), None) => format!(" {line}"),
                    _ => String::new(),
                };
                let _ = write!(out, "\n{}{place} {}", notice.code, notice.text);
            }
            out
        }
    }
}

fn check(name: &str, want: &str) {
    assert_eq!(said(name), want, "{name}");
}

fn refused(name: &str, found: &str, expected: &str) {
    check(name, &format!("{name}: found {found}, expected {expected}"));
}

fn refused_at(name: &str, place: &str, found: &str, expected: &str) {
    check(name, &format!("{name}:{place}: found {found}, expected {expected}"));
}

/// One row of thirty is left out.
fn one_row_out(name: &str, code: &str, place: &str, found: &str, expected: &str) {
    check(name, &format!("29+1\n{code} {place} found {found}, expected {expected}: the row is left out"));
}

/// One cell of thirty rows is missing.
fn one_cell_missing(name: &str, place: &str, found: &str) {
    check(
        name,
        &format!("30+0\nmissing-value {place} found {found}, expected a figure: the cell counts as missing"),
    );
}

#[test]
fn content_that_is_no_log() {
    for (name, found) in [
        ("empty.csv", "an empty file"),
        ("blank.csv", "only blanks"),
        ("picture.csv", "a PNG picture"),
        ("photo.csv", "a JPEG picture"),
        ("page.pdf", "a PDF document"),
        ("zipped.csv", "a ZIP archive or a spreadsheet file"),
        ("database.csv", "an SQLite database"),
        ("noise.bin", "binary data"),
    ] {
        refused(name, found, TEXT);
    }
    for (name, found) in [
        ("prose.txt", "`Dear owner,` and no rows of figures"),
        ("page.html", "`<html><body>` and no rows of figures"),
        ("object.json", "`{\"log\": [{\"t\": 0.0, \"p\": 40.1},` and no rows of figures"),
    ] {
        refused_at(name, "1:1", found, TABLE);
    }
    for name in ["no-answers.log", "questions-only.log"] {
        refused(name, "20 CAN frames and no measured value of an engine among them", OBD);
    }
}

#[test]
fn cut_and_broken_containers() {
    let reason = |r: &str| format!("content that cannot be read to its end ({r})");
    refused("cut.csv.gz", &reason("gzip archive: incomplete deflate stream"), COPY);
    refused(
        "bad-sum.csv.gz",
        &reason("gzip archive: corrupt gzip stream does not have a matching checksum"),
        COPY,
    );
    refused(
        "cut.csv.zst",
        &reason("zstd archive: Failed to read checksum: failed to fill whole buffer"),
        COPY,
    );
    refused(
        "archive-in-archive.gz",
        "an archive inside an archive",
        "a log, packed at most twice; unpack it first",
    );
    let reason = |r: &str| format!("a damaged or cut columnar file ({r})");
    refused("cut.parquet", &reason("parquet: File out of specification: The file must end with PAR1"), FRAME);
    refused("stream.arrow", &reason("out-of-spec: Unable to get root as message"), FRAME);
    refused("cut.arrow", &reason("out-of-spec: InvalidFooter"), FRAME);
}

#[test]
fn too_little_to_work_with() {
    let advice = "check the time column, or give the sample rate with --rate";
    refused_at(
        "header-only.csv",
        "1:1",
        "a header and no row of figures after it",
        "rows of figures under the header; record again: the logger wrote no values",
    );
    refused("one-row.csv", "1 usable row", &format!("at least two rows at different times; {advice}"));
    refused(
        "standing-time.csv",
        "20 rows whose time does not rise",
        &format!("at least two rows at different times; {advice}"),
    );
    refused(
        "text-for-time.csv",
        "text in the column `time_s`",
        "figures, clock times or dates; check how the file was written",
    );
    refused_at(
        "too-little-left.csv",
        "3:1",
        "1 usable row",
        "at least two rows at different times; the others are damaged, line 3 first: found `0:0:5x` in `time_s`, expected a \
         figure: the row is left out",
    );
    refused_at(
        "no-header.csv",
        "1:1",
        "4 columns and no header",
        "a header that names them; give the names with --columns, for example --columns \
         'time_s,map1_kpa,map2_kpa,rpm'",
    );
    refused("no-time.csv", "the columns `map1_kpa`, `map2_kpa`, `rpm` and no time among them", TIME);
    refused(
        "only-index.csv",
        "the columns `sample`, `map1_kpa`, `map2_kpa`, `rpm` and no time among them",
        TIME,
    );
    refused(
        "nothing-known.csv",
        "the columns `time_s`, `vehicle speed (km/h)`, `oil pressure (bar)`",
        "at least one manifold pressure or the engine speed; name them in [columns] of the machine file",
    );
}

#[test]
fn rows_that_are_left_out() {
    for (name, code, place, found, expected) in [
        ("bad-pressure.csv", "bad-cell", "9:6", "`4x.7` in `map1_kpa`", "a figure"),
        ("bad-speed.csv", "bad-cell", "12:18", "`rpm!` in `rpm`", "a figure"),
        ("bad-time.csv", "bad-cell", "10:1", "`0.4O` in `time_s`", "a figure"),
        ("no-time-in-row.csv", "bad-cell", "10:1", "an empty cell in `time_s`", "a time"),
        ("too-large-figure.csv", "bad-cell", "10:6", "`1e999` in `map1_kpa`", "a figure"),
        (
            "null-bytes.csv",
            "bad-cell",
            "10:6",
            "`\u{fffd}\u{fffd}\u{fffd}\u{fffd}\u{fffd}` in `map1_kpa`",
            "a figure",
        ),
        ("broken-characters.csv", "bad-cell", "10:6", "`\u{c3}(\u{ff}` in `map1_kpa`", "a figure"),
        (
            "wrong-unit-in-cell.csv",
            "bad-cell",
            "11:18",
            "`305 mmHg` in `MAP 2`",
            "a figure in the unit of the column",
        ),
        (
            "date-out-of-range.csv",
            "bad-cell",
            "11:1",
            "`2025-13-40 10:00:09` in `time`",
            "a time like the others of this column",
        ),
        ("short-row.csv", "short-row", "7:11", "2 fields", "4 as in the header"),
        ("wrong-delimiter-row.csv", "short-row", "8:22", "1 field", "4 as in the header"),
        ("long-row.csv", "long-row", "8:23", "6 fields", "4 as in the header"),
        (
            "open-quote.csv",
            "open-quote",
            "6:6",
            "a quote that is not closed",
            "a closing quote on the same line",
        ),
    ] {
        one_row_out(name, code, place, found, expected);
    }
    let out = |place: &str, cell: &str| {
        format!("\nbad-cell {place} found `{cell}` in `map1_kpa`, expected a figure: the row is left out")
    };
    let odd = [("6:6", "0x1F"), ("7:6", "4 0.1"), ("8:6", "40.1.2"), ("9:6", "4e")]
        .map(|(p, c)| out(p, c))
        .concat();
    check("odd-figures.csv", &format!("26+4{odd}"));
    check(
        "cut-last-row.csv",
        "30+1\ncut-off 32:13 found 3 fields, expected 4 as in the header: the row is left out",
    );
    check(
        "text-at-the-end.csv",
        "30+2\nshort-row 32:17 found 1 field, expected 4 as in the header: the row is left out\n\
         short-row 33:16 found 1 field, expected 4 as in the header: the row is left out",
    );
}

#[test]
fn cells_that_count_as_missing() {
    one_cell_missing("nan.csv", "11:12", "`NaN` in `map2_kpa`");
    one_cell_missing("error-word.csv", "11:12", "`#VALUE!` in `map2_kpa`");
    one_cell_missing("dashes.csv", "11:6", "`--` in `map1_kpa`");
    one_cell_missing("empty-cell.csv", "11:6", "an empty cell in `map1_kpa`");
    check(
        "bad-coolant.csv",
        "30+0\nbad-cell 11:23 found `hot` in `coolant_degC`, expected a figure: the cell counts as missing",
    );
    check(
        "slow-column.csv",
        "30+0\nsparse-column `coolant_degC` holds a value in 3 of 30 rows: it was logged less often",
    );
    check("empty-column.csv", "30+0\nempty-column `map3_kpa` holds no value at all");
}

#[test]
fn clocks_that_do_not_run_evenly() {
    check(
        "time-back-once.csv",
        "29+1\ntime-backwards 14 found a time 250.0 ms before the row above, expected a later one: the row is left out",
    );
    check(
        "time-ahead-once.csv",
        "29+1\ntime-jump 14 the time jumps ahead by 949 s and back again: the row is left out",
    );
    check(
        "time-repeated.csv",
        "29+1\nduplicate-time 14 found the time of the row above again, expected a later one: the row is left out",
    );
    check(
        "time-reset.csv",
        "60+0\ntime-backwards 32 the time falls back by 1.45 s and goes on from there: the clock was started again; the \
         rest follows after a gap of 1.00 s\ngap 32 no rows for 1.00 s; usual are rows every 50.0 ms",
    );
    // Rows up to 1.45 s, then from 9.00 s on.
    check("gap.csv", "60+0\ngap 32 no rows for 7.55 s; usual are rows every 50.0 ms");
    // 2^32 us are 4294.967296 s: the counter starts at 4294.90 s and wraps in its eighth row.
    check(
        "counter-wrap.csv",
        "30+0\nclock-wrap 9 the time starts again from a small figure: a counter of 32 bits; read as running on",
    );
    check(
        "clock-stops.csv",
        "80+0\nclock-stood the clock stood still while rows were written; they are laid at their usual pace\n\
         coarse-clock the clock counts in steps of 1.00 s: rows that share a time are spread evenly up to the next step",
    );
    check(
        "bare-time.csv",
        "30+0\ntime-unit-assumed `time` names no unit of time; by its steps it is read as milliseconds",
    );
    check(
        "unnamed-time.csv",
        "30+0\ntime-assumed no column is named a time; `x` is the first that only rises and is read as the time\n\
         time-unit-assumed `x` names no unit of time; by its steps it is read as seconds",
    );
}

#[test]
fn headers_in_the_middle_and_line_ends_mixed() {
    check(
        "header-again.csv",
        "30+0\nheader-again 15:1 the header stands here again: the logger was started anew",
    );
    check(
        "units-again.csv",
        "30+0\nheader-again 13:1 the header stands here again: the logger was started anew",
    );
    check("mixed-line-ends.csv", "30+0");
    let header = "`\u{fffd}[31mred\u{fffd}txt`";
    check(
        "escape-in-header.csv",
        &format!(
            "30+0\nunknown-column not understood and left out: {header}; if one is needed, name it in [columns] of the \
             machine file"
        ),
    );
    check("formula-names.csv", "30+0");
}

#[test]
fn units_kinds_and_cylinders_that_are_open() {
    let left_out = |name: &str, why: &str| format!("\nunit-unknown `{name}` is left out: {why}");
    let volts = "its unit is none of pressure and its scale is not known; turn it into a pressure by the data sheet of the \
                 sensor";
    check("volts.csv", &format!("30+0{}{}", left_out("map1 (V)", volts), left_out("map2 (V)", volts)));
    let bare = "it names no unit; by its figures it could be hPa or mmHg; name the unit in [columns] of the machine file";
    check("no-unit.csv", &format!("30+0{}{}", left_out("map1", bare), left_out("map2", bare)));
    let kind = |name: &str, text: &str| format!("\nkind-ambiguous `{name}` says {text}");
    let gauge = "gauge, its values are positive: absolute or vacuum, not settled here";
    check(
        "gauge-positive.csv",
        &format!("30+0{}{}", kind("p1 gauge (kPa)", gauge), kind("p2 gauge (kPa)", gauge)),
    );
    let negative = "absolute, its values are negative: read as gauge";
    check(
        "absolute-negative.csv",
        &format!("30+0{}{}", kind("map1_kpa", negative), kind("map2_kpa", negative)),
    );
    check(
        "same-cylinder-twice.csv",
        "30+0\nduplicate-column `map 1 filtered (kPa)` names cylinder 1 like `map1_kpa`: the first of the two is used",
    );
    check(
        "no-cylinder-numbers.csv",
        "30+0\ncylinder-assumed the pressure columns carry no cylinder number: they are numbered in the order of the columns",
    );
    check(
        "channels-five-six.csv",
        "30+0\ncylinder-assumed channel numbers do not start at 1: cylinders are numbered in the order of the channels",
    );
    check(
        "corners.csv",
        "30+0\ncylinder-assumed cylinders are named by side and end: they are numbered in the order of the columns",
    );
    check(
        "ambiguous-comma.csv",
        "30+0\ndecimal-mark-assumed figures such as 1,012 are read as 1.012; if they are thousands, write them without the \
         mark",
    );
}

#[test]
fn long_tables_and_frames() {
    check("long-bad-value.csv", "20+1\nbad-cell 9:11 found `4x`, expected a figure: the row is left out");
    check("long-bad-time.csv", "20+1\nbad-cell 10:1 found `zero`, expected a time: the row is left out");
    check(
        "long-short-row.csv",
        "20+1\nshort-row 12:10 found 2 fields, expected 4 as in the header: the row is left out",
    );
    check(
        "frame-without-data.log",
        "20+1\nbad-frame 8:1 found `(103.0) can0 7E8#04410C1`, expected whole bytes of data, at most 64: the line is left out",
    );
    check(
        "frame-cut-line.log",
        "20+1\nbad-frame 9:1 found `(103.0000`, expected a closing bracket after the time stamp: the line is left out",
    );
    check(
        "frame-out-of-turn.log",
        "20+0\nbad-frame 8 found a consecutive frame without a first one, expected a payload by ISO-TP: the frame is left out",
    );
    check(
        "frame-too-short.log",
        "20+0\nbad-frame 8 found a single frame shorter than it says, expected a payload by ISO-TP: the frame is left out",
    );
}

#[test]
fn the_corpus_is_all_asserted() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reader/damaged");
    let files = std::fs::read_dir(folder).map(|dir| dir.filter_map(Result::ok).count()).unwrap_or(0);
    let source = include_str!("damaged.rs");
    let named = std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reader/damaged"))
        .map(|dir| {
            dir.filter_map(Result::ok)
                .filter(|e| source.contains(&format!("\"{}\"", e.file_name().to_string_lossy())))
                .count()
        })
        .unwrap_or(0);
    assert!(files >= 60, "{files} files");
    assert_eq!(named, files, "a file of the corpus is not asserted");
}
