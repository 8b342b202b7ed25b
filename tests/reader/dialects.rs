//! The same recording in many dialects. The expected figures are those that were written, never what was read.

use evenpull_core::read::ReadOptions;

use super::support::{ROWS, check, pressure, read, read_with, speed, time_cs};

/// Writes the table with a header and one function per cell.
fn table(head: &str, row: impl Fn(usize) -> String) -> String {
    let mut out = String::from(head);
    for at in 0..ROWS {
        out.push_str(&row(at));
    }
    out
}

fn hpa(row: usize, cylinder: usize) -> String {
    let p = pressure(row, cylinder);
    format!("{}.{}", p / 10, p % 10)
}

fn kpa(row: usize, cylinder: usize) -> String {
    let p = pressure(row, cylinder);
    format!("{}.{:02}", p / 100, p % 100)
}

fn time(row: usize) -> String {
    format!("{}.{:02}", time_cs(row) / 100, time_cs(row) % 100)
}

fn clock(row: usize, start_s: usize) -> (usize, usize, usize, usize) {
    let cs = time_cs(row) + start_s * 100;
    (cs / 360_000, cs / 6000 % 60, cs / 100 % 60, cs % 100)
}

fn plain(row: usize) -> String {
    format!("{},{},{},{}\n", time(row), kpa(row, 0), kpa(row, 1), speed(row))
}

const HEAD: &str = "time_s,map1_kpa,map2_kpa,rpm\n";

#[test]
fn delimiters_and_decimal_marks() {
    let base = table(HEAD, plain);
    check("comma", &read(&base), 0.0, 0.0);
    for mark in [";", "\t", "|", "   "] {
        check(mark, &read(&base.replace(',', mark)), 0.0, 0.0);
        let comma = base.replace(',', "\u{1}").replace('.', ",").replace('\u{1}', mark);
        check(&format!("{mark} and decimal comma"), &read(&comma), 0.0, 0.0);
    }
    let padded = table("time_s ,  map1_kpa ,  map2_kpa , rpm \n", |r| {
        format!("{:>8}, {:>8} , {:>8} ,{:>6} \n", time(r), kpa(r, 0), kpa(r, 1), speed(r))
    });
    check("padded", &read(&padded), 0.0, 0.0);
    let quoted = table("\"time_s\";\"map1_kpa\";\"map2_kpa\";\"rpm\"\n", |r| {
        format!("\"{}\";\"{}\";\"{}\";\"{}\"\n", time(r), kpa(r, 0), kpa(r, 1), speed(r))
    });
    check("quoted", &read(&quoted), 0.0, 0.0);
    check("trailing delimiter", &read(&base.replace('\n', ",\n")), 0.0, 0.0);
    let only_rows = table(HEAD, |r| plain(r).replace('\n', ",\n"));
    check("trailing delimiter in rows only", &read(&only_rows), 0.0, 0.0);
    let quoted_comma = table(HEAD, |r| {
        let quote = |t: String| format!("\"{}\"", t.replace('.', ","));
        format!("{},{},{},{}\n", quote(time(r)), quote(kpa(r, 0)), quote(kpa(r, 1)), speed(r))
    });
    check("comma parted, quoted decimal comma", &read(&quoted_comma), 0.0, 0.0);
}

#[test]
fn line_ends_encodings_and_archives() {
    let base = table(HEAD, plain);
    check("CRLF", &read(&base.replace('\n', "\r\n")), 0.0, 0.0);
    check("CR", &read(&base.replace('\n', "\r")), 0.0, 0.0);
    check("no end of the last line", &read(base.trim_end()), 0.0, 0.0);
    check("byte order mark", &read(&format!("\u{feff}{base}")), 0.0, 0.0);
    let wide: Vec<u16> = base.encode_utf16().collect();
    let little: Vec<u8> = wide.iter().flat_map(|u| u.to_le_bytes()).collect();
    let big: Vec<u8> = wide.iter().flat_map(|u| u.to_be_bytes()).collect();
    let options = ReadOptions::default();
    check("UTF-16 LE without mark", &read_with(&little, &options), 0.0, 0.0);
    check("UTF-16 LE", &read_with(&[&[0xff, 0xfe], &little[..]].concat(), &options), 0.0, 0.0);
    check("UTF-16 BE", &read_with(&[&[0xfe, 0xff], &big[..]].concat(), &options), 0.0, 0.0);
    check("UTF-16 BE without mark", &read_with(&big, &options), 0.0, 0.0);
    let head =
        "Zeit [s];Saugrohrdruck 1 [kPa];Saugrohrdruck 2 [kPa];Drehzahl [1/min];K\u{fc}hlmittel [\u{b0}C]\n";
    let german = table(head, |r| {
        format!("{};{};{};{};80\n", time(r), kpa(r, 0), kpa(r, 1), speed(r)).replace('.', ",")
    });
    check("UTF-8 header", &read(&german), 0.0, 0.0);
    let windows: Vec<u8> = german.chars().map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?')).collect();
    let recording = read_with(&windows, &options);
    check("Windows-1252", &recording, 0.0, 0.0);
    assert!(recording.channels[4].header.contains("K\u{fc}hlmittel"));
    assert!(recording.source.layout.iter().any(|l| l.contains("Windows-1252")));
}

