//! Class and evidence of every cylinder from the facts of the idle state.

use crate::balance::measure::Estimate;
use crate::machine::Machine;
use crate::mixture::classes::{Facts, Frame, Side, Value, both, classify, side};
use crate::mixture::words::{Case, Surplus, Work, evidence};
use crate::prepare::Prepared;
use crate::pulse::refill::{METHOD_SHARE, Refill, Refusal, jackknife_log};
use crate::recording::{Quantity, Recording};
use crate::result::{Basis, Class, GroupReference, Reference, Undecided, Verdict};
use crate::settings::Settings;
use crate::stats::robust::median;

use super::found::Found;
use super::opening::{Opening, opening};
use super::states::Judged;

/// What the classes say of one cylinder.
#[derive(Debug, Clone)]
pub(crate) struct Classed {
    pub class: Class,
    pub basis: Basis,
    pub evidence: Vec<String>,
    pub refill: Option<Value>,
    pub air: Option<Value>,
    pub lambda: Option<Value>,
    /// Pressure off, and the shape of its pulse says that the plate is not why.
    pub breathes: bool,
    /// Breathes like the others and gives the crank less: a weak burn.
    pub weak: bool,
}

/// Classes all cylinders.
pub(crate) fn classes(
    recording: &Recording,
    prepared: &Prepared<'_>,
    machine: &Machine,
    settings: &Settings,
    found: &Found,
    judged: Option<&Judged>,
) -> Vec<Classed> {
    let limit = machine.limit_kpa.unwrap_or(settings.limit_kpa);
    let numbered = matches!(machine.reference, Reference::Cylinder(_));
    let half = if numbered { limit } else { 0.5 * limit };
    let frame = Frame {
        // The live cylinders of a machine that only a dead sensor keeps open are even among themselves.
        verdict: judged.map_or(Verdict::CannotTell, |j| match j.decision.because {
            Some(Undecided::Sensor) => Verdict::Within,
            _ => j.decision.verdict,
        }),
        fuelling: machine.fuelling,
        direction_known: found.ambient.kind.is_some(),
    };
    let refills = ratios(found, machine, |r| r.slope, |_| 1.0);
    let airs = ratios(found, machine, |r| r.slope, |r| r.flow_share);
    let lambdas = lambdas(recording, prepared, found);
    let group_lambda = median(&lambdas.iter().flatten().map(|l| l.value).collect::<Vec<_>>());
    let bound = air_bound(found, half, settings);
    let pressure = pressures(found, judged, half, settings, numbered);
    let sides = |v: &[Option<Value>], i: usize| {
        v[i].map(|v| side(Value { value: v.value - 1.0, u: v.u }, bound, settings.guard))
    };
    let works = works(found, settings);
    (0..found.numbers.len())
        .map(|i| {
            let facts = Facts {
                pressure: pressure[i].unwrap_or(Side::Open),
                refill: sides(&refills, i),
                stepped: stepped(found, i),
                conflict_kpa: conflict(
                    found,
                    judged
                        .filter(|_| !numbered)
                        .and_then(|j| j.deviations[i])
                        .map(|d| Value { value: d.value, u: d.u() }),
                    refills[i].filter(|_| matches!(sides(&refills, i), Some(Side::High | Side::Low))),
                    i,
                    settings,
                ),
                air: sides(&airs, i),
                lambda: lambdas[i].map(|l| {
                    side(
                        Value { value: l.value - machine.lambda_target, u: l.u },
                        settings.lambda_band,
                        settings.guard,
                    )
                }),
            };
            let class = if pressure[i].is_none() && facts.lambda.is_none() {
                (Class::Undecided, Basis::None)
            } else {
                beside_a_step(classify(&facts, &frame), found, i)
            };
            let case = Case {
                cylinder: found.numbers[i],
                class,
                facts: &facts,
                judged: judged.is_some() || found.dead.contains(&i),
                deviation: judged.and_then(|j| j.deviations[i]).map(|e| Value { value: e.value, u: e.u() }),
                refill: refills[i],
                no_refill: match &found.refills[i] {
                    Some(Err(refusal)) => Some(refusal.words()),
                    None => Some("the sampling does not carry the pulse's shape"),
                    Some(Ok(_)) => None,
                },
                air: airs[i],
                lambda: lambdas[i],
                lambda_from_group: lambdas[i].zip(group_lambda).map(|(l, g)| l.value - g),
                fuelling: machine.fuelling,
                direction_known: frame.direction_known,
                nameless_twin: found.numbers.len() == 2 && !numbered,
                surplus: opening(found, i).map_or(Surplus::NoRaised, surplus),
                work: works.get(i).copied(),
                is_reference: machine.reference == Reference::Cylinder(found.numbers[i]),
                reference: reference_word(machine.reference),
            };
            Classed {
                class: class.0,
                basis: class.1,
                evidence: evidence(&case),
                refill: refills[i],
                air: airs[i],
                lambda: lambdas[i],
                breathes: class.0 == Class::Imbalanced
                    && matches!(facts.pressure, Side::High | Side::Low)
                    && (facts.stepped || facts.conflict_kpa.is_some() || facts.refill == Some(Side::Inside)),
                weak: works.get(i).is_some_and(|w| w.side == Side::Low)
                    && facts.pressure == Side::Inside
                    && !matches!(facts.refill, Some(Side::High | Side::Low)),
            }
        })
        .collect()
}

