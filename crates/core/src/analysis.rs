//! What one review hands on: the result for scripts and the series that figures draw.

use crate::recording::PressureKind;
use crate::result::Review;

/// The result of one recording with everything a figure needs; figures compute nothing of their own.
#[derive(Debug, Clone, PartialEq)]
pub struct Analysis {
    /// The result, as written to disk.
    pub review: Review,
    /// Facts of the review that pages need and scripts do not.
    pub context: Context,
    /// Time series for the trace figures.
    pub traces: Traces,
    /// Averaged pulse per cylinder, where the sampling carries one.
    pub pulses: Vec<AveragedPulse>,
}

/// Unit and words for the page.
#[derive(Debug, Clone, PartialEq)]
pub struct Context {
    /// Unit of the pressure columns in this project's spelling; the page shows pressures in it by default.
    pub pressure_unit: String,
    /// Absolute or vacuum as logged; `None` when not known.
    pub pressure_kind: Option<PressureKind>,
    /// Barometer with which vacuum and gauge readings were made absolute, kPa; the standard one where nothing tells it, so that
    /// series can be shown as they were logged.
    pub assumed_barometer_kpa: f64,
    /// Standard uncertainty that a gain error of the sensors may add to a difference, kPa; in the verdict, not in U.
    pub gain_allowance_kpa: f64,
    /// What a plain column mean of the whole recording would have shown, kPa in the logged kind, cylinder order.
    pub display_mean_kpa: Vec<Option<f64>>,
    /// Each pair of cylinders: difference with U (JCGM 100), kPa; first minus second.
    pub pairs: Vec<PairDifference>,
    /// Lines for "how the numbers were made", finished sentences with sources.
    pub method: Vec<String>,
    /// Settings that differ from their defaults or matter here, as name, value, reason.
    pub settings: Vec<(String, String, String)>,
}

/// Difference between two cylinders.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairDifference {
    /// First cylinder.
    pub first: u32,
    /// Second cylinder.
    pub second: u32,
    /// First minus second, kPa.
    pub difference_kpa: f64,
    /// Standard uncertainty, kPa, without the gain allowance.
    pub u_kpa: f64,
}

/// Series on the recording's time axis.
///
/// # Shape
/// `time_s`, `rpm` and each pressure have the same length; missing values are `NaN`. Of a recording of more than 200,000 rows
/// the lowest and the highest pressure of each short stretch are kept, at two moments of it, and the means of speed and coolant
/// over its halves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Traces {
    /// Seconds.
    pub time_s: Vec<f64>,
    /// Engine speed, rev/min; empty when not logged.
    pub rpm: Vec<f64>,
    /// Coolant, deg C; empty when not logged.
    pub coolant_c: Vec<f64>,
    /// Raw pressure of each cylinder, kPa absolute where the kind and barometer are known, else as logged.
    pub pressure_kpa: Vec<(u32, Vec<f64>)>,
    /// Pulse-free level of each cylinder on a coarse axis of its own.
    pub level_time_s: Vec<f64>,
    /// Level of each cylinder, kPa, same length as `level_time_s`; `NaN` where nothing could be averaged.
    pub level_kpa: Vec<(u32, Vec<f64>)>,
}

/// Ensemble mean of one cylinder's pressure by crank phase.
///
/// # Shape
/// All vectors have one value per phase bin, phases in degrees of the engine cycle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AveragedPulse {
    /// Cylinder.
    pub cylinder: u32,
    /// Bin centres, degrees of the cycle (0 to 720 for a four-stroke), common to all cylinders.
    pub phase_deg: Vec<f64>,
    /// Ensemble mean, kPa.
    pub mean_kpa: Vec<f64>,
    /// Standard deviation from cycle to cycle, kPa.
    pub sd_kpa: Vec<f64>,
    /// Phases of the straight (choked) part that gave the refill rate, if any.
    pub refill_deg: Option<(f64, f64)>,
    /// Refill rate, kPa/s.
    pub refill_kpa_per_s: Option<f64>,
    /// Cycles averaged.
    pub cycles: u64,
    /// Cycles left out.
    pub rejected: u64,
}
