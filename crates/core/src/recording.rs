//! One log file, understood: channels on one time axis.
//!
//! A [`Recording`] is what every reader returns and what the review starts from. Its invariants hold for every
//! reader, whatever the dialect of the file:
//!
//! * `time_s` starts at 0, rises strictly, and is finite;
//! * every channel has exactly one value per time, missing ones are `NaN`;
//! * values are in the base unit of their quantity (kPa, rev/min, deg C, per cent, lambda, s); a pressure is kept
//!   as it was logged (absolute, gauge or vacuum) because the barometer may only be known later.

use serde::Serialize;

use crate::notice::Notice;

/// What a channel measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Pressure in the runner of one cylinder (or in a shared manifold when no cylinder is named), kPa.
    ManifoldPressure,
    /// Engine speed, rev/min.
    EngineSpeed,
    /// Coolant temperature, deg C.
    CoolantTemperature,
    /// Intake air temperature, deg C.
    IntakeTemperature,
    /// Throttle opening, per cent.
    Throttle,
    /// Lambda (1 = stoichiometric, above 1 = lean).
    Lambda,
    /// Fuel trim, per cent (positive adds fuel).
    FuelTrim,
    /// Ambient (barometric) pressure, kPa absolute.
    Barometer,
    /// Exhaust gas temperature, deg C.
    ExhaustTemperature,
    /// A once-per-revolution or once-per-cycle mark.
    CrankMark,
    /// The time axis itself.
    Time,
    /// Not used.
    Ignored,
}

/// What a logged pressure is measured against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PressureKind {
    /// Against vacuum.
    Absolute,
    /// Below ambient, positive downwards.
    Vacuum,
    /// Against ambient, negative below it.
    Gauge,
}

/// One measured quantity on the recording's time axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Column header as it stands in the file, trimmed.
    pub header: String,
    /// What it measures.
    pub quantity: Quantity,
    /// Cylinder, counted from 1; `None` where the channel belongs to no single cylinder.
    pub cylinder: Option<u32>,
    /// The unit as the file has it, in this project's spelling (`kPa`, `mmHg`, `rpm`, `degC`, ...).
    pub unit: String,
    /// For pressures: what it is measured against; `None` when the file does not say.
    pub kind: Option<PressureKind>,
    /// Smallest step seen between different values, in the base unit; `None` when it cannot be told.
    pub resolution: Option<f64>,
    /// How quantity, cylinder, unit and kind were understood, in plain words.
    pub why: String,
    /// One value per time, in the base unit; `NaN` = missing. Empty for ignored and time channels.
    pub values: Vec<f64>,
}

/// A trouble code found in a recording or noted by the person (SAE J1979 services 03, 07, 0A).
#[derive(Debug, Clone, PartialEq, Serialize, serde::Deserialize)]
pub struct TroubleCode {
    /// Five-character code, e.g. `P0107`.
    pub code: String,
    /// `stored`, `pending`, `permanent` or `noted`.
    pub status: String,
    /// When it was read, seconds from the first sample.
    pub time_s: Option<f64>,
    /// What it means, where known.
    pub text: Option<String>,
}

/// Facts that stand before the table of a log file, where the file has such lines.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Preamble {
    /// Machine id.
    pub machine_id: Option<String>,
    /// Date of the recording, ISO 8601 `YYYY-MM-DD`.
    pub date: Option<String>,
    /// Operating hours.
    pub hours: Option<f64>,
    /// Distance, km.
    pub distance_km: Option<f64>,
    /// Barometer, kPa absolute.
    pub barometer_kpa: Option<f64>,
    /// Every key and value as they stand, in file order.
    pub entries: Vec<(String, String)>,
}

/// Container format of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Format {
    /// Delimited text.
    Csv,
    /// Apache Parquet.
    Parquet,
    /// Arrow IPC file.
    Arrow,
    /// CAN frames as candump text.
    Candump,
}

/// Where a recording came from.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// The file's own name, without its folder.
    pub name: String,
    /// SHA-256 of the bytes as they were read, hex.
    pub sha256: String,
    /// Container format.
    pub format: Format,
    /// Data rows used.
    pub rows: usize,
    /// Data rows skipped as damaged.
    pub rows_skipped: usize,
    /// How the text was laid out, in plain words (delimiter, decimal mark, encoding ...), for `inspect`.
    pub layout: Vec<String>,
}

/// One log file, understood. See the module text for the invariants.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// Origin.
    pub source: Source,
    /// Seconds from the first sample, strictly rising. Length = number of rows used.
    pub time_s: Vec<f64>,
    /// Channels in file order, time and ignored columns included (with empty `values`).
    pub channels: Vec<Channel>,
    /// Facts before the table.
    pub preamble: Preamble,
    /// Defects and remarks found while reading.
    pub notices: Vec<Notice>,
    /// Trouble codes found in a CAN recording.
    pub trouble_codes: Vec<TroubleCode>,
    /// Times at which stored codes were cleared (service 04), seconds.
    pub codes_cleared_s: Vec<f64>,
}

impl Recording {
    /// Length of the recording, seconds; 0 when it has fewer than two rows.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        self.time_s.last().copied().unwrap_or(0.0)
    }

    /// First channel of a quantity that belongs to no single cylinder, or to any.
    #[must_use]
    pub fn first(&self, quantity: Quantity) -> Option<&Channel> {
        self.channels.iter().find(|c| c.quantity == quantity)
    }

    /// All channels of a quantity, in file order.
    pub fn all(&self, quantity: Quantity) -> impl Iterator<Item = &Channel> {
        self.channels.iter().filter(move |c| c.quantity == quantity)
    }

    /// Pressure channels that name a cylinder, ordered by cylinder.
    #[must_use]
    pub fn cylinder_pressures(&self) -> Vec<&Channel> {
        let mut found: Vec<&Channel> =
            self.all(Quantity::ManifoldPressure).filter(|c| c.cylinder.is_some()).collect();
        found.sort_by_key(|c| c.cylinder);
        found
    }

    /// Median step between rows as a rate, Hz; `None` with fewer than three rows. Of more than 200,000 rows the steps of 200
    /// stretches spread over them count.
    ///
    /// # Source
    /// Median, so that a gap does not change it.
    #[must_use]
    pub fn sample_rate_hz(&self) -> Option<f64> {
        if self.time_s.len() < 3 {
            return None;
        }
        let mut steps = steps(&self.time_s);
        let mid = steps.len() / 2;
        let (_, step, _) = steps.select_nth_unstable_by(mid, f64::total_cmp);
        (*step > 0.0).then(|| 1.0 / *step)
    }
}

/// Stretches that the steps of a long recording are taken from, and their rows.
const STRETCHES: (usize, usize) = (200, 1000);

/// Steps of the time, s; of long recordings those in stretches spread over them, not every so manieth step: loggers have
/// rhythms.
pub(crate) fn steps(time_s: &[f64]) -> Vec<f64> {
    let (count, rows) = STRETCHES;
    let apart = if time_s.len() <= count * rows { rows } else { time_s.len().div_ceil(count) };
    let part = |from: usize| time_s[from..].windows(2).take(rows).map(|w| w[1] - w[0]);
    (0..time_s.len()).step_by(apart).flat_map(part).collect()
}