/// Share of the folded speed's swing by which a cylinder's part must differ before it counts: cycles differ by themselves,
/// and an unequal runner moves work a little. From the engine model.
const WORK_BOUND: f64 = 0.1;

/// Whether this cylinder's rise has a step and those of at least half of the others are straight.
fn stepped(found: &Found, i: usize) -> bool {
    let straight = found.refills.iter().flatten().filter(|r| r.is_ok()).count();
    matches!(found.refills[i], Some(Err(Refusal::Step))) && 2 * straight + 1 >= found.numbers.len()
}

/// In a twin the pressure only tells the two apart; where the shape says that the other one breathes wrongly, this one's
/// departure is that one's, and says nothing of its own air.
fn beside_a_step(class: (Class, Basis), found: &Found, i: usize) -> (Class, Basis) {
    let other = found.numbers.len() == 2 && stepped(found, 1 - i);
    if other && matches!(class, (Class::Lean | Class::Rich, Basis::Inferred)) {
        (Class::Imbalanced, Basis::Inferred)
    } else {
        class
    }
}

/// A plate moves the mean pressure by `0.78 p ln(refill ratio)` (the engine model: 1.0 to 1.1 times that on every choked
/// layout). Where the measured deviation is under 0.55 or over 1.7 of it, it is no plate alone: a larger runner has a lower
/// refill rate and nearly the same mean, a leaking valve a higher mean than its rise tells. A runner that fills far past the
/// critical pressure answers less; there too small a deviation proves nothing.
fn conflict(
    found: &Found,
    deviation: Option<Value>,
    refill: Option<Value>,
    i: usize,
    settings: &Settings,
) -> Option<f64> {
    let (d, r) = (deviation?, refill?);
    let measured = found.refills[i].as_ref()?.as_ref().ok()?;
    let expected = settings.pressure_per_area * level(found) * r.value.ln();
    let ratio = d.value / expected;
    let u = (d.u / expected).hypot(ratio * r.u / (r.value * r.value.ln()));
    let low = measured.flow_share >= 0.97 && ratio + settings.guard * u < 0.55;
    (low || ratio - settings.guard * u > 1.7).then_some(expected)
}

fn surplus(opening: Opening) -> Surplus {
    match opening {
        Opening::Fixed(idle, raised) => Surplus::Fades(idle, raised),
        Opening::Grows(idle, raised) => Surplus::Stays(idle, raised),
        Opening::Open => Surplus::Open,
    }
}

/// Work of every cylinder by the speed ripple; empty without one.
fn works(found: &Found, settings: &Settings) -> Vec<Work> {
    let Some(Ok(ripple)) = &found.ripple else { return Vec::new() };
    let bound = WORK_BOUND * ripple.swing_rpm;
    ripple
        .parts
        .iter()
        .map(|p| {
            let value = Value { value: p.rise_rpm, u: p.u_rpm };
            Work { value, side: side(value, bound, settings.guard) }
        })
        .collect()
}

/// Word for the reference in sentences.
pub(crate) fn reference_word(reference: Reference) -> &'static str {
    match reference {
        Reference::Cylinder(_) => "the reference cylinder",
        Reference::Group(GroupReference::Median) => "the middle of the group",
        Reference::Group(GroupReference::Mean) => "the mean of the group",
    }
}

/// By pressure: off only against both the median and the mean of the live cylinders. Where the spread is outside and both
/// departures leave everybody open, the one furthest off is named, so that a verdict always has a name.
fn pressures(
    found: &Found,
    judged: Option<&Judged>,
    half: f64,
    settings: &Settings,
    numbered: bool,
) -> Vec<Option<Side>> {
    let n = found.numbers.len();
    let (Some(j), Some(left)) = (judged, &found.left) else { return vec![None; n] };
    let value = |e: &Estimate| Value { value: e.value, u: e.u() };
    let mean_weights = |i: usize| {
        let live = left.data.live();
        let mut c = vec![0.0; n];
        live.iter().for_each(|&k| c[k] = -1.0 / live.len() as f64);
        c[i] += 1.0;
        c
    };
    let mut out: Vec<Option<Side>> = (0..n)
        .map(|i| {
            let own = side(value(&j.deviations[i]?), half, settings.guard);
            if numbered {
                return Some(own);
            }
            let mean = left.data.combination(&mean_weights(i))?;
            Some(both(own, side(value(&mean), half, settings.guard)))
        })
        .collect();
    if j.decision.verdict == Verdict::Outside
        && !out.iter().flatten().any(|s| matches!(s, Side::High | Side::Low))
    {
        let furthest = (0..n)
            .filter_map(|i| j.deviations[i].map(|d| (i, d.value)))
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        if let Some((i, d)) = furthest {
            out[i] = Some(if d > 0.0 { Side::High } else { Side::Low });
        }
    }
    out
}

