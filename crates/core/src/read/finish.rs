//! The last step: values on the finished axis, in base units, as a [`Recording`].

use rayon::prelude::*;

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
    let settled: Vec<Settled> =
        plans.par_iter().zip(values).map(|(plan, raw)| settle(plan, raw, axis)).collect();
    plans.into_iter().zip(settled).map(|(plan, values)| channel(plan, values, axis, &lines, notes)).collect()
}

/// Values of a column in base units, nothing impossible among them.
struct Settled {
    used: bool,
    values: Vec<f64>,
    resolution: Option<f64>,
    impossible: Option<possible::Impossible>,
    filled: Option<String>,
}

fn settle(plan: &Plan, raw: Vec<f64>, axis: &Axis) -> Settled {
    let quantity = plan.quantity.unwrap_or(Quantity::Ignored);
    let used = !matches!(quantity, Quantity::Ignored | Quantity::Time) && !raw.is_empty();
    if !used {
        return Settled { used, values: Vec::new(), resolution: None, impossible: None, filled: None };
    }
    let mut values = axis.keep.apply(raw);
    let unit = plan.unit.unwrap_or(Unit::Ratio);
    if unit.to_base(1.0) != 1.0 || unit.to_base(0.0) != 0.0 {
        values.iter_mut().for_each(|v| *v = unit.to_base(*v));
    }
    let impossible = possible::clear(quantity, plan.kind, &mut values);
    // Before anything is filled in, after fill values that would pass for steps are gone.
    let resolution = smallest_step(&values);
    let filled = fill::fill(quantity, &axis.time_s, &mut values);
    Settled { used, values, resolution, impossible, filled }
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

fn channel(plan: Plan, settled: Settled, axis: &Axis, lines: &RowLines, notes: &mut Notes) -> Channel {
    let quantity = plan.quantity.unwrap_or(Quantity::Ignored);
    let Settled { used, values, resolution, impossible, filled } = settled;
    let mut why = plan.why;
    why.extend(filled);
    if let Some(impossible) = impossible {
        let line = lines.get(axis.keep.get(impossible.row));
        notes.push(impossible.notice(&plan.header.text, quantity, plan.kind, line));
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
