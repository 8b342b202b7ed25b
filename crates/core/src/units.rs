//! Pressure units, the standard atmosphere, and what a logged pressure is measured against.
//!
//! Every factor is exact by definition: standard gravity 9.80665 m/s2, conventional mercury 13 595.1 kg/m3,
//! conventional water 1000 kg/m3, inch 0.0254 m, pound 0.45359237 kg.
//!
//! Source: NIST SP 811 (2008), appendix B.8, and its footnote on mercury and water columns; ISO 2533:1975 for the
//! standard atmosphere.

use serde::{Deserialize, Serialize};

use crate::recording::PressureKind;

/// Standard gravity, m/s2.
const GRAVITY: f64 = 9.80665;
/// Conventional mercury, kg/m3.
const MERCURY: f64 = 13_595.1;
/// Millimetre of mercury, kPa.
const MMHG_KPA: f64 = MERCURY * GRAVITY * 1e-6;
/// Standard atmosphere, kPa.
const ATMOSPHERE_KPA: f64 = 101.325;

/// A unit of pressure found in logs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum PressureUnit {
    /// Kilopascal.
    #[serde(rename = "kPa")]
    Kpa,
    /// Hectopascal.
    #[serde(rename = "hPa")]
    Hpa,
    /// Millibar, the same size as a hectopascal.
    #[serde(rename = "mbar")]
    Mbar,
    /// Pascal.
    #[serde(rename = "Pa")]
    Pa,
    /// Bar.
    #[serde(rename = "bar")]
    Bar,
    /// Conventional millimetre of mercury.
    #[serde(rename = "mmHg")]
    MmHg,
    /// Torr, 1/760 of an atmosphere (not quite a millimetre of mercury).
    #[serde(rename = "Torr")]
    Torr,
    /// Conventional inch of mercury.
    #[serde(rename = "inHg")]
    InHg,
    /// Conventional centimetre of mercury.
    #[serde(rename = "cmHg")]
    CmHg,
    /// Pound-force per square inch.
    #[serde(rename = "psi")]
    Psi,
    /// Conventional inch of water.
    #[serde(rename = "inH2O")]
    InH2o,
    /// Conventional millimetre of water.
    #[serde(rename = "mmH2O")]
    MmH2o,
    /// Kilogram-force per square centimetre (technical atmosphere).
    #[serde(rename = "kgf/cm2")]
    KgfPerCm2,
    /// Standard atmosphere.
    #[serde(rename = "atm")]
    Atm,
}

/// Accepted spellings after [`fold`], longest family first.
const SPELLINGS: &[(PressureUnit, &[&str])] = &[
    (PressureUnit::Kpa, &["kpa", "kilopascal", "kilopascals", "chilopascal", "kn/m2"]),
    (PressureUnit::Hpa, &["hpa", "hectopascal", "hectopascals", "hektopascal", "ettopascal"]),
    (PressureUnit::Mbar, &["mbar", "mbars", "millibar", "millibars", "milibar", "milibares", "mb"]),
    (PressureUnit::Pa, &["pa", "pascal", "pascals", "n/m2"]),
    (PressureUnit::Bar, &["bar", "bars"]),
    (
        PressureUnit::MmHg,
        &[
            "mmhg",
            "mm/hg",
            "mmqs",
            "mmofhg",
            "mmofmercury",
            "mmmercury",
            "millimetersofmercury",
            "millimetresofmercury",
            "mmquecksilber",
            "mmdehg",
            "mmdemercure",
            "mmdemercurio",
            "mmdimercurio",
        ],
    ),
    (PressureUnit::Torr, &["torr", "torrs"]),
    (
        PressureUnit::InHg,
        &[
            "inhg",
            "in/hg",
            "inshg",
            "inchhg",
            "incheshg",
            "inofhg",
            "inchesofhg",
            "inchofmercury",
            "inchesofmercury",
            "inmercury",
            "\"hg",
            "''hg",
            "zollhg",
            "pouceshg",
            "poucehg",
            "pulghg",
            "pulgadashg",
            "pollicihg",
        ],
    ),
    (PressureUnit::CmHg, &["cmhg", "cm/hg", "cmofhg", "cmofmercury", "cmqs", "cmdemercure"]),
    (PressureUnit::Psi, &["psi", "lbf/in2", "lb/in2", "lbs/in2", "lbf/sqin", "lb/sqin", "lbin2"]),
    (
        PressureUnit::InH2o,
        &[
            "inh2o",
            "inchh2o",
            "inchesh2o",
            "inwc",
            "iwc",
            "inwg",
            "inaq",
            "\"h2o",
            "''h2o",
            "inchesofwater",
            "inofwater",
        ],
    ),
    (PressureUnit::MmH2o, &["mmh2o", "mmws", "mmwc", "mmwg", "mmca", "mmce", "mmaq", "mmofwater"]),
    (PressureUnit::KgfPerCm2, &["kgf/cm2", "kg/cm2", "kp/cm2", "kgfcm2", "kgcm2", "at"]),
    (PressureUnit::Atm, &["atm", "atmosphere", "atmospheres"]),
];

