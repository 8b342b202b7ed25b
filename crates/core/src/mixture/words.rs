//! Evidence for a class in plain sentences with numbers.

use crate::result::{Basis, Class, Fuelling};

use super::classes::{Facts, Side, Value};

/// Speed gained in a cylinder's expansion against the middle of the group, rev/min, and its side of the bound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Work {
    /// Gain with its standard uncertainty, rev/min.
    pub value: Value,
    /// Against the bound.
    pub side: Side,
}

/// A surplus of air at idle and raised, kPa above the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Surplus {
    /// Nothing raised was recorded.
    NoRaised,
    /// Falls as that of a fixed opening does.
    Fades(f64, f64),
    /// Keeps its share.
    Stays(f64, f64),
    /// The data cannot tell.
    Open,
}

/// What the sentences speak of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Case<'a> {
    /// Cylinder.
    pub cylinder: u32,
    /// Class and basis.
    pub class: (Class, Basis),
    /// Facts behind it.
    pub facts: &'a Facts,
    /// Some stretch was fit to judge.
    pub judged: bool,
    /// Deviation from the reference, kPa.
    pub deviation: Option<Value>,
    /// Refill rate against the median, as a ratio.
    pub refill: Option<Value>,
    /// Why there is no refill rate.
    pub no_refill: Option<&'a str>,
    /// Air per cycle against the median, as a ratio.
    pub air: Option<Value>,
    /// Measured lambda.
    pub lambda: Option<Value>,
    /// Measured lambda less the group's median.
    pub lambda_from_group: Option<f64>,
    /// How fuel is metered.
    pub fuelling: Fuelling,
    /// Absolute or vacuum is known.
    pub direction_known: bool,
    /// Two cylinders without a reference.
    pub nameless_twin: bool,
    /// What a raised stretch says of its surplus of air.
    pub surplus: Surplus,
    /// Its part in the speed ripple.
    pub work: Option<Work>,
    /// This cylinder is the reference.
    pub is_reference: bool,
    /// Word for the reference.
    pub reference: &'a str,
}

/// Two significant digits of an expanded uncertainty, and the value to the same place.
#[must_use]
pub fn plus_minus(value: f64, expanded: f64) -> String {
    let digits = if expanded > 0.0 && expanded.is_finite() {
        (1.0 - expanded.log10().floor()).clamp(0.0, 4.0) as usize
    } else {
        2
    };
    format!("{value:+.digits$} \u{b1} {expanded:.digits$}")
}

/// Sentences of evidence, most telling first.
#[must_use]
pub fn evidence(case: &Case<'_>) -> Vec<String> {
    let mut out = Vec::new();
    mixture(case, &mut out);
    pressure(case, &mut out);
    breathing(case, &mut out);
    work(case, &mut out);
    closing(case, &mut out);
    out
}

fn mixture(case: &Case<'_>, out: &mut Vec<String>) {
    let Some(lambda) = case.lambda else { return };
    let mut text = format!("measured lambda {:.3} \u{b1} {:.3}", lambda.value, 2.0 * lambda.u);
    if let Some(d) = case.lambda_from_group {
        text.push_str(&format!(", {d:+.3} from the middle of the group"));
    }
    out.push(text);
}

fn pressure(case: &Case<'_>, out: &mut Vec<String>) {
    let Some(d) = case.deviation else {
        let why = if case.judged {
            "no pressure of this cylinder could be used"
        } else {
            "no stretch of the recording was fit to judge, so nothing is said of this cylinder"
        };
        out.push(why.to_owned());
        return;
    };
    if case.is_reference {
        out.push("it is the reference that the others are matched to".to_owned());
        return;
    }
    let size = plus_minus(d.value, 2.0 * d.u);
    let meaning = match (case.facts.pressure, case.direction_known) {
        (_, false) => "its direction is not known, because the file does not say absolute or vacuum",
        (Side::High, true) => "less vacuum than the others: it gets more air, or keeps more in its runner",
        (Side::Low, true) => "more vacuum than the others: it gets less air, or keeps less in its runner",
        (Side::Inside, true) => "not off by pressure",
        (Side::Open, true) => "too close to the bound to call",
    };
    out.push(format!("{size} kPa from {}: {meaning}", case.reference));
}

