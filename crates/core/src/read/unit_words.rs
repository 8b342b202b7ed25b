//! Units as they are written in headers, units rows and cells, and what they do to a figure.

use crate::recording::{PressureKind, Quantity};
use crate::units::PressureUnit;

/// A unit of anything a log may hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Unit {
    Pressure(PressureUnit),
    /// Turning speed, with its size in rev/min.
    Turning(f64),
    Celsius,
    Fahrenheit,
    Kelvin,
    Percent,
    /// A plain ratio.
    Ratio,
    /// Air-fuel ratio by mass.
    AirFuel,
    /// Time, with its size in seconds.
    Time(f64),
    /// A time given as a clock or calendar text.
    ClockText,
    /// Known, and of no use here (V, km/h, g/s ...).
    Foreign,
}

/// Stoichiometric air-fuel ratio of petrol by mass; common practice, no source.
pub(crate) const PETROL_RATIO: f64 = 14.7;

const PLAIN: &[(&str, Unit)] = &[
    ("rpm", Unit::Turning(1.0)),
    ("r.p.m.", Unit::Turning(1.0)),
    ("r.p.m", Unit::Turning(1.0)),
    ("1/min", Unit::Turning(1.0)),
    ("/min", Unit::Turning(1.0)),
    ("min-1", Unit::Turning(1.0)),
    ("min^-1", Unit::Turning(1.0)),
    ("min\u{207b}\u{b9}", Unit::Turning(1.0)),
    ("rev/min", Unit::Turning(1.0)),
    ("r/min", Unit::Turning(1.0)),
    ("revs/min", Unit::Turning(1.0)),
    ("u/min", Unit::Turning(1.0)),
    ("umdr./min", Unit::Turning(1.0)),
    ("upm", Unit::Turning(1.0)),
    ("tr/min", Unit::Turning(1.0)),
    ("tr/mn", Unit::Turning(1.0)),
    ("tours/min", Unit::Turning(1.0)),
    ("giri/min", Unit::Turning(1.0)),
    ("giri/1'", Unit::Turning(1.0)),
    ("rpm*1000", Unit::Turning(1000.0)),
    ("x1000rpm", Unit::Turning(1000.0)),
    ("krpm", Unit::Turning(1000.0)),
    ("rps", Unit::Turning(60.0)),
    ("rev/s", Unit::Turning(60.0)),
    ("1/s", Unit::Turning(60.0)),
    ("s-1", Unit::Turning(60.0)),
    ("hz", Unit::Turning(60.0)),
    ("rad/s", Unit::Turning(30.0 / std::f64::consts::PI)),
    ("degc", Unit::Celsius),
    ("\u{b0}c", Unit::Celsius),
    ("\u{ba}c", Unit::Celsius),
    ("\u{2103}", Unit::Celsius),
    ("\u{e2}\u{b0}c", Unit::Celsius),
    ("\u{fffd}c", Unit::Celsius),
    ("c", Unit::Celsius),
    ("celsius", Unit::Celsius),
    ("deg.c", Unit::Celsius),
    ("gradc", Unit::Celsius),
    ("degf", Unit::Fahrenheit),
    ("\u{b0}f", Unit::Fahrenheit),
    ("\u{ba}f", Unit::Fahrenheit),
    ("\u{2109}", Unit::Fahrenheit),
    ("f", Unit::Fahrenheit),
    ("fahrenheit", Unit::Fahrenheit),
    ("k", Unit::Kelvin),
    ("kelvin", Unit::Kelvin),
    ("%", Unit::Percent),
    ("pct", Unit::Percent),
    ("percent", Unit::Percent),
    ("prozent", Unit::Percent),
    ("-", Unit::Ratio),
    ("lambda", Unit::Ratio),
    ("\u{3bb}", Unit::Ratio),
    ("ratio", Unit::Ratio),
    ("afr", Unit::AirFuel),
    ("a/f", Unit::AirFuel),
    (":1", Unit::AirFuel),
    ("s", Unit::Time(1.0)),
    ("sec", Unit::Time(1.0)),
    ("secs", Unit::Time(1.0)),
    ("second", Unit::Time(1.0)),
    ("seconds", Unit::Time(1.0)),
    ("sek", Unit::Time(1.0)),
    ("sekunden", Unit::Time(1.0)),
    ("secondes", Unit::Time(1.0)),
    ("segundos", Unit::Time(1.0)),
    ("secondi", Unit::Time(1.0)),
    ("ms", Unit::Time(1e-3)),
    ("msec", Unit::Time(1e-3)),
    ("millis", Unit::Time(1e-3)),
    ("milliseconds", Unit::Time(1e-3)),
    ("millisekunden", Unit::Time(1e-3)),
    ("us", Unit::Time(1e-6)),
    ("\u{b5}s", Unit::Time(1e-6)),
    ("\u{3bc}s", Unit::Time(1e-6)),
    ("usec", Unit::Time(1e-6)),
    ("micros", Unit::Time(1e-6)),
    ("microseconds", Unit::Time(1e-6)),
    ("ns", Unit::Time(1e-9)),
    ("nanoseconds", Unit::Time(1e-9)),
    ("min", Unit::Time(60.0)),
    ("mins", Unit::Time(60.0)),
    ("minute", Unit::Time(60.0)),
    ("minutes", Unit::Time(60.0)),
    ("minuten", Unit::Time(60.0)),
    ("minuti", Unit::Time(60.0)),
    ("minutos", Unit::Time(60.0)),
    ("h", Unit::Time(3600.0)),
    ("hr", Unit::Time(3600.0)),
    ("hrs", Unit::Time(3600.0)),
    ("hour", Unit::Time(3600.0)),
    ("hours", Unit::Time(3600.0)),
    ("stunden", Unit::Time(3600.0)),
    ("heures", Unit::Time(3600.0)),
    ("horas", Unit::Time(3600.0)),
    ("ore", Unit::Time(3600.0)),
    ("hh:mm:ss", Unit::ClockText),
    ("h:mm:ss", Unit::ClockText),
    ("h:m:s", Unit::ClockText),
    ("hh:mm:ss.s", Unit::ClockText),
    ("hh:mm:ss,s", Unit::ClockText),
    ("hh:mm:ss.sss", Unit::ClockText),
    ("hh:mm:ss.000", Unit::ClockText),
    ("hh:mm:ss.zzz", Unit::ClockText),
    ("mm:ss", Unit::ClockText),
    ("m:ss", Unit::ClockText),
    ("mm:ss.s", Unit::ClockText),
    ("min:s", Unit::ClockText),
    ("min:sec", Unit::ClockText),
    ("hms", Unit::ClockText),
    ("iso8601", Unit::ClockText),
    ("utc", Unit::ClockText),
    ("v", Unit::Foreign),
    ("mv", Unit::Foreign),
    ("volt", Unit::Foreign),
    ("volts", Unit::Foreign),
    ("a", Unit::Foreign),
    ("ma", Unit::Foreign),
    ("km/h", Unit::Foreign),
    ("kmh", Unit::Foreign),
    ("kph", Unit::Foreign),
    ("mph", Unit::Foreign),
    ("m/s", Unit::Foreign),
    ("kn", Unit::Foreign),
    ("knots", Unit::Foreign),
    ("g/s", Unit::Foreign),
    ("kg/h", Unit::Foreign),
    ("mg", Unit::Foreign),
    ("mg/stk", Unit::Foreign),
    ("l/h", Unit::Foreign),
    ("g", Unit::Foreign),
    ("nm", Unit::Foreign),
    ("kw", Unit::Foreign),
    ("hp", Unit::Foreign),
    ("km", Unit::Foreign),
    ("m", Unit::Foreign),
    ("mm", Unit::Foreign),
    ("deg", Unit::Foreign),
    ("\u{b0}", Unit::Foreign),
    ("\u{b0}ca", Unit::Foreign),
    ("degca", Unit::Foreign),
    ("btdc", Unit::Foreign),
    ("\u{b0}btdc", Unit::Foreign),
    ("lux", Unit::Foreign),
    ("db", Unit::Foreign),
    ("counts", Unit::Foreign),
    ("raw", Unit::Foreign),
];