/// Endings that say what a unit is measured against, after [`fold`].
const KIND_ENDINGS: &[(&str, PressureKind)] = &[
    ("absolute", PressureKind::Absolute),
    ("absolut", PressureKind::Absolute),
    ("absolu", PressureKind::Absolute),
    ("abs", PressureKind::Absolute),
    ("(a)", PressureKind::Absolute),
    ("gauge", PressureKind::Gauge),
    ("gage", PressureKind::Gauge),
    ("rel", PressureKind::Gauge),
    ("(g)", PressureKind::Gauge),
    ("vacuum", PressureKind::Vacuum),
    ("vac", PressureKind::Vacuum),
    ("(v)", PressureKind::Vacuum),
    ("a", PressureKind::Absolute),
    ("g", PressureKind::Gauge),
    ("v", PressureKind::Vacuum),
];

/// Lower case without blanks, full stops and underscores; superscripts, subscripts and inch marks in plain form.
fn fold(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for ch in text.trim().chars().flat_map(char::to_lowercase) {
        match ch {
            ' ' | '\t' | '.' | '_' | '\u{a0}' | '\u{202f}' | '-' | '^' => {}
            '\u{b2}' | '\u{2082}' => out.push('2'),
            '\u{201c}' | '\u{201d}' | '\u{2033}' => out.push('"'),
            '\u{2019}' | '\u{2032}' => out.push('\''),
            other => out.push(other),
        }
    }
    out
}

impl PressureUnit {
    /// Every unit, in the order of the documentation.
    pub const ALL: [Self; 14] = [
        Self::Kpa,
        Self::Hpa,
        Self::Mbar,
        Self::Pa,
        Self::Bar,
        Self::MmHg,
        Self::Torr,
        Self::InHg,
        Self::CmHg,
        Self::Psi,
        Self::InH2o,
        Self::MmH2o,
        Self::KgfPerCm2,
        Self::Atm,
    ];

    /// Size of one unit, kPa.
    ///
    /// # Source
    /// NIST SP 811 (2008), appendix B.8; definitions in the module text.
    #[must_use]
    pub const fn kpa(self) -> f64 {
        match self {
            Self::Kpa => 1.0,
            Self::Hpa | Self::Mbar => 0.1,
            Self::Pa => 1e-3,
            Self::Bar => 100.0,
            Self::MmHg => MMHG_KPA,
            Self::Torr => ATMOSPHERE_KPA / 760.0,
            Self::InHg => 25.4 * MMHG_KPA,
            Self::CmHg => 10.0 * MMHG_KPA,
            Self::Psi => 0.453_592_37 * GRAVITY / (0.0254 * 0.0254) * 1e-3,
            Self::InH2o => 0.0254 * GRAVITY,
            Self::MmH2o => GRAVITY * 1e-3,
            Self::KgfPerCm2 => 98.066_5,
            Self::Atm => ATMOSPHERE_KPA,
        }
    }

    /// A value in this unit as kPa.
    #[must_use]
    #[inline]
    pub fn to_kpa(self, value: f64) -> f64 {
        match self {
            // Dividing keeps decimal figures (350.1 hPa) nearest to what was logged.
            Self::Hpa | Self::Mbar => value / 10.0,
            Self::Pa => value / 1000.0,
            _ => value * self.kpa(),
        }
    }

    /// A value in kPa as this unit.
    #[must_use]
    pub fn from_kpa(self, kpa: f64) -> f64 {
        match self {
            Self::Hpa | Self::Mbar => kpa * 10.0,
            Self::Pa => kpa * 1000.0,
            _ => kpa / self.kpa(),
        }
    }

