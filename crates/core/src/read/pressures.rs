//! Units and kinds of pressure columns that their headers leave open, and contradictions between header and data.

use super::error::plain;
use super::header::Header;
use super::kind;
use super::notes::Notes;
use super::plan::{Plan, kind_name};
use super::table::Table;
use super::unit_words::Unit;
use super::words;
use crate::codes;
use crate::notice::{Level, Notice};
use crate::recording::{PressureKind, Quantity};

/// What to do about a unit that is not known.
pub(crate) const NAME_IT: &str = "name the unit in [columns] of the machine file";

/// A pressure column that settles nothing by itself is of the kind of its equals: same words, same unit.
pub(crate) fn same_kind(plans: &mut [Plan]) {
    let name = |plan: &Plan| -> Vec<String> {
        let words = plan.header.words.iter();
        words.filter(|w| w.len() > 1 && !w.bytes().all(|b| b.is_ascii_digit())).cloned().collect()
    };
    let pressure =
        |plan: &&Plan| plan.quantity == Some(Quantity::ManifoldPressure) && plan.cylinder.is_some();
    for at in 0..plans.len() {
        let open = pressure(&&plans[at]) && plans[at].kind.is_none() && !plans[at].ruled;
        if !open || words::pressure_kind(&plans[at].header).is_some() {
            continue;
        }
        let (words, unit) = (name(&plans[at]), plans[at].unit);
        let equals = plans.iter().filter(pressure).filter(|p| p.unit == unit && name(p) == words);
        let kinds: Vec<PressureKind> = equals.filter_map(|p| p.kind).collect();
        let Some(first) = kinds.first().copied().filter(|first| kinds.iter().all(|k| k == first)) else {
            continue;
        };
        plans[at].kind = Some(first);
        plans[at].why.push(format!("{} like the other columns of this name", kind_name(first)));
    }
}

/// Units and kinds of pressures.
pub(crate) fn pressures(table: &mut Table, rpm: Option<&[f64]>, notes: &mut Notes) {
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
    let meant = words::meaning(&bare);
    let pressure = meant.quantity == Some(Quantity::ManifoldPressure);
    if pressure && !plan.ruled && !unit.fits(Quantity::ManifoldPressure) {
        plan.why = vec![meant.why];
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
                notes.caution(codes::UNIT_ASSUMED, format!("`{name}` names no unit; it is read as {why}"));
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

pub(crate) fn leave_out(plan: &mut Plan, reason: &str, advice: &str, notes: &mut Notes) {
    let name = plain(&plan.header.text, 40);
    plan.quantity = Some(Quantity::Ignored);
    plan.why.push(format!("left out: {reason}"));
    let text = format!("`{name}` is left out: {reason}; {advice}");
    let mut notice = Notice::new(codes::UNIT_UNKNOWN, Level::Fault, text);
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
            notes.caution(codes::KIND_AMBIGUOUS, text);
        }
        Some(PressureKind::Gauge) if levels.low > 8.0 && !plan.ruled => {
            plan.kind = None;
            plan.why.push("called gauge, but a running engine would read negative: not settled".to_owned());
            let text =
                format!("`{name}` says gauge, its values are positive: absolute or vacuum, not settled here");
            notes.caution(codes::KIND_AMBIGUOUS, text);
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
            codes::KIND_AMBIGUOUS,
            format!("`{name}` says absolute, but reads nothing with the engine standing: read as vacuum"),
        );
    }
}
