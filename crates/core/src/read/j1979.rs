//! Answers of an engine control unit: current data (service 01) and trouble codes (services 03, 07, 0A, 04).
//!
//! Source: SAE J1979 / ISO 15031-5, scalings from memory, checked against three public tables; trouble codes by
//! SAE J2012. A, B, C ... are the data bytes behind the parameter's number.

use super::unit_words::Unit;
use crate::recording::{PressureKind, Quantity};
use crate::units::PressureUnit;

/// One decoded value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reading {
    /// Parameter number, times ten plus a part where one answer holds several values.
    pub(crate) key: u16,
    pub(crate) value: f64,
}

/// What a parameter is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Parameter {
    pub(crate) name: &'static str,
    pub(crate) quantity: Quantity,
    pub(crate) unit: Unit,
    pub(crate) kind: Option<PressureKind>,
}

/// Scalings that service 01 parameter 4F may replace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Scale {
    lambda_per_bit: f64,
    pressure_per_bit: f64,
}

impl Default for Scale {
    fn default() -> Self {
        Self { lambda_per_bit: 2.0 / 65_536.0, pressure_per_bit: 1.0 }
    }
}

/// Number of data bytes of a parameter; `None` for one that is not known here.
pub(crate) fn length(pid: u8) -> Option<usize> {
    Some(match pid {
        0x00
        | 0x20
        | 0x40
        | 0x60
        | 0x80
        | 0xa0
        | 0xc0
        | 0x01
        | 0x41
        | 0x4f
        | 0x50
        | 0x24..=0x2b
        | 0x34..=0x3b => 4,
        0x02
        | 0x03
        | 0x0c
        | 0x10
        | 0x14..=0x1b
        | 0x1f
        | 0x21..=0x23
        | 0x31
        | 0x32
        | 0x3c..=0x3f
        | 0x42..=0x44 => 2,
        0x4d | 0x4e | 0x53 | 0x54 | 0x55..=0x59 | 0x5d | 0x5e | 0x63 => 2,
        0x04..=0x09 | 0x0a | 0x0b | 0x0d | 0x0e | 0x0f | 0x11..=0x13 | 0x1c..=0x1e | 0x2c..=0x30 | 0x33 => 1,
        0x45..=0x4c | 0x51 | 0x52 | 0x5a..=0x5c | 0x5f | 0x61 | 0x62 => 1,
        0x87 => 5,
        _ => return None,
    })
}

/// What a key of [`Reading`] is.
pub(crate) fn parameter(key: u16) -> Parameter {
    let of = |name, quantity, unit| Parameter { name, quantity, unit, kind: None };
    let pressure = |name, quantity| Parameter {
        name,
        quantity,
        unit: Unit::Pressure(PressureUnit::Kpa),
        kind: Some(PressureKind::Absolute),
    };
    match (key / 10, key % 10) {
        (0x05, _) => of("coolant temperature", Quantity::CoolantTemperature, Unit::Celsius),
        (0x06, _) => of("short-term fuel trim, bank 1", Quantity::FuelTrim, Unit::Percent),
        (0x07, _) => of("long-term fuel trim, bank 1", Quantity::FuelTrim, Unit::Percent),
        (0x08, _) => of("short-term fuel trim, bank 2", Quantity::FuelTrim, Unit::Percent),
        (0x09, _) => of("long-term fuel trim, bank 2", Quantity::FuelTrim, Unit::Percent),
        (0x0b, _) => pressure("intake manifold pressure", Quantity::ManifoldPressure),
        (0x0c, _) => of("engine speed", Quantity::EngineSpeed, Unit::Turning(1.0)),
        (0x0f, _) => of("intake air temperature", Quantity::IntakeTemperature, Unit::Celsius),
        (0x11, _) => of("throttle position", Quantity::Throttle, Unit::Percent),
        (0x24..=0x2b, 0) => of("lambda, wide-range sensor (voltage)", Quantity::Lambda, Unit::Ratio),
        (0x34..=0x3b, 0) => of("lambda, wide-range sensor (current)", Quantity::Lambda, Unit::Ratio),
        (0x33, _) => pressure("barometric pressure", Quantity::Barometer),
        (0x87, 0) => pressure("intake manifold pressure A", Quantity::ManifoldPressure),
        (0x87, _) => pressure("intake manifold pressure B", Quantity::ManifoldPressure),
        (0x04, _) => of("calculated load", Quantity::Ignored, Unit::Percent),
        (0x0d, _) => of("vehicle speed", Quantity::Ignored, Unit::Foreign),
        (0x10, _) => of("air mass flow", Quantity::Ignored, Unit::Foreign),
        (0x44, _) => of("commanded lambda", Quantity::Ignored, Unit::Ratio),
        (0x45, _) => of("relative throttle position", Quantity::Ignored, Unit::Percent),
        (0x46, _) => of("ambient temperature", Quantity::Ignored, Unit::Celsius),
        (0x5c, _) => of("oil temperature", Quantity::Ignored, Unit::Celsius),
        _ => of("parameter", Quantity::Ignored, Unit::Foreign),
    }
}