    /// This project's spelling.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Kpa => "kPa",
            Self::Hpa => "hPa",
            Self::Mbar => "mbar",
            Self::Pa => "Pa",
            Self::Bar => "bar",
            Self::MmHg => "mmHg",
            Self::Torr => "Torr",
            Self::InHg => "inHg",
            Self::CmHg => "cmHg",
            Self::Psi => "psi",
            Self::InH2o => "inH2O",
            Self::MmH2o => "mmH2O",
            Self::KgfPerCm2 => "kgf/cm2",
            Self::Atm => "atm",
        }
    }

    /// Decimals that show a hundredth of a kilopascal and no more than a figure can mean.
    #[must_use]
    pub const fn decimals(self) -> usize {
        match self {
            Self::Pa | Self::MmH2o => 0,
            Self::Hpa | Self::Mbar | Self::MmHg | Self::Torr | Self::InH2o => 1,
            Self::Kpa | Self::CmHg | Self::InHg => 2,
            Self::Psi => 3,
            Self::Bar | Self::KgfPerCm2 | Self::Atm => 4,
        }
    }

    /// The unit of a spelling such as `kPa`, `mm Hg`, `in. Hg`, `"Hg`, `lbf/in²`; `None` when it is not a pressure.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::of_folded(&fold(text))
    }

    /// Like [`PressureUnit::parse`], for units that say what they are measured against: `psia`, `bar(g)`,
    /// `kPa abs`, `inHg vac`.
    #[must_use]
    pub fn parse_with_kind(text: &str) -> Option<(Self, Option<PressureKind>)> {
        let folded = fold(text);
        if let Some(unit) = Self::of_folded(&folded) {
            return Some((unit, None));
        }
        KIND_ENDINGS.iter().find_map(|(ending, kind)| {
            let stem = folded.strip_suffix(ending)?;
            let stem = stem.trim_end_matches(['(', '[', ',', ';', '/']);
            Some((Self::of_folded(stem)?, Some(*kind)))
        })
    }

    fn of_folded(folded: &str) -> Option<Self> {
        SPELLINGS.iter().find(|(_, names)| names.contains(&folded)).map(|(unit, _)| *unit)
    }
}

impl std::fmt::Display for PressureUnit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

/// Pressure of the standard atmosphere at a geometric altitude, kPa absolute.
///
/// # Units
/// `altitude_m` in m above mean sea level; sensible from -2000 m to 11 000 m (held at these bounds), `NaN` stays `NaN`.
///
/// # Source
/// ISO 2533:1975, the same as U.S. Standard Atmosphere 1976, equations 18 and 33a:
/// p = 101.325 ((288.15 - 0.0065 H)/288.15)^5.255876 with H = r z / (r + z), r = 6 356 766 m.
#[must_use]
pub fn standard_atmosphere_kpa(altitude_m: f64) -> f64 {
    const RADIUS_M: f64 = 6_356_766.0;
    const EXPONENT: f64 = 9.80665 * 28.9644 / (8314.32 * 0.0065);
    let z = altitude_m.clamp(-2000.0, 11_000.0);
    let h = RADIUS_M * z / (RADIUS_M + z);
    ATMOSPHERE_KPA * ((288.15 - 0.0065 * h) / 288.15).powf(EXPONENT)
}

/// A pressure as logged, made absolute.
///
/// # Units
/// Both in kPa; `barometer_kpa` is the station pressure, not one reduced to sea level.
///
/// # Source
/// absolute = barometer + gauge, vacuum = -gauge.
#[must_use]
pub fn to_absolute_kpa(kind: PressureKind, logged_kpa: f64, barometer_kpa: f64) -> f64 {
    match kind {
        PressureKind::Absolute => logged_kpa,
        PressureKind::Gauge => barometer_kpa + logged_kpa,
        PressureKind::Vacuum => barometer_kpa - logged_kpa,
    }
}

/// An absolute pressure as a logger of this kind would show it; the inverse of [`to_absolute_kpa`].
#[must_use]
pub fn from_absolute_kpa(kind: PressureKind, absolute_kpa: f64, barometer_kpa: f64) -> f64 {
    match kind {
        PressureKind::Absolute => absolute_kpa,
        PressureKind::Gauge => absolute_kpa - barometer_kpa,
        PressureKind::Vacuum => barometer_kpa - absolute_kpa,
    }
}

#[cfg(test)]
#[path = "units_tests.rs"]
mod tests;
