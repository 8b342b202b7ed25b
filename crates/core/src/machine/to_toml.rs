//! A machine back into the words of its file: what a page embeds, so that the review can be made again without the
//! file. Comments of the file are not kept; they may be nobody's business.

use toml::{Table, Value};

use super::parse::{KINDS, QUANTITIES};
use super::{Adjuster, ColumnRule, Machine, Opens, PressureIs};
use crate::result::{Fuelling, GroupReference, Reference};

impl Machine {
    /// A machine file that says what this machine says; values at their default are left out, so that a machine without a file
    /// gives an empty text. [`Machine::from_toml`] makes the same machine of it.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let default = Self::default();
        let mut root = Table::new();
        let mut put = |key: &str, value: Option<Value>| {
            if let Some(value) = value {
                root.insert(key.to_owned(), value);
            }
        };
        put("id", self.id.clone().map(Value::from));
        put("cylinders", self.cylinders.map(Value::from));
        put("strokes", (self.strokes != default.strokes).then(|| Value::from(i64::from(self.strokes))));
        put("firing_deg", self.firing_deg.as_deref().map(list));
        put("reference", (self.reference != default.reference).then(|| reference(self.reference)));
        put("limit_kpa", self.limit_kpa.map(Value::from));
        put("fuelling", (self.fuelling != default.fuelling).then(|| fuelling(self.fuelling)));
        put("pressure_is", (self.pressure_is != default.pressure_is).then(|| stands_for(self.pressure_is)));
        put("idle_rpm", self.idle_rpm.map(|(low, high)| list(&[low, high])));
        put("warm_c", self.warm_c.map(Value::from));
        put("altitude_m", self.altitude_m.map(Value::from));
        put("barometer_kpa", self.barometer_kpa.map(Value::from));
        put("runner_cc", self.runner_cc.as_deref().map(runners));
        put("displacement_cc", self.displacement_cc.map(Value::from));
        put(
            "lambda_target",
            (self.lambda_target != default.lambda_target).then(|| self.lambda_target.into()),
        );
        let screws: Vec<Value> = self.adjusters.iter().map(|a| Value::Table(adjuster(a))).collect();
        put("adjuster", (!screws.is_empty()).then_some(Value::Array(screws)));
        let rules: Table = self.columns.iter().map(|(h, r)| (h.clone(), Value::Table(rule(r)))).collect();
        put("columns", (!rules.is_empty()).then_some(Value::Table(rules)));
        // A table of plain values has no reason to fail.
        toml::to_string(&root).unwrap_or_default()
    }
}

fn list(values: &[f64]) -> Value {
    Value::Array(values.iter().map(|v| Value::Float(*v)).collect())
}

/// One volume for all is written as a number: a list must have one entry per cylinder.
fn runners(values: &[f64]) -> Value {
    match values {
        [one] => Value::Float(*one),
        all => list(all),
    }
}

fn reference(reference: Reference) -> Value {
    match reference {
        Reference::Cylinder(number) => Value::from(number),
        Reference::Group(GroupReference::Median) => "median".into(),
        Reference::Group(GroupReference::Mean) => "mean".into(),
    }
}

fn fuelling(fuelling: Fuelling) -> Value {
    match fuelling {
        Fuelling::Shared => "shared",
        Fuelling::Individual => "individual",
        Fuelling::Unknown => "unknown",
    }
    .into()
}

fn stands_for(pressure: PressureIs) -> Value {
    match pressure {
        PressureIs::Mean => "mean",
        PressureIs::Minimum => "minimum",
        PressureIs::Unknown => "unknown",
    }
    .into()
}

fn adjuster(a: &Adjuster) -> Table {
    let mut out = Table::new();
    out.insert("cylinder".to_owned(), a.cylinder.into());
    let opens = match a.opens {
        Opens::Anticlockwise => Some("anticlockwise"),
        Opens::Clockwise => Some("clockwise"),
        Opens::Unknown => None,
    };
    out.extend(opens.map(|o| ("opens".to_owned(), o.into())));
    out.extend(a.range_turns.map(|t| ("range_turns".to_owned(), t.into())));
    out.extend(a.kpa_per_turn.map(|k| ("kpa_per_turn".to_owned(), k.into())));
    out.extend(a.sealed.then(|| ("sealed".to_owned(), true.into())));
    out
}

fn rule(r: &ColumnRule) -> Table {
    let mut out = Table::new();
    let quantity = QUANTITIES.iter().find(|(_, q)| *q == r.quantity).map_or("ignored", |(word, _)| *word);
    out.insert("quantity".to_owned(), quantity.into());
    out.extend(r.cylinder.map(|c| ("cylinder".to_owned(), c.into())));
    out.extend(r.unit.clone().map(|u| ("unit".to_owned(), u.into())));
    let kind = r.kind.and_then(|kind| KINDS.iter().find(|(_, k)| *k == kind));
    out.extend(kind.map(|(word, _)| ("kind".to_owned(), (*word).into())));
    out
}