/// The known table with another time column.
fn timed(head: &str, cell: impl Fn(usize) -> String) -> String {
    table(&format!("{head},map1_kpa,map2_kpa,rpm\n"), |r| {
        format!("{},{},{},{}\n", cell(r), kpa(r, 0), kpa(r, 1), speed(r))
    })
}

#[test]
fn times_as_figures() {
    check("ms", &read(&timed("time_ms", |r| (500 + time_cs(r) * 10).to_string())), 0.0, 0.0);
    check("ms by steps", &read(&timed("time", |r| (time_cs(r) * 10).to_string())), 0.0, 0.0);
    check("us", &read(&timed("t [us]", |r| (time_cs(r) * 10_000).to_string())), 0.0, 0.0);
    let part = |r, size: f64, digits| format!("{:.digits$}", time_cs(r) as f64 / size);
    check("minutes", &read(&timed("time (min)", |r| part(r, 6000.0, 6))), 3.1e-5, 0.0);
    check("hours", &read(&timed("time [h]", |r| part(r, 360_000.0, 8))), 2e-5, 0.0);
    let days = |r| format!("{:.9}", 45_000.4 + time_cs(r) as f64 / 8_640_000.0);
    check("spreadsheet days", &read(&timed("time", days)), 1e-4, 0.0);
    let unix = |r| format!("{}.{:02}", 1_744_300_000 + time_cs(r) / 100, time_cs(r) % 100);
    check("Unix seconds", &read(&timed("timestamp", unix)), 3e-7, 0.0);
    let unix = |r| (1_744_300_000_000usize + time_cs(r) * 10).to_string();
    check("Unix milliseconds", &read(&timed("timestamp", unix)), 0.0, 0.0);
    let wrapped = |r| ((4_294_000_000usize + time_cs(r) * 10_000) % (1 << 32)).to_string();
    check("32-bit wrap of microseconds", &read(&timed("t_us", wrapped)), 1e-6, 0.0);
    let wrapped = |r| ((4_294_966_000usize + time_cs(r) * 10) % (1 << 32)).to_string();
    check("32-bit wrap of milliseconds", &read(&timed("t_ms", wrapped)), 1e-6, 0.0);
}

#[test]
fn times_as_clocks() {
    let twelve = |h: usize| if h.is_multiple_of(12) { 12 } else { h % 12 };
    let check_clock = |dialect: &str, start_s: usize, cell: &dyn Fn(usize, usize, usize, usize) -> String| {
        let text = timed("Time", |r| {
            let (h, m, s, c) = clock(r, start_s);
            cell(h, m, s, c)
        });
        check(dialect, &read(&text), 1e-6, 0.0);
    };
    check_clock("mm:ss", 50, &|_, m, s, c| format!("{m}:{s:02}.{c:02}"));
    check_clock("past midnight", 86_395, &|h, m, s, c| format!("{:02}:{m:02}:{s:02}.{c:02}", h % 24));
    check_clock("AM and PM past noon", 43_195, &|h, m, s, c| {
        format!("{}:{m:02}:{s:02}.{c:02} {}", twelve(h), if h >= 12 { "PM" } else { "AM" })
    });
    check_clock("twelve hours", 46_795, &|h, m, s, c| format!("{}:{m:02}:{s:02}.{c:02}", twelve(h)));
    check_clock("ms after a colon", 36_000, &|h, m, s, c| format!("{h}:{m:02}:{s:02}:{:03}", c * 10));
    check_clock("ISO 8601", 36_000, &|h, m, s, c| format!("2025-04-10T{h:02}:{m:02}:{s:02}.{c:02}+02:00"));
    check_clock("ISO 8601 basic", 36_000, &|h, m, s, c| format!("20250410T{h:02}{m:02}{s:02}.{c:02}Z"));
}