/// Bound on refill and air ratios that goes with the bound on pressure.
fn air_bound(found: &Found, half: f64, settings: &Settings) -> f64 {
    half / (settings.pressure_per_area * level(found))
}

/// Middle of the live cylinders' means, kPa.
fn level(found: &Found) -> f64 {
    let means: Vec<f64> = found
        .left
        .iter()
        .flat_map(|m| m.data.live().into_iter().filter_map(|i| m.data.mean(i)).collect::<Vec<_>>())
        .collect();
    median(&means).unwrap_or(40.0).max(5.0)
}

/// Ratio of a quantity of the refill to its median over the cylinders (in a twin: its mean), with its uncertainty.
fn ratios(
    found: &Found,
    machine: &Machine,
    slope: impl Fn(&Refill) -> f64,
    factor: impl Fn(&Refill) -> f64,
) -> Vec<Option<Value>> {
    let n = found.numbers.len();
    let good: Vec<Option<&Refill>> =
        found.refills.iter().map(|r| r.as_ref().and_then(|r| r.as_ref().ok())).collect();
    let volume = |i: usize| match machine.runner_cc.as_deref() {
        Some(v) if v.len() == n => v[i],
        _ => 1.0,
    };
    let known: Vec<usize> = (0..n).filter(|&i| good[i].is_some()).collect();
    if known.len() < 2 {
        return vec![None; n];
    }
    let value = |i: usize| good[i].map_or(f64::NAN, |r| slope(r) * factor(r) * volume(i));
    let without = |i: usize, b: usize| {
        good[i]
            .and_then(|r| r.without.get(b))
            .map_or(f64::NAN, |s| s * good[i].map_or(1.0, &factor) * volume(i))
    };
    let middle = |of: &dyn Fn(usize) -> f64| {
        let v: Vec<f64> = known.iter().map(|&i| of(i)).collect();
        if v.len() == 2 { Some(0.5 * (v[0] + v[1])) } else { median(&v) }
    };
    let blocks = known.iter().map(|&i| good[i].map_or(0, |r| r.without.len())).min().unwrap_or(0);
    (0..n)
        .map(|i| {
            let r = good[i]?;
            let centre = middle(&value)?;
            // Uncertainty from the ratio's own leave-one-out values, against the mean of the others: a cylinder that is
            // the median itself is still uncertain.
            let left_out: Vec<f64> = (0..blocks)
                .map(|b| {
                    let others: Vec<f64> =
                        known.iter().filter(|&&k| k != i).map(|&k| without(k, b)).collect();
                    without(i, b) / (others.iter().sum::<f64>() / others.len() as f64)
                })
                .collect();
            let ratio = value(i) / centre;
            let u =
                ratio * jackknife_log(&left_out).hypot(0.25 * r.curvature.abs() / 2.0).hypot(METHOD_SHARE);
            (ratio.is_finite() && u.is_finite()).then_some(Value { value: ratio, u })
        })
        .collect()
}

/// Mean measured lambda of each cylinder over the judged idle.
fn lambdas(recording: &Recording, prepared: &Prepared<'_>, found: &Found) -> Vec<Option<Value>> {
    let Some(left) = &found.left else { return vec![None; found.numbers.len()] };
    found
        .numbers
        .iter()
        .map(|&number| {
            let channel = recording
                .channels
                .iter()
                .find(|c| c.quantity == Quantity::Lambda && c.cylinder == Some(number))?;
            let means =
                block_means(prepared.time_s, &channel.values, &left.stretches, left.data.blocks.length_s);
            let m = crate::stats::mean_uncertainty::conservative(&means)?;
            let step = channel.resolution.unwrap_or(0.0) / 12.0_f64.sqrt();
            Some(Value { value: m.mean, u: m.se.hypot(step) })
        })
        .collect()
}

fn block_means(time_s: &[f64], values: &[f64], stretches: &[(f64, f64)], length_s: f64) -> Vec<f64> {
    let mut out = Vec::new();
    for &(start, end) in stretches {
        let mut from = start;
        while from + length_s <= end + 1e-9 {
            let rows =
                time_s.partition_point(|t| *t < from)..time_s.partition_point(|t| *t < from + length_s);
            let known: Vec<f64> = values[rows].iter().copied().filter(|v| v.is_finite()).collect();
            if !known.is_empty() {
                out.push(known.iter().sum::<f64>() / known.len() as f64);
            }
            from += length_s;
        }
    }
    out
}
