//! From a review to the visit that is kept of it.

use sha2::{Digest, Sha256};

use super::types::{Visit, VisitCylinder, VisitFacts};
use crate::machine::Machine;
use crate::notice::Level;
use crate::result::{Class, CylinderResult, Regime, Review, State, StateCylinder};
use crate::settings::Settings;

/// What is kept of a review. `id` is the machine id to keep it under; facts that are missing stay missing. `settings_hash`
/// is the fingerprint of what it was reviewed with, see [`settings_hash`].
#[must_use]
pub fn visit_from_review(review: &Review, id: &str, facts: VisitFacts, settings_hash: &str) -> Visit {
    let idle = review.regimes.iter().find(|s| s.regime == Regime::Idle);
    let mut notices: Vec<String> = Vec::new();
    for n in review.notices.iter().filter(|n| n.level > Level::Note) {
        if !notices.contains(&n.code) {
            notices.push(n.code.clone());
        }
    }
    let mut facts = facts;
    for found in &review.trouble_codes {
        if !facts.codes.contains(&found.code) {
            facts.codes.push(found.code.clone());
        }
    }
    let mut cylinders: Vec<VisitCylinder> = review.cylinders.iter().map(kept).collect();
    cylinders.sort_by_key(|c| c.cylinder);
    Visit {
        machine: id.to_owned(),
        visit: review.source.sha256.chars().take(12).collect(),
        facts,
        key: review.source.sha256.clone(),
        source: review.source.name.clone(),
        tool_version: review.version.clone(),
        settings_hash: settings_hash.to_owned(),
        rpm: idle.map(|s| s.rpm).filter(|r| r.value.is_finite()),
        seconds: idle.map(|s| s.seconds),
        barometer_kpa: review.barometer_kpa,
        limit_kpa: review.machine.limit_kpa,
        limit_source: review.machine.limit_source.clone(),
        reference: review.machine.reference,
        signal: review.pulse.as_ref().map(|p| p.signal),
        verdict: review.verdict,
        spread_kpa: review.spread_kpa,
        notices,
        cylinders,
        plan: None,
    }
}

fn kept(c: &CylinderResult) -> VisitCylinder {
    VisitCylinder {
        cylinder: c.cylinder,
        pressure_kpa: c.pressure_kpa,
        deviation_kpa: c.deviation_kpa,
        bias_removed_kpa: c.bias_removed_kpa,
        refill_ratio: c.refill_ratio,
        air_ratio: c.air_ratio,
        lambda: c.lambda,
        class: c.class,
    }
}

/// One recording with adjustments as two visits, as found and as left; `None` where it holds no adjustment.
///
/// The first visit has no classes of its own: they are judged on the last state.
#[must_use]
pub fn found_and_left(review: &Review, id: &str, settings_hash: &str) -> Option<[Visit; 2]> {
    let found = review.as_found.as_ref()?;
    let mut left = visit_from_review(review, id, VisitFacts::default(), settings_hash);
    let mut first = from_state(&left, found);
    first.visit.push_str("-found");
    left.visit.push_str("-left");
    Some([first, left])
}

fn from_state(left: &Visit, state: &State) -> Visit {
    let one = |c: &StateCylinder| VisitCylinder {
        cylinder: c.cylinder,
        pressure_kpa: c.pressure_kpa,
        deviation_kpa: c.deviation_kpa,
        bias_removed_kpa: left.cylinder(c.cylinder).and_then(|l| l.bias_removed_kpa),
        refill_ratio: None,
        air_ratio: None,
        lambda: None,
        class: Class::Undecided,
    };
    Visit {
        rpm: Some(state.rpm).filter(|r| r.value.is_finite()),
        seconds: Some(state.seconds),
        verdict: state.verdict,
        spread_kpa: state.spread_kpa,
        cylinders: state.cylinders.iter().map(one).collect(),
        ..left.clone()
    }
}

/// Fingerprint of the settings and the machine file: 16 hex digits of the SHA-256 of all their values.
#[must_use]
pub fn settings_hash(settings: &Settings, machine: &Machine) -> String {
    let mut hash = Sha256::new();
    hash.update(format!("{machine:?}\n"));
    for (name, value, _) in settings.table() {
        hash.update(format!("{name}={value}\n"));
    }
    hash.finalize().iter().take(8).map(|b| format!("{b:02x}")).collect()
}
