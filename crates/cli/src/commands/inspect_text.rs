//! The text of `inspect`: plain aligned lines that a mechanic can follow. Names and sentences that come from the
//! log are made safe for a terminal.

use std::fmt::Write as _;

use evenpull_core::notice::{Level, Notice};
use evenpull_core::recording::{Channel, Format, PressureKind, Quantity, Recording};
use evenpull_core::safe_text::{one_line, one_line_within};
use evenpull_core::units::PressureUnit;

/// Longest header shown in the table; the full one stands in the JSON of a review.
const HEADER_WIDTH: usize = 34;

/// Placed notices shown for one code before the rest is only counted.
const SHOWN_PER_CODE: usize = 4;

/// What was understood of a recording, ready to print.
pub(crate) fn inspect_text(recording: &Recording) -> String {
    let (used, left): (Vec<&Channel>, Vec<&Channel>) =
        recording.channels.iter().partition(|c| c.quantity != Quantity::Ignored);
    let mut text = String::new();
    file_section(&mut text, recording);
    preamble_section(&mut text, recording);
    column_section(&mut text, &used);
    cylinder_section(&mut text, recording);
    left_out_section(&mut text, &left);
    code_section(&mut text, recording);
    notice_section(&mut text, &recording.notices);
    text
}

/// A line of text; a `String` takes every one.
fn line(text: &mut String, parts: std::fmt::Arguments<'_>) {
    let _ = text.write_fmt(parts);
    text.push('\n');
}

/// Format, layout, rows, length, rate.
fn file_section(text: &mut String, recording: &Recording) {
    let source = &recording.source;
    line(text, format_args!("{}", one_line(&source.name)));
    let format = match source.format {
        Format::Csv => "delimited text (csv)",
        Format::Parquet => "Apache Parquet",
        Format::Arrow => "Apache Arrow file",
        Format::Candump => "CAN frames as candump text",
    };
    line(text, format_args!("  format      {format}"));
    for (i, row) in source.layout.iter().enumerate() {
        let label = if i == 0 { "layout" } else { "" };
        line(text, format_args!("  {label:<11} {}", one_line(row)));
    }
    let skipped = match source.rows_skipped {
        0 => "none skipped".to_owned(),
        n => format!("{n} skipped as damaged"),
    };
    line(text, format_args!("  rows        {} used, {skipped}", source.rows));
    line(text, format_args!("  length      {}", duration(recording.duration_s())));
    let rate = match recording.sample_rate_hz() {
        None => "cannot be told".to_owned(),
        Some(hz) if hz < 0.95 => format!("one row every {} s", figure(1.0 / hz)),
        Some(hz) => format!("{} rows a second", figure(hz)),
    };
    line(text, format_args!("  row rate    {rate}"));
    line(text, format_args!("  SHA-256     {}", source.sha256));
}

/// Facts before the table.
fn preamble_section(text: &mut String, recording: &Recording) {
    let entries = &recording.preamble.entries;
    if entries.is_empty() {
        return;
    }
    line(text, format_args!("\nBefore the table"));
    let width = entries.iter().map(|(k, _)| one_line_within(k, HEADER_WIDTH).chars().count()).max();
    for (key, value) in entries {
        let key = one_line_within(key, HEADER_WIDTH);
        line(text, format_args!("  {key:<width$}  {}", one_line(value), width = width.unwrap_or(0)));
    }
}

/// The columns that are used, one table row and one reason each.
fn column_section(text: &mut String, channels: &[&Channel]) {
    line(text, format_args!("\nColumns understood: {}", channels.len()));
    if channels.is_empty() {
        return;
    }
    let head = ["header", "quantity", "cylinder", "unit", "kind", "smallest step"].map(str::to_owned);
    let rows: Vec<[String; 6]> = std::iter::once(head).chain(channels.iter().map(|c| cells(c))).collect();
    let width = |i: usize| rows.iter().map(|r| r[i].chars().count()).max().unwrap_or(0);
    let widths: [usize; 6] = std::array::from_fn(width);
    for (n, row) in rows.iter().enumerate() {
        let mut shown = String::from(" ");
        for (cell, width) in row.iter().zip(widths) {
            let _ = write!(shown, " {cell:<width$} ");
        }
        line(text, format_args!("{}", shown.trim_end()));
        if let Some(channel) = n.checked_sub(1).and_then(|i| channels.get(i)) {
            line(text, format_args!("      {}", one_line(&channel.why)));
        }
    }
}

