//! What a header means by its words ([`super::vocabulary`]) and its unit.

use super::header::Header;
use super::unit_words::Unit;
use super::vocabulary::{
    ABSOLUTE, BAROMETER, COOLANT, ELSEWHERE, EXHAUST, GAUGE, INDEX, INTAKE_AIR, LAMBDA, MARK, PRESSURE,
    SPEED, TEMPERATURE, THROTTLE, TIME, TRIM, VACUUM, Vocabulary, WANTED,
};
use crate::recording::{PressureKind, Quantity};

/// What a header says.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Meaning {
    /// `None`: nothing that is known.
    pub(crate) quantity: Option<Quantity>,
    pub(crate) why: String,
}

impl Meaning {
    fn of(quantity: Quantity, word: &str, header: &Header) -> Option<Self> {
        let word = spelled(header, word);
        Some(Self { quantity: Some(quantity), why: format!("`{word}` in the header") })
    }
}

/// A word of the lists as the header has it: `intakeair` stands for `intake air` in `Intake Air Temp`.
fn spelled(header: &Header, word: &str) -> String {
    if header.words.iter().any(|w| w == word) {
        return word.to_owned();
    }
    let Some(start) = header.words.concat().find(word) else { return word.to_owned() };
    let mut at = 0;
    let inside = header.words.iter().filter(|w| {
        let from = at;
        at += w.len();
        at > start && from < start + word.len()
    });
    let inside: Vec<&str> = inside.map(String::as_str).collect();
    // Inside one word, as in `Saugrohrdruck`, the part says more than the whole.
    if inside.len() > 1 { inside.join(" ") } else { word.to_owned() }
}

/// Quantities in the order in which their words decide.
const ORDER: [(Quantity, &Vocabulary); 6] = [
    (Quantity::CoolantTemperature, &COOLANT),
    (Quantity::IntakeTemperature, &INTAKE_AIR),
    (Quantity::Throttle, &THROTTLE),
    (Quantity::ManifoldPressure, &PRESSURE),
    (Quantity::EngineSpeed, &SPEED),
    (Quantity::CrankMark, &MARK),
];

/// What a header means, from its words and its unit. Time is judged elsewhere ([`time_rank`]).
pub(crate) fn meaning(header: &Header) -> Meaning {
    let nothing = |why: String| Meaning { quantity: Some(Quantity::Ignored), why };
    if let Some(word) = WANTED.hit(header) {
        return nothing(format!("`{}`: a wanted value, not a measured one", spelled(header, word)));
    }
    let fits = |quantity: Quantity| header.unit.is_none_or(|unit| unit.fits(quantity));
    if let Some(found) = early(header, &fits) {
        return found;
    }
    // `Velocidad` alone is that of a vehicle.
    let road = header.words.len() == 1
        && header.joined == "velocidad"
        && !matches!(header.unit, Some(Unit::Turning(_)));
    if let Some(word) = ELSEWHERE.hit(header).or(road.then_some("velocidad")) {
        return nothing(format!("`{}`: not a quantity that is judged here", spelled(header, word)));
    }
    let temperature = TEMPERATURE.hit(header).is_some();
    if COOLANT.hit(header).is_some() && matches!(header.unit, Some(Unit::Pressure(_))) {
        return nothing("a pressure of the cooling water".to_owned());
    }
    for (quantity, list) in ORDER {
        let Some(word) = list.hit(header).filter(|_| fits(quantity)) else { continue };
        // `intake temp`, `p1 temp` are no pressures.
        if quantity == Quantity::ManifoldPressure
            && temperature
            && header.unit.is_none()
            && header.words.len() > 1
            && !header.words.iter().any(|w| matches!(w.as_str(), "map" | "pressure" | "druck" | "vacuum"))
        {
            continue;
        }
        if let Some(found) = Meaning::of(quantity, word, header) {
            return found;
        }
    }
    by_unit(header)
}

/// Meanings whose words also occur inside others (`fuel trim`, `ambient pressure`, `exhaust temperature`).
fn early(header: &Header, fits: &impl Fn(Quantity) -> bool) -> Option<Meaning> {
    let trim = TRIM.hit(header).filter(|_| fits(Quantity::FuelTrim));
    if let Some(word) = trim {
        return Meaning::of(Quantity::FuelTrim, word, header);
    }
    if let Some(word) = LAMBDA.hit(header).filter(|_| fits(Quantity::Lambda)) {
        return Meaning::of(Quantity::Lambda, word, header);
    }
    let ambient_temperature = TEMPERATURE.hit(header).is_some();
    if let Some(word) = BAROMETER.hit(header) {
        if header.words.iter().any(|w| w == "qnh") || ambient_temperature || !fits(Quantity::Barometer) {
            return Some(Meaning {
                quantity: Some(Quantity::Ignored),
                why: format!("`{word}`, but no barometer"),
            });
        }
        return Meaning::of(Quantity::Barometer, word, header);
    }
    if let Some(word) = EXHAUST.hit(header) {
        let back_pressure = PRESSURE.hit(header).is_some() || !fits(Quantity::ExhaustTemperature);
        let quantity = if back_pressure { Quantity::Ignored } else { Quantity::ExhaustTemperature };
        return Meaning::of(quantity, word, header);
    }
    None
}

/// Without a known word a unit may still tell: pressures and speeds.
fn by_unit(header: &Header) -> Meaning {
    let meaning = |quantity, why: &str| Meaning { quantity, why: why.to_owned() };
    match header.unit {
        Some(Unit::Pressure(_)) => meaning(Some(Quantity::ManifoldPressure), "its unit is one of pressure"),
        Some(Unit::Turning(_)) => meaning(Some(Quantity::EngineSpeed), "its unit is one of engine speed"),
        Some(Unit::AirFuel) => meaning(Some(Quantity::Lambda), "its unit is an air-fuel ratio"),
        _ => meaning(None, "no word of the job in the header"),
    }
}

/// What the words say a pressure is measured against, with the word.
pub(crate) fn pressure_kind(header: &Header) -> Option<(PressureKind, &'static str)> {
    if let Some(word) = VACUUM.hit(header) {
        return Some((PressureKind::Vacuum, word));
    }
    let absolute = ABSOLUTE.hit(header).map(|word| (PressureKind::Absolute, word));
    if let Some(kind) = header.kind {
        return Some((kind, "its unit"));
    }
    GAUGE.hit(header).map(|word| (PressureKind::Gauge, word)).or(absolute)
}

/// How much a header looks like a time axis: 0 not at all, 3 nothing else.
pub(crate) fn time_rank(header: &Header) -> u8 {
    let clock_unit = matches!(header.unit, Some(Unit::Time(_) | Unit::ClockText));
    if header.unit.is_some() && !clock_unit {
        return 0;
    }
    let spoiled = ["cleared", "remaining", "on", "off", "response", "codes", "dt"];
    if header.words.iter().any(|w| spoiled.contains(&w.as_str()))
        || WANTED.hit(header).is_some()
        || ELSEWHERE.hit(header).is_some()
    {
        return 0;
    }
    match TIME.hit(header) {
        Some(_) if header.words.len() <= 2 => 3,
        Some(_) => 2,
        None if clock_unit => 1,
        None => 0,
    }
}

/// Whether a header names a running number.
pub(crate) fn is_index(header: &Header) -> bool {
    header.unit.is_none() && header.words.len() <= 2 && INDEX.hit(header).is_some()
}
