//! Trouble codes that put an idle recording in doubt: what they mean, in our words.
//!
//! # Source
//! Code numbers and meanings after SAE J2012 (diagnostic trouble code definitions), from memory.

/// What a code touches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Touches {
    /// A pressure sensor that the review may be looking at.
    Pressure,
    /// Throttle or pedal.
    Throttle,
    /// A temperature that decides whether the engine counts as warm.
    Temperature,
    /// Misfire.
    Misfire,
    /// Mixture.
    Mixture,
    /// Idle control.
    Idle,
    /// Speed or crank signal.
    Speed,
    /// Air meter.
    Air,
}

const TABLE: &[(&str, Touches, &str)] = &[
    ("P0068", Touches::Throttle, "manifold pressure or air flow does not fit the throttle position"),
    ("P0069", Touches::Pressure, "manifold pressure and barometer do not agree"),
    ("P0100", Touches::Air, "air flow meter circuit"),
    ("P0101", Touches::Air, "air flow meter out of range"),
    ("P0102", Touches::Air, "air flow meter reads low"),
    ("P0103", Touches::Air, "air flow meter reads high"),
    ("P0105", Touches::Pressure, "manifold pressure circuit"),
    ("P0106", Touches::Pressure, "manifold pressure out of range"),
    ("P0107", Touches::Pressure, "manifold pressure reads low"),
    ("P0108", Touches::Pressure, "manifold pressure reads high"),
    ("P0109", Touches::Pressure, "manifold pressure comes and goes"),
    ("P0110", Touches::Temperature, "intake air temperature circuit"),
    ("P0111", Touches::Temperature, "intake air temperature out of range"),
    ("P0112", Touches::Temperature, "intake air temperature reads low"),
    ("P0113", Touches::Temperature, "intake air temperature reads high"),
    ("P0115", Touches::Temperature, "coolant temperature circuit"),
    ("P0116", Touches::Temperature, "coolant temperature out of range"),
    ("P0117", Touches::Temperature, "coolant temperature reads low"),
    ("P0118", Touches::Temperature, "coolant temperature reads high"),
    ("P0119", Touches::Temperature, "coolant temperature comes and goes"),
    ("P0120", Touches::Throttle, "throttle position circuit"),
    ("P0121", Touches::Throttle, "throttle position out of range"),
    ("P0122", Touches::Throttle, "throttle position reads low"),
    ("P0123", Touches::Throttle, "throttle position reads high"),
    ("P0125", Touches::Temperature, "too cold for closed-loop mixture control"),
    ("P0128", Touches::Temperature, "coolant stays under the thermostat's temperature"),
    ("P0130", Touches::Mixture, "oxygen sensor circuit, bank 1"),
    ("P0133", Touches::Mixture, "oxygen sensor slow, bank 1"),
    ("P0171", Touches::Mixture, "too lean, bank 1"),
    ("P0172", Touches::Mixture, "too rich, bank 1"),
    ("P0174", Touches::Mixture, "too lean, bank 2"),
    ("P0175", Touches::Mixture, "too rich, bank 2"),
    ("P0300", Touches::Misfire, "misfire in several cylinders"),
    ("P0335", Touches::Speed, "crankshaft position circuit"),
    ("P0336", Touches::Speed, "crankshaft position out of range"),
    ("P0340", Touches::Speed, "camshaft position circuit"),
    ("P0505", Touches::Idle, "idle control"),
    ("P0506", Touches::Idle, "idle speed lower than wanted"),
    ("P0507", Touches::Idle, "idle speed higher than wanted"),
    ("P0511", Touches::Idle, "idle control circuit"),
    ("P2227", Touches::Pressure, "barometer out of range"),
    ("P2228", Touches::Pressure, "barometer reads low"),
    ("P2229", Touches::Pressure, "barometer reads high"),
];

/// What a code touches and means; `None` for codes that say nothing about an idle recording, or are not known here.
#[must_use]
pub fn meaning(code: &str) -> Option<(Touches, String)> {
    let code = code.trim().to_ascii_uppercase();
    if let Some((_, touches, text)) = TABLE.iter().find(|(c, ..)| *c == code) {
        return Some((*touches, (*text).to_owned()));
    }
    // P0301 to P0312: misfire of one cylinder.
    let cylinder: u32 = code.strip_prefix("P03").filter(|n| n.len() == 2)?.parse().ok()?;
    (1..=12).contains(&cylinder).then(|| (Touches::Misfire, format!("misfire in cylinder {cylinder}")))
}

/// Whether a text has the form of a trouble code: a letter of P, C, B, U, a digit 0 to 3, three hexadecimal digits.
#[must_use]
pub fn well_formed(code: &str) -> bool {
    let b = code.trim().as_bytes();
    b.len() == 5
        && matches!(b[0].to_ascii_uppercase(), b'P' | b'C' | b'B' | b'U')
        && matches!(b[1], b'0'..=b'3')
        && b[2..].iter().all(u8::is_ascii_hexdigit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_about_pressure_throttle_temperature_and_misfire_are_known() {
        assert_eq!(meaning("p0107").map(|m| m.0), Some(Touches::Pressure));
        assert_eq!(meaning("P0122").map(|m| m.0), Some(Touches::Throttle));
        assert_eq!(meaning("P0117").map(|m| m.0), Some(Touches::Temperature));
        assert_eq!(meaning("P0304"), Some((Touches::Misfire, "misfire in cylinder 4".to_owned())));
        assert_eq!(meaning("P0313"), None);
        assert_eq!(meaning("P0420"), None);
    }

    #[test]
    fn the_form_of_a_code() {
        assert!(well_formed("P0107") && well_formed("u3FFF"));
        assert!(
            !well_formed("P4107") && !well_formed("X0107") && !well_formed("P010") && !well_formed("P010G")
        );
    }

    #[test]
    fn the_table_is_sorted_and_well_formed() {
        assert!(TABLE.windows(2).all(|w| w[0].0 < w[1].0));
        assert!(TABLE.iter().all(|(c, ..)| well_formed(c)));
    }
}
