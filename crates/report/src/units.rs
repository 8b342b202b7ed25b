//! Pressures in the unit of the reader.
//!
//! Results are kPa absolute; a person reads them in the unit and the kind (absolute, vacuum, gauge) of their own
//! recording.

use evenpull_core::analysis::Context;
use evenpull_core::recording::PressureKind;
use evenpull_core::result::Measured;

/// A unit of pressure that pages can show.
pub use evenpull_core::units::PressureUnit as PageUnit;

use crate::digits;

/// How one page shows pressures: unit, kind and the barometer that turns one kind into the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DisplayUnit {
    unit: PageUnit,
    kind: PressureKind,
    barometer_kpa: Option<f64>,
}

impl DisplayUnit {
    /// Unit as asked for, else the recording's own (kPa where that is no pressure unit); kind as logged, absolute
    /// where it is not known.
    #[must_use]
    pub fn choose(asked: Option<PageUnit>, context: &Context, barometer_kpa: Option<f64>) -> Self {
        // Series were made absolute with some barometer; the same one leads back to what was logged.
        let barometer_kpa = barometer_kpa.or(Some(context.assumed_barometer_kpa));
        Self::logged(asked, &context.pressure_unit, context.pressure_kind, barometer_kpa)
    }

    /// The same from the unit and kind as logged, where there is no analysis at hand.
    #[must_use]
    pub fn logged(
        asked: Option<PageUnit>,
        unit: &str,
        kind: Option<PressureKind>,
        barometer_kpa: Option<f64>,
    ) -> Self {
        Self {
            unit: asked.or_else(|| PageUnit::parse(unit)).unwrap_or(PageUnit::Kpa),
            kind: kind.unwrap_or(PressureKind::Absolute),
            barometer_kpa: barometer_kpa.filter(|b| b.is_finite()),
        }
    }

    /// A unit and a kind as they are.
    #[must_use]
    pub fn of(unit: PageUnit, kind: PressureKind) -> Self {
        Self { unit, kind, barometer_kpa: None }
    }

    /// Kilopascals, absolute: what results are stored in.
    #[must_use]
    pub fn kpa() -> Self {
        Self::of(PageUnit::Kpa, PressureKind::Absolute)
    }