/// Values of one parameter.
pub(crate) fn decode(pid: u8, data: &[u8], scale: &mut Scale, out: &mut Vec<Reading>) {
    let byte = |at: usize| data.get(at).map(|b| f64::from(*b));
    let word = |at: usize| Some(byte(at)? * 256.0 + byte(at + 1)?);
    let mut push = |part: u16, value: Option<f64>| {
        if let Some(value) = value {
            out.push(Reading { key: u16::from(pid) * 10 + part, value });
        }
    };
    match pid {
        0x04 | 0x11 | 0x45 => push(0, byte(0).map(|a| a * 100.0 / 255.0)),
        0x05 | 0x0f | 0x46 | 0x5c => push(0, byte(0).map(|a| a - 40.0)),
        0x06..=0x09 => push(0, byte(0).map(|a| a * 100.0 / 128.0 - 100.0)),
        0x0b => push(0, byte(0).map(|a| a * scale.pressure_per_bit)),
        0x33 | 0x0d => push(0, byte(0)),
        0x0c => push(0, word(0).map(|w| w / 4.0)),
        0x10 => push(0, word(0).map(|w| w / 100.0)),
        0x24..=0x2b | 0x34..=0x3b | 0x44 => push(0, word(0).map(|w| w * scale.lambda_per_bit)),
        0x4f => rescale(data, scale),
        0x87 => {
            let valid = data.first().copied().unwrap_or(0);
            push(0, word(1).filter(|_| valid & 1 != 0).map(|w| w / 32.0));
            push(1, word(3).filter(|_| valid & 2 != 0).map(|w| w / 32.0));
        }
        // Lists of supported parameters are no measurements.
        _ if pid.is_multiple_of(0x20) => {}
        _ => push(0, byte(0)),
    }
}

/// Parameter 4F: ranges other than the usual ones.
fn rescale(data: &[u8], scale: &mut Scale) {
    let at = |i: usize| data.get(i).copied().filter(|b| *b != 0).map(f64::from);
    if let Some(a) = at(0) {
        scale.lambda_per_bit = a / 65_535.0;
    }
    if let Some(d) = at(3) {
        scale.pressure_per_bit = d * 10.0 / 255.0;
    }
}

/// Five characters of a trouble code, by SAE J2012; `None` for the empty code.
pub(crate) fn trouble_code(high: u8, low: u8) -> Option<String> {
    if high == 0 && low == 0 {
        return None;
    }
    let letter = ['P', 'C', 'B', 'U'][usize::from(high >> 6)];
    Some(format!("{letter}{}{:X}{low:02X}", high >> 4 & 3, high & 0x0f))
}

/// What a code is about, where it matters for the judgement of an idle recording.
pub(crate) fn code_text(code: &str) -> Option<&'static str> {
    let number = u32::from_str_radix(code.strip_prefix('P')?, 16).ok()?;
    Some(match number {
        0x0105..=0x0109 | 0x0068 | 0x0069 => "manifold pressure sensor",
        0x0110..=0x0114 | 0x0095..=0x0099 => "intake air temperature sensor",
        0x0115..=0x0119 | 0x0125..=0x0128 => "coolant temperature sensor or thermostat",
        0x0120..=0x0124 | 0x0220..=0x0229 => "throttle position sensor",
        0x0130..=0x0167 => "oxygen sensor",
        0x0170..=0x0175 => "mixture at the end of its correction",
        0x0200..=0x0212 | 0x0261..=0x0296 => "injector",
        0x0300..=0x0312 => "misfire",
        0x0335..=0x0349 => "crank or cam sensor",
        0x0505..=0x0511 => "idle speed control",
        0x2100..=0x2119 | 0x2135..=0x2138 => "throttle actuator",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(pid: u8, data: &[u8]) -> f64 {
        let mut out = Vec::new();
        decode(pid, data, &mut Scale::default(), &mut out);
        out.first().map_or(f64::NAN, |r| r.value)
    }

    #[test]
    fn scalings_of_saej1979() {
        // SAE J1979 service 01, as in public tables; range ends give the documented limits.
        for (pid, data, want) in [
            (0x04, &[0x80][..], 50.196_078_431_4),
            (0x05, &[0x7b], 83.0),
            (0x06, &[0x88], 6.25),
            (0x07, &[0x00], -100.0),
            (0x09, &[0xff], 99.21875),
            (0x0b, &[0x23], 35.0),
            (0x0c, &[0x1a, 0xf8], 1726.0),
            (0x0c, &[0xff, 0xff], 16_383.75),
            (0x0f, &[0x3c], 20.0),
            (0x10, &[0x01, 0x02], 2.58),
            (0x11, &[0x2b], 16.862_745_098),
            (0x24, &[0x80, 0x00, 0x33, 0x33], 1.0),
            (0x34, &[0x73, 0x33, 0x80, 0xc0], 0.899_993_896_5),
            (0x33, &[0x64], 100.0),
            (0x87, &[0x01, 0x0d, 0x00, 0x00, 0x00], 104.0),
        ] {
            assert!((value(pid, data) - want).abs() < 1e-9, "{pid:02X}: {}", value(pid, data));
        }
        let mut out = Vec::new();
        decode(0x87, &[0x03, 0x19, 0x00, 0x0c, 0xa0], &mut Scale::default(), &mut out);
        assert_eq!(out.iter().map(|r| r.value).collect::<Vec<_>>(), [200.0, 101.0]);
    }

    #[test]
    fn parameter_4f_changes_the_scale_of_the_manifold_pressure() {
        let mut scale = Scale::default();
        let mut out = Vec::new();
        decode(0x4f, &[0, 0, 0, 0x3f], &mut scale, &mut out);
        decode(0x0b, &[0xff], &mut scale, &mut out);
        // 0x3F = 63: the largest pressure is 630 kPa.
        assert!((out[0].value - 630.0).abs() < 1e-9);
    }

    #[test]
    fn trouble_codes_by_saej2012() {
        assert_eq!(trouble_code(0x01, 0x07).as_deref(), Some("P0107"));
        assert_eq!(trouble_code(0x43, 0x21).as_deref(), Some("C0321"));
        assert_eq!(trouble_code(0xd0, 0x16).as_deref(), Some("U1016"));
        assert_eq!(trouble_code(0, 0), None);
        assert_eq!(code_text("P0107"), Some("manifold pressure sensor"));
    }
}
