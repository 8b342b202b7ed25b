//! The JSON schema against the result types: what the program writes is valid, what breaks the contract is not,
//! and no field is written that the schema does not know.

use evenpull_core::notice::{Level, Notice};
use evenpull_core::recording::{Format, PressureKind, Quantity, TroubleCode};
use evenpull_core::result::*;
use serde_json::{Value, json};

fn schema() -> Value {
    serde_json::from_str(evenpull_core::schema::REVIEW).expect("the schema is JSON")
}

fn is_valid(instance: &Value) -> bool {
    jsonschema::draft202012::new(&schema()).expect("a sound schema").is_valid(instance)
}

/// Complaints of a schema about a result.
fn complaints(schema: &Value, instance: &Value) -> Vec<String> {
    let validator = jsonschema::draft202012::new(schema).expect("a sound schema");
    validator.iter_errors(instance).map(|e| format!("{}: {e}", e.instance_path())).collect()
}

/// A result in which every optional quantity is there and every list has an entry.
fn full() -> Value {
    serde_json::to_value(full_review()).expect("a result is JSON")
}

fn measured() -> Option<Measured> {
    Some(Measured { value: 40.5, u: 0.25 })
}

fn state() -> State {
    State {
        regime: Regime::Raised,
        start_s: 1.0,
        end_s: 31.0,
        seconds: 30.0,
        cycles: 250,
        rpm: Measured { value: 2800.0, u: 12.0 },
        cylinders: vec![StateCylinder { cylinder: 1, pressure_kpa: measured(), deviation_kpa: measured() }],
        spread_kpa: measured(),
        verdict: Verdict::Outside,
    }
}

fn cylinder() -> CylinderResult {
    CylinderResult {
        cylinder: 1,
        pressure_kpa: measured(),
        bias_removed_kpa: Some(-0.3),
        deviation_kpa: measured(),
        drift_kpa_per_min: measured(),
        effective_samples: Some(12.5),
        refill_ratio: measured(),
        air_ratio: measured(),
        lambda: measured(),
        class: Class::Lean,
        basis: Basis::Inferred,
        evidence: vec!["pressure 2.1 kPa above the middle".to_owned()],
    }
}

fn pulse() -> PulseInfo {
    let one = PulseCylinder {
        cylinder: 1,
        cycles: 540,
        rejected_incomplete: 2,
        rejected_odd: 1,
        variation_pct: Some(1.2),
        dip_kpa: 21.5,
        dip_deg: 0.0,
        peak_kpa: 61.0,
        peak_deg: 600.0,
        refill_kpa_per_s: Some(310.0),
        refill_refused: Some("the rise is bent".to_owned()),
        speed_rise_rpm: measured(),
    };
    PulseInfo {
        rate_hz: 9.2,
        samples_per_cycle: 54.0,
        signal: Signal::Resolved,
        phase_from: "mark".to_owned(),
        firing_deg: Some(vec![0.0]),
        firing_from: Some("inferred".to_owned()),
        cylinders: vec![one],
    }
}

fn source_and_machine() -> (SourceInfo, MachineInfo) {
    let source = SourceInfo {
        name: "hs-01.csv".to_owned(),
        sha256: "0f".repeat(32),
        format: Format::Csv,
        rows: 480,
        rows_skipped: 1,
        duration_s: 120.0,
        sample_rate_hz: Some(4.0),
    };
    let machine = MachineInfo {
        id: Some("HS-01".to_owned()),
        cylinders: 4,
        strokes: 4,
        reference: Reference::Group(GroupReference::Median),
        limit_kpa: 1.3,
        limit_source: "default".to_owned(),
        fuelling: Fuelling::Shared,
    };
    (source, machine)
}

fn channel() -> ChannelInfo {
    ChannelInfo {
        header: "MAP1 [hPa]".to_owned(),
        quantity: Quantity::ManifoldPressure,
        cylinder: Some(1),
        unit: "hPa".to_owned(),
        pressure_kind: Some(PressureKind::Absolute),
        resolution: Some(0.1),
        why: "the header says so".to_owned(),
    }
}

fn trouble_code() -> TroubleCode {
    TroubleCode {
        code: "P0107".to_owned(),
        status: "stored".to_owned(),
        time_s: Some(3.0),
        text: Some("manifold pressure low".to_owned()),
    }
}

fn made_with() -> MadeWith {
    MadeWith {
        machine_file: Some("limit_kpa = 1.6\n".to_owned()),
        columns: Some("time,p1,p2".to_owned()),
        rate_hz: Some(50.0),
        codes: vec!["P0107".to_owned()],
        settings: vec![SettingValue { name: "limit_kpa".to_owned(), value: 1.3 }],
    }
}

