//! The book from outside: what is written is read back, and no accident breaks it.
#![allow(clippy::unwrap_used, clippy::print_stderr)]

mod accidents;
mod keeping;
mod processes;

use evenpull_core::result::{Class, GroupReference, Measured, Reference, Signal, Verdict};
use evenpull_core::visits::{Turn, Visit, VisitCylinder, VisitFacts};

/// A visit of the rescue craft HS-03 with every field filled; `n` tells recordings apart.
pub(crate) fn visit(n: u32, date: &str) -> Visit {
    let m = |value: f64, u: f64| Some(Measured { value, u });
    let cylinders = (1..=4)
        .map(|cylinder| VisitCylinder {
            cylinder,
            pressure_kpa: m(40.0 + 0.1 * f64::from(cylinder), 0.05),
            deviation_kpa: (cylinder != 3).then(|| Measured { value: 1.0 / f64::from(cylinder), u: 0.04 }),
            bias_removed_kpa: Some(-0.1),
            refill_ratio: m(1.01, 0.01),
            air_ratio: None,
            lambda: m(0.98, 0.02),
            class: if cylinder == 3 { Class::Undecided } else { Class::Even },
        })
        .collect();
    let key: String = format!("{n:08x}").repeat(8);
    Visit {
        machine: "HS-03".to_owned(),
        visit: key[..12].to_owned(),
        facts: VisitFacts {
            date: Some(date.to_owned()),
            hours: Some(210.5),
            distance_km: None,
            note: Some("après la pluie, \"rough\" at idle\nsecond line".to_owned()),
            conditions: None,
            work: Some("new boot".to_owned()),
            codes: vec!["P0107".to_owned(), "P0122".to_owned()],
            codes_cleared: Vec::new(),
            turns: vec![Turn { time_s: None, cylinder: 2, turns: -0.25 }],
        },
        key,
        source: "log.csv".to_owned(),
        tool_version: "0.1.0".to_owned(),
        settings_hash: "00112233".to_owned(),
        rpm: m(1100.25, 1.5),
        seconds: Some(60.0),
        barometer_kpa: Some(101.3),
        limit_kpa: 1.3,
        limit_source: "default".to_owned(),
        reference: Reference::Group(GroupReference::Median),
        signal: Some(Signal::Averaged),
        verdict: Verdict::CannotTell,
        spread_kpa: m(0.75, 0.06),
        notices: vec!["aliased".to_owned()],
        cylinders,
        plan: None,
    }
}

/// Files below a folder, hidden ones included, as paths relative to it.
pub(crate) fn files(root: &std::path::Path) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = vec![root.to_owned()];
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                found.push(path.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/"));
            }
        }
    }
    found.sort();
    found
}
