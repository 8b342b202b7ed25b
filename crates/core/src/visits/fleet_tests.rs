//! A told fleet: which machines have a fault is known.

#![allow(clippy::unwrap_used)]

use super::*;
use crate::stats::fixtures::ar1;
use crate::visits::story::Story;

/// Machine `id` with six visits of a four; `fault` gives the level of cylinder 2 at each.
fn machine_of(id: &str, seed: u64, scatter: f64, fault: impl Fn(usize) -> f64) -> Vec<Visit> {
    let wobble = ar1(4 * 6, 0.0, seed);
    let row = |v: usize| {
        (0..4)
            .map(|i| 0.1 * i as f64 + scatter * wobble[v * 4 + i] + if i == 1 { fault(v) } else { 0.0 })
            .collect::<Vec<_>>()
    };
    let mut visits = (0..6).fold(Story::new(4), |s, v| s.next(&row(v))).visits;
    for v in &mut visits {
        v.machine = id.to_owned();
        v.key = format!("{id}-{}", v.key);
        v.visit = v.key.clone();
    }
    visits
}

fn harrow_sound() -> Vec<Visit> {
    let mut all = Vec::new();
    for n in 1..=12u64 {
        let id = format!("HS-{n:02}");
        all.extend(match n {
            3 => machine_of(&id, n, 0.04, |v| -0.14 * v as f64), // drifting, still within
            5 => machine_of(&id, n, 0.04, |v| if v == 5 { 1.9 } else { 0.0 }), // boot leaks after a refit
            8 => machine_of(&id, n, 0.04, |v| if v < 3 { 1.7 } else { 0.0 }), // repaired
            10 => machine_of(&id, n, 0.04, |_| 1.6),             // sensor reads high throughout
            _ => machine_of(&id, n, 0.04, |_| 0.0),
        });
    }
    all
}

#[test]
fn faults_lead_and_nothing_healthy_stands_above_them() {
    let ranked = fleet(&harrow_sound(), &FleetOptions::default());
    let at = |id: &str| ranked.fleet.machines.iter().find(|m| m.machine == id).unwrap();
    let order: Vec<&str> = ranked.fleet.machines.iter().map(|m| m.machine.as_str()).collect();
    assert_eq!(order.len(), 12);
    let mut first: Vec<&str> = order[..3].to_vec();
    first.sort_unstable();
    assert_eq!(first, ["HS-03", "HS-05", "HS-10"], "{order:?}");
    assert_eq!(at("HS-03").attention, Attention::Watch);
    assert_eq!(at("HS-03").drift.as_ref().unwrap().cylinder, 2);
    assert!(at("HS-05").change.as_ref().unwrap().worse && at("HS-05").attention == Attention::Act);
    assert!(at("HS-10").sisters.as_ref().unwrap().outlier);
    assert_eq!(at("HS-08").attention, Attention::Fine);
    assert!(at("HS-08").why.iter().any(|w| w.contains("has held since")));
    assert!(order[3..].iter().all(|id| at(id).attention == Attention::Fine));
    assert_eq!(ranked.fleet.model.repeatability_source, "fleet");
    // Scatter 0.04 a cylinder; the three others stand 0.1 apart, so that their median is mostly one of them: a
    // deviation changes by 0.04 sqrt(2 x 2) = 0.08, and by a little more where repairs and drifts are in.
    let found = ranked.fleet.model.repeatability_kpa;
    assert!((found - 0.08).abs() < 0.016, "{found}");
    assert!(ranked.comparisons.iter().zip(&order).all(|(c, id)| c.machine.as_deref() == Some(id)));
}

#[test]
fn ranks_of_five_visits_alone_would_never_be_enough() {
    // Six visits: smallest two-sided p of the ranks 2/6! = 0.0028, adjusted over 48 cylinders 0.13: nobody drifts.
    let ranked = fleet(&harrow_sound(), &FleetOptions::default());
    let p: Vec<f64> = ranked.comparisons.iter().flat_map(|c| c.trend.iter().filter_map(|t| t.p)).collect();
    assert!(p.len() >= 40 && benjamini_hochberg(&p).iter().all(|q| *q > 0.05));
}

#[test]
fn visits_without_a_machine_are_listed_and_never_merged() {
    let mut all = harrow_sound();
    let mut lost = all[0].clone();
    lost.machine = String::new();
    all.push(lost.clone());
    all.push(lost);
    let ranked = fleet(&all, &FleetOptions::default());
    assert_eq!((ranked.fleet.machines.len(), ranked.fleet.unnamed.len()), (12, 2));
}

#[test]
fn healthy_fleets_are_left_alone() {
    let mut flagged = 0;
    for fleet_no in 0..20u64 {
        let all: Vec<Visit> = (0..10)
            .flat_map(|n| machine_of(&format!("HS-{n:02}"), 1000 + 31 * fleet_no + n, 0.1, |_| 0.0))
            .collect();
        let ranked = fleet(&all, &FleetOptions::default());
        flagged += ranked.fleet.machines.iter().filter(|m| m.attention != Attention::Fine).count();
    }
    // 20 fleets with no fault: at most one in twenty of them may hold a false alarm, with slack for chance.
    assert!(flagged <= 4, "{flagged} of 200 healthy machines flagged");
}

#[test]
fn no_visits_one_machine_and_dead_ones() {
    assert!(fleet(&[], &FleetOptions::default()).fleet.machines.is_empty());
    let mut one = machine_of("HS-01", 1, 0.04, |_| 0.0);
    one.truncate(1);
    one[0].spread_kpa = None;
    one[0].verdict = Verdict::NotApplicable;
    let ranked = fleet(&one, &FleetOptions::default());
    assert_eq!(ranked.fleet.machines[0].attention, Attention::MeasureAgain);
}