fn breathing(case: &Case<'_>, out: &mut Vec<String>) {
    if case.facts.stepped {
        out.push(
            "its rise has a step while the intake valve should be shut, the others' have none: gas comes or goes besides the plate (a leaking intake valve first)"
                .to_owned(),
        );
        return;
    }
    let Some(refill) = case.refill else {
        if let (Some(why), Side::High | Side::Low) = (case.no_refill, case.facts.pressure) {
            out.push(format!(
                "no refill rate ({why}), so a breathing fault cannot be excluded; a recording at 200 rows a second or more would tell"
            ));
        }
        return;
    };
    let percent = |v: Value| plus_minus(100.0 * (v.value - 1.0), 200.0 * v.u);
    let size = |v: Value| plus_minus(100.0 * (v.value - 1.0).abs(), 200.0 * v.u).replacen('+', "", 1);
    out.push(match case.facts.refill.unwrap_or(Side::Open) {
        Side::High => format!(
            "cylinder {} lets {} % more air past its plate, or a leak behind it, than the middle of the group (refill rate)",
            case.cylinder,
            size(refill)
        ),
        Side::Low => format!(
            "cylinder {} lets {} % less air past its plate than the middle of the group (refill rate)",
            case.cylinder,
            size(refill)
        ),
        Side::Inside => format!(
            "its refill rate is {} % from the middle of the group: its plate lets through what the others' do",
            percent(refill)
        ),
        Side::Open => format!(
            "its refill rate is {} % from the middle of the group: too close to the bound to call",
            percent(refill)
        ),
    });
    if let Some(air) = case.air {
        out.push(format!("air per cycle {} % against the middle of the group", percent(air)));
    }
}

fn work(case: &Case<'_>, out: &mut Vec<String>) {
    let Some(work) = case.work else { return };
    let even =
        case.facts.pressure == Side::Inside && !matches!(case.facts.refill, Some(Side::High | Side::Low));
    let meaning = match (work.side, case.facts.pressure) {
        (Side::Low, _) if even => {
            "it gives less work although it breathes like them: a weak burn (ignition, injector, compression), not its plate"
        }
        (Side::Low, Side::Low) => "less work, as less air gives",
        (Side::Low, _) => "it gives less work",
        (Side::High, _) => "it gives more work",
        (Side::Inside, _) => "it works as hard as they do",
        (Side::Open, _) => "too close to call",
    };
    out.push(format!(
        "in its expansion the crank gains {} rev/min against the middle of the group: {meaning}",
        plus_minus(work.value.value, 2.0 * work.value.u)
    ));
}

/// A plate too far open, its linkage or a leak: what can be told.
fn surplus(case: &Case<'_>) -> String {
    match case.surplus {
        Surplus::NoRaised => "; a plate too far open and a leak behind the plate look the same at idle; a raised steady stretch would tell a linkage from a fixed opening".to_owned(),
        Surplus::Open => "; a plate too far open and a leak behind the plate are both possible, the raised stretch does not tell".to_owned(),
        Surplus::Fades(idle, raised) => format!(
            "; its {idle:+.1} kPa against the others at idle fade to {raised:+.1} kPa raised, as those of a fixed opening do: a leak behind the plate or an idle stop too far open, not the linkage"
        ),
        Surplus::Stays(idle, raised) => format!(
            "; its {idle:+.1} kPa against the others at idle are {raised:+.1} kPa raised: the plate or its linkage opens further, a leak would have faded"
        ),
    }
}

fn closing(case: &Case<'_>, out: &mut Vec<String>) {
    let more = case.facts.pressure == Side::High;
    let text = match (case.class, case.fuelling) {
        ((Class::Lean | Class::Rich, Basis::Inferred), _) => Some(format!(
            "with one injected quantity for all, {} air makes it {} (inferred; nothing measured the mixture){}",
            if more { "more" } else { "less" },
            if more { "lean" } else { "rich" },
            if more { surplus(case) } else { String::new() }
        )),
        ((Class::Imbalanced, Basis::Inferred), _)
            if !matches!(case.facts.pressure, Side::High | Side::Low) =>
        {
            Some(
                "its mean pressure is even and its refill rate is not: a runner of another volume (`runner_cc` in the machine file settles that), or a plate that the mean hardly shows; the two signs conflict"
                    .to_owned(),
            )
        }
        ((Class::Imbalanced, Basis::Inferred), _) if case.facts.conflict_kpa.is_some() => {
            let expected = case.facts.conflict_kpa.unwrap_or_default();
            Some(format!(
                "a plate of that refill rate would put its mean {expected:+.1} kPa from the group: it is no plate alone, but a runner of another volume (`runner_cc` in the machine file settles that) or one that breathes differently"
            ))
        }
        ((Class::Imbalanced, Basis::Inferred), _)
            if case.facts.refill == Some(Side::Inside) || case.facts.stepped || case.fuelling == Fuelling::Shared =>
        {
            Some(
                "pressure and the shape of the pulse disagree: it breathes differently (valve timing, clearance, compression); a turned screw would hide that"
                    .to_owned(),
            )
        }
        ((Class::Imbalanced, Basis::Inferred), Fuelling::Individual) => {
            Some("it meters its own fuel, so pressure says nothing about its mixture".to_owned())
        }
        ((Class::Imbalanced, Basis::Inferred), Fuelling::Unknown) => Some(format!(
            "how fuel is metered is not known; with one injected quantity for all it would run {}",
            if more { "lean" } else { "rich" }
        )),
        _ => None,
    };
    out.extend(text);
    if case.nameless_twin && matches!(case.facts.pressure, Side::High | Side::Low) {
        out.push(
            "two cylinders without a reference: one recording cannot tell which of them moved".to_owned(),
        );
    }
}