    /// Spelling of the unit.
    #[must_use]
    pub fn name(&self) -> &'static str {
        self.unit.name()
    }

    /// Whether pressures are shown as vacuum.
    #[must_use]
    pub fn vacuum(&self) -> bool {
        self.kind == PressureKind::Vacuum
    }

    /// What the axis of a level is called: `vacuum`, `pressure (gauge)`, `pressure (absolute)`.
    #[must_use]
    pub fn level_name(&self) -> &'static str {
        match self.kind {
            PressureKind::Vacuum => "vacuum",
            PressureKind::Gauge => "gauge pressure",
            PressureKind::Absolute => "absolute pressure",
        }
    }

    /// A difference of absolute pressures in this unit; a vacuum difference has the other sign.
    #[must_use]
    pub fn difference(&self, kpa: f64) -> f64 {
        let scaled = self.unit.from_kpa(kpa);
        if self.vacuum() { -scaled } else { scaled }
    }

    /// A width (uncertainty, limit, spread) in this unit: never changes sign.
    #[must_use]
    pub fn width(&self, kpa: f64) -> f64 {
        self.unit.from_kpa(kpa)
    }

    /// An absolute pressure in this unit and kind. Without a barometer it is only scaled.
    #[must_use]
    pub fn level(&self, kpa: f64) -> f64 {
        match (self.kind, self.barometer_kpa) {
            (PressureKind::Vacuum, Some(b)) => self.width(b - kpa),
            (PressureKind::Gauge, Some(b)) => self.width(kpa - b),
            _ => self.width(kpa),
        }
    }

    /// A pressure in the logged kind, in this unit.
    #[must_use]
    pub fn as_logged(&self, kpa: f64) -> f64 {
        self.width(kpa)
    }

    /// Whether a level that falls towards the bottom of a figure has the larger number: vacuum, so that more air is
    /// up in every figure.
    #[must_use]
    pub fn downwards(&self) -> bool {
        self.vacuum()
    }

    /// Decimals that a pressure can mean at most: the first whose step is a hundredth of a kilopascal (a tenth of a
    /// millimetre of mercury) or less. No sensor of the trade is true to less.
    #[must_use]
    pub fn decimals(&self) -> usize {
        (0..6).find(|d| self.unit.to_kpa(10f64.powi(-*d)) <= 0.0135).unwrap_or(6) as usize
    }

    /// `+2.43 ± 0.31` of a deviation.
    pub(crate) fn deviation_text(&self, d: Measured) -> String {
        digits::signed_plus_minus(self.difference(d.value), self.width(d.u), self.decimals())
    }

    /// `+0.013 ± 0.005` of a rate, with one decimal more.
    pub(crate) fn rate_text(&self, d: Measured) -> String {
        digits::signed_plus_minus(self.difference(d.value), self.width(d.u), self.decimals() + 1)
    }

    /// `2.43 ± 0.31` of a width.
    pub(crate) fn width_text(&self, d: Measured) -> String {
        digits::plus_minus(self.width(d.value), self.width(d.u), self.decimals())
    }

    /// `38.21 ± 0.15` of an absolute pressure, in the kind of the page.
    pub(crate) fn level_text(&self, d: Measured) -> String {
        digits::plus_minus(self.level(d.value), self.width(d.u), self.decimals())
    }

    /// A width that is never shown smaller than it is: two significant digits, rounded up at the last decimal that a
    /// pressure can mean.
    pub(crate) fn least_text(&self, kpa: f64) -> String {
        digits::uncertainty(self.width(kpa), self.decimals())
    }

    /// A limit with its unit: `1.3 kPa`.
    pub(crate) fn limit_text(&self, kpa: f64) -> String {
        format!("{} {}", digits::short(self.width(kpa)), self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit(unit: PageUnit, kind: PressureKind) -> DisplayUnit {
        DisplayUnit { unit, kind, barometer_kpa: Some(101.325) }
    }

    // NIST SP 811 (2008), table B.8: 1 inHg (conventional) = 3.386 389 kPa, 1 mmHg = 133.3224 Pa, 1 psi = 6.894 757 kPa.
    #[test]
    fn factors_are_those_of_sp_811() {
        for (name, kpa) in [
            ("mmHg", 0.133_322_4),
            ("inhg", 3.386_389),
            ("psi", 6.894_757),
            ("hPa", 0.1),
            ("CMHG", 1.333_224),
            ("mbar", 0.1),
        ] {
            let u = PageUnit::parse(name).map(|u| unit(u, PressureKind::Absolute).width(kpa));
            assert!(u.is_some_and(|one| (one - 1.0).abs() < 1e-6), "{name}");
        }
        assert_eq!(PageUnit::parse("V"), None);
        let context = crate::demo::build(&crate::demo::Spec::outboard()).context;
        let volts = Context { pressure_unit: "V".to_owned(), ..context };
        assert_eq!(DisplayUnit::choose(None, &volts, None).name(), "kPa");
    }

    #[test]
    fn decimals_stop_at_a_hundredth_of_a_kilopascal() {
        let most = |u| unit(u, PressureKind::Absolute).decimals();
        let units =
            [PageUnit::Kpa, PageUnit::Hpa, PageUnit::Pa, PageUnit::MmHg, PageUnit::InHg, PageUnit::Psi];
        assert_eq!(units.map(most), [2, 1, 0, 1, 3, 3]);
    }

    #[test]
    fn a_vacuum_deviation_has_the_other_sign_and_a_width_has_not() {
        let vacuum = unit(PageUnit::MmHg, PressureKind::Vacuum);
        let d = Measured { value: 2.666_448, u: 0.4 };
        // 2.666 448 kPa more pressure are 20 mmHg less vacuum.
        assert_eq!(vacuum.deviation_text(d), "−20.0 ± 3.0");
        assert_eq!(vacuum.width_text(d), "20.0 ± 3.0");
        assert_eq!(unit(PageUnit::MmHg, PressureKind::Absolute).deviation_text(d), "+20.0 ± 3.0");
        // Standard atmosphere less 40 kPa.
        assert!((vacuum.level(40.0) - 61.325 / 0.133_322_4).abs() < 1e-4);
        assert!((unit(PageUnit::Kpa, PressureKind::Gauge).level(40.0) + 61.325).abs() < 1e-9);
    }
}