fn full_review() -> Review {
    let (source, machine) = source_and_machine();
    Review {
        schema: REVIEW_SCHEMA.to_owned(),
        version: "0.1.0".to_owned(),
        source,
        made_with: Some(made_with()),
        machine,
        channels: vec![channel()],
        notices: vec![
            Notice::new("bad-cell", Level::Caution, "no number")
                .at_line(7, Some(2))
                .on_cylinder(1)
                .between(1.0, 2.0),
        ],
        recorded: vec![RecordedPart {
            part: "idle".to_owned(),
            found: true,
            seconds: 60.0,
            why: "x".to_owned(),
        }],
        trouble_codes: vec![trouble_code()],
        codes_cleared_s: vec![4.0],
        windows: vec![Window { start_s: 0.0, end_s: 60.0, rpm: 1100.0, regime: Regime::Idle }],
        excluded: vec![Excluded { start_s: 60.0, end_s: 62.0, reason: "blip".to_owned() }],
        barometer_kpa: Some(101.3),
        barometer_source: Some("engine-off".to_owned()),
        pulse: Some(pulse()),
        regimes: vec![state()],
        as_found: Some(state()),
        cylinders: vec![cylinder()],
        spread_kpa: measured(),
        common_mode_kpa: Some(0.4),
        differential_kpa: Some(0.1),
        verdict: Verdict::CannotTell,
        undecided_because: Some(Undecided::Scatter),
        seconds_to_decide: Some(90.0),
        adjustments: vec![Adjustment {
            time_s: 30.0,
            cylinder: 2,
            step_kpa: Measured { value: -1.0, u: 0.2 },
        }],
        further_turning: Some(FurtherTurning::WithinNoise),
    }
}

#[test]
fn a_full_and_a_bare_result_are_valid() {
    assert_eq!(complaints(&schema(), &full()), [] as [String; 0]);
    let (source, machine) = source_and_machine();
    let bare = Review {
        source: SourceInfo { sample_rate_hz: None, rows: 0, duration_s: 0.0, ..source },
        made_with: None,
        machine: MachineInfo { id: None, reference: Reference::Cylinder(3), ..machine },
        channels: Vec::new(),
        notices: Vec::new(),
        recorded: Vec::new(),
        trouble_codes: Vec::new(),
        codes_cleared_s: Vec::new(),
        windows: Vec::new(),
        excluded: Vec::new(),
        barometer_kpa: None,
        barometer_source: None,
        pulse: None,
        regimes: Vec::new(),
        as_found: None,
        cylinders: Vec::new(),
        spread_kpa: None,
        common_mode_kpa: None,
        differential_kpa: None,
        verdict: Verdict::NotApplicable,
        undecided_because: None,
        seconds_to_decide: None,
        adjustments: Vec::new(),
        further_turning: None,
        ..full_review()
    };
    let bare = serde_json::to_value(bare).expect("a result is JSON");
    assert_eq!(complaints(&schema(), &bare), [] as [String; 0]);
}

#[test]
fn no_field_is_written_that_the_schema_does_not_know() {
    // The schema allows more fields; a twin that forbids them finds the ones it was not told about.
    let text = evenpull_core::schema::REVIEW
        .replace("\"additionalProperties\": true", "\"additionalProperties\": false");
    let closed: Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(complaints(&closed, &full()), [] as [String; 0]);
    let mut more = full();
    more["colour"] = json!("blue");
    assert!(is_valid(&more), "fields may be added");
    assert!(!complaints(&closed, &more).is_empty(), "the twin sees them");
}

/// Paths (JSON Pointer) of every field of every object in a value.
fn fields(value: &Value, at: &str, found: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                let path = format!("{at}/{key}");
                fields(inner, &path, found);
                found.push(path);
            }
        }
        Value::Array(list) => {
            for (i, inner) in list.iter().enumerate() {
                fields(inner, &format!("{at}/{i}"), found);
            }
        }
        _ => {}
    }
}

#[test]
fn every_field_is_required_wherever_it_stands() {
    let mut paths = Vec::new();
    fields(&full(), "", &mut paths);
    assert!(paths.len() > 100, "only {} fields seen", paths.len());
    for path in paths {
        let mut broken = full();
        let (parent, key) = path.rsplit_once('/').expect("a path");
        let parent = broken.pointer_mut(parent).and_then(Value::as_object_mut).expect("an object");
        parent.remove(key);
        assert!(!is_valid(&broken), "{path} can be left out unnoticed");
    }
}

#[test]
fn words_figures_and_names_outside_the_contract_are_refused() {
    let wrong = [
        ("/schema", json!("evenpull.review/2")),
        ("/verdict", json!("ok")),
        ("/cylinders/0/class", json!("weak")),
        ("/cylinders/0/cylinder", json!(0)),
        // NaN is written as null by serde_json: an uncertainty that is not there must not pass as one.
        ("/cylinders/0/deviation_kpa/u", Value::Null),
        ("/spread_kpa/u", json!(-0.1)),
        ("/spread_kpa", json!(1.2)),
        ("/machine/strokes", json!(3)),
        ("/machine/reference", json!("first")),
        ("/source/name", json!("logs/hs-01.csv")),
        ("/source/sha256", json!("abc")),
        ("/excluded/0/reason", json!("Speed Wrong")),
        ("/notices/0/level", json!("warning")),
        ("/undecided_because", json!("noise")),
        ("/barometer_kpa", json!(0)),
    ];
    for (path, value) in wrong {
        let mut broken = full();
        *broken.pointer_mut(path).expect(path) = value;
        assert!(!is_valid(&broken), "{path} passes");
    }
}
