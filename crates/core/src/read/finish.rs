//! The last step: values on the finished axis, in base units, as a [`Recording`].

use super::error::quoted;
use super::fill;
use super::notes::Notes;
use super::plan::Plan;
use super::possible;
use super::resolution::smallest_step;
use super::row_lines::RowLines;
use super::table::Table;
use super::time_axis::Axis;
use super::unit_words::Unit;
use crate::codes;
use crate::notice::{Level, Notice};
use crate::recording::{Channel, Quantity};

/// Channels in column order.
pub(crate) fn channels(table: Table, axis: &Axis, notes: &mut Notes) -> Vec<Channel> {
    let Table { plans, values, lines, .. } = table;
    unknown_columns(&plans, notes);
    plans.into_iter().zip(values).map(|(plan, raw)| channel(plan, raw, axis, &lines, notes)).collect()
}

/// Says once which columns were not understood.
fn unknown_columns(plans: &[Plan], notes: &mut Notes) {
    let unknown: Vec<&Plan> = plans.iter().filter(|plan| plan.quantity.is_none()).collect();
    if unknown.is_empty() {
        return;
    }
    let names: Vec<String> = unknown.iter().take(6).map(|plan| quoted(&plan.header.text)).collect();
    let more = if unknown.len() > 6 { " and others" } else { "" };
    let text = format!(
        "not understood and left out: {}{more}; if one is needed, name it in [columns] of the machine file",
        names.join(", ")
    );
    notes.push(Notice::new(codes::UNKNOWN_COLUMN, Level::Note, text).counted(unknown.len() as u64));
}

fn channel(plan: Plan, raw: Vec<f64>, axis: &Axis, lines: &RowLines, notes: &mut Notes) -> Channel {
    let quantity = plan.quantity.unwrap_or(Quantity::Ignored);
    let used = !matches!(quantity, Quantity::Ignored | Quantity::Time) && !raw.is_empty();
    let unit = plan.unit.unwrap_or(Unit::Ratio);
    let mut why = plan.why;
    let (mut values, mut resolution) = (Vec::new(), None);
    if used {
        let mut kept = axis.keep.apply(raw);
        kept.iter_mut().for_each(|v| *v = unit.to_base(*v));
        let line_of = |row| lines.get(axis.keep.get(row));
        possible::clear(&plan.header.text, quantity, plan.kind, &mut kept, line_of, notes);
        // Before anything is filled in, after fill values that would pass for steps are gone.
        resolution = smallest_step(&kept);
        if let Some(remark) = fill::fill(quantity, &axis.time_s, &mut kept) {
            why.push(remark);
        }
        values = kept;
    }
    if quantity == Quantity::ManifoldPressure && used && values.iter().all(|v| v.is_nan()) {
        let name = super::error::plain(&plan.header.text, 40);
        notes.caution(codes::EMPTY_COLUMN, format!("`{name}` holds no value at all"));
    }
    Channel {
        header: plan.header.text,
        quantity: if used || quantity == Quantity::Time { quantity } else { Quantity::Ignored },
        cylinder: plan.cylinder.filter(|_| used),
        unit: plan.unit.map(Unit::name).unwrap_or_default(),
        kind: plan
            .kind
            .filter(|_| used && matches!(quantity, Quantity::ManifoldPressure | Quantity::Barometer)),
        resolution,
        why: why.join("; "),
        values,
    }
}