#[test]
fn date_and_time_in_two_columns() {
    for (day, next) in
        [("10.04.2025", "11.04.2025"), ("04/13/2025", "04/14/2025"), ("2025-04-10", "2025-04-11")]
    {
        let text = table("Date;Time;MAP 1 (kPa);MAP 2 (kPa);rpm\n", |r| {
            let (h, m, s, c) = clock(r, 86_395);
            let date = if h >= 24 { next } else { day };
            format!("{date};{:02}:{m:02}:{s:02}.{c:02};{};{};{}\n", h % 24, kpa(r, 0), kpa(r, 1), speed(r))
        });
        check(day, &read(&text), 1e-6, 0.0);
    }
}

#[test]
fn whole_seconds_are_spread() {
    let text = table("time,map1_kpa,map2_kpa,rpm\n", |r| {
        let (h, m, s, _) = clock(r, 36_000);
        format!("{h}:{m:02}:{s:02},{},{},{}\n", kpa(r, 0), kpa(r, 1), speed(r))
    });
    let recording = read(&text);
    check("whole seconds", &recording, 1e-6, 0.0);
    assert!(recording.source.layout.iter().any(|l| l.contains("spread")), "{:?}", recording.source.layout);
}

#[test]
fn no_header_and_no_time() {
    let rows = table("", plain);
    let columns = Some("time_s,map1_kpa,map2_kpa,rpm".to_owned());
    let options = ReadOptions { columns, ..ReadOptions::default() };
    check("no header", &read_with(rows.as_bytes(), &options), 0.0, 0.0);
    let bare = table("map1_kpa,map2_kpa,rpm\n", |r| format!("{},{},{}\n", kpa(r, 0), kpa(r, 1), speed(r)));
    let rate = ReadOptions { rate_hz: Some(20.0), ..ReadOptions::default() };
    check("no time", &read_with(bare.as_bytes(), &rate), 1e-9, 0.0);
    let index = table("sample,map1_kpa,map2_kpa,rpm\n", |r| {
        format!("{},{},{},{}\n", r + 1, kpa(r, 0), kpa(r, 1), speed(r))
    });
    check("sample index", &read_with(index.as_bytes(), &rate), 1e-9, 0.0);
}

#[test]
fn units_in_every_place() {
    let body = |mark: &str| {
        table("", |r| {
            let p = |c| kpa(r, c);
            [time(r), p(0), p(1), speed(r).to_string()].join(mark) + "\n"
        })
    };
    for head in [
        "t (s),p1 abs (kPa),p2 abs (kPa),n (1/min)",
        "t [s],p1_abs [kPa],p2_abs [kPa],n [rpm]",
        "Time {s},MAP1 {kPa},MAP2 {kPa},RPM {U/min}",
        "time <s>,MAP1 <kPa>,MAP2 <kPa>,engine speed <tr/min>",
        "time s,MAP 1 kPa,MAP 2 kPa,rpm",
        "time/s,MAP 1/kPa,MAP 2/kPa,n/min-1",
        "time in s,MAP 1 in kPa,MAP 2 in kPa,speed in rpm",
        "time,MAP1,MAP2,rpm\ns,kPa,kPa,1/min",
        "time,MAP1,MAP2,rpm\n[s],[kPa],[kPa],[1/min]",
        "time,MAP1,MAP2,rpm\n(s),(kPa abs),(kPa abs),(rpm)",
        "time,MAP1kPa,MAP2kPa,rpm",
        "time,kPa_map_1,kPa_map_2,rpm",
    ] {
        check(head, &read(&format!("{head}\n{}", body(","))), 0.0, 0.0);
    }
    let semicolons = format!("time, s;MAP 1, kPa;MAP 2, kPa;rpm\n{}", body(";"));
    check("after a comma", &read(&semicolons), 0.0, 0.0);
    let cells = table("time;MAP 1;MAP 2;speed\n", |r| {
        format!("{} s;{} hPa;{} hPa;{} rpm\n", time(r), hpa(r, 0), hpa(r, 1), speed(r))
    });
    check("in the cells", &read(&cells), 0.0, 0.0);
}

