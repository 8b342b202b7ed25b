//! Which screws may be turned, and what a turn of each does: learned, or from the machine file, or taken from its neighbours.
//!
//! # Method
//! Learned columns come first. A screw without one takes the machine file's `kpa_per_turn`, else the mean of the other
//! screws' figures: screws of one engine are alike, within a quarter (own rule, no source). Such a screw is taken to move its
//! own cylinder alone. The reference cylinder, sealed screws, cylinders for which the machine file lists no adjuster and
//! cylinders without a pressure get no turns, each with its reason.

use serde::{Deserialize, Serialize};

use super::influence::{Column, Influence};
use super::rounds::centred;
use crate::machine::{Adjuster, Machine, Opens};
use crate::result::Reference;

/// Where the figure for a turn comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EffectSource {
    /// Learned from turns noted.
    Learned,
    /// The machine file's `kpa_per_turn`.
    MachineFile,
    /// Mean of the other screws.
    LikeTheOthers,
}

/// Why a cylinder gets no turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Untouched {
    /// The others are matched to it.
    Reference,
    /// Its adjuster is sealed.
    Sealed,
    /// The machine file lists adjusters and none for it.
    NoAdjuster,
    /// Its pressure could not be used.
    NoPressure,
    /// It was turned and did not do what it should.
    NoEffect,
    /// Nothing is gained by turning it.
    Even,
}

/// A screw that may be turned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Screw {
    /// Cylinder.
    pub cylinder: u32,
    /// Index of the cylinder among the live ones.
    pub index: usize,
    /// Which way it opens.
    pub opens: Opens,
    /// How far it may be turned either way, turns.
    pub range_turns: Option<f64>,
    /// The machine file's figure, kPa a turn.
    pub file_kpa_per_turn: Option<f64>,
}

/// What one turn of a screw does.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// Own pressure against the others, kPa a turn of opening.
    pub kpa_per_turn: f64,
    /// Its standard uncertainty.
    pub u_kpa_per_turn: f64,
    /// Each live cylinder's pressure less the mean of all, kPa a turn.
    pub column_kpa: Vec<f64>,
    /// Standard uncertainty of each entry, where each was fitted; else zeros and the own figure's counts.
    pub u_column_kpa: Vec<f64>,
    /// Speed and its standard uncertainty, rev/min a turn.
    pub rpm_per_turn: Option<(f64, f64)>,
    /// Origin.
    pub source: EffectSource,
}

/// Relative standard uncertainties of figures that were not learned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trust {
    /// Of the machine file's figure.
    pub file: f64,
    /// Of a figure taken from the other screws.
    pub alike: f64,
}

/// Sorts all cylinders into screws and those left alone. `live` are the cylinders with a pressure, `all` every cylinder.
#[must_use]
pub fn screws(machine: &Machine, all: &[u32], live: &[u32]) -> (Vec<Screw>, Vec<(u32, Untouched)>) {
    let (mut screws, mut rest) = (Vec::new(), Vec::new());
    for &cylinder in all {
        let listed = machine.adjusters.iter().find(|a| a.cylinder == cylinder);
        let why = if machine.reference == Reference::Cylinder(cylinder) {
            Some(Untouched::Reference)
        } else if listed.is_some_and(|a| a.sealed) {
            Some(Untouched::Sealed)
        } else if listed.is_none() && !machine.adjusters.is_empty() {
            Some(Untouched::NoAdjuster)
        } else {
            None
        };
        match (why, live.iter().position(|c| *c == cylinder)) {
            (Some(why), _) => rest.push((cylinder, why)),
            (None, None) => rest.push((cylinder, Untouched::NoPressure)),
            (None, Some(index)) => screws.push(screw(cylinder, index, listed)),
        }
    }
    (screws, rest)
}

fn screw(cylinder: u32, index: usize, listed: Option<&Adjuster>) -> Screw {
    Screw {
        cylinder,
        index,
        opens: listed.map_or(Opens::Unknown, |a| a.opens),
        range_turns: listed.and_then(|a| a.range_turns),
        file_kpa_per_turn: listed.and_then(|a| a.kpa_per_turn),
    }
}

