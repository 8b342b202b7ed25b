//! The set of columns as a whole: cylinder numbers, units and kinds that one header alone does not settle.

use super::cylinder::Tag;
use super::error::plain;
use super::header::Header;
use super::kind;
use super::notes::Notes;
use super::plan::{Plan, kind_name};
use super::table::Table;
use super::unit_words::Unit;
use crate::notice::{Level, Notice};
use crate::recording::{PressureKind, Quantity};

/// What to do about a unit that is not known.
const NAME_IT: &str = "name the unit in [columns] of the machine file";

/// Settles all columns; values are still as logged.
pub(crate) fn settle(table: &mut Table, notes: &mut Notes) {
    for quantity in [Quantity::ManifoldPressure, Quantity::Lambda, Quantity::ExhaustTemperature] {
        cylinders(&mut table.plans, quantity, notes);
    }
    one_throttle(&mut table.plans);
    let rpm = engine_speed(table);
    barometer(table, notes);
    other_units(table, notes);
    pressures(table, rpm.as_deref(), notes);
}

/// Engine speed in rev/min, for the question whether the engine stands.
fn engine_speed(table: &Table) -> Option<Vec<f64>> {
    let at = table.plans.iter().position(|p| p.quantity == Some(Quantity::EngineSpeed))?;
    let unit = table.plans[at].unit.unwrap_or(Unit::Turning(1.0));
    let mut last = f64::NAN;
    // In a sparse column the last known speed counts.
    let held = table.values[at].iter().map(|v| {
        last = if v.is_finite() { *v } else { last };
        unit.to_base(last)
    });
    Some(held.collect())
}

/// Numbers the cylinders of one quantity.
fn cylinders(plans: &mut [Plan], quantity: Quantity, notes: &mut Notes) {
    let members: Vec<usize> =
        (0..plans.len()).filter(|at| plans[*at].quantity == Some(quantity) && !plans[*at].ruled).collect();
    let mut tags: Vec<(usize, Tag)> = members.iter().filter_map(|at| Some((*at, plans[*at].tag?))).collect();
    front_and_rear(&mut tags);
    let zero_based = tags.iter().any(|(_, tag)| *tag == Tag::Number(0));
    let corners = tags.iter().any(|(_, tag)| matches!(tag, Tag::Corner(..)));
    for (order, (at, tag)) in tags.iter().enumerate() {
        let (number, why) = match tag {
            Tag::Number(n) if zero_based => (n + 1, format!("number {n}, counted from 0")),
            Tag::Number(n) => (*n, format!("number {n}")),
            Tag::Letter(n) => (*n, "by its letter".to_owned()),
            _ if corners => (order as u32 + 1, "by its place in the file".to_owned()),
            Tag::Hand(n) => (*n, if *n == 1 { "left counts as 1" } else { "right counts as 2" }.to_owned()),
            Tag::End(n) => (*n, if *n == 1 { "front counts as 1" } else { "rear counts as 2" }.to_owned()),
            Tag::Corner(..) => continue,
        };
        plans[*at].cylinder = Some(number);
        plans[*at].why.push(format!("cylinder {number}: {why}"));
    }
    if corners {
        let text = "cylinders are named by side and end: they are numbered in the order of the columns";
        notes.caution("cylinder-assumed", text);
    }
    if tags.is_empty() && quantity == Quantity::ManifoldPressure {
        number_equal_names(plans, &members, notes);
    }
    renumber_channels(plans, &members, notes);
    duplicates(plans, quantity, notes);
}

/// `p_f` and `p_r`: with an `f` the `r` is the rear, not the right.
fn front_and_rear(tags: &mut [(usize, Tag)]) {
    let front = tags.iter().any(|(_, t)| *t == Tag::End(1));
    let left = tags.iter().any(|(_, t)| *t == Tag::Hand(1));
    let rear = tags.iter().any(|(_, t)| *t == Tag::End(2));
    if front && !left && !rear {
        tags.iter_mut().filter(|(_, t)| *t == Tag::Hand(2)).for_each(|(_, t)| *t = Tag::End(2));
    }
}

