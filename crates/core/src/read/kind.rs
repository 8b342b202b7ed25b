//! What a pressure is measured against and in which unit, where the data leave no doubt.
//!
//! With the engine standing a sensor shows the barometer (absolute) or nothing (vacuum, gauge). A vacuum cannot
//! exceed the barometer, an absolute pressure cannot be negative. Nothing else is used here: the shape of the
//! pulse or a blip of the throttle may tell more, and that is left to the review.

use super::unit_words::Unit;
use crate::recording::PressureKind;
use crate::units::PressureUnit;

/// Barometers on land, kPa, with room for sensor errors.
const BAROMETER_KPA: std::ops::Range<f64> = 72.0..110.0;
/// Speed under which an engine stands, rev/min.
const STANDING_RPM: f64 = 60.0;

/// What a group of pressure columns shows, in the unit of its figures.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Levels {
    /// Median with the engine standing.
    pub(crate) standing: Option<f64>,
    /// Median with the engine running (of all rows without a speed).
    pub(crate) running: Option<f64>,
    /// Nearly the lowest and highest value.
    pub(crate) low: f64,
    pub(crate) high: f64,
}

/// Levels of one column.
pub(crate) fn levels(values: &[f64], rpm: Option<&[f64]>) -> Option<Levels> {
    let stands = |at: usize| rpm.and_then(|r| r.get(at)).is_some_and(|r| *r < STANDING_RPM);
    let stride = (values.len() / 20_000).max(1);
    let standing: Vec<f64> = match rpm {
        Some(_) => (0..values.len())
            .filter(|at| stands(*at))
            .map(|at| values[at])
            .filter(|v| v.is_finite())
            .collect(),
        None => Vec::new(),
    };
    let running = (0..values.len()).step_by(stride).filter(|at| !stands(*at)).map(|at| values[at]);
    let mut running: Vec<f64> = running.filter(|v| v.is_finite()).collect();
    running.sort_unstable_by(f64::total_cmp);
    let quantile = |q: f64| running.get(((running.len().max(1) - 1) as f64 * q).round() as usize).copied();
    Some(Levels {
        standing: if standing.len() >= 3 { median(standing) } else { None },
        running: quantile(0.5),
        low: quantile(0.005)?,
        high: quantile(0.995)?,
    })
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// Decides the kind from levels in kPa, with the reason; `Err` holds why it cannot be told.
pub(crate) fn decide(levels: Levels) -> Result<(PressureKind, String), String> {
    if let Some(standing) = levels.standing {
        if BAROMETER_KPA.contains(&standing) {
            return Ok((
                PressureKind::Absolute,
                format!("absolute: {standing:.1} kPa with the engine standing"),
            ));
        }
        if standing.abs() < 6.0 {
            let running = levels.running.unwrap_or(0.0);
            if running > standing + 8.0 {
                return Ok((
                    PressureKind::Vacuum,
                    "vacuum: nothing with the engine standing, more when it runs".to_owned(),
                ));
            }
            if running < standing - 8.0 {
                return Ok((
                    PressureKind::Gauge,
                    "gauge: nothing with the engine standing, negative when it runs".to_owned(),
                ));
            }
        }
    }
    if levels.high < -3.0 || (levels.low < -8.0 && levels.high < 8.0) {
        return Ok((PressureKind::Gauge, "gauge: its values are negative".to_owned()));
    }
    if levels.high > 103.0 && levels.low >= 0.0 && levels.running.is_some_and(|r| r < 98.0) {
        return Ok((PressureKind::Absolute, "absolute: it goes higher than a vacuum can".to_owned()));
    }
    Err("nothing says whether it is absolute or vacuum: neither the header nor rows with the engine standing"
        .to_owned())
}

/// The unit of a pressure that names none, from levels in its own figures; `Err` names the candidates.
pub(crate) fn unit(levels: Levels) -> Result<(PressureUnit, bool, String), String> {
    const COMMON: [PressureUnit; 7] = [
        PressureUnit::Kpa,
        PressureUnit::Hpa,
        PressureUnit::MmHg,
        PressureUnit::InHg,
        PressureUnit::Psi,
        PressureUnit::Bar,
        PressureUnit::Pa,
    ];
    if let Some(standing) = levels.standing {
        let found = COMMON.iter().find(|unit| (85.0..106.0).contains(&unit.to_kpa(standing)));
        if let Some(unit) = found {
            return Ok((
                *unit,
                false,
                format!("{unit}: its value with the engine standing is then the barometer"),
            ));
        }
    }
    let high = levels.high.abs().max(levels.low.abs());
    match high {
        h if h > 12_000.0 && h < 120_000.0 => {
            Ok((PressureUnit::Pa, false, "Pa by the size of its figures".to_owned()))
        }
        h if h > 800.0 && h < 1150.0 => {
            Ok((PressureUnit::Hpa, true, "hPa by the size of its figures".to_owned()))
        }
        h if h > 35.0 && h < 115.0 => {
            Ok((PressureUnit::Kpa, true, "kPa by the size of its figures".to_owned()))
        }
        h if h > 0.15 && h < 1.15 => {
            Ok((PressureUnit::Bar, true, "bar by the size of its figures".to_owned()))
        }
        h if h > 115.0 && h <= 800.0 => Err("hPa or mmHg".to_owned()),
        h if h > 1.15 && h <= 35.0 => Err("kPa, inHg or psi".to_owned()),
        _ => Err("none that a runner could have".to_owned()),
    }
}

/// The unit of a barometer that names none: its size is that of the air we live in.
pub(crate) fn barometer_unit(value: f64) -> Option<PressureUnit> {
    [
        PressureUnit::Kpa,
        PressureUnit::Hpa,
        PressureUnit::MmHg,
        PressureUnit::InHg,
        PressureUnit::Psi,
        PressureUnit::Bar,
        PressureUnit::Pa,
    ]
    .into_iter()
    .find(|unit| (85.0..106.0).contains(&unit.to_kpa(value)))
}

/// Levels in another unit.
pub(crate) fn in_base(levels: Levels, unit: Unit) -> Levels {
    let base = |v: f64| unit.to_base(v);
    Levels {
        standing: levels.standing.map(base),
        running: levels.running.map(base),
        low: base(levels.low),
        high: base(levels.high),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(standing: f64, running: std::ops::Range<i32>) -> (Vec<f64>, Vec<f64>) {
        let mut values = vec![standing; 10];
        values.extend(running.clone().map(f64::from));
        let mut rpm = vec![0.0; 10];
        rpm.resize(values.len(), 1100.0);
        (values, rpm)
    }

    #[test]
    fn a_standing_engine_tells_the_kind() {
        // With the engine standing an absolute sensor shows the barometer, the others nothing.
        for (standing, running, kind) in [
            (100.4, 20..70, PressureKind::Absolute),
            (0.3, 40..80, PressureKind::Vacuum),
            (-0.3, -80..-40, PressureKind::Gauge),
        ] {
            let (values, rpm) = column(standing, running);
            let found = levels(&values, Some(&rpm)).map(decide);
            assert!(matches!(&found, Some(Ok((k, _))) if *k == kind), "{found:?}");
        }
    }

    #[test]
    fn without_a_sign_nothing_is_guessed() {
        let (values, _) = column(40.0, 20..70);
        assert!(levels(&values, None).is_some_and(|l| decide(l).is_err()));
    }

    #[test]
    fn a_unit_follows_from_the_standing_engine_or_not_at_all() {
        let (values, rpm) = column(760.0, 300..500);
        let found = levels(&values, Some(&rpm)).map(unit);
        assert!(matches!(found, Some(Ok((PressureUnit::MmHg, false, _)))), "{found:?}");
        let found = levels(&values[10..], None).map(unit);
        assert_eq!(found, Some(Err("hPa or mmHg".to_owned())));
    }
}
