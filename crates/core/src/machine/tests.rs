#![allow(clippy::unwrap_used)]

use super::*;
use crate::result::{Fuelling, GroupReference, Reference};

const FULL: &str = r#"
id = "HS-07"
cylinders = 4
strokes = 4
firing_deg = [0, 540, 180, 360]
reference = "mean"
limit_kpa = 1.6
fuelling = "shared"
pressure_is = "minimum"
idle_rpm = [900, 1300]
warm_c = 62.5
altitude_m = 12
runner_cc = [160, 160, 158.5, 161]
displacement_cc = 400
lambda_target = 0.95
[[adjuster]]
cylinder = 2
opens = "anticlockwise"
range_turns = 2.0
kpa_per_turn = 1.8
[[adjuster]]
cylinder = 4
sealed = true
[columns]
"Ch 3" = { quantity = "manifold_pressure", cylinder = 2, unit = "mmHg", kind = "vacuum" }
"#;

#[test]
fn a_full_file_is_read_key_by_key() {
    let machine = Machine::from_toml("hs-07.toml", FULL).unwrap();
    assert_eq!(machine.id.as_deref(), Some("HS-07"));
    assert_eq!(machine.firing_deg, Some(vec![0.0, 540.0, 180.0, 360.0]));
    assert_eq!(machine.reference, Reference::Group(GroupReference::Mean));
    assert_eq!(machine.fuelling, Fuelling::Shared);
    assert_eq!(machine.idle_rpm, Some((900.0, 1300.0)));
    assert_eq!(machine.warm_c, Some(62.5));
    assert_eq!(machine.runner_cc, Some(vec![160.0, 160.0, 158.5, 161.0]));
    assert_eq!(machine.adjusters.len(), 2);
    assert_eq!(machine.adjusters[0].kpa_per_turn, Some(1.8));
    assert!(machine.adjusters[1].sealed);
    let rule = &machine.columns["Ch 3"];
    assert_eq!((rule.cylinder, rule.unit.as_deref()), (Some(2), Some("mmHg")));
    assert_eq!(rule.kind, Some(PressureKind::Vacuum));
}

#[test]
fn a_machine_written_back_is_the_same_machine() {
    let full = Machine::from_toml("hs-07.toml", FULL).unwrap();
    let more = "strokes = 2\nreference = 3\nrunner_cc = 160.1\ncylinders = 4\nbarometer_kpa = 99.30000000000001\n\
        fuelling = \"individual\"\npressure_is = \"mean\"\n[[adjuster]]\ncylinder = 1\nopens = \"clockwise\"\n\
        [columns]\n\"a \\\"b\\\" = [x]\" = { quantity = \"time\" }\n\"µ\" = { quantity = \"barometer\", kind = \"gauge\" }\n";
    let more = Machine::from_toml("more.toml", more).unwrap();
    assert_eq!(more.columns.len(), 2);
    for machine in [full, more, Machine::default()] {
        let text = machine.to_toml();
        assert_eq!(Machine::from_toml("again.toml", &text).unwrap(), machine, "{text}");
    }
    assert_eq!(Machine::default().to_toml(), "");
}

#[test]
fn an_empty_file_leaves_the_defaults() {
    assert_eq!(Machine::from_toml("m.toml", "").unwrap(), Machine::default());
}

#[test]
fn one_runner_volume_stands_for_all_and_a_reference_may_be_a_number() {
    let machine = Machine::from_toml("m.toml", "reference = 3\nrunner_cc = 160\ncylinders = 4\n").unwrap();
    assert_eq!(machine.reference, Reference::Cylinder(3));
    assert_eq!(machine.runner_cc, Some(vec![160.0]));
}

#[test]
fn mistakes_name_file_line_column_found_and_expected() {
    for (text, message) in [
        (
            "cylinders = 4\ncilinders = 3\n",
            "m.toml:2:1: found the key `cilinders`, expected one of: id, cylinders, strokes, firing_deg, reference, \
             limit_kpa, fuelling, pressure_is, idle_rpm, warm_c, altitude_m, barometer_kpa, runner_cc, \
             displacement_cc, lambda_target, adjuster, columns",
        ),
        ("cylinders = 0", "m.toml:1:13: `cylinders`: found 0, expected a whole number from 1 to 24"),
        ("cylinders = 4.0", "m.toml:1:13: `cylinders`: found 4.0, expected a whole number from 1 to 24"),
        (
            "firing_deg = [0, 360]\ncylinders = 4",
            "m.toml:1:14: `firing_deg`: found [0, 360], expected 4 angles, one per cylinder (this list has 2)",
        ),
        (
            "firing_deg = [0, 720]",
            "m.toml:1:18: `firing_deg`: found 720, expected a crank angle from 0 to under 720 degrees",
        ),
        ("strokes = 3", "m.toml:1:11: `strokes`: found 3, expected 2 or 4"),
        (
            "cylinders = 2\nreference = 3",
            "m.toml:2:13: `reference`: found 3, expected \"median\", \"mean\" or the number of a cylinder from 1 to 2",
        ),
        (
            "id = \"HS 07\"",
            "m.toml:1:6: `id`: found \"HS 07\", expected 1 to 64 of the characters A-Z a-z 0-9 - _ . and not only \
             full stops",
        ),
        ("limit_kpa = nan", "m.toml:1:13: `limit_kpa`: found nan, expected a number from 0.05 to 50 kPa"),
        (
            "fuelling = \"both\"",
            "m.toml:1:12: `fuelling`: found \"both\", expected \"shared\", \"individual\", \"unknown\"",
        ),
        (
            "cylinders = 2\n[[adjuster]]\ncylinder = 3",
            "m.toml:3:12: `cylinder`: found 3, expected a whole number from 1 to 2",
        ),
        (
            "[[adjuster]]\ncylinder = 1\nturns = 2",
            "m.toml:3:1: found the key `turns`, expected one of: cylinder, opens, range_turns, kpa_per_turn, sealed",
        ),
        (
            "[columns]\n\"Ch 1\" = { quantity = \"manifold_pressure\", unit = \"V\" }",
            "m.toml:2:51: `unit`: found \"V\", expected a unit of pressure: kPa, hPa, mbar, Pa, bar, mmHg, Torr, \
             inHg, cmHg, psi, inH2O, mmH2O, kgf/cm2, atm",
        ),
        (
            "idle_rpm = [1300, 900]",
            "m.toml:1:12: `idle_rpm`: found [1300, 900], expected a list of two speeds in rev/min, the lower one \
             first, such as [900, 1300]",
        ),
    ] {
        assert_eq!(Machine::from_toml("m.toml", text).unwrap_err().to_string(), message);
    }
}

#[test]
fn what_is_not_toml_is_placed_too() {
    let error = Machine::from_toml("m.toml", "cylinders = 4\nstrokes = = 2\n").unwrap_err().to_string();
    assert!(error.starts_with("m.toml:2:"), "{error}");
}