/// What each screw does, in the order of `screws`; `None` where nothing tells.
#[must_use]
pub fn effects(
    screws: &[Screw],
    live: &[u32],
    influence: Option<&Influence>,
    trust: Trust,
) -> Vec<Option<Effect>> {
    let own: Vec<Option<Effect>> = screws
        .iter()
        .map(|s| {
            let column = influence.and_then(|i| {
                i.columns.iter().find(|c| c.cylinder == s.cylinder).and_then(|c| learned(i, c, live))
            });
            column.or_else(|| {
                s.file_kpa_per_turn
                    .map(|k| alone(s.index, live.len(), k, trust.file * k, EffectSource::MachineFile))
            })
        })
        .collect();
    let known: Vec<&Effect> = own.iter().flatten().collect();
    if known.is_empty() {
        return own;
    }
    let n = known.len() as f64;
    let k = known.iter().map(|e| e.kpa_per_turn).sum::<f64>() / n;
    let u = known.iter().map(|e| e.u_kpa_per_turn.powi(2)).sum::<f64>().sqrt() / n;
    let speeds: Vec<(f64, f64)> = known.iter().filter_map(|e| e.rpm_per_turn).collect();
    let speed = (!speeds.is_empty()).then(|| {
        let m = speeds.len() as f64;
        let mean = speeds.iter().map(|s| s.0).sum::<f64>() / m;
        (mean, (speeds.iter().map(|s| s.1).sum::<f64>() / m).hypot(trust.alike * mean))
    });
    let like = |s: &Screw| {
        let u = u.hypot(trust.alike * k);
        Effect { rpm_per_turn: speed, ..alone(s.index, live.len(), k, u, EffectSource::LikeTheOthers) }
    };
    own.iter().zip(screws).map(|(e, s)| Some(e.clone().unwrap_or_else(|| like(s)))).collect()
}

/// Whether a screw was turned and did clearly less than half of what it was taken to do: a seized screw, exchanged hoses or a
/// turn noted the wrong way round. Going on with the old figure would turn it further and further.
#[must_use]
pub fn refuted(screw: &Screw, effect: Option<&Effect>, influence: Option<&Influence>) -> bool {
    let seen = influence.and_then(|i| i.without_effect.iter().find(|w| w.0 == screw.cylinder));
    match (seen, effect) {
        (Some(&(_, k, u)), Some(e)) => {
            e.source != EffectSource::Learned && k + 2.0 * u < 0.5 * e.kpa_per_turn
        }
        (Some(&(_, k, u)), None) => k + 2.0 * u < 0.0,
        _ => false,
    }
}

/// A learned column in the order of today's live cylinders.
fn learned(influence: &Influence, column: &Column, live: &[u32]) -> Option<Effect> {
    let at: Option<Vec<usize>> =
        live.iter().map(|c| influence.cylinders.iter().position(|known| known == c)).collect();
    let at = at?;
    Some(Effect {
        kpa_per_turn: column.kpa_per_turn,
        u_kpa_per_turn: column.u_kpa_per_turn,
        column_kpa: centred(&at.iter().map(|&i| column.effect_kpa[i]).collect::<Vec<_>>()),
        u_column_kpa: at.iter().map(|&i| column.u_effect_kpa[i]).collect(),
        rpm_per_turn: column.rpm_per_turn,
        source: EffectSource::Learned,
    })
}

/// A screw that moves its own cylinder alone.
fn alone(index: usize, n: usize, k: f64, u: f64, source: EffectSource) -> Effect {
    let share = |i: usize| f64::from(u8::from(i == index)) - 1.0 / n as f64;
    Effect {
        kpa_per_turn: k,
        u_kpa_per_turn: u,
        column_kpa: (0..n).map(|i| k * share(i)).collect(),
        u_column_kpa: vec![0.0; n],
        rpm_per_turn: None,
        source,
    }
}
