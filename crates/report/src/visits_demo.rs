//! Told visits for the tests of pages: levels in, visits out.

use evenpull_core::result::{Class, GroupReference, Measured, Reference, Signal, Verdict};
use evenpull_core::visits::{Visit, VisitCylinder, VisitFacts};

/// A visit whose cylinders stand at the given levels, kPa, around 40.
pub(crate) fn visit(machine: &str, n: usize, levels: &[f64]) -> Visit {
    let mut sorted = levels.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = 0.5 * (sorted[(levels.len() - 1) / 2] + sorted[levels.len() / 2]);
    let spread = sorted[levels.len() - 1] - sorted[0];
    let m = |value, u| Some(Measured { value, u });
    let cylinders = levels.iter().enumerate().map(|(i, l)| VisitCylinder {
        cylinder: i as u32 + 1,
        pressure_kpa: m(40.0 + l, 0.05),
        deviation_kpa: m(l - middle, 0.04),
        bias_removed_kpa: None,
        refill_ratio: None,
        air_ratio: None,
        lambda: None,
        class: Class::Even,
    });
    let key = format!("{machine}-{n:02}-{spread}");
    Visit {
        machine: machine.to_owned(),
        visit: key.clone(),
        facts: VisitFacts {
            date: Some(format!("2024-{:02}-04", n + 1)),
            hours: Some(100.0 + 55.0 * n as f64),
            ..VisitFacts::default()
        },
        key,
        source: format!("{n}.csv"),
        tool_version: "0".to_owned(),
        settings_hash: "0".to_owned(),
        rpm: m(1_050.0, 2.0),
        seconds: Some(60.0),
        barometer_kpa: Some(101.3),
        limit_kpa: 1.3,
        limit_source: "default".to_owned(),
        reference: Reference::Group(GroupReference::Median),
        signal: Some(Signal::Averaged),
        verdict: if spread > 1.3 { Verdict::Outside } else { Verdict::Within },
        spread_kpa: m(spread, 0.05),
        notices: Vec::new(),
        cylinders: cylinders.collect(),
        plan: None,
    }
}

/// Cylinder 2 of `cylinders` drifts by `way` a visit; the others wobble by a few hundredths.
pub(crate) fn drifting(machine: &str, cylinders: usize, visits: usize, way: f64) -> Vec<Visit> {
    let wobble = |v: usize, c: usize| 0.03 * (((v * 7 + c * 5) % 11) as f64 / 5.0 - 1.0);
    (0..visits)
        .map(|v| {
            let level =
                |c: usize| 0.1 * (c % 3) as f64 + wobble(v, c) + if c == 1 { way * v as f64 } else { 0.0 };
            visit(machine, v, &(0..cylinders).map(level).collect::<Vec<_>>())
        })
        .collect()
}
