//! Facts that stand before the table: machine, date, operating hours, distance, barometer.

use super::clock;
use super::error::plain;
use super::kind;
use super::lines::Line;
use super::number::{self, Cell, NumberStyle};
use super::unit_words::{self, Unit};
use crate::recording::Preamble;

/// Most lines that are kept as key and value.
const MOST: usize = 500;

/// Words behind a figure that are units only here: distances and operating hours.
const OTHER_UNITS: &[&str] = &["mi", "mile", "miles", "std", "std.", "heure", "hora", "ora"];

/// One line taken apart.
struct Entry {
    key: String,
    value: String,
    /// What stands in the cell behind the key; the value itself where the line has no cells.
    first: String,
}

/// Reads the lines before the header.
pub(crate) fn read(lines: &[Line<'_>], style: NumberStyle) -> Preamble {
    let mut out = Preamble::default();
    for line in lines.iter().take(MOST) {
        let Some(entry) = pair(line.text) else { continue };
        if is_serial(&entry.key) || holds_serial(&entry.value) {
            continue;
        }
        note(&mut out, &entry, style);
        out.entries.push((entry.key, entry.value));
    }
    out
}

/// Key and value of a line: parted by the first `:`, `=`, tab, `;` or `,`. A unit in a cell of its own is put behind
/// its figure.
fn pair(text: &str) -> Option<Entry> {
    let text = text.trim().trim_start_matches(['#', '/', '%', '!', '"']).trim();
    let at = text.find([':', '=', '\t', ';', ','])?;
    let trimmed = |part: &str| plain(part.trim_matches([' ', '"', ';', ',', '\t', ':', '=']), 200);
    let (mark, rest) = (&text[at..=at], &text[at + 1..]);
    let (key, value) = (trimmed(&text[..at]), trimmed(rest));
    let first = match mark {
        ":" | "=" => value.clone(),
        _ => rest.split(mark).map(trimmed).find(|cell| !cell.is_empty()).unwrap_or_default(),
    };
    let value = unit_behind(rest.trim_matches([' ', '"', ';', ',', '\t', ':', '='])).unwrap_or(value);
    (!key.is_empty() && !value.is_empty()).then_some(Entry { key, value, first })
}

/// `1015.7,hPa`, `hPa;1015,7` and `1015.7 [hPa]` as `1015.7 hPa`.
fn unit_behind(value: &str) -> Option<String> {
    const MARKS: [char; 3] = [',', ';', '\t'];
    let parts = [value.rsplit_once(MARKS), value.split_once(MARKS), value.split_once(['[', '('])];
    parts.into_iter().flatten().find_map(|(before, after)| figure_with_unit(&[before, after]))
}

/// A figure and its unit in two cells, in either order, as one text; `None` where there is anything else.
pub(crate) fn figure_with_unit(cells: &[&str]) -> Option<String> {
    let tidy = |cell: &&str| plain(cell.trim_matches([' ', '"', ';', ',', '\t', '[', ']', '(', ')']), 200);
    let cells: Vec<String> = cells.iter().map(tidy).filter(|cell| !cell.is_empty()).collect();
    let [first, second] = cells.as_slice() else { return None };
    let is_unit = |text: &str| {
        let known = unit_words::parse(text).is_some() || OTHER_UNITS.contains(&text.to_lowercase().as_str());
        known && text.contains(|c: char| c.is_alphabetic() || c == '%')
    };
    let is_figure = |text: &str| {
        styles(NumberStyle::default())
            .into_iter()
            .any(|style| matches!(number::parse(text, style), Cell::Value(_)))
    };
    match (is_figure(first), is_figure(second)) {
        (true, false) if is_unit(second) => Some(format!("{first} {second}")),
        (false, true) if is_unit(first) => Some(format!("{second} {first}")),
        _ => None,
    }
}

/// Serial numbers of vehicles and devices are never shown.
fn is_serial(key: &str) -> bool {
    let key: String = key.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect();
    let parts = [
        "serial",
        "vin",
        "fahrgestell",
        "chassis",
        "imei",
        "deviceid",
        "mac",
        "seriennummer",
        "numerodeserie",
        "telaio",
        "bastidor",
        "uuid",
        "hin",
    ];
    parts
        .iter()
        .any(|p| if p.len() <= 3 { key == *p || key.starts_with(&format!("{p}n")) } else { key.contains(p) })
        || key == "sn"
        || key == "srno"
}

/// A value that holds one: `S/N 1234`, or the 17 characters of a vehicle identification number (ISO 3779).
fn holds_serial(value: &str) -> bool {
    let lower = value.to_lowercase();
    let named = ["s/n", "serial", "seriennummer", "imei"].iter().any(|word| lower.contains(word));
    let identification = lower.split(|c: char| !c.is_ascii_alphanumeric()).any(|word| {
        let digits = word.bytes().filter(u8::is_ascii_digit).count();
        word.len() == 17 && (3..17).contains(&digits) && !word.contains(['i', 'o', 'q'])
    });
    named || identification
}

fn note(out: &mut Preamble, entry: &Entry, style: NumberStyle) {
    let Entry { key, value, first } = entry;
    let words = super::header::words(key);
    let has = |list: &[&str]| words.iter().any(|w| list.contains(&w.as_str()));
    if has(&[
        "machine", "maschine", "vehicle", "boat", "craft", "vessel", "boot", "fahrzeug", "bike", "maquina",
        "macchina", "engine", "motor",
    ]) && out.machine_id.is_none()
        && (words.len() == 1 || has(&["id", "name", "no", "nr"]))
        && let Some(id) = [value, first].into_iter().find(|id| is_id(id))
    {
        out.machine_id = Some(id.clone());
    } else if has(&["date", "datum", "fecha", "data", "recorded", "started", "start"]) && out.date.is_none() {
        out.date = clock::iso_day(value).or_else(|| clock::iso_day(first));
    } else if has(&["hours", "hour", "betriebsstunden", "stunden", "heures", "horas", "ore", "hrs"])
        && out.hours.is_none()
    {
        out.hours = figure(value, style).filter(|h| (0.0..1e6).contains(h));
    } else if has(&[
        "distance",
        "odometer",
        "kilometerstand",
        "kilometrage",
        "mileage",
        "km",
        "distanza",
        "distancia",
    ]) && out.distance_km.is_none()
    {
        out.distance_km = figure(value, style)
            .filter(|km| (0.0..1e7).contains(km))
            .map(|d| if miles(key, value) { d * 1.609_344 } else { d });
    } else if out.barometer_kpa.is_none() && names_the_air(key, &words) {
        out.barometer_kpa = pressure(key, value, style);
    }
}

/// Whether a key means the pressure of the air around the machine.
fn names_the_air(key: &str, words: &[String]) -> bool {
    let has = |list: &[&str]| words.iter().any(|w| list.contains(&w.as_str()));
    if has(&[
        "temp",
        "temperature",
        "temperatur",
        "humidity",
        "feuchte",
        "luftfeuchte",
        "humidite",
        "humedad",
    ]) {
        return false;
    }
    let named = has(&[
        "barometer",
        "barometre",
        "barometro",
        "baro",
        "barometric",
        "barometrique",
        "barometrico",
        "barometrica",
        "ambient",
        "luftdruck",
        "umgebungsdruck",
        "atmospheric",
        "atmospherique",
        "atmosferica",
    ]);
    // `Air pressure` alone; `intake air pressure` is another.
    let name = super::header::parse(key, None).words;
    let name: Vec<&str> = name.iter().map(String::as_str).collect();
    named || matches!(name.as_slice(), ["air", "pressure"] | ["outside" | "outdoor", "air", "pressure"])
}

fn is_id(value: &str) -> bool {
    (1..=64).contains(&value.len()) && value.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b))
}

