//! Commas between the fields and inside the figures, without quotes: read where only one way makes sense, else refused.

use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::recording::Quantity;

use super::support::{ROWS, check, pressure, read, speed, time_cs};

fn comma(hundredths: i64) -> String {
    format!("{},{:02}", hundredths / 100, hundredths % 100)
}

fn tenths(hundredths: i64) -> String {
    format!("{},{}", hundredths / 100, hundredths % 100 / 10)
}

fn table(head: &str, row: impl Fn(usize) -> String) -> String {
    (0..ROWS).fold(format!("{head}\n"), |out, at| out + &row(at) + "\n")
}

fn time(row: usize) -> String {
    comma(time_cs(row) as i64)
}

fn refused(text: &str) -> String {
    read_bytes("log.csv", text.as_bytes(), &ReadOptions::default())
        .map_or_else(|e| e.to_string(), |_| String::new())
}

#[test]
fn one_whole_column() {
    let text = table("time_s,map1_kpa,map2_kpa,rpm", |r| {
        format!("{},{},{},{}", time(r), comma(pressure(r, 0)), comma(pressure(r, 1)), speed(r))
    });
    let recording = read(&text);
    check("seven fields under four names", &recording, 0.0, 0.0);
    let notice = &recording.notices[0];
    assert_eq!(notice.code, "decimal-mark-assumed");
    assert_eq!(
        notice.text,
        "commas stand between the fields and inside the figures: 7 fields under 4 names can be joined in one way only, \
         figures with decimals in `time_s`, `map1_kpa`, `map2_kpa`"
    );
    // With the speed in the second place and a preamble above.
    let text = table("Machine: HS-03\n\ntime_s,rpm,map1_kpa,map2_kpa", |r| {
        format!("{},{},{},{}", time(r), speed(r), comma(pressure(r, 0)), comma(pressure(r, 1)))
    });
    let recording = read(&text);
    check("speed in the middle", &recording, 0.0, 0.0);
    assert_eq!(recording.preamble.machine_id.as_deref(), Some("HS-03"));
}

#[test]
fn every_column_with_decimals_and_two_without() {
    let text = table("time_s,map1_kpa,map2_kpa,rpm", |r| {
        format!("{},{},{},{},0", time(r), comma(pressure(r, 0)), comma(pressure(r, 1)), speed(r))
    });
    check("eight fields under four names", &read(&text), 0.0, 0.0);
    let text = table("time_s,map1_kpa,map2_kpa,rpm,coolant_degC", |r| {
        format!("{},{},{},{},8{}", time(r), tenths(pressure(r, 0)), tenths(pressure(r, 1)), speed(r), r / 40)
    });
    let recording = read(&text);
    check("eight fields under five names", &recording, 0.0, 0.1);
    assert_eq!(recording.first(Quantity::CoolantTemperature).map(|c| c.values[200]), Some(85.0));
}

#[test]
fn what_can_be_read_two_ways_is_refused() {
    // Which of the two unknown columns is whole cannot be told: 7,3|5 or 7|3,5.
    let text = table("time_s,rpm,coolant,intake", |r| format!("{},{},7,{},5", r, speed(r), r % 10));
    assert_eq!(
        refused(&text),
        "log.csv:2:1: found rows of 5 fields under 4 names: commas stand between the fields and inside the figures, and \
         it cannot be told which belong together, expected another mark between the fields, or a decimal point; export \
         it again with semicolons or tabs between the fields"
    );
    // Decimals left off where they are zero: the number of fields changes from row to row.
    let text = table("time_s,map1_kpa,rpm", |r| {
        if r % 3 == 0 {
            format!("{},{},{}", r, r % 40, speed(r))
        } else {
            format!("{r},{},5,{}", r % 40, speed(r))
        }
    });
    assert!(refused(&text).contains("not every row has the same number of them"), "{}", refused(&text));
}