/// Several columns with the same name and no number are numbered in file order, and that is said.
fn number_equal_names(plans: &mut [Plan], members: &[usize], notes: &mut Notes) {
    let same = members.windows(2).all(|w| plans[w[0]].header.words == plans[w[1]].header.words);
    if members.len() < 2 || !same {
        return;
    }
    for (number, at) in (1u32..).zip(members) {
        plans[*at].cylinder = Some(number);
        plans[*at].why.push(format!("cylinder {number}: by its place in the file"));
    }
    let text = "the pressure columns carry no cylinder number: they are numbered in the order of the columns";
    notes.caution("cylinder-assumed", text);
}

/// Channel numbers that do not start at 1 are no cylinder numbers.
fn renumber_channels(plans: &mut [Plan], members: &[usize], notes: &mut Notes) {
    let channel = |plan: &Plan| {
        let names =
            ["ch", "chan", "channel", "kanal", "canal", "canale", "voie", "ai", "ain", "adc", "in", "input"];
        plan.header.words.iter().any(|w| names.contains(&w.as_str()))
    };
    let mut found: Vec<(u32, usize)> = members
        .iter()
        .filter(|at| channel(&plans[**at]))
        .filter_map(|at| Some((plans[*at].cylinder?, *at)))
        .collect();
    found.sort_unstable();
    if found.first().is_none_or(|(first, _)| *first == 1) || found.len() < 2 {
        return;
    }
    for (number, (_, at)) in (1u32..).zip(found) {
        plans[at].cylinder = Some(number);
        plans[at].why.push(format!("cylinder {number}: by the order of its channel number"));
    }
    let text = "channel numbers do not start at 1: cylinders are numbered in the order of the channels";
    notes.caution("cylinder-assumed", text);
}

/// Two columns for one cylinder: the first is used.
fn duplicates(plans: &mut [Plan], quantity: Quantity, notes: &mut Notes) {
    let mut seen: Vec<(u32, usize)> = Vec::new();
    for at in 0..plans.len() {
        let Some(number) = plans[at].cylinder.filter(|_| plans[at].quantity == Some(quantity)) else {
            continue;
        };
        match seen.iter().find(|(n, _)| *n == number) {
            None => seen.push((number, at)),
            Some((_, first)) => {
                let first = plain(&plans[*first].header.text, 40);
                let name = plain(&plans[at].header.text, 40);
                plans[at].quantity = Some(Quantity::Ignored);
                plans[at].why.push(format!("left out: `{first}` is used for cylinder {number}"));
                let text =
                    format!("`{name}` names cylinder {number} like `{first}`: the first of the two is used");
                notes.push(Notice::new("duplicate-column", Level::Caution, text).on_cylinder(number));
            }
        }
    }
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
                    "unit-assumed",
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
                "unit-assumed",
                "an air-fuel ratio is turned into lambda with 14.7, the figure of petrol",
            );
        }
    }
}

/// Units and kinds of pressures.
fn pressures(table: &mut Table, rpm: Option<&[f64]>, notes: &mut Notes) {
    for at in 0..table.plans.len() {
        let plan = &mut table.plans[at];
        if plan.quantity != Some(Quantity::ManifoldPressure) {
            pressure_without_unit_of_one(plan, notes);
            continue;
        }
        let Some(levels) = kind::levels(&table.values[at], rpm) else {
            plan.why.push("no values".to_owned());
            plan.unit = plan.unit.or(Some(Unit::Pressure(crate::units::PressureUnit::Kpa)));
            continue;
        };
        if plan.unit.is_none() {
            pressure_unit(plan, levels, notes);
        }
        let Some(unit) = plan.unit.filter(|_| plan.quantity == Some(Quantity::ManifoldPressure)) else {
            continue;
        };
        pressure_kind(plan, kind::in_base(levels, unit), notes);
    }
}

