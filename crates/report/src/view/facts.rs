//! Label and value: what was looked at, and what makes the page reproducible.

use evenpull_core::Analysis;

use crate::digits;
use crate::texts::labels;
use crate::units::DisplayUnit;
use crate::view::Fact;

/// Label and value.
pub(crate) fn fact(label: &str, value: String) -> Fact {
    Fact { label: label.to_owned(), value }
}

/// What was looked at.
pub(crate) fn facts(analysis: &Analysis, unit: DisplayUnit) -> Vec<Fact> {
    let r = &analysis.review;
    let mut out = vec![
        fact("Recording", r.source.name.clone()),
        fact("Engine", engine(r.machine.cylinders, r.machine.strokes)),
        fact("Length", digits::duration(r.source.duration_s)),
    ];
    let judged: Vec<String> = r
        .regimes
        .iter()
        .map(|s| {
            format!(
                "{} {} at {} rev/min",
                digits::duration(s.seconds),
                labels::regime(s.regime),
                digits::plus_minus(s.rpm.value, s.rpm.u, 0)
            )
        })
        .collect();
    let judged = if judged.is_empty() { "nothing".to_owned() } else { judged.join("; ") };
    out.push(fact("Judged", judged));
    out.push(fact("Limit on the spread", {
        let whose = if r.machine.limit_source == "machine-file" { "machine file" } else { "rule of thumb" };
        format!("{} ({whose})", unit.limit_text(r.machine.limit_kpa))
    }));
    out
}

/// What makes the page reproducible.
pub(crate) fn origin(analysis: &Analysis) -> Vec<Fact> {
    let r = &analysis.review;
    let mut out = vec![
        fact("Recording", r.source.name.clone()),
        fact("SHA-256", r.source.sha256.clone()),
        fact("Container", labels::format(r.source.format).to_owned()),
        fact(
            "Rows",
            match r.source.rows_skipped {
                0 => format!("{} used", digits::whole(r.source.rows as u64)),
                n => format!(
                    "{} used, {} skipped as damaged",
                    digits::whole(r.source.rows as u64),
                    digits::whole(n as u64)
                ),
            },
        ),
    ];
    if let Some(rate) = r.source.sample_rate_hz {
        out.push(fact("Row rate", format!("{} a second", digits::short(rate))));
    }
    if let Some(p) = &r.pulse {
        out.push(fact(
            "Pulse",
            format!(
                "{} a second, {} fresh samples a cycle; {}",
                digits::short(p.rate_hz),
                digits::short(p.samples_per_cycle),
                labels::signal(p.signal)
            ),
        ));
    }
    if let (Some(b), Some(source)) = (r.barometer_kpa, &r.barometer_source) {
        out.push(fact("Barometer", format!("{} kPa, {}", digits::fixed(b, 1), labels::barometer(source))));
    }
    out.push(fact("Reference", labels::reference(&r.machine.reference)));
    out.push(fact("Fuel", labels::fuelling(r.machine.fuelling).to_owned()));
    out.push(fact("Program", format!("evenpull {}, schema {}", r.version, r.schema)));
    out
}

fn engine(cylinders: u32, strokes: u8) -> String {
    match cylinders {
        0 => format!("no cylinder pressure logged, {strokes}-stroke"),
        1 => format!("1 cylinder, {strokes}-stroke"),
        n => format!("{n} cylinders, {strokes}-stroke"),
    }
}
