//! Header words of five languages, cylinder names, kinds of pressure. The expected meaning is that of the language.

use evenpull_core::recording::{Channel, PressureKind, Quantity};

use super::support::{read, read_with_machine};

/// One header beside a time and a speed, with figures that fit it.
fn channel(header: &str, low: f64, high: f64) -> Channel {
    let mut text = format!("time_s;n;{header}\n");
    for row in 0..200 {
        let value = low + (high - low) * f64::from(row * 37 % 101) / 100.0;
        text.push_str(&format!("{:.2};1100;{value:.2}\n", f64::from(row) * 0.05));
    }
    read(&text).channels.swap_remove(2)
}

#[test]
fn quantities_in_five_languages() {
    use Quantity::{
        Barometer, CoolantTemperature, EngineSpeed, ExhaustTemperature, FuelTrim, Ignored, IntakeTemperature,
        Lambda, ManifoldPressure, Throttle,
    };
    for (header, quantity) in [
        ("Manifold pressure 1 (kPa)", ManifoldPressure),
        ("Saugrohrdruck Zyl. 1 [hPa]", ManifoldPressure),
        ("Unterdruck 1 (mbar)", ManifoldPressure),
        ("Pression collecteur 1 (kPa)", ManifoldPressure),
        ("D\u{e9}pression cylindre 1 (mmHg)", ManifoldPressure),
        ("Presi\u{f3}n colector 1 (kPa)", ManifoldPressure),
        ("Vac\u{ed}o cilindro 1 (cmHg)", ManifoldPressure),
        ("Pressione collettore 1 (kPa)", ManifoldPressure),
        ("Depressione cil. 1 (mmHg)", ManifoldPressure),
        ("Kanal 1 [mbar]", ManifoldPressure),
        ("#1 (inHg)", ManifoldPressure),
        ("Motordrehzahl [1/min]", EngineSpeed),
        ("R\u{e9}gime moteur (tr/min)", EngineSpeed),
        ("R\u{e9}gimen motor (rpm)", EngineSpeed),
        ("Giri motore (giri/min)", EngineSpeed),
        ("Engine speed", EngineSpeed),
        ("K\u{fc}hlmitteltemperatur [\u{b0}C]", CoolantTemperature),
        ("Temp\u{e9}rature liquide de refroidissement (\u{b0}C)", CoolantTemperature),
        ("Temperatura refrigerante (\u{b0}C)", CoolantTemperature),
        ("Temperatura acqua (\u{b0}C)", CoolantTemperature),
        ("Water temp (degF)", CoolantTemperature),
        ("Ansauglufttemperatur [\u{b0}C]", IntakeTemperature),
        ("Intake air temp (C)", IntakeTemperature),
        ("Temp\u{e9}rature air admission (\u{b0}C)", IntakeTemperature),
        ("Drosselklappe [%]", Throttle),
        ("Papillon (%)", Throttle),
        ("Mariposa (%)", Throttle),
        ("Farfalla (%)", Throttle),
        ("TPS %", Throttle),
        ("Lambda 1", Lambda),
        ("Luftzahl", Lambda),
        ("AFR 1", Lambda),
        ("Short term fuel trim (%)", FuelTrim),
        ("Barometer (hPa)", Barometer),
        ("Umgebungsdruck [hPa]", Barometer),
        ("Pression atmosph\u{e9}rique (hPa)", Barometer),
        ("Presi\u{f3}n barom\u{e9}trica (kPa)", Barometer),
        ("Pressione ambiente (hPa)", Barometer),
        ("EGT 1 (degC)", ExhaustTemperature),
        ("Abgastemperatur 2 [\u{b0}C]", ExhaustTemperature),
        ("Temp\u{e9}rature \u{e9}chappement (\u{b0}C)", ExhaustTemperature),
        ("Vehicle speed (km/h)", Ignored),
        ("Geschwindigkeit [km/h]", Ignored),
        ("Speed (km/h)", Ignored),
        ("Oil pressure (bar)", Ignored),
        ("\u{d6}ldruck [bar]", Ignored),
        ("Fuel pressure (kPa)", Ignored),
        ("Target idle speed (rpm)", Ignored),
        ("Battery voltage (V)", Ignored),
        ("Injection time (ms)", Ignored),
    ] {
        let (low, high) = match quantity {
            Lambda if header.contains("AFR") => (13.0, 15.5),
            Lambda => (0.9, 1.1),
            Barometer if header.contains("kPa") => (100.8, 101.0),
            Barometer => (1010.0, 1012.0),
            EngineSpeed => (1000.0, 1200.0),
            _ => (30.0, 60.0),
        };
        let found = channel(header, low, high);
        assert_eq!(found.quantity, quantity, "{header}: {}", found.why);
        if quantity == ManifoldPressure {
            assert_eq!(found.cylinder, Some(1), "{header}: {}", found.why);
        }
    }
}