/// Which cylinders can be compared.
fn cylinder_section(text: &mut String, recording: &Recording) {
    let mut numbers: Vec<u32> = recording.cylinder_pressures().iter().filter_map(|c| c.cylinder).collect();
    numbers.dedup();
    let shown: Vec<String> = numbers.iter().map(u32::to_string).collect();
    let words = match numbers.len() {
        0 => "none: a review cannot compare cylinders".to_owned(),
        1 => format!("{} only: a review has nothing to compare it with", shown.join(", ")),
        _ => shown.join(", "),
    };
    line(text, format_args!("\nCylinders with a pressure of their own: {words}"));
}

/// One table row.
fn cells(channel: &Channel) -> [String; 6] {
    let cylinder = match (channel.cylinder, channel.quantity) {
        (Some(n), _) => n.to_string(),
        (None, Quantity::ManifoldPressure) => "shared".to_owned(),
        (None, _) => "-".to_owned(),
    };
    let kind = match (channel.kind, channel.quantity) {
        (Some(PressureKind::Absolute), _) => "absolute",
        (Some(PressureKind::Vacuum), _) => "vacuum",
        (Some(PressureKind::Gauge), _) => "gauge",
        (None, Quantity::ManifoldPressure) => "not known",
        (None, _) => "-",
    };
    let step = channel.resolution.map_or_else(|| "-".to_owned(), |step| step_words(channel, step));
    let unit = if channel.unit.is_empty() { "-".to_owned() } else { one_line_within(&channel.unit, 12) };
    [
        one_line_within(&channel.header, HEADER_WIDTH),
        quantity_words(channel.quantity).to_owned(),
        cylinder,
        unit,
        kind.to_owned(),
        step,
    ]
}

/// A step in the unit of the log where that is one of pressure, else in the unit in which values are kept.
fn step_words(channel: &Channel, step: f64) -> String {
    let pressure = matches!(channel.quantity, Quantity::ManifoldPressure | Quantity::Barometer);
    match PressureUnit::parse(&channel.unit).filter(|_| pressure) {
        Some(unit) => format!("{} {}", figure(unit.from_kpa(step)), one_line_within(&channel.unit, 12)),
        None => format!("{} {}", figure(step), base_unit(channel.quantity)).trim_end().to_owned(),
    }
}

/// What was left out and why.
fn left_out_section(text: &mut String, channels: &[&Channel]) {
    if channels.is_empty() {
        return;
    }
    line(text, format_args!("\nColumns left out: {}", channels.len()));
    let shown: Vec<String> = channels.iter().map(|c| one_line_within(&c.header, HEADER_WIDTH)).collect();
    let width = shown.iter().map(|h| h.chars().count()).max().unwrap_or(0);
    for (header, channel) in shown.iter().zip(channels) {
        line(text, format_args!("  {header:<width$}  {}", one_line(&channel.why)));
    }
}

/// Trouble codes found in the recording.
fn code_section(text: &mut String, recording: &Recording) {
    if recording.trouble_codes.is_empty() && recording.codes_cleared_s.is_empty() {
        return;
    }
    line(text, format_args!("\nTrouble codes"));
    for code in &recording.trouble_codes {
        let meaning = code.text.as_deref().unwrap_or("no text known here");
        let place = code.time_s.map_or_else(String::new, |t| format!(" at {}", duration(t)));
        line(
            text,
            format_args!(
                "  {}  {}{place}: {}",
                one_line(&code.code),
                one_line(&code.status),
                one_line(meaning)
            ),
        );
    }
    for time in &recording.codes_cleared_s {
        line(text, format_args!("  stored codes were cleared at {}", duration(*time)));
    }
}

