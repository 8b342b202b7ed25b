//! The set of columns as a whole: cylinder numbers, units and kinds that one header alone does not settle.

use super::error::plain;
use super::kind;
use super::notes::Notes;
use super::numbering::cylinders;
use super::plan::Plan;
use super::pressures::{NAME_IT, leave_out, pressures, same_kind};
use super::table::Table;
use super::unit_words::Unit;
use crate::codes;
use crate::recording::{PressureKind, Quantity};

/// Settles all columns; values are still as logged.
pub(crate) fn settle(table: &mut Table, notes: &mut Notes) {
    for quantity in [Quantity::ManifoldPressure, Quantity::Lambda, Quantity::ExhaustTemperature] {
        cylinders(&mut table.plans, quantity, notes);
    }
    one_throttle(&mut table.plans);
    one_speed(&mut table.plans, notes);
    let rpm = engine_speed(table);
    let speed = rpm.as_ref().map(|(_, values)| values.as_slice());
    barometer(table, notes);
    other_units(table, notes);
    pressures(table, speed, notes);
    if let Some((Some(at), values)) = rpm {
        table.values[at] = values;
    }
    same_kind(&mut table.plans);
}

/// Engine speed in rev/min, for the question whether the engine stands. Where the column says it as it is, it is lent and
/// its place told.
fn engine_speed(table: &mut Table) -> Option<(Option<usize>, Vec<f64>)> {
    let at = table.plans.iter().position(|p| p.quantity == Some(Quantity::EngineSpeed))?;
    let unit = table.plans[at].unit.unwrap_or(Unit::Turning(1.0));
    if unit == Unit::Turning(1.0) && table.values[at].iter().all(|v| v.is_finite()) {
        return Some((Some(at), std::mem::take(&mut table.values[at])));
    }
    let mut last = f64::NAN;
    // In a sparse column the last known speed counts.
    let held = table.values[at].iter().map(|v| {
        last = if v.is_finite() { *v } else { last };
        unit.to_base(last)
    });
    Some((None, held.collect()))
}

/// Of several throttle columns without a cylinder the plainest name is used.
fn one_throttle(plans: &mut [Plan]) {
    let members: Vec<usize> =
        (0..plans.len()).filter(|at| plans[*at].quantity == Some(Quantity::Throttle)).collect();
    let ruled = members.iter().copied().find(|at| plans[*at].ruled);
    let Some(best) = ruled.or_else(|| members.iter().copied().min_by_key(|at| plans[*at].header.words.len()))
    else {
        return;
    };
    for at in members.into_iter().filter(|at| *at != best) {
        plans[at].quantity = Some(Quantity::Ignored);
        plans[at].why.push("another throttle column is used".to_owned());
    }
}

/// Of several columns of engine speed one is used, and that is said. A bare `n` may count anything: it is the last choice.
fn one_speed(plans: &mut [Plan], notes: &mut Notes) {
    let members: Vec<usize> =
        (0..plans.len()).filter(|at| plans[*at].quantity == Some(Quantity::EngineSpeed)).collect();
    let rank = |at: &usize| match &plans[*at] {
        plan if plan.ruled => 0,
        plan if plan.header.joined == "n" && plan.header.unit.is_none() => 2,
        _ => 1,
    };
    let Some(best) = members.iter().copied().min_by_key(rank).filter(|_| members.len() > 1) else { return };
    let name = plain(&plans[best].header.text, 40);
    for at in members.into_iter().filter(|at| *at != best) {
        let other = plain(&plans[at].header.text, 40);
        plans[at].quantity = Some(Quantity::Ignored);
        plans[at].why.push(format!("`{name}` is used for the engine speed"));
        notes.caution(
            codes::DUPLICATE_COLUMN,
            format!(
                "`{name}` and `{other}` both name an engine speed: the first of the two is used; [columns] of the \
                 machine file can say which"
            ),
        );
    }
}

fn first_value(values: &[f64]) -> Option<f64> {
    values.iter().copied().find(|v| v.is_finite() && *v != 0.0)
}

fn barometer(table: &mut Table, notes: &mut Notes) {
    for (plan, values) in table.plans.iter_mut().zip(&table.values) {
        if plan.quantity != Some(Quantity::Barometer) {
            continue;
        }
        plan.kind = Some(PressureKind::Absolute);
        if plan.unit.is_none() {
            plan.unit = first_value(values).and_then(kind::barometer_unit).map(Unit::Pressure);
            match plan.unit {
                Some(unit) => plan.why.push(format!("unit {} by the size of its figures", unit.name())),
                None => leave_out(plan, "no unit of a barometer fits its figures", NAME_IT, notes),
            }
        }
    }
}

/// Units of temperatures, lambda and throttle that name none.
fn other_units(table: &mut Table, notes: &mut Notes) {
    for (plan, values) in table.plans.iter_mut().zip(&table.values) {
        let Some(quantity) = plan.quantity.filter(|_| plan.unit.is_none()) else { continue };
        let high = values.iter().copied().filter(|v| v.is_finite()).fold(f64::NEG_INFINITY, f64::max);
        plan.unit = match quantity {
            Quantity::EngineSpeed => Some(Unit::Turning(1.0)),
            Quantity::CoolantTemperature | Quantity::IntakeTemperature if high > 140.0 => {
                notes.note(
                    codes::UNIT_ASSUMED,
                    format!(
                        "`{}` names no unit; its figures are degrees Fahrenheit",
                        plain(&plan.header.text, 40)
                    ),
                );
                Some(Unit::Fahrenheit)
            }
            Quantity::CoolantTemperature | Quantity::IntakeTemperature | Quantity::ExhaustTemperature => {
                plan.why.push("no unit: read as degC".to_owned());
                Some(Unit::Celsius)
            }
            Quantity::Throttle | Quantity::FuelTrim => Some(Unit::Percent),
            Quantity::Lambda if high > 5.0 => Some(Unit::AirFuel),
            Quantity::Lambda => Some(Unit::Ratio),
            _ => None,
        };
        if plan.unit == Some(Unit::AirFuel) {
            notes.caution(
                codes::UNIT_ASSUMED,
                "an air-fuel ratio is turned into lambda with 14.7, the figure of petrol",
            );
        }
    }
}