/// Reads a unit, with what a pressure is measured against where the unit says so.
pub(crate) fn parse(text: &str) -> Option<(Unit, Option<PressureKind>)> {
    let text = text.trim();
    if text.is_empty() || text.len() > 40 {
        return None;
    }
    let folded: String = text.to_lowercase().chars().filter(|c| !c.is_whitespace()).collect();
    let plain = PLAIN.iter().find(|(name, _)| *name == folded).map(|(_, unit)| (*unit, None));
    plain.or_else(|| PressureUnit::parse_with_kind(text).map(|(unit, kind)| (Unit::Pressure(unit), kind)))
}

/// As [`parse`], and with a factor before a unit of time: `10 ms`, `x10 ms`, `0,1 s`, `1/100 s`. For what stands in
/// brackets or on a units row: elsewhere a figure before a unit is part of the name.
pub(crate) fn parse_scaled(text: &str) -> Option<(Unit, Option<PressureKind>)> {
    parse(text).or_else(|| {
        let text = text.trim().trim_start_matches(['x', 'X', '*', '\u{d7}']).trim_start();
        let end = text.find(|c: char| !c.is_ascii_digit() && !matches!(c, '.' | ',' | '/'))?;
        let (factor, unit) = text.split_at(end);
        let number = |text: &str| text.replace(',', ".").parse::<f64>().ok().filter(|n| *n > 0.0);
        let factor = match factor.split_once('/') {
            Some((above, below)) => number(above)? / number(below)?,
            None => number(factor)?,
        };
        match parse(unit)? {
            (Unit::Time(size), kind) if (1e-9..1e9).contains(&(size * factor)) => {
                Some((Unit::Time(size * factor), kind))
            }
            _ => None,
        }
    })
}

