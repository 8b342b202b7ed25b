//! A log as delimited text, in the dialects met in workshops.
//!
//! # Source
//! Pressure units: NIST SP 811 (2008), table B.8 (mmHg, inHg at 0 degrees C, psi, inH2O at 4 degrees C).

use std::fmt::Write as _;

use serde::{Deserialize, Serialize};

use super::log::{Column, Log, Quantity};
use super::logger::Mark;

/// Unit of pressure columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum PressureUnit {
    Kpa,
    Hpa,
    Mbar,
    Mmhg,
    Inhg,
    Cmhg,
    Psi,
    Bar,
    Inh2o,
}

impl PressureUnit {
    /// How many kPa one unit is.
    #[must_use]
    pub fn kpa(self) -> f64 {
        match self {
            Self::Kpa => 1.0,
            Self::Hpa | Self::Mbar => 0.1,
            Self::Mmhg => 0.133_322_4,
            Self::Inhg => 3.386_38,
            Self::Cmhg => 1.333_22,
            Self::Psi => 6.894_757,
            Self::Bar => 100.0,
            Self::Inh2o => 0.249_082,
        }
    }

    /// As written.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Kpa => "kPa",
            Self::Hpa => "hPa",
            Self::Mbar => "mbar",
            Self::Mmhg => "mmHg",
            Self::Inhg => "inHg",
            Self::Cmhg => "cmHg",
            Self::Psi => "psi",
            Self::Bar => "bar",
            Self::Inh2o => "inH2O",
        }
    }
}

/// How columns are named.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HeaderStyle {
    /// `Cyl 1 pressure [kPa]`, `Engine speed [rpm]`.
    Words,
    /// `MAP1 (kPa)`, `RPM`.
    Short,
    /// `p1_kpa`, `rpm`.
    Snake,
    /// `MAP1`, `RPM`: no unit anywhere but in a units row.
    Bare,
}

/// How the time is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TimeStyle {
    /// Seconds.
    Seconds,
    /// Whole milliseconds.
    Milliseconds,
    /// `HH:MM:SS.mmm`, from 00:00:00.000.
    Clock,
}

/// Dialect of the text.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CsvStyle {
    /// Between cells.
    pub delimiter: char,
    /// Decimal comma instead of point (do not combine with a comma as delimiter).
    pub decimal_comma: bool,
    /// Unit of the pressures.
    pub unit: PressureUnit,
    /// Vacuum (barometer minus pressure, positive) instead of absolute pressure.
    pub vacuum: bool,
    /// Decimals of the pressures.
    pub pressure_decimals: usize,
    /// Names of the columns.
    pub header: HeaderStyle,
    /// A second row with the units.
    pub units_row: bool,
    /// Time column.
    pub time: TimeStyle,
    /// Decimals of the time in seconds.
    pub time_decimals: usize,
    /// Lines before the header, written as they are.
    pub preamble: Vec<String>,
    /// What stands in a missing cell.
    pub missing: String,
    /// Carriage return and line feed instead of line feed.
    pub crlf: bool,
}

impl Default for CsvStyle {
    fn default() -> Self {
        Self {
            delimiter: ',',
            decimal_comma: false,
            unit: PressureUnit::Kpa,
            vacuum: false,
            pressure_decimals: 2,
            header: HeaderStyle::Words,
            units_row: false,
            time: TimeStyle::Seconds,
            time_decimals: 3,
            preamble: Vec::new(),
            missing: String::new(),
            crlf: false,
        }
    }
}

impl CsvStyle {
    /// Semicolons and decimal commas.
    #[must_use]
    pub fn semicolon_comma() -> Self {
        Self { delimiter: ';', decimal_comma: true, ..Self::default() }
    }

    /// Pressures in another unit with the decimals given.
    #[must_use]
    pub fn in_unit(self, unit: PressureUnit, decimals: usize) -> Self {
        Self { unit, pressure_decimals: decimals, ..self }
    }