fn miles(key: &str, value: &str) -> bool {
    let both = format!("{key} {value}").to_lowercase();
    super::header::words(&both).iter().any(|w| matches!(w.as_str(), "mi" | "mile" | "miles" | "mileage"))
        && !both.contains("km")
}

/// How figures before the table may be written: like those in it, with the other decimal mark (a file may come from
/// a logger of another country than its spreadsheet), and both with marks between thousands.
fn styles(style: NumberStyle) -> [NumberStyle; 4] {
    let (own, other) = (style.decimal, if style.decimal == b',' { b'.' } else { b',' });
    [
        style,
        NumberStyle { decimal: other, group: None },
        NumberStyle { decimal: own, group: Some(char::from(other)) },
        NumberStyle { decimal: other, group: Some(char::from(own)) },
    ]
}

/// A figure written like those of the table, or with the other decimal mark where it cannot be a thousands mark.
fn figure(value: &str, style: NumberStyle) -> Option<f64> {
    let read = |style| match number::parse(value, style) {
        Cell::Value(v) | Cell::WithUnit(v, _) => Some(v),
        _ => None,
    };
    let other = styles(style)[1];
    read(style).or_else(|| read(other).filter(|_| !may_be_thousands(value, char::from(other.decimal))))
}

/// `1.234`: three digits behind the mark, one to three before it.
fn may_be_thousands(value: &str, mark: char) -> bool {
    let Some((whole, fraction)) = value.split_once(mark) else { return false };
    let whole = whole.trim_start_matches(|c: char| !c.is_ascii_digit());
    let digits = fraction.bytes().take_while(u8::is_ascii_digit).count();
    digits == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0')
}

