//! From values to pixels, and ticks at round numbers.

use crate::digits;
use crate::error::ReportError;

/// A straight scale: `low` is drawn at pixel `from`, `high` at pixel `to`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Scale {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) from: f64,
    pub(crate) to: f64,
}

/// One tick: value and its label.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tick {
    /// Value.
    pub(crate) value: f64,
    /// Label.
    pub(crate) label: String,
}

impl Scale {
    /// A scale over a finite range with an extent.
    ///
    /// # Errors
    /// [`ReportError::Axis`] where a bound is not finite or the range is empty: such an axis never ends or draws
    /// nothing without a word.
    pub(crate) fn new(
        axis: &'static str,
        (low, high): (f64, f64),
        (from, to): (f64, f64),
    ) -> Result<Self, ReportError> {
        let extent = high - low;
        let fine = low.is_finite() && high.is_finite() && extent.is_finite() && extent > 0.0;
        // Fewer than some thousand representable numbers between the bounds cannot carry ticks.
        let wide = extent > 1e4 * f64::EPSILON * low.abs().max(high.abs());
        if fine && wide {
            Ok(Self { low, high, from, to })
        } else {
            Err(ReportError::Axis { axis, low, high })
        }
    }

    /// Pixel of a value.
    pub(crate) fn px(&self, value: f64) -> f64 {
        self.from + (value - self.low) / (self.high - self.low) * (self.to - self.from)
    }

    /// Whether a value lies on the scale.
    pub(crate) fn holds(&self, value: f64) -> bool {
        value >= self.low && value <= self.high
    }

    /// Round ticks, about one every `pixels`.
    pub(crate) fn ticks(&self, pixels: f64) -> Vec<Tick> {
        self.round_ticks(pixels, digits::fixed)
    }

    /// Ticks of a signed axis: `+2`, `0`, `−2`.
    pub(crate) fn signed_ticks(&self, pixels: f64) -> Vec<Tick> {
        self.round_ticks(pixels, digits::signed)
    }

    fn round_ticks(&self, pixels: f64, label: impl Fn(f64, usize) -> String) -> Vec<Tick> {
        let room = (self.to - self.from).abs();
        let step = round_step((self.high - self.low) * pixels / room);
        let places = (-step.log10().floor()).clamp(0.0, 9.0) as usize;
        // No pressure or speed has seven digits; what has is not worth a wide margin.
        let large = self.low.abs().max(self.high.abs()) >= 1e6;
        self.at_steps(step, |v| if large { format!("{v:.0e}") } else { label(v, places) })
    }

    /// Ticks at multiples of a step.
    pub(crate) fn at_steps(&self, step: f64, label: impl Fn(f64) -> String) -> Vec<Tick> {
        let first = (self.low / step - 1e-9).ceil();
        let last = (self.high / step + 1e-9).floor();
        let count = (last - first).clamp(-1.0, 200.0) as i64;
        (0..=count)
            .map(|i| {
                let value = (first + i as f64) * step;
                Tick { value, label: label(value) }
            })
            .collect()
    }
}

/// The round number (1, 2 or 5 times a power of ten) at or above `raw`.
pub(crate) fn round_step(raw: f64) -> f64 {
    let power = 10f64.powf(raw.log10().floor());
    let lead = raw / power;
    let round = if lead <= 1.0 + 1e-9 {
        1.0
    } else if lead <= 2.0 + 1e-9 {
        2.0
    } else if lead <= 5.0 + 1e-9 {
        5.0
    } else {
        10.0
    };
    round * power
}

/// Lowest and highest of finite values; `None` without one.
pub(crate) fn extent<'a>(values: impl IntoIterator<Item = &'a f64>) -> Option<(f64, f64)> {
    let mut found: Option<(f64, f64)> = None;
    for v in values.into_iter().filter(|v| v.is_finite()) {
        found = Some(found.map_or((*v, *v), |(lo, hi)| (lo.min(*v), hi.max(*v))));
    }
    found
}

/// A range with room on both sides; a range without extent gets `least` in total.
pub(crate) fn widen((low, high): (f64, f64), share: f64, least: f64) -> (f64, f64) {
    let pad = ((high - low) * share).max((least - (high - low)) / 2.0).max(0.0);
    (low - pad, high + pad)
}

/// Step and unit of a time axis: seconds up to five minutes, then minutes, then hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct TimeAxis {
    /// Seconds in one unit of the axis.
    pub(crate) unit_s: f64,
    /// Name of the unit.
    pub(crate) name: &'static str,
    /// Seconds between ticks.
    pub(crate) step_s: f64,
}

/// Chooses the time axis for `seconds` of recording and `ticks` ticks at most.
pub(crate) fn time_axis(seconds: f64, ticks: f64) -> TimeAxis {
    const STEPS: [f64; 22] = [
        0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1200.0, 1800.0,
        3600.0, 7200.0, 10800.0, 14400.0, 21600.0, 43200.0,
    ];
    let raw = seconds / ticks;
    let step_s =
        STEPS.iter().copied().find(|s| *s >= raw).unwrap_or_else(|| round_step(raw / 86400.0) * 86400.0);
    let (unit_s, name) = if seconds <= 300.0 {
        (1.0, "s")
    } else if seconds <= 3.0 * 3600.0 {
        (60.0, "min")
    } else {
        (3600.0, "h")
    };
    TimeAxis { unit_s, name, step_s }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_bound_that_is_not_finite_is_refused() {
        for range in [(f64::NAN, 1.0), (0.0, f64::INFINITY), (f64::NEG_INFINITY, 0.0), (1.0, 1.0), (2.0, 1.0)]
        {
            assert!(
                matches!(Scale::new("test", range, (0.0, 100.0)), Err(ReportError::Axis { .. })),
                "{range:?}"
            );
        }
        assert!(Scale::new("test", (-f64::MAX, f64::MAX), (0.0, 100.0)).is_err());
        assert!(Scale::new("test", (1e300, 1e300 + 1e284), (0.0, 100.0)).is_err());
    }

    #[test]
    fn ticks_are_round_and_inside() {
        let scale = Scale::new("test", (-0.7, 3.3), (0.0, 400.0)).unwrap();
        let labels: Vec<String> = scale.signed_ticks(80.0).into_iter().map(|t| t.label).collect();
        assert_eq!(labels, ["0", "+1", "+2", "+3"]);
        let fine = Scale::new("test", (0.0, 0.1), (0.0, 400.0)).unwrap();
        assert_eq!(fine.ticks(80.0)[1].label, "0.02");
        assert!((scale.px(3.3) - 400.0).abs() < 1e-9);
    }

    #[test]
    fn every_length_of_recording_has_ticks() {
        for seconds in [5.0, 42.0, 372.0, 3600.0, 8.0 * 3600.0, 40.0 * 86400.0] {
            let axis = time_axis(seconds, 8.0);
            let n = seconds / axis.step_s;
            assert!((1.5..=8.01).contains(&n), "{seconds}: {n}");
        }
    }
}
