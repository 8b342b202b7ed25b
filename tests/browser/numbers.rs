//! Numbers of a review's page against its JSON, read from the HTML with no help of the program: every printed figure is the
//! JSON's within its printed digits, in the unit of the page.

use serde_json::Value;

use super::page_of;
use crate::cli::program::Program;

/// How a page shows pressures.
#[derive(Debug, Clone, Copy)]
struct Unit {
    name: &'static str,
    /// One unit in kPa: NIST SP 811 (2008), table B.8.
    kpa: f64,
    vacuum: bool,
}

/// A sample, further arguments, the unit of its page.
const CASES: [(&str, &[&str], Unit); 5] = [
    ("hs-01-four-out-of-balance.csv", &[], Unit { name: "kPa", kpa: 1.0, vacuum: false }),
    (
        "hs-01-four-out-of-balance.csv",
        &["--unit", "inHg"],
        Unit { name: "inHg", kpa: 3.386_389, vacuum: false },
    ),
    ("hs-02-triple-leak.csv", &[], Unit { name: "mmHg", kpa: 0.133_322_4, vacuum: true }),
    ("hs-03-four-polled.csv", &[], Unit { name: "hPa", kpa: 0.1, vacuum: false }),
    ("hs-05-adjusting-session.csv", &[], Unit { name: "kPa", kpa: 1.0, vacuum: false }),
];

