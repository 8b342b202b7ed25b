//! What a plan needs of a visit beyond its figures, kept with it, so that the turns can be planned from the book alone.

use serde::{Deserialize, Serialize};

use super::types::{Turn, Visit, VisitCylinder};
use crate::adjust::history::rounds_of_turns;
use crate::adjust::rounds::Round;
use crate::analysis::Analysis;
use crate::notice::{Level, Notice};
use crate::recording::{Format, PressureKind, TroubleCode};
use crate::result::{
    Basis, CylinderResult, Fuelling, FurtherTurning, MachineInfo, Measured, REVIEW_SCHEMA, Regime, Review,
    SourceInfo, State, StateCylinder, Undecided, Verdict,
};

/// A notice without its words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeptNotice {
    /// Code.
    pub code: String,
    /// Level.
    pub level: Level,
    /// Cylinder.
    pub cylinder: Option<u32>,
}

/// What a plan needs of a visit; everything that a review says and [`Visit`] does not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanBasis {
    /// Number of cylinders.
    pub cylinders: u32,
    /// Strokes per cycle.
    pub strokes: u8,
    /// How fuel is metered.
    pub fuelling: Fuelling,
    /// Container of the recording.
    pub format: Format,
    /// Rows used.
    pub rows: usize,
    /// Rows skipped as damaged.
    pub rows_skipped: usize,
    /// Length, s.
    pub duration_s: f64,
    /// Median row rate, Hz.
    pub sample_rate_hz: Option<f64>,
    /// Unit of the pressures as logged.
    pub pressure_unit: String,
    /// Absolute, gauge or vacuum as logged.
    pub pressure_kind: Option<PressureKind>,
    /// What dominates an undecided verdict.
    pub undecided_because: Option<Undecided>,
    /// Seconds of idle that would decide.
    pub seconds_to_decide: Option<f64>,
    /// Whether turning further makes sense.
    pub further_turning: Option<FurtherTurning>,
    /// Notices, each code and cylinder once.
    pub notices: Vec<KeptNotice>,
    /// Drift of each cylinder that has one, kPa a minute.
    pub drift_kpa_per_min: Vec<(u32, Measured)>,
    /// State before the turns, where the recording holds some.
    pub found: Option<State>,
    /// What the turns noted in this recording changed.
    pub rounds: Vec<Round>,
}

impl PlanBasis {
    /// Takes it from an analysis; `turns` are those of the visit.
    #[must_use]
    pub fn of(analysis: &Analysis, turns: &[Turn]) -> Self {
        let r = &analysis.review;
        let mut notices: Vec<KeptNotice> = Vec::new();
        for n in &r.notices {
            let kept = KeptNotice { code: n.code.clone(), level: n.level, cylinder: n.cylinder };
            if !notices.contains(&kept) {
                notices.push(kept);
            }
        }
        let drift = |c: &CylinderResult| c.drift_kpa_per_min.map(|d| (c.cylinder, d));
        Self {
            cylinders: r.machine.cylinders,
            strokes: r.machine.strokes,
            fuelling: r.machine.fuelling,
            format: r.source.format,
            rows: r.source.rows,
            rows_skipped: r.source.rows_skipped,
            duration_s: r.source.duration_s,
            sample_rate_hz: r.source.sample_rate_hz,
            pressure_unit: analysis.context.pressure_unit.clone(),
            pressure_kind: analysis.context.pressure_kind,
            undecided_because: r.undecided_because,
            seconds_to_decide: r.seconds_to_decide.filter(|s| s.is_finite()),
            further_turning: r.further_turning,
            notices,
            drift_kpa_per_min: r.cylinders.iter().filter_map(drift).collect(),
            found: r.as_found.clone(),
            rounds: rounds_of_turns(analysis, turns),
        }
    }
}

/// The idle state of a visit, as left.
#[must_use]
pub fn state_of(visit: &Visit) -> State {
    let nothing = Measured { value: f64::NAN, u: f64::NAN };
    let seconds = visit.seconds.unwrap_or(0.0);
    let one = |c: &VisitCylinder| StateCylinder {
        cylinder: c.cylinder,
        pressure_kpa: c.pressure_kpa,
        deviation_kpa: c.deviation_kpa,
    };
    State {
        regime: Regime::Idle,
        start_s: 0.0,
        end_s: seconds,
        seconds,
        cycles: 0,
        rpm: visit.rpm.unwrap_or(nothing),
        cylinders: visit.cylinders.iter().map(one).collect(),
        spread_kpa: visit.spread_kpa,
        verdict: visit.verdict,
    }
}

