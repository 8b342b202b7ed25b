//! The last step: values on the finished axis, in base units, as a [`Recording`].

use super::fill;
use super::notes::Notes;
use super::plan::Plan;
use super::resolution::smallest_step;
use super::table::Table;
use super::time_axis::Axis;
use super::unit_words::Unit;
use crate::recording::{Channel, Quantity};

/// Channels in column order.
pub(crate) fn channels(table: Table, axis: &Axis, notes: &mut Notes) -> Vec<Channel> {
    let Table { plans, values, .. } = table;
    plans.into_iter().zip(values).map(|(plan, raw)| channel(plan, raw, axis, notes)).collect()
}

fn channel(plan: Plan, raw: Vec<f64>, axis: &Axis, notes: &mut Notes) -> Channel {
    let quantity = plan.quantity.unwrap_or(Quantity::Ignored);
    let used = !matches!(quantity, Quantity::Ignored | Quantity::Time) && !raw.is_empty();
    let unit = plan.unit.unwrap_or(Unit::Ratio);
    let mut why = plan.why;
    let (mut values, mut resolution) = (Vec::new(), None);
    if used {
        let mut kept = axis.keep.apply(raw);
        resolution = smallest_step(&kept).map(|step| unit.step(step));
        kept.iter_mut().for_each(|v| *v = unit.to_base(*v));
        if let Some(remark) = fill::fill(quantity, &axis.time_s, &mut kept) {
            why.push(remark);
        }
        values = kept;
    }
    if quantity == Quantity::ManifoldPressure && used && values.iter().all(|v| v.is_nan()) {
        let name = super::error::plain(&plan.header.text, 40);
        notes.caution("empty-column", format!("`{name}` holds no value at all"));
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