#[test]
fn thousands_marks() {
    let grouped = |mark: &str, n: i64| {
        if n >= 1000 { format!("{}{mark}{:03}", n / 1000, n % 1000) } else { n.to_string() }
    };
    let kpa_comma = |r, c| kpa(r, c).replace('.', ",");
    for (mark, comma) in [
        (",", false),
        (".", true),
        ("'", false),
        ("\u{2019}", false),
        ("\u{202f}", true),
        ("\u{a0}", true),
        (" ", true),
    ] {
        let text = table("time_s;map1_kpa;map2_kpa;rpm\n", |r| {
            let (t, a, b) = (time(r), kpa(r, 0), kpa(r, 1));
            let (t, a, b) =
                if comma { (t.replace('.', ","), kpa_comma(r, 0), kpa_comma(r, 1)) } else { (t, a, b) };
            format!("{t};{a};{b};{}\n", grouped(mark, speed(r)))
        });
        check(&format!("thousands by {mark:?}"), &read(&text), 0.0, 0.0);
    }
}

#[test]
fn preamble_blank_and_comment_lines() {
    let text = format!(
        "Recording of HS-03\nMachine;HS-03\nDate;2025-04-10\nOperating hours;210,5\nDistance;1234 km\n\
         Barometer;1013,2 hPa\nSerial number;SECRET1\n\n{}",
        table(&HEAD.replace(',', ";"), |r| {
            let row = plain(r).replace(',', ";").replace('.', ",");
            if r % 50 == 7 { format!("# a remark\n\n{row}") } else { row }
        })
    );
    let recording = read(&text);
    check("preamble", &recording, 0.0, 0.0);
    let facts = &recording.preamble;
    assert_eq!(facts.machine_id.as_deref(), Some("HS-03"));
    assert_eq!(facts.date.as_deref(), Some("2025-04-10"));
    assert_eq!((facts.hours, facts.distance_km), (Some(210.5), Some(1234.0)));
    assert!(facts.barometer_kpa.is_some_and(|b| (b - 101.32).abs() < 1e-9));
    assert!(!format!("{recording:?}").contains("SECRET1"), "a serial number is kept");
    let padded = format!(
        "Machine;HS-03;;;;\nDate;10.04.2025;;;;\n;;;;;\n{}",
        table("time_s;map1_kpa;map2_kpa;rpm;;\n", |r| { plain(r).replace(',', ";").replace('\n', ";;\n") })
    );
    let recording = read(&padded);
    check("padded preamble", &recording, 0.0, 0.0);
    assert_eq!(recording.preamble.date.as_deref(), Some("2025-04-10"));
    let hashed = format!(
        "# machine: HS-03\n# time_s map1_kpa map2_kpa rpm\n{}",
        table("", |r| plain(r).replace(',', " "))
    );
    check("header in a comment", &read(&hashed), 0.0, 0.0);
    let long = "note: nothing\n".repeat(3000) + &table(HEAD, plain);
    check("3000 lines before the header", &read(&long), 0.0, 0.0);
}

#[test]
fn long_layout_and_several_rates() {
    let long = table("time_s,signal,value,unit\n", |r| {
        format!(
            "{t},MAP1,{},kPa\n{t},MAP2,{},kPa\n{t},RPM,{},rpm\n",
            kpa(r, 0),
            kpa(r, 1),
            speed(r),
            t = time(r)
        )
    });
    check("long", &read(&long), 0.0, 0.0);
    let german = table("Zeit;Kanal;Wert;Einheit\n", |r| {
        let row = |n: &str, v: String, u: &str| format!("{};{n};{v};{u}\n", time(r)).replace('.', ",");
        row("Saugrohrdruck 1", hpa(r, 0), "hPa")
            + &row("Saugrohrdruck 2", hpa(r, 1), "hPa")
            + &row("Drehzahl", speed(r).to_string(), "1/min")
    });
    check("long, German", &read(&german), 0.0, 0.0);
    // One value a row, a third of the row's step apart, in a wide table.
    let scattered = table(HEAD, |r| {
        let t = |k: usize| format!("{:.4}", time_cs(r) as f64 / 100.0 + 0.0166 * k as f64);
        format!("{},{},,\n{},,{},\n{},,,{}\n", t(0), kpa(r, 0), t(1), kpa(r, 1), t(2), speed(r))
    });
    check("one value a row", &read(&scattered), 0.0, 0.0);
    let slow = table("time_s,map1_kpa,map2_kpa,rpm,coolant_degC\n", |r| {
        let coolant = if r % 20 == 0 { (70 + r / 20).to_string() } else { String::new() };
        format!("{},{},{},{},{coolant}\n", time(r), kpa(r, 0), kpa(r, 1), speed(r))
    });
    let recording = read(&slow);
    check("a slow column with blanks", &recording, 0.0, 0.0);
    let coolant = &recording.channels[4].values;
    assert!((coolant[10] - 70.5).abs() < 1e-9, "{:?}", &coolant[..12]);
}