    fn unit_of(&self, quantity: Quantity) -> &'static str {
        match quantity {
            Quantity::Pressure(_) | Quantity::Barometer => self.unit.symbol(),
            Quantity::Speed => "rpm",
            Quantity::Coolant => "°C",
            Quantity::Throttle => "%",
            Quantity::Lambda(_) | Quantity::Mark(_) => "",
        }
    }

    fn name_of(&self, quantity: Quantity) -> String {
        let unit = self.unit_of(quantity);
        let kind = if self.vacuum { "vacuum" } else { "pressure" };
        let short = if self.vacuum { "VAC" } else { "MAP" };
        match self.header {
            HeaderStyle::Words => {
                let name = match quantity {
                    Quantity::Pressure(c) => format!("Cyl {c} {kind}"),
                    Quantity::Speed => "Engine speed".into(),
                    Quantity::Coolant => "Coolant temperature".into(),
                    Quantity::Throttle => "Throttle".into(),
                    Quantity::Lambda(c) => format!("Lambda {c}"),
                    Quantity::Barometer => "Barometer".into(),
                    Quantity::Mark(Mark::Crank) => "Crank mark".into(),
                    Quantity::Mark(Mark::Cam) => "Cam mark".into(),
                };
                if unit.is_empty() { name } else { format!("{name} [{unit}]") }
            }
            HeaderStyle::Short | HeaderStyle::Bare => {
                let name = match quantity {
                    Quantity::Pressure(c) => format!("{short}{c}"),
                    Quantity::Speed => "RPM".into(),
                    Quantity::Coolant => "ECT".into(),
                    Quantity::Throttle => "TPS".into(),
                    Quantity::Lambda(c) => format!("Lambda{c}"),
                    Quantity::Barometer => "BARO".into(),
                    Quantity::Mark(Mark::Crank) => "TDC".into(),
                    Quantity::Mark(Mark::Cam) => "CAM".into(),
                };
                let plain =
                    self.header == HeaderStyle::Bare || unit.is_empty() || quantity == Quantity::Speed;
                if plain { name } else { format!("{name} ({unit})") }
            }
            HeaderStyle::Snake => match quantity {
                Quantity::Pressure(c) => format!("{}{c}_{}", &kind[..1], unit.to_lowercase()),
                Quantity::Speed => "rpm".into(),
                Quantity::Coolant => "coolant_c".into(),
                Quantity::Throttle => "throttle_pct".into(),
                Quantity::Lambda(c) => format!("lambda{c}"),
                Quantity::Barometer => format!("baro_{}", unit.to_lowercase()),
                Quantity::Mark(Mark::Crank) => "crank_mark".into(),
                Quantity::Mark(Mark::Cam) => "cam_mark".into(),
            },
        }
    }

    fn time_name(&self) -> &'static str {
        match (self.header, self.time) {
            (HeaderStyle::Words, TimeStyle::Seconds) => "Time [s]",
            (HeaderStyle::Words, TimeStyle::Milliseconds) => "Time [ms]",
            (HeaderStyle::Short, TimeStyle::Seconds) => "Time (s)",
            (HeaderStyle::Short, TimeStyle::Milliseconds) => "Time (ms)",
            (HeaderStyle::Snake, TimeStyle::Seconds) => "time_s",
            (HeaderStyle::Snake, TimeStyle::Milliseconds) => "time_ms",
            (HeaderStyle::Snake, TimeStyle::Clock) => "time",
            _ => "Time",
        }
    }

    fn time_text(&self, t: f64, out: &mut String) {
        // Writing to a String cannot fail.
        let _ = match self.time {
            TimeStyle::Seconds => write!(out, "{:.*}", self.time_decimals, t),
            TimeStyle::Milliseconds => write!(out, "{:.0}", t * 1e3),
            TimeStyle::Clock => {
                let ms = (t * 1e3).round() as u64;
                let (h, m, s) = (ms / 3_600_000, ms / 60_000 % 60, ms / 1_000 % 60);
                write!(out, "{h:02}:{m:02}:{s:02}.{:03}", ms % 1_000)
            }
        };
    }

    fn cell(&self, column: &Column, row: usize, barometer_kpa: f64, out: &mut String) {
        let value = column.values[row];
        if !value.is_finite() {
            out.push_str(&self.missing);
            return;
        }
        let (shown, decimals) = match column.quantity {
            Quantity::Pressure(_) if self.vacuum => {
                ((barometer_kpa - value) / self.unit.kpa(), self.pressure_decimals)
            }
            Quantity::Pressure(_) | Quantity::Barometer => (value / self.unit.kpa(), self.pressure_decimals),
            _ => (value, column.decimals),
        };
        let from = out.len();
        let _ = write!(out, "{shown:.decimals$}");
        if out[from..].starts_with('-') && !out[from..].contains(|c: char| ('1'..='9').contains(&c)) {
            out.remove(from); // no "-0.00"
        }
    }
}

impl Log {
    /// The log as text in a dialect.
    #[must_use]
    pub fn to_csv(&self, style: &CsvStyle) -> String {
        let end = if style.crlf { "\r\n" } else { "\n" };
        let mut out = String::with_capacity(self.rows() * (self.columns.len() + 1) * 8);
        for line in &style.preamble {
            out.push_str(line);
            out.push_str(end);
        }
        let mut head = |first: &str, cell: &dyn Fn(&Column) -> String| {
            out.push_str(first);
            for column in &self.columns {
                out.push(style.delimiter);
                out.push_str(&cell(column));
            }
            out.push_str(end);
        };
        head(style.time_name(), &|c| style.name_of(c.quantity));
        if style.units_row {
            let time = match style.time {
                TimeStyle::Seconds => "s",
                TimeStyle::Milliseconds => "ms",
                TimeStyle::Clock => "",
            };
            head(time, &|c| style.unit_of(c.quantity).to_owned());
        }
        let mut line = String::new();
        for row in 0..self.rows() {
            line.clear();
            style.time_text(self.time_s[row], &mut line);
            for column in &self.columns {
                line.push('\u{1f}');
                style.cell(column, row, self.barometer_kpa, &mut line);
            }
            for c in line.chars() {
                out.push(match c {
                    '\u{1f}' => style.delimiter,
                    '.' if style.decimal_comma => ',',
                    other => other,
                });
            }
            out.push_str(end);
        }
        out
    }
}
