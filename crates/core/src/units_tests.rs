#![allow(clippy::unwrap_used)]

use super::*;

fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "got {got}, expected {want} within {tolerance}");
}

#[test]
fn factors_are_those_of_nist_sp_811() {
    // NIST SP 811 (2008), appendix B.8, to pascal; tolerance half a unit of the last printed digit.
    for (unit, pascal, tolerance) in [
        (PressureUnit::Bar, 1.0e5, 1e-9),
        (PressureUnit::Mbar, 1.0e2, 1e-12),
        (PressureUnit::Atm, 101_325.0, 1e-9),
        (PressureUnit::MmHg, 133.322_4, 5e-5),
        (PressureUnit::Torr, 133.322_4, 5e-5),
        (PressureUnit::CmHg, 1_333.224, 5e-4),
        (PressureUnit::InHg, 3_386.389, 5e-4),
        (PressureUnit::InH2o, 249.088_9, 5e-5),
        (PressureUnit::MmH2o, 9.806_65, 5e-6),
        (PressureUnit::Psi, 6_894.757, 5e-4),
        (PressureUnit::KgfPerCm2, 98_066.5, 1e-9),
    ] {
        near(unit.to_kpa(1.0) * 1000.0, pascal, tolerance);
    }
}

#[test]
fn a_millimetre_of_mercury_is_not_a_torr() {
    // By definition 133.322387415 Pa against 101325/760 Pa: the ratio is 1 + 1.42466e-7.
    let ratio = PressureUnit::MmHg.kpa() / PressureUnit::Torr.kpa();
    near(ratio - 1.0, 1.424_66e-7, 1e-12);
}

#[test]
fn derived_figures_follow_from_the_definitions() {
    near(PressureUnit::InHg.kpa() / PressureUnit::MmHg.kpa(), 25.4, 1e-12);
    near(PressureUnit::MmHg.to_kpa(10.0), 1.333_223_874_15, 1e-11);
    near(PressureUnit::InHg.to_kpa(29.92) * 10.0, 1_013.207_481_19, 1e-7);
    near(PressureUnit::Psi.from_kpa(101.325), 14.695_948_775_5, 1e-9);
}

#[test]
fn there_and_back_is_the_same_figure() {
    for unit in PressureUnit::ALL {
        for value in [0.001, 0.37, 51.2, 760.0, 101_325.0] {
            near(unit.from_kpa(unit.to_kpa(value)) / value, 1.0, 1e-14);
        }
    }
}

#[test]
fn spellings_of_the_trade() {
    for (text, unit) in [
        ("kPa", PressureUnit::Kpa),
        ("KPA", PressureUnit::Kpa),
        ("hPa", PressureUnit::Hpa),
        ("mbar", PressureUnit::Mbar),
        ("mB", PressureUnit::Mbar),
        ("mm Hg", PressureUnit::MmHg),
        ("mm/Hg", PressureUnit::MmHg),
        ("mmQS", PressureUnit::MmHg),
        ("torr", PressureUnit::Torr),
        ("in. Hg", PressureUnit::InHg),
        ("\"Hg", PressureUnit::InHg),
        ("inches of mercury", PressureUnit::InHg),
        ("cm Hg", PressureUnit::CmHg),
        ("lbf/in\u{b2}", PressureUnit::Psi),
        ("inH\u{2082}O", PressureUnit::InH2o),
        ("mmWS", PressureUnit::MmH2o),
        ("kg/cm^2", PressureUnit::KgfPerCm2),
    ] {
        assert_eq!(PressureUnit::parse(text), Some(unit), "{text}");
    }
    assert_eq!(PressureUnit::parse("rpm"), None);
    assert_eq!(PressureUnit::parse(""), None);
}

#[test]
fn a_unit_may_say_what_it_is_measured_against() {
    for (text, unit, kind) in [
        ("psia", PressureUnit::Psi, Some(PressureKind::Absolute)),
        ("bar(g)", PressureUnit::Bar, Some(PressureKind::Gauge)),
        ("kPa abs", PressureUnit::Kpa, Some(PressureKind::Absolute)),
        ("inHg vac", PressureUnit::InHg, Some(PressureKind::Vacuum)),
        ("hPa", PressureUnit::Hpa, None),
    ] {
        assert_eq!(PressureUnit::parse_with_kind(text), Some((unit, kind)), "{text}");
    }
}

#[test]
fn standard_atmosphere_is_that_of_the_1976_tables() {
    // U.S. Standard Atmosphere 1976, table I by geometric altitude, mb. The printed column is cut, not rounded.
    for (altitude_m, printed, last_digit) in [
        (-500.0, 1074.7, 0.1),
        (1000.0, 898.76, 0.01),
        (1500.0, 845.59, 0.01),
        (1600.0, 835.27, 0.01),
        (2000.0, 795.01, 0.01),
        (3000.0, 701.21, 0.01),
        (4500.0, 577.52, 0.01),
        (5000.0, 540.48, 0.01),
    ] {
        let got = standard_atmosphere_kpa(altitude_m) * 10.0;
        assert!(got >= printed && got < printed + last_digit, "{altitude_m} m: {got}, table {printed}");
    }
    near(standard_atmosphere_kpa(0.0), 101.325, 1e-12);
}

#[test]
fn geometric_and_geopotential_altitude_are_told_apart() {
    // Same tables: at 2000 m geometric 795.01 mb, at 2000 m geopotential 794.95 mb. The naive way, taking the
    // altitude as geopotential, gives the second.
    assert!((standard_atmosphere_kpa(2000.0) * 10.0 - 794.952_155).abs() > 0.05);
}

#[test]
fn absolute_from_vacuum_and_gauge() {
    // Worked by hand: 101.325 kPa - 20 inHg (508 mmHg = 67.7277728 kPa) = 33.5972272 kPa.
    let vacuum_kpa = PressureUnit::InHg.to_kpa(20.0);
    near(to_absolute_kpa(PressureKind::Vacuum, vacuum_kpa, 101.325), 33.597_227_193_2, 1e-9);
    near(to_absolute_kpa(PressureKind::Gauge, -vacuum_kpa, 101.325), 33.597_227_193_2, 1e-9);
    for kind in [PressureKind::Absolute, PressureKind::Vacuum, PressureKind::Gauge] {
        near(to_absolute_kpa(kind, from_absolute_kpa(kind, 40.0, 98.0), 98.0), 40.0, 1e-12);
    }
}