struct Table {
    caption: String,
    head: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// The text of a piece of HTML.
fn text(html: &str) -> String {
    let mut out = String::new();
    for piece in html.split('<') {
        out.push(' ');
        out.push_str(piece.split_once('>').map_or(piece, |(_, rest)| rest));
    }
    let named =
        [("&#x2f;", "/"), ("&#x27;", "'"), ("&quot;", "\""), ("&lt;", "<"), ("&gt;", ">"), ("&amp;", "&")];
    named.iter().fold(out, |t, (code, c)| t.replace(code, c)).trim().to_owned()
}

fn tables(html: &str) -> Vec<Table> {
    let cells = |row: &str| -> Vec<String> {
        row.split("</th>").flat_map(|p| p.split("</td>")).map(text).collect::<Vec<_>>()
    };
    html.split("<table")
        .skip(1)
        .map(|t| {
            let t = t.split("</table>").next().unwrap_or_default();
            let caption = t.split("</caption>").next().and_then(|c| c.split("<caption>").nth(1)).map(text);
            let mut rows: Vec<Vec<String>> = t
                .split("<tr>")
                .skip(1)
                .map(|r| {
                    let mut row = cells(r.split("</tr>").next().unwrap_or_default());
                    row.pop();
                    row
                })
                .collect();
            let head = rows.remove(0);
            Table { caption: caption.unwrap_or_default(), head, rows }
        })
        .collect()
}

/// A printed number and half of its last digit.
fn printed(word: &str) -> Option<(f64, f64)> {
    let plain = word.trim().replace('−', "-").replace(['+', '\u{202f}'], "");
    let value: f64 = plain.parse().ok()?;
    let places = plain.split_once('.').map_or(0, |(_, after)| after.len());
    Some((value, 0.5 * 10f64.powi(-(places as i32)) + 1e-9))
}

/// Whether `a ± b` or `a` says a value with its uncertainty; an uncertainty may be rounded up to its last digit.
fn says(cell: &str, value: f64, u: Option<f64>) -> bool {
    let (main, rest) = cell.split_once('±').map_or((cell, None), |(a, b)| (a, Some(b)));
    let main = printed(main).is_some_and(|(v, half)| (v - value).abs() <= half);
    let rest = match (rest, u) {
        (None, _) => true,
        (Some(_), None) => false,
        (Some(text), Some(u)) => printed(text).is_some_and(|(v, half)| v - u <= 2.0 * half && u - v <= half),
    };
    main && rest
}

/// Seconds of `73 s`, `6 min 12 s`, `2 h 05 min`.
fn seconds(text: &str) -> f64 {
    let words: Vec<&str> = text.split_whitespace().collect();
    let unit = |word: &str| {
        if word == "h" {
            3600.0
        } else if word == "min" {
            60.0
        } else {
            1.0
        }
    };
    words.chunks(2).map(|w| w[0].parse::<f64>().expect(text) * unit(w[1])).sum()
}

/// Seconds of `0:07`, `1:02:05`.
fn moment(text: &str) -> f64 {
    text.trim().split(':').fold(0.0, |sum, part| sum * 60.0 + part.parse::<f64>().expect(text))
}

struct Page {
    result: Value,
    tables: Vec<Table>,
    unit: Unit,
    words: String,
}

impl Page {
    fn new(program: &Program, (sample, more, unit): (&'static str, &'static [&'static str], Unit)) -> Self {
        let path = page_of(program, ("review", sample, more));
        let json = std::fs::read_to_string(path.with_extension("json")).expect("the JSON beside the page");
        let html = std::fs::read_to_string(path).expect("the page");
        let body = html
            .split_once("<main>")
            .expect("a body")
            .1
            .split("<script")
            .next()
            .expect("its text")
            .to_owned();
        let words = body.split("<table").map(|t| match t.split_once("</caption>") {
            // The uncertainty of a pair is no field of the JSON; the table is looked at by itself.
            Some((c, _)) if c.contains("pairs") => t.split_once("</table>").map_or("", |(_, after)| after),
            _ => t,
        });
        let words = text(&words.collect::<Vec<_>>().join("<table"));
        Self { result: serde_json::from_str(&json).expect("JSON"), tables: tables(&body), unit, words }
    }

    fn table(&self, start: &str) -> Option<&Table> {
        self.tables.iter().find(|t| t.caption.starts_with(start))
    }

    /// A difference in the unit of the page: less vacuum is more pressure.
    fn difference(&self, kpa: f64) -> f64 {
        kpa / self.unit.kpa * if self.unit.vacuum { -1.0 } else { 1.0 }
    }

    /// A pressure; without a barometer one that was logged as vacuum is kept as it was logged.
    fn level(&self, kpa: f64) -> f64 {
        match self.result["barometer_kpa"].as_f64() {
            Some(b) if self.unit.vacuum => (b - kpa) / self.unit.kpa,
            _ => kpa / self.unit.kpa,
        }
    }

    /// A measured value of the JSON as the page must say it.
    fn check(&self, cell: &str, m: &Value, show: impl Fn(f64) -> f64, scale: f64, what: &str) {
        match m["value"].as_f64() {
            None => assert_eq!(cell, "–", "{what}"),
            Some(v) => {
                let u = m["u"].as_f64().map(|u| u * scale);
                assert!(says(cell, show(v), u), "{what}: {cell} for {m} in {}", self.unit.name);
            }
        }
    }
}

#[test]
fn the_table_of_cylinders_is_the_json() {
    let program = Program::new();
    for case in CASES {
        let page = Page::new(&program, case);
        let table = page.table("Result per cylinder").expect("the table");
        let list = page.result["cylinders"].as_array().expect("cylinders");
        assert_eq!(table.rows.len(), list.len(), "{case:?}");
        let scale = 1.0 / page.unit.kpa;
        let mut seen = 0;
        for (row, c) in table.rows.iter().zip(list) {
            assert_eq!(row.len(), table.head.len(), "{case:?}");
            for (head, cell) in table.head.iter().zip(row) {
                let what = format!("{case:?} {head} of {}", row[0]);
                if head.contains(", ") && !head.ends_with("ratio") {
                    assert!(head.contains(page.unit.name), "{what}");
                }
                seen += 1;
                match head.split(',').next().expect("a head") {
                    "Cylinder" => assert_eq!(cell, &c["cylinder"].to_string(), "{what}"),
                    "Class" => {
                        assert!(cell.starts_with(c["class"].as_str().expect("a class")), "{what}: {cell}")
                    }
                    "Deviation" => {
                        page.check(cell, &c["deviation_kpa"], |v| page.difference(v), scale, &what)
                    }
                    "Drift" => {
                        page.check(cell, &c["drift_kpa_per_min"], |v| page.difference(v), scale, &what)
                    }
                    "Zero error removed" => {
                        let bias = c["bias_removed_kpa"].as_f64().expect("a bias");
                        assert!(says(cell, page.difference(bias), None), "{what}: {cell} for {bias}");
                    }
                    "Refill rate" => page.check(cell, &c["refill_ratio"], |v| v, 1.0, &what),
                    "Air" => page.check(cell, &c["air_ratio"], |v| v, 1.0, &what),
                    "Lambda" => page.check(cell, &c["lambda"], |v| v, 1.0, &what),
                    "Worth samples" => {
                        let n = c["effective_samples"].as_f64().expect("samples");
                        assert!(says(cell, n, None), "{what}: {cell} for {n}");
                    }
                    _ => {
                        assert!(
                            head.contains("pressure") || head.contains("acuum"),
                            "{what}: no such column"
                        );
                        page.check(cell, &c["pressure_kpa"], |v| page.level(v), scale, &what);
                    }
                }
            }
        }
        assert!(seen >= 12, "{case:?}: {seen} cells");
    }
}

#[test]
fn states_turns_stretches_pairs_and_settings_are_the_json() {
    let program = Program::new();
    let (mut states, mut turns) = (0, 0);
    for case in CASES {
        let page = Page::new(&program, case);
        let (r, scale) = (&page.result, 1.0 / page.unit.kpa);
        let list = |key: &str| r[key].as_array().expect(key).clone();
        if let Some(table) = page.table("States") {
            let all: Vec<Value> = Some(r["as_found"].clone())
                .filter(|s| !s.is_null())
                .into_iter()
                .chain(list("regimes"))
                .collect();
            for row in &table.rows {
                for (cell, state) in row[1..].iter().zip(&all) {
                    let what = format!("{case:?} {} {cell}", row[0]);
                    states += 1;
                    if let Some(number) = row[0].strip_prefix("Cylinder ") {
                        let c = state["cylinders"].as_array().expect("cylinders").iter();
                        let c = c
                            .clone()
                            .find(|c| c["cylinder"].as_u64() == number.parse().ok())
                            .expect("the cylinder");
                        page.check(cell, &c["deviation_kpa"], |v| page.difference(v), scale, &what);
                    } else if row[0] == "Spread" {
                        page.check(cell, &state["spread_kpa"], |v| v * scale, scale, &what);
                    } else if row[0].starts_with("Engine speed") {
                        page.check(cell, &state["rpm"], |v| v, 1.0, &what);
                    } else if row[0] == "Judged" {
                        let (length, cycles) = cell.split_once(", ").expect("length and cycles");
                        assert!(
                            (seconds(length) - state["seconds"].as_f64().expect("s")).abs() <= 0.5,
                            "{what}"
                        );
                        let n = cycles.trim_end_matches(" cycles").replace('\u{202f}', "");
                        assert_eq!(n, state["cycles"].to_string(), "{what}");
                    }
                }
            }
        }
        if let Some(table) = page.table("Screws turned") {
            for (row, a) in table.rows.iter().zip(list("adjustments")) {
                assert!(
                    (moment(&row[0]) - a["time_s"].as_f64().expect("s")).abs() <= 0.5,
                    "{case:?} {row:?}"
                );
                assert_eq!(row[1], a["cylinder"].to_string());
                page.check(&row[2], &a["step_kpa"], |v| page.difference(v), scale, "a step");
                turns += 1;
            }
        }
        for (start, key) in [("Stretches judged", "windows"), ("Stretches not judged", "excluded")] {
            let Some(table) = page.table(start) else { continue };
            for (row, w) in table.rows.iter().zip(list(key)) {
                let (a, b) = (w["start_s"].as_f64().expect("s"), w["end_s"].as_f64().expect("s"));
                let (from, to) = row[0].split_once('–').expect("from – to");
                assert!(
                    (moment(from) - a).abs() <= 0.5 && (moment(to) - b).abs() <= 0.5,
                    "{case:?} {row:?} {w}"
                );
                assert!((seconds(&row[1]) - (b - a)).abs() <= 0.5, "{case:?} {row:?} {w}");
            }
        }
        let cylinder = |n: &str| {
            let c = list("cylinders")
                .into_iter()
                .find(|c| c["cylinder"].as_u64() == n.parse().ok())
                .expect("a cylinder");
            c["deviation_kpa"]["value"].as_f64()
        };
        for row in page.table("Differences between pairs").map_or(&[][..], |t| &t.rows[..]) {
            let (a, b) = row[0].split_once(" − ").expect("a pair");
            let (Some(a), Some(b)) = (cylinder(a), cylinder(b)) else { continue };
            let value = row[1].split('±').next().expect("a value");
            assert!(says(value, page.difference(a - b), None), "{case:?} {row:?} for {a} and {b}");
        }
        let settings = page.table("Settings").expect("settings");
        let said = r["made_with"]["settings"].as_array().expect("settings");
        assert_eq!(settings.rows.len(), said.len(), "{case:?}");
        for (row, s) in settings.rows.iter().zip(said) {
            assert_eq!(Some(row[0].as_str()), s["name"].as_str());
            assert_eq!(row[1].parse::<f64>().ok(), s["value"].as_f64(), "{case:?} {row:?}");
        }
    }
    assert!(states >= 14 && turns >= 2, "{states} cells of states, {turns} turns");
}

/// Every measured value of a result.
fn measured(value: &Value, found: &mut Vec<(f64, f64)>) {
    match value {
        Value::Object(map) => {
            if let (Some(v), Some(u)) = (value["value"].as_f64(), value["u"].as_f64()) {
                found.push((v, u));
            }
            map.values().for_each(|v| measured(v, found));
        }
        Value::Array(list) => list.iter().for_each(|v| measured(v, found)),
        _ => {}
    }
}

/// Words of a page that are `a ± b`.
fn stated(words: &str) -> Vec<String> {
    let number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '−' | '+');
    let parts: Vec<&str> = words.split(" ± ").collect();
    let pairs = parts.windows(2).map(|p| {
        let start =
            p[0].char_indices().rev().take_while(|(_, c)| number(*c)).last().map_or(p[0].len(), |(i, _)| i);
        let end = p[1].find(|c| !number(c)).unwrap_or(p[1].len());
        format!("{} ± {}", &p[0][start..], p[1][..end].trim_end_matches('.'))
    });
    // A sign that is talked about ("the figure after ± covers") has no number on its sides.
    pairs.filter(|p| p.starts_with(number) && p.ends_with(|c: char| c.is_ascii_digit())).collect()
}

#[test]
fn every_figure_with_an_uncertainty_in_the_words_is_in_the_json() {
    let program = Program::new();
    for case in CASES {
        let page = Page::new(&program, case);
        let mut known = Vec::new();
        measured(&page.result, &mut known);
        let all = stated(&page.words);
        assert!(all.len() >= 15, "{case:?}: only {} figures seen", all.len());
        for figure in all {
            // Signed as it stands, or a size in words ("lower by").
            let fits = |(v, u): &(f64, f64)| {
                let scale = 1.0 / page.unit.kpa;
                let shown = [page.level(*v), v * scale, -v * scale];
                let pressure = shown.iter().any(|s| says(&figure, *s, Some(u * scale)));
                pressure || says(&figure, *v, Some(*u))
            };
            assert!(known.iter().any(fits), "{case:?}: {figure} is nowhere in the JSON");
        }
    }
}

#[test]
fn the_reading_of_printed_numbers_tells_right_from_wrong() {
    // JCGM 100:2008, 7.2.6: 10,057 62 with 0,027 is stated as 10,058 with 0,027.
    assert!(says("10.058 ± 0.027", 10.057_62, Some(0.027)));
    assert!(!says("10.057 ± 0.027", 10.057_62, Some(0.027)));
    assert!(!says("10.058 ± 0.026", 10.057_62, Some(0.027)));
    assert!(says("−2.72 ± 0.02", -2.7163, Some(0.0131)) && !says("2.72 ± 0.02", -2.7163, Some(0.0131)));
    assert!(!says("–", 1.0, None));
    assert_eq!(
        stated("the figure after ± is off by −2.72 ± 0.02 kPa; 949 ± 4."),
        ["−2.72 ± 0.02", "949 ± 4"]
    );
    assert!((seconds("6 min 12 s") - 372.0).abs() < 1e-9 && (moment("1:02:05") - 3725.0).abs() < 1e-9);
}
