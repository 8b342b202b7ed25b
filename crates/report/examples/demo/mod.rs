//! Hand-made results for looking at pages and for testing them. The numbers are drawn, not computed: a saw-tooth
//! stands for the pulse, a small generator for scatter. They prove nothing about any method.

use evenpull_core::Analysis;
use evenpull_core::analysis::{Context, PairDifference};
use evenpull_core::notice::{Level, Notice};
use evenpull_core::recording::{Format, PressureKind, Quantity, TroubleCode};
use evenpull_core::result::*;

mod series;

/// What one example looks like.
#[derive(Debug, Clone)]
pub struct Spec {
    /// File name.
    pub name: &'static str,
    /// Machine id.
    pub id: Option<&'static str>,
    /// Deviation of each cylinder, kPa.
    pub deviations: Vec<f64>,
    /// Expanded uncertainty of each deviation, kPa.
    pub u: f64,
    /// Unit and kind.
    pub unit: (&'static str, PressureKind),
    /// Verdict.
    pub verdict: Verdict,
    /// Length, s.
    pub duration_s: f64,
    /// Rows a second.
    pub rate_hz: f64,
    /// Whether the pulse is resolved.
    pub pulses: bool,
    /// Whether screws were turned.
    pub adjusted: bool,
}

impl Spec {
    /// The outboard of the demo workshop with one cylinder off.
    pub fn outboard() -> Self {
        Self {
            name: "hs-07-as-found.csv",
            id: Some("HS-07"),
            deviations: vec![0.0, -0.12, 2.41, 0.09],
            u: 0.31,
            unit: ("mmHg", PressureKind::Vacuum),
            verdict: Verdict::Outside,
            duration_s: 372.0,
            rate_hz: 50.0,
            pulses: true,
            adjusted: false,
        }
    }

    /// The same after work, in kPa absolute, with the turns in it.
    pub fn as_left() -> Self {
        Self {
            name: "hs-07-as-left.csv",
            deviations: vec![0.0, -0.12, 0.31, 0.09],
            u: 0.22,
            unit: ("kPa", PressureKind::Absolute),
            verdict: Verdict::Within,
            rate_hz: 4.0,
            pulses: false,
            adjusted: true,
            ..Self::outboard()
        }
    }

    /// A triple that cannot be decided.
    pub fn open() -> Self {
        Self {
            name: "hs-12-triple.csv",
            id: None,
            deviations: vec![0.0, 0.9, -0.4],
            u: 0.8,
            unit: ("hPa", PressureKind::Absolute),
            verdict: Verdict::CannotTell,
            duration_s: 95.0,
            rate_hz: 4.0,
            pulses: false,
            adjusted: false,
        }
    }