/// Notices, the first few of each code in full.
fn notice_section(text: &mut String, notices: &[Notice]) {
    if notices.is_empty() {
        line(text, format_args!("\nNotices: none"));
        return;
    }
    line(text, format_args!("\nNotices (`evenpull explain CODE` says what each means)"));
    let mut codes: Vec<&str> = Vec::new();
    for notice in notices {
        if !codes.contains(&notice.code.as_str()) {
            codes.push(&notice.code);
        }
    }
    for code in codes {
        let of_code: Vec<&Notice> = notices.iter().filter(|n| n.code == code).collect();
        for notice in of_code.iter().take(SHOWN_PER_CODE) {
            line(text, format_args!("  {:<8} {code}: {}", level(notice.level), placed(notice)));
        }
        let rest: u64 = of_code.iter().skip(SHOWN_PER_CODE).map(|n| n.count.max(1)).sum();
        if rest > 0 {
            line(text, format_args!("           and {rest} more {code}; a review's JSON lists them"));
        }
    }
}

/// A notice's sentence with its place in the file or in time.
fn placed(notice: &Notice) -> String {
    let mut text = String::new();
    if let Some(row) = notice.line {
        let _ = write!(text, "line {row}");
        if let Some(column) = notice.column {
            let _ = write!(text, ", column {column}");
        }
        text.push_str(": ");
    } else if let (Some(start), Some(end)) = (notice.start_s, notice.end_s) {
        let _ = write!(text, "{} to {}: ", duration(start), duration(end));
    }
    text.push_str(&one_line(&notice.text));
    text
}

/// Word for a level.
fn level(level: Level) -> &'static str {
    match level {
        Level::Note => "note",
        Level::Caution => "caution",
        Level::Fault => "fault",
    }
}

/// Words for a quantity.
fn quantity_words(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::ManifoldPressure => "manifold pressure",
        Quantity::EngineSpeed => "engine speed",
        Quantity::CoolantTemperature => "coolant temperature",
        Quantity::IntakeTemperature => "intake air temperature",
        Quantity::Throttle => "throttle",
        Quantity::Lambda => "lambda",
        Quantity::FuelTrim => "fuel trim",
        Quantity::Barometer => "barometer",
        Quantity::ExhaustTemperature => "exhaust temperature",
        Quantity::CrankMark => "crank mark",
        Quantity::Time => "time",
        Quantity::Ignored => "left out",
    }
}

/// The unit in which a channel's values and steps are kept.
fn base_unit(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::ManifoldPressure | Quantity::Barometer => "kPa",
        Quantity::EngineSpeed => "rev/min",
        Quantity::CoolantTemperature | Quantity::IntakeTemperature | Quantity::ExhaustTemperature => "degC",
        Quantity::Throttle | Quantity::FuelTrim => "%",
        Quantity::Time => "s",
        Quantity::Lambda | Quantity::CrankMark | Quantity::Ignored => "",
    }
}

/// Three significant digits without a tail of zeros.
fn figure(value: f64) -> String {
    if !value.is_finite() || value == 0.0 {
        return format!("{value}");
    }
    let magnitude = value.abs().log10().floor();
    let decimals = (2.0 - magnitude).clamp(0.0, 9.0) as usize;
    let shown = format!("{value:.decimals$}");
    match shown.contains('.') {
        true => shown.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => shown,
    }
}

/// Seconds in words: under two minutes with a tenth, above in minutes and seconds.
fn duration(seconds: f64) -> String {
    if !seconds.is_finite() {
        return "not known".to_owned();
    }
    if seconds < 120.0 {
        return format!("{seconds:.1} s");
    }
    let whole = seconds.round() as u64;
    match (whole / 3600, whole / 60 % 60, whole % 60) {
        (0, minutes, rest) => format!("{minutes} min {rest} s"),
        (hours, minutes, rest) => format!("{hours} h {minutes} min {rest} s"),
    }
}

#[cfg(test)]
#[path = "inspect_text_tests.rs"]
mod tests;