/// The review that a visit was made of, as far as a plan asks. Without a [`PlanBasis`] (visits of an older version) notices
/// lack their cylinders and a verdict its reason.
#[must_use]
pub fn as_review(visit: &Visit) -> Review {
    let b = visit.plan.as_ref();
    let drift = |n: u32| b.and_then(|b| b.drift_kpa_per_min.iter().find(|d| d.0 == n)).map(|d| d.1);
    let cylinder = |c: &VisitCylinder| CylinderResult {
        cylinder: c.cylinder,
        pressure_kpa: c.pressure_kpa,
        bias_removed_kpa: c.bias_removed_kpa,
        deviation_kpa: c.deviation_kpa,
        drift_kpa_per_min: drift(c.cylinder),
        effective_samples: None,
        refill_ratio: c.refill_ratio,
        air_ratio: c.air_ratio,
        lambda: c.lambda,
        class: c.class,
        basis: Basis::None,
        evidence: Vec::new(),
    };
    Review {
        schema: REVIEW_SCHEMA.to_owned(),
        version: visit.tool_version.clone(),
        source: source(visit),
        made_with: None,
        machine: MachineInfo {
            id: Some(visit.machine.clone()),
            cylinders: b.map_or(visit.cylinders.len() as u32, |b| b.cylinders),
            strokes: b.map_or(4, |b| b.strokes),
            reference: visit.reference,
            limit_kpa: visit.limit_kpa,
            limit_source: visit.limit_source.clone(),
            fuelling: b.map_or(Fuelling::Unknown, |b| b.fuelling),
        },
        channels: Vec::new(),
        notices: notices(visit),
        recorded: Vec::new(),
        trouble_codes: visit.facts.codes.iter().map(|c| noted(c)).collect(),
        codes_cleared_s: Vec::new(),
        windows: Vec::new(),
        excluded: Vec::new(),
        barometer_kpa: visit.barometer_kpa,
        barometer_source: None,
        pulse: None,
        regimes: if visit.rpm.is_some() || visit.seconds.is_some() {
            vec![state_of(visit)]
        } else {
            Vec::new()
        },
        as_found: b.and_then(|b| b.found.clone()),
        cylinders: visit.cylinders.iter().map(cylinder).collect(),
        spread_kpa: visit.spread_kpa,
        common_mode_kpa: None,
        differential_kpa: None,
        verdict: visit.verdict,
        undecided_because: b.and_then(|b| b.undecided_because),
        seconds_to_decide: b.and_then(|b| b.seconds_to_decide),
        adjustments: Vec::new(),
        further_turning: b.and_then(|b| b.further_turning).or_else(|| guessed(visit)),
    }
}

/// Of a visit without its basis: an imbalanced cylinder in a verdict of outside is not cured by turning.
fn guessed(visit: &Visit) -> Option<FurtherTurning> {
    let odd = visit.cylinders.iter().any(|c| c.class == crate::result::Class::Imbalanced);
    (visit.plan.is_none() && odd && visit.verdict == Verdict::Outside).then_some(FurtherTurning::NotTheCure)
}

fn noted(code: &str) -> TroubleCode {
    let text = crate::trouble::meaning(code).map(|m| m.1);
    TroubleCode { code: code.to_owned(), status: "noted".to_owned(), time_s: None, text }
}

fn source(visit: &Visit) -> SourceInfo {
    let b = visit.plan.as_ref();
    SourceInfo {
        name: visit.source.clone(),
        sha256: visit.key.clone(),
        format: b.map_or(Format::Csv, |b| b.format),
        rows: b.map_or(0, |b| b.rows),
        rows_skipped: b.map_or(0, |b| b.rows_skipped),
        duration_s: b.map_or(visit.seconds.unwrap_or(0.0), |b| b.duration_s),
        sample_rate_hz: b.and_then(|b| b.sample_rate_hz),
    }
}

fn notices(visit: &Visit) -> Vec<Notice> {
    let bare = |code: &str, level: Level, cylinder: Option<u32>| Notice {
        cylinder,
        ..Notice::new(code, level, "noted at the visit")
    };
    match &visit.plan {
        Some(b) => b.notices.iter().map(|n| bare(&n.code, n.level, n.cylinder)).collect(),
        None => visit.notices.iter().map(|c| bare(c, Level::Caution, None)).collect(),
    }
}