    /// As many cylinders as asked for.
    pub fn many(n: usize) -> Self {
        Self {
            name: "many.csv",
            id: Some("HS-99"),
            deviations: (0..n)
                .map(|i| if i == 2 { 2.4 } else { 0.25 * ((i * 7) % 5) as f64 - 0.5 })
                .collect(),
            ..Self::outboard()
        }
    }
}

const BAROMETER: f64 = 101.2;
const MEAN: f64 = 42.0;

/// Builds the whole hand-made result.
pub fn build(spec: &Spec) -> Analysis {
    let n = spec.deviations.len();
    let end = spec.duration_s;
    let windows = [
        (0.24 * end, 0.46 * end, Regime::Idle),
        (0.52 * end, 0.76 * end, Regime::Idle),
        (0.84 * end, 0.95 * end, Regime::Raised),
    ];
    let excluded = [
        (0.0, 0.04, "engine-off"),
        (0.04, 0.05, "starting"),
        (0.05, 0.24, "warming"),
        (0.46, 0.52, if spec.adjusted { "adjusting" } else { "blip" }),
        (0.76, 0.84, "speed"),
        (0.95, 1.0, "engine-off"),
    ];
    let review = Review {
        schema: REVIEW_SCHEMA.to_owned(),
        version: "0.1.0".to_owned(),
        source: source(spec),
        made_with: None,
        machine: MachineInfo {
            id: spec.id.map(str::to_owned),
            cylinders: n as u32,
            strokes: 4,
            reference: Reference::Group(GroupReference::Median),
            limit_kpa: 1.3,
            limit_source: "default".to_owned(),
            fuelling: Fuelling::Shared,
        },
        channels: channels(spec),
        notices: vec![
            Notice::new(
                "no-barometer",
                Level::Note,
                "No barometer was logged; it is taken from the sensors with the engine off.",
            ),
            Notice::new(
                "raised-uneven",
                Level::Caution,
                "At the raised speed cylinder 3 is off by more than at idle: look at the linkage.",
            )
            .on_cylinder(3)
            .between(0.84 * end, 0.95 * end),
        ],
        recorded: recorded(end),
        trouble_codes: vec![],
        codes_cleared_s: vec![],
        windows: windows
            .iter()
            .map(|w| Window {
                start_s: w.0,
                end_s: w.1,
                rpm: if w.2 == Regime::Idle { 912.0 } else { 2710.0 },
                regime: w.2,
            })
            .collect(),
        excluded: excluded
            .iter()
            .map(|e| Excluded { start_s: e.0 * end, end_s: e.1 * end, reason: e.2.to_owned() })
            .collect(),
        barometer_kpa: Some(BAROMETER),
        barometer_source: Some("engine-off".to_owned()),
        pulse: Some(PulseInfo {
            rate_hz: 7.6,
            samples_per_cycle: spec.rate_hz / 7.6,
            signal: if spec.pulses { Signal::Partial } else { Signal::Averaged },
            phase_from: "speed".to_owned(),
            firing_deg: None,
            firing_from: None,
            cylinders: Vec::new(),
        }),
        regimes: vec![
            state(spec, Regime::Idle, 0.52 * end, 0.76 * end, 0.0),
            state(spec, Regime::Raised, 0.84 * end, 0.95 * end, 0.4),
        ],
        as_found: spec.adjusted.then(|| state(spec, Regime::Idle, 0.24 * end, 0.46 * end, 2.1)),
        cylinders: (0..n).map(|i| cylinder(spec, i)).collect(),
        spread_kpa: (n > 1).then(|| measured(spread(&spec.deviations), spec.u * 1.2)),
        common_mode_kpa: Some(0.35),
        differential_kpa: Some(0.12),
        verdict: spec.verdict,
        undecided_because: (spec.verdict == Verdict::CannotTell).then_some(Undecided::Bias),
        seconds_to_decide: None,
        adjustments: if spec.adjusted {
            vec![
                Adjustment { time_s: 0.475 * end, cylinder: 3, step_kpa: measured(-1.2, 0.2) },
                Adjustment { time_s: 0.5 * end, cylinder: 3, step_kpa: measured(-0.9, 0.2) },
            ]
        } else {
            vec![]
        },
        further_turning: Some(if spec.verdict == Verdict::Outside {
            FurtherTurning::Worthwhile
        } else {
            FurtherTurning::WithinNoise
        }),
    };
    Analysis { context: context(spec), traces: series::traces(spec), pulses: series::pulses(spec), review }
}

/// A result with everything hostile that a log can carry.
pub fn hostile() -> Analysis {
    let mut a = build(&Spec::outboard());
    let bad = "<img src=x onerror=alert(1)>\"'&\u{202e}\u{1b}[31m</script><!--";
    a.review.source.name = format!("{bad}.csv");
    a.review.machine.id = Some(bad.to_owned());
    for c in &mut a.review.channels {
        c.header = bad.to_owned();
        c.why = bad.to_owned();
    }
    a.review.notices.push(Notice::new(bad, Level::Fault, bad));
    a.review.excluded.push(Excluded { start_s: 300.0, end_s: 340.0, reason: bad.to_owned() });
    a.review.cylinders[0].evidence.push(bad.to_owned());
    a.review.trouble_codes.push(TroubleCode {
        code: bad.to_owned(),
        status: bad.to_owned(),
        time_s: Some(3.0),
        text: Some(bad.to_owned()),
    });
    a.review.recorded[0].why = bad.to_owned();
    a.review.barometer_source = Some(bad.to_owned());
    a.review.version = bad.to_owned();
    a.context.pressure_unit = bad.to_owned();
    a.context.method.push(bad.to_owned());
    a.context.settings.push((bad.to_owned(), bad.to_owned(), bad.to_owned()));
    a
}

fn measured(value: f64, u: f64) -> Measured {
    Measured { value, u }
}

fn spread(d: &[f64]) -> f64 {
    d.iter().copied().fold(f64::MIN, f64::max) - d.iter().copied().fold(f64::MAX, f64::min)
}

fn source(spec: &Spec) -> SourceInfo {
    SourceInfo {
        name: spec.name.to_owned(),
        sha256: "9f2c1d7e".repeat(8),
        format: Format::Csv,
        rows: (spec.duration_s * spec.rate_hz) as usize,
        rows_skipped: 2,
        duration_s: spec.duration_s,
        sample_rate_hz: Some(spec.rate_hz),
    }
}

fn channels(spec: &Spec) -> Vec<ChannelInfo> {
    let info = |header: String, quantity, cylinder, unit: &str, kind| ChannelInfo {
        header,
        quantity,
        cylinder,
        unit: unit.to_owned(),
        pressure_kind: kind,
        resolution: None,
        why: "from the header".to_owned(),
    };
    let mut out = vec![info("time".to_owned(), Quantity::Time, None, "s", None)];
    for i in 1..=spec.deviations.len() as u32 {
        out.push(info(
            format!("Runner {i} ({})", spec.unit.0),
            Quantity::ManifoldPressure,
            Some(i),
            spec.unit.0,
            Some(spec.unit.1),
        ));
    }
    out.push(info("Engine speed".to_owned(), Quantity::EngineSpeed, None, "rpm", None));
    out
}

fn recorded(end: f64) -> Vec<RecordedPart> {
    let part = |part: &str, found, seconds, why: &str| RecordedPart {
        part: part.to_owned(),
        found,
        seconds,
        why: why.to_owned(),
    };
    vec![
        part("engine-off", true, 0.04 * end, "speed 0 and all pressures at one level"),
        part("warm", false, 0.0, "no coolant temperature was logged"),
        part("idle", true, 0.46 * end, "steady between 890 and 930 rev/min"),
        part("after-blip", false, 0.0, "the throttle was not opened"),
        part("raised", true, 0.11 * end, "steady near 2,710 rev/min"),
    ]
}

fn state(spec: &Spec, regime: Regime, start_s: f64, end_s: f64, extra: f64) -> State {
    let d = |i: usize| spec.deviations[i] + if i == 2 { extra } else { 0.0 };
    let all: Vec<f64> = (0..spec.deviations.len()).map(d).collect();
    State {
        regime,
        start_s,
        end_s,
        seconds: end_s - start_s,
        cycles: ((end_s - start_s) * 7.6) as u64,
        rpm: measured(if regime == Regime::Idle { 912.0 } else { 2710.0 }, 4.0),
        cylinders: (0..all.len())
            .map(|i| StateCylinder {
                cylinder: i as u32 + 1,
                pressure_kpa: Some(measured(MEAN + all[i], 0.4)),
                deviation_kpa: Some(measured(all[i], spec.u)),
            })
            .collect(),
        spread_kpa: (all.len() > 1).then(|| measured(spread(&all), spec.u * 1.2)),
        verdict: if spread(&all) > 1.5 { Verdict::Outside } else { spec.verdict },
    }
}

fn cylinder(spec: &Spec, i: usize) -> CylinderResult {
    let d = spec.deviations[i];
    let off = spec.verdict == Verdict::Outside && d.abs() > 1.3;
    CylinderResult {
        cylinder: i as u32 + 1,
        pressure_kpa: Some(measured(MEAN + d, 0.42)),
        bias_removed_kpa: Some([0.3, -0.2, 0.1, 0.0][i % 4]),
        deviation_kpa: Some(measured(d, spec.u)),
        drift_kpa_per_min: Some(measured(0.02, 0.05)),
        effective_samples: Some(412.0),
        refill_ratio: spec.pulses.then(|| measured(1.0 + d * 0.06, 0.02)),
        air_ratio: spec.pulses.then(|| measured(1.0 + d * 0.05, 0.03)),
        lambda: None,
        class: match spec.verdict {
            Verdict::CannotTell => Class::Undecided,
            _ if off && d > 0.0 => Class::Lean,
            _ if off => Class::Rich,
            _ => Class::Even,
        },
        basis: if off { Basis::Inferred } else { Basis::None },
        evidence: if off {
            vec![
                "Its mean lies 2.41 ± 0.31 kPa above the median cylinder; the others lie within 0.21 kPa of each other.".to_owned(),
                "Its refill is steeper by the ratio 1.14 ± 0.02: more air passes the plate or a leak behind it.".to_owned(),
            ]
        } else {
            vec![]
        },
    }
}

fn context(spec: &Spec) -> Context {
    let n = spec.deviations.len() as u32;
    let pairs = (1..=n).flat_map(|a| (a + 1..=n).map(move |b| (a, b)));
    Context {
        pressure_unit: spec.unit.0.to_owned(),
        pressure_kind: Some(spec.unit.1),
        assumed_barometer_kpa: 101.325,
        gain_allowance_kpa: 0.17,
        display_mean_kpa: spec
            .deviations
            .iter()
            .enumerate()
            .map(|(i, d)| {
                let shown = MEAN + 4.0 + d + [0.3, -0.2, 0.1, 0.0][i % 4];
                Some(if spec.unit.1 == PressureKind::Vacuum { BAROMETER - shown } else { shown })
            })
            .collect(),
        pairs: pairs
            .map(|(a, b)| PairDifference {
                first: a,
                second: b,
                difference_kpa: spec.deviations[a as usize - 1] - spec.deviations[b as usize - 1],
                u_kpa: spec.u / 2.0,
            })
            .collect(),
        method: vec![
            "Mean pressures are time means over whole engine cycles inside the judged stretches.".to_owned(),
            "Uncertainties are expanded, k = 2 (JCGM 100), from each difference's own series with its autocorrelation.".to_owned(),
            "The verdict holds the spread against the limit with a one-sided guard of 1.645 standard uncertainties (JCGM 106).".to_owned(),
        ],
        settings: vec![
            ("limit_kpa".to_owned(), "1.3".to_owned(), "common practice, no source; the maker's figure overrides".to_owned()),
            ("coverage".to_owned(), "2".to_owned(), "JCGM 100".to_owned()),
        ],
    }
}
