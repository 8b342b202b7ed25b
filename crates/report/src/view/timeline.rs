//! What the adjusting figure needs: each cylinder as found, after every turn, as left.

use evenpull_core::Analysis;
use evenpull_core::result::{GroupReference, Measured, Reference, Regime};
use evenpull_core::stats::{moments, robust};

use crate::digits;
use crate::figure::deviations::band_place;
use crate::figure::marks::cylinder_label;
use crate::figure::timeline::{Course, Timeline};
use crate::texts::{labels, page};
use crate::units::DisplayUnit;
use crate::view::figures::{self, MOST};

/// Turns that the adjusting figure can hold.
const MOST_TURNS: usize = 24;

/// Adjusting step by step; `None` without turns or without a state as found.
pub(crate) fn timeline(analysis: &Analysis, unit: &DisplayUnit) -> Option<Timeline> {
    let r = &analysis.review;
    let found = r.as_found.as_ref()?;
    let turns: Vec<_> =
        r.adjustments.iter().filter(|a| a.time_s.is_finite() && a.step_kpa.value.is_finite()).collect();
    if turns.is_empty() || turns.len() > MOST_TURNS {
        return None;
    }
    let mut columns = vec![("as found".to_owned(), digits::clock(found.start_s))];
    columns.extend(turns.iter().map(|a| (cylinder_label(a.cylinder), digits::clock(a.time_s))));
    let left = r.regimes.iter().find(|s| s.regime == Regime::Idle);
    columns.push(("as left".to_owned(), left.map_or_else(String::new, |s| digits::clock(s.start_s))));
    let measured = |m: Option<Measured>| {
        let m = m.filter(|m| m.value.is_finite() && m.u.is_finite())?;
        Some((unit.difference(m.value), Some(unit.width(m.u))))
    };
    let starts: Vec<Option<Measured>> = r
        .cylinders
        .iter()
        .take(MOST)
        .map(|c| found.cylinders.iter().find(|x| x.cylinder == c.cylinder).and_then(|x| x.deviation_kpa))
        .collect();
    let numbers: Vec<u32> = r.cylinders.iter().take(MOST).map(|c| c.cylinder).collect();
    let mut courses: Vec<Course> = numbers
        .iter()
        .zip(&starts)
        .map(|(cylinder, start)| Course { cylinder: *cylinder, values: vec![measured(*start)] })
        .collect();
    let mut here: Vec<f64> = starts.iter().map(|s| s.map_or(f64::NAN, |m| m.value)).collect();
    for turn in &turns {
        if let Some(i) = numbers.iter().position(|n| *n == turn.cylinder) {
            here[i] += turn.step_kpa.value;
        }
        // The turn also moved what deviations are counted from.
        let from = reference(&here, &numbers, &r.machine.reference).unwrap_or(0.0);
        here.iter_mut().for_each(|v| *v -= from);
        for (course, v) in courses.iter_mut().zip(&here) {
            course.values.push(v.is_finite().then(|| (unit.difference(*v), None)));
        }
    }
    for (course, c) in courses.iter_mut().zip(&r.cylinders) {
        course.values.push(measured(c.deviation_kpa));
    }
    let band = figures::deviations(analysis, unit).and_then(|d| band_place(&d));
    Some(Timeline {
        columns,
        courses,
        band,
        title: page::deviation_axis(unit, &labels::reference(&r.machine.reference)),
        reversed: unit.downwards(),
    })
}

/// Alt text of the adjusting figure.
pub(crate) fn timeline_alt(analysis: &Analysis, unit: &DisplayUnit, data: &Timeline) -> String {
    let spread = |m: Option<Measured>| m.map_or_else(|| "unknown".to_owned(), |m| unit.width_text(m));
    format!(
        "Deviation of each cylinder as found, after each of {} turns, and as left. Spread as found {}, as left {} {}.",
        data.columns.len().saturating_sub(2),
        spread(analysis.review.as_found.as_ref().and_then(|s| s.spread_kpa)),
        spread(analysis.review.spread_kpa),
        unit.name()
    )
}

/// What deviations are counted from, among values against an earlier reference.
fn reference(values: &[f64], numbers: &[u32], reference: &Reference) -> Option<f64> {
    let finite: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    match reference {
        Reference::Cylinder(c) => {
            numbers.iter().position(|n| n == c).map(|i| values[i]).filter(|v| v.is_finite())
        }
        Reference::Group(GroupReference::Median) => robust::median(&finite),
        Reference::Group(GroupReference::Mean) => moments::mean(&finite),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::demo::{Spec, build};
    use evenpull_core::result::Adjustment;

    /// By hand: as found 0, -2, 3, 1 against the median (0.5 taken off: -0.5, -2.5, 2.5, 0.5). Cylinder 2 is opened
    /// by 2: -0.5, -0.5, 2.5, 0.5, whose median is 0. Cylinder 3 is closed by 3: -0.5, -0.5, -0.5, 0.5, median -0.5,
    /// so 0, 0, 0, 1. Adding the steps without looking at the median again would leave -0.5 for three of them.
    #[test]
    fn the_reference_moves_with_the_turns() {
        let mut a = build(&Spec { adjusted: true, ..Spec::as_left() });
        let found = a.review.as_found.as_mut().unwrap();
        for (c, v) in found.cylinders.iter_mut().zip([-0.5, -2.5, 2.5, 0.5]) {
            c.deviation_kpa = Some(Measured { value: v, u: 0.1 });
        }
        let turn =
            |time_s, cylinder, value| Adjustment { time_s, cylinder, step_kpa: Measured { value, u: 0.1 } };
        a.review.adjustments = vec![turn(100.0, 2, 2.0), turn(120.0, 3, -3.0)];
        let data = timeline(&a, &DisplayUnit::choose(None, &a.context, None)).unwrap();
        let column = |i: usize| data.courses.iter().map(|c| c.values[i].unwrap().0).collect::<Vec<_>>();
        assert_eq!(column(1), [-0.5, -0.5, 2.5, 0.5]);
        assert_eq!(column(2), [0.0, 0.0, 0.0, 1.0]);
    }
}
