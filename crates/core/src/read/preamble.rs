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

/// Reads the lines before the header.
pub(crate) fn read(lines: &[Line<'_>], style: NumberStyle) -> Preamble {
    let mut out = Preamble::default();
    for line in lines.iter().take(MOST) {
        let Some((key, value)) = pair(line.text) else { continue };
        if is_serial(&key) || holds_serial(&value) {
            continue;
        }
        note(&mut out, &key, &value, style);
        out.entries.push((key, value));
    }
    out
}

/// Key and value of a line: parted by the first `:`, `=`, tab, `;` or `,`.
fn pair(text: &str) -> Option<(String, String)> {
    let text = text.trim().trim_start_matches(['#', '/', '%', '!', '"']).trim();
    let at = text.find([':', '=', '\t', ';', ','])?;
    let tidy = |part: &str| plain(part.trim_matches([' ', '"', ';', ',', '\t', ':', '=']), 200);
    let (key, value) = (tidy(&text[..at]), tidy(&text[at + 1..]));
    (!key.is_empty() && !value.is_empty()).then_some((key, value))
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

fn note(out: &mut Preamble, key: &str, value: &str, style: NumberStyle) {
    let words = super::header::words(key);
    let has = |list: &[&str]| words.iter().any(|w| list.contains(&w.as_str()));
    if has(&[
        "machine", "maschine", "vehicle", "boat", "craft", "vessel", "boot", "fahrzeug", "bike", "maquina",
        "macchina", "engine", "motor",
    ]) && out.machine_id.is_none()
        && (words.len() == 1 || has(&["id", "name", "no", "nr"]))
        && is_id(value)
    {
        out.machine_id = Some(value.to_owned());
    } else if has(&["date", "datum", "fecha", "data", "recorded", "started", "start"]) && out.date.is_none() {
        out.date = clock::iso_day(value);
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
    } else if has(&[
        "barometer",
        "baro",
        "barometric",
        "ambient",
        "luftdruck",
        "umgebungsdruck",
        "atmospheric",
        "atmospherique",
        "atmosferica",
    ]) && out.barometer_kpa.is_none()
        && !has(&["temp", "temperature", "temperatur"])
    {
        out.barometer_kpa = pressure(key, value, style);
    }
}

fn is_id(value: &str) -> bool {
    (1..=64).contains(&value.len()) && value.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b))
}

fn miles(key: &str, value: &str) -> bool {
    let both = format!("{key} {value}").to_lowercase();
    super::header::words(&both).iter().any(|w| matches!(w.as_str(), "mi" | "mile" | "miles" | "mileage"))
        && !both.contains("km")
}

fn figure(value: &str, style: NumberStyle) -> Option<f64> {
    match number::parse(value, style) {
        Cell::Value(v) | Cell::WithUnit(v, _) => Some(v),
        _ => None,
    }
}

/// A barometer with its unit behind the figure, in the key, or by its size.
fn pressure(key: &str, value: &str, style: NumberStyle) -> Option<f64> {
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
}