#[test]
fn kinds_follow_from_words() {
    for (header, kind) in [
        ("MAP 1 (kPa)", Some(PressureKind::Absolute)),
        ("Pressure 1 (psia)", Some(PressureKind::Absolute)),
        ("Saugrohrdruck 1 [hPa]", Some(PressureKind::Absolute)),
        ("p1 kPa(a)", Some(PressureKind::Absolute)),
        ("Manifold vacuum 1 (inHg)", Some(PressureKind::Vacuum)),
        ("Unterdruck 1 [mbar]", Some(PressureKind::Vacuum)),
        ("D\u{e9}pression 1 (mmHg)", Some(PressureKind::Vacuum)),
        ("p1 [mbar]", None),
        ("Pressure 1 (kPa)", None),
    ] {
        let found = channel(header, 30.0, 60.0);
        assert_eq!(found.kind, kind, "{header}: {}", found.why);
    }
    // A gauge pressure in a runner is negative; so is a vacuum written as one.
    assert_eq!(channel("p1 gauge (kPa)", -70.0, -40.0).kind, Some(PressureKind::Gauge));
    assert_eq!(channel("vacuum 1 (kPa)", -70.0, -40.0).kind, Some(PressureKind::Gauge));
    assert_eq!(channel("p1 (kPa)", -70.0, -40.0).kind, Some(PressureKind::Gauge));
    // Positive figures under the word gauge can be absolute or vacuum: not settled here.
    assert_eq!(channel("p1 gauge (kPa)", 30.0, 60.0).kind, None);
}

fn cylinders(names: &[&str]) -> Vec<Option<u32>> {
    let mut text = format!("time_s;{};rpm\n", names.join(";"));
    for row in 0..100 {
        text.push_str(&format!("{:.2}", f64::from(row) * 0.05));
        for column in 0..names.len() {
            text.push_str(&format!(";{}.5", 30 + (row as usize * 7 + column) % 20));
        }
        text.push_str(";1100\n");
    }
    read(&text).channels[1..=names.len()].iter().map(|c| c.cylinder).collect()
}

#[test]
fn cylinders_in_every_naming() {
    let wanted = |n: u32| (1..=n).map(Some).collect::<Vec<_>>();
    for names in [
        ["cyl 1 (kPa)", "cyl 2 (kPa)", "cyl 3 (kPa)", "cyl 4 (kPa)"],
        ["MAP #1 (kPa)", "MAP #2 (kPa)", "MAP #3 (kPa)", "MAP #4 (kPa)"],
        ["MAP A (kPa)", "MAP B (kPa)", "MAP C (kPa)", "MAP D (kPa)"],
        ["map0_kpa", "map1_kpa", "map2_kpa", "map3_kpa"],
        ["Ch5 (kPa)", "Ch6 (kPa)", "Ch7 (kPa)", "Ch8 (kPa)"],
        ["1 (kPa)", "2 (kPa)", "3 (kPa)", "4 (kPa)"],
        ["MAP (kPa)", "MAP (kPa)", "MAP (kPa)", "MAP (kPa)"],
        ["1. Zylinder [kPa]", "2. Zylinder [kPa]", "3. Zylinder [kPa]", "4. Zylinder [kPa]"],
    ] {
        assert_eq!(cylinders(&names), wanted(4), "{names:?}");
    }
    for names in [
        ["MAP left (kPa)", "MAP right (kPa)"],
        ["MAP L (kPa)", "MAP R (kPa)"],
        ["Druck vorne [kPa]", "Druck hinten [kPa]"],
        ["p_f [kPa]", "p_r [kPa]"],
        ["pression gauche (kPa)", "pression droite (kPa)"],
        ["pressione anteriore (kPa)", "pressione posteriore (kPa)"],
    ] {
        assert_eq!(cylinders(&names), wanted(2), "{names:?}");
    }
    assert_eq!(cylinders(&["MAP 3 (kPa)", "MAP 1 (kPa)", "MAP 2 (kPa)"]), [Some(3), Some(1), Some(2)]);
    assert_eq!(cylinders(&["MAP (kPa)"]), [None]);
}

#[test]
fn the_machine_file_goes_before_the_header() {
    let mut text = String::from("time_s;Ch 3;rpm\n");
    for row in 0..50 {
        text.push_str(&format!("{:.2};{};1100\n", f64::from(row) * 0.05, 400 + row));
    }
    let rule = "[columns]\n\"Ch 3\" = { quantity = \"manifold_pressure\", cylinder = 2, unit = \"mmHg\", kind = \"vacuum\" }\n";
    let recording = read_with_machine(&text, rule);
    let found = &recording.channels[1];
    assert_eq!(
        (found.cylinder, found.kind, found.unit.as_str()),
        (Some(2), Some(PressureKind::Vacuum), "mmHg")
    );
    // NIST SP 811: 400 mmHg are 53.32896 kPa.
    assert!((found.values[0] - 53.328_96).abs() < 1e-5, "{}", found.values[0]);
}

#[test]
fn a_dead_sensor_is_of_the_kind_of_its_equals() {
    // Engine off first: two sensors show the barometer, the third is dead and shows the same figure throughout.
    let mut text = String::from("time_s;p1 (kPa);p2 (kPa);p3 (kPa);rpm\n");
    for row in 0..100 {
        let (p, n) = if row < 20 { (100, 0) } else { (30 + row % 30, 1100) };
        text.push_str(&format!("{:.2};{p}.1;{p}.3;47.3;{n}\n", f64::from(row) * 0.05));
    }
    let recording = read(&text);
    assert!(recording.cylinder_pressures().iter().all(|c| c.kind == Some(PressureKind::Absolute)));
}

#[test]
fn the_date_of_the_rows_is_kept() {
    let mut text = String::from("time;map1_kpa;rpm\n");
    for row in 0..20 {
        text.push_str(&format!("2025-04-10 09:00:{row:02};40.{row:02};1100\n"));
    }
    assert_eq!(read(&text).preamble.date.as_deref(), Some("2025-04-10"));
}