/// A barometer with its unit behind the figure, in the key, or by its size: the first reading that gives a pressure
/// of the air.
fn pressure(key: &str, value: &str, style: NumberStyle) -> Option<f64> {
    styles(style).into_iter().find_map(|style| {
        let (figure, unit) = match number::parse(value, style) {
            Cell::Value(v) => (v, super::header::parse(key, None).unit),
            Cell::WithUnit(v, unit) => (v, unit_words::parse(unit).map(|(unit, _)| unit)),
            _ => return None,
        };
        let kpa = match unit {
            Some(Unit::Pressure(unit)) => unit.to_kpa(figure),
            Some(_) => return None,
            None => kind::barometer_unit(figure)?.to_kpa(figure),
        };
        (45.0..115.0).contains(&kpa).then_some(kpa)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const POINT: NumberStyle = NumberStyle { decimal: b'.', group: None };
    const COMMA: NumberStyle = NumberStyle { decimal: b',', group: None };

    fn facts(text: &str, style: NumberStyle) -> Preamble {
        read(&[Line { number: 1, text }], style)
    }

    #[test]
    fn a_barometer_however_its_unit_is_written() {
        for (text, style, kpa) in [
            ("Baro,1015.7,hPa", POINT, Some(101.57)),
            ("Barometric pressure,101.57,kPa,,,,", POINT, Some(101.57)),
            ("# Barometer: 1015.7 hPa", COMMA, Some(101.57)),
            ("Air pressure: 1015.7 hPa", POINT, Some(101.57)),
            ("Luftdruck;1015,7;hPa;;;", COMMA, Some(101.57)),
            ("\"Baro\",\"1015.7\",\"hPa\"", POINT, Some(101.57)),
            ("Baro,101,57,kPa", COMMA, Some(101.57)),
            ("Baro;[hPa];1015.7", POINT, Some(101.57)),
            ("Barometer = 1015.7 [hPa]", POINT, Some(101.57)),
            ("Baro (hPa)\t1015.7\t\t", POINT, Some(101.57)),
            ("Luftdruck: 1.015 hPa", COMMA, Some(101.5)),
            ("Barometer: 1,015.7 hPa", POINT, Some(101.57)),
            ("Barometer: 1015.7", POINT, Some(101.57)),
            // No pressure of the air around the machine.
            ("Intake air pressure: 101.5 kPa", POINT, None),
            ("Ambient: 21 \u{b0}C", POINT, None),
            ("Ambient humidity: 97", POINT, None),
            ("Baro: 1015.7 V", POINT, None),
        ] {
            let found = facts(text, style).barometer_kpa;
            let same = match (found, kpa) {
                (Some(a), Some(b)) => (a - b).abs() < 1e-9,
                (a, b) => a == b,
            };
            assert!(same, "{text}: {found:?}");
        }
        assert_eq!(facts("Baro,1015.7,hPa,,", POINT).entries, [("Baro".to_owned(), "1015.7 hPa".to_owned())]);
    }

    #[test]
    fn other_facts_in_cells_of_their_own() {
        assert_eq!(facts("Betriebsstunden;1234,5;h;;", COMMA).hours, Some(1234.5));
        assert_eq!(facts("# Hours: 1234.5 h", COMMA).hours, Some(1234.5));
        // A thousand hours or one and a quarter: left open.
        assert_eq!(facts("# Hours: 1.234 h", COMMA).hours, None);
        let miles = facts("Odometer,1000,mi,,", POINT).distance_km;
        assert!(miles.is_some_and(|km| (km - 1609.344).abs() < 1e-9), "{miles:?}");
        assert_eq!(facts("Odometer,1000,km", POINT).distance_km, Some(1000.0));
        assert_eq!(facts("Date,2025-04-10,09:12:33,,", POINT).date.as_deref(), Some("2025-04-10"));
        assert_eq!(facts("Machine;HS-07;yard 2", POINT).machine_id.as_deref(), Some("HS-07"));
        // Without cells the whole is the value, and no name.
        assert_eq!(facts("Machine: HS-07, yard 2", POINT).machine_id, None);
    }

    #[test]
    fn figures_and_units_in_two_cells() {
        assert_eq!(figure_with_unit(&["101.57", "kPa", "", ""]).as_deref(), Some("101.57 kPa"));
        for cells in
            [&["101.57", "Time [s]"][..], &["1", "2"], &["kPa", "hPa"], &["1", "kPa", "3"], &["1", "-"]]
        {
            assert_eq!(figure_with_unit(cells), None, "{cells:?}");
        }
    }
}