/// A pressure in volts or counts: the header says pressure, its unit does not.
fn pressure_without_unit_of_one(plan: &mut Plan, notes: &mut Notes) {
    let Some(unit @ Unit::Foreign) = plan.header.unit else { return };
    let bare = Header { unit: None, ..plan.header.clone() };
    let pressure = super::words::meaning(&bare).quantity == Some(Quantity::ManifoldPressure);
    if pressure && !plan.ruled && !unit.fits(Quantity::ManifoldPressure) {
        leave_out(
            plan,
            "its unit is none of pressure and its scale is not known",
            "turn it into a pressure by the data sheet of the sensor",
            notes,
        );
    }
}

fn pressure_unit(plan: &mut Plan, levels: kind::Levels, notes: &mut Notes) {
    let name = plain(&plan.header.text, 40);
    if let Some(strange) = plan.header.strange_unit.clone() {
        return leave_out(
            plan,
            &format!("its unit `{}` is none of pressure", plain(&strange, 20)),
            NAME_IT,
            notes,
        );
    }
    match kind::unit(levels) {
        Ok((unit, assumed, why)) => {
            if assumed {
                notes.caution("unit-assumed", format!("`{name}` names no unit; it is read as {why}"));
            }
            plan.unit = Some(Unit::Pressure(unit));
            plan.why.push(format!("unit {why}"));
        }
        Err(candidates) => leave_out(
            plan,
            &format!("it names no unit; by its figures it could be {candidates}"),
            NAME_IT,
            notes,
        ),
    }
}

fn leave_out(plan: &mut Plan, reason: &str, advice: &str, notes: &mut Notes) {
    let name = plain(&plan.header.text, 40);
    plan.quantity = Some(Quantity::Ignored);
    plan.why.push(format!("left out: {reason}"));
    let text = format!("`{name}` is left out: {reason}; {advice}");
    let mut notice = Notice::new("unit-unknown", Level::Fault, text);
    notice.cylinder = plan.cylinder;
    notes.push(notice);
}

/// Kind from the header checked against the data, or from the data alone.
fn pressure_kind(plan: &mut Plan, levels: kind::Levels, notes: &mut Notes) {
    let name = plain(&plan.header.text, 40);
    let negative = levels.high < 3.0 && levels.low < -8.0;
    match plan.kind {
        Some(PressureKind::Vacuum) if negative => {
            plan.kind = Some(PressureKind::Gauge);
            plan.why.push("its values are negative: a vacuum written as gauge pressure".to_owned());
        }
        Some(PressureKind::Absolute) if negative => {
            plan.kind = Some(PressureKind::Gauge);
            plan.why.push("its values are negative, which no absolute pressure can be: gauge".to_owned());
            let text = format!("`{name}` says absolute, its values are negative: read as gauge");
            notes.caution("kind-ambiguous", text);
        }
        Some(PressureKind::Gauge) if levels.low > 8.0 && !plan.ruled => {
            plan.kind = None;
            plan.why.push("called gauge, but a running engine would read negative: not settled".to_owned());
            let text =
                format!("`{name}` says gauge, its values are positive: absolute or vacuum, not settled here");
            notes.caution("kind-ambiguous", text);
        }
        Some(_) => {}
        None => match kind::decide(levels) {
            Ok((found, why)) => {
                plan.kind = Some(found);
                plan.why.push(why);
            }
            Err(why) => plan.why.push(why),
        },
    }
    if let (Some(PressureKind::Absolute), Some(standing)) = (plan.kind, levels.standing)
        && standing.abs() < 6.0
        && levels.running.is_some_and(|r| r > 10.0)
        && !plan.ruled
    {
        plan.kind = Some(PressureKind::Vacuum);
        plan.why.push(format!(
            "it reads {standing:.1} kPa with the engine standing: {}",
            kind_name(PressureKind::Vacuum)
        ));
        notes.caution(
            "kind-ambiguous",
            format!("`{name}` says absolute, but reads nothing with the engine standing: read as vacuum"),
        );
    }
}