impl Unit {
    /// This project's spelling.
    pub(crate) fn name(self) -> String {
        match self {
            Self::Pressure(unit) => unit.name().to_owned(),
            Self::Turning(1.0) => "rpm".to_owned(),
            Self::Turning(60.0) => "rev/s".to_owned(),
            Self::Turning(1000.0) => "1000 rpm".to_owned(),
            Self::Turning(_) => "rad/s".to_owned(),
            Self::Celsius => "degC".to_owned(),
            Self::Fahrenheit => "degF".to_owned(),
            Self::Kelvin => "K".to_owned(),
            Self::Percent => "%".to_owned(),
            Self::Ratio => "1".to_owned(),
            Self::AirFuel => "AFR".to_owned(),
            Self::Time(size) => time_name(size),
            Self::ClockText => "hh:mm:ss".to_owned(),
            Self::Foreign => String::new(),
        }
    }

    /// A figure in this unit in the base unit of its family (kPa, rev/min, deg C, per cent, lambda, s).
    #[inline]
    pub(crate) fn to_base(self, value: f64) -> f64 {
        match self {
            Self::Pressure(unit) => unit.to_kpa(value),
            Self::Turning(size) | Self::Time(size) => value * size,
            Self::Fahrenheit => (value - 32.0) / 1.8,
            Self::Kelvin => value - 273.15,
            Self::AirFuel => value / PETROL_RATIO,
            Self::Celsius | Self::Percent | Self::Ratio | Self::ClockText | Self::Foreign => value,
        }
    }

    /// Whether a quantity can have this unit.
    pub(crate) fn fits(self, quantity: Quantity) -> bool {
        match quantity {
            Quantity::ManifoldPressure | Quantity::Barometer => matches!(self, Self::Pressure(_)),
            Quantity::EngineSpeed => matches!(self, Self::Turning(_)),
            Quantity::CoolantTemperature | Quantity::IntakeTemperature | Quantity::ExhaustTemperature => {
                matches!(self, Self::Celsius | Self::Fahrenheit | Self::Kelvin)
            }
            Quantity::Throttle => matches!(self, Self::Percent | Self::Ratio),
            Quantity::FuelTrim => matches!(self, Self::Percent | Self::Ratio),
            Quantity::Lambda => matches!(self, Self::Ratio | Self::AirFuel),
            Quantity::Time => matches!(self, Self::Time(_) | Self::ClockText),
            Quantity::CrankMark | Quantity::Ignored => true,
        }
    }
}

fn time_name(size: f64) -> String {
    let names =
        [(86_400.0, "d"), (3600.0, "h"), (60.0, "min"), (1.0, "s"), (1e-3, "ms"), (1e-6, "us"), (1e-9, "ns")];
    let (unit, name) = names.into_iter().find(|(unit, _)| size >= 0.999 * unit).unwrap_or((1e-9, "ns"));
    let factor = (size / unit * 1e6).round() / 1e6;
    if factor == 1.0 { name.to_owned() } else { format!("{factor} {name}") }
}
