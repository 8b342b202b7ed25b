//! The dialects of the text.

use evenpull_model::{CsvStyle, Engine, HeaderStyle, Logger, PressureUnit, Scenario, Sensor, TimeStyle};

use super::run;

fn rows(style: &CsvStyle) -> Vec<String> {
    let run = run(&Scenario::new(Engine::triple(), 2.0, 8));
    let logger = Logger::damped(20.0, 0.1)
        .with_sensors(vec![Sensor { dropouts: vec![(0.9, 1.0)], ..Sensor::ideal() }]);
    let log = run.log(&logger, 1).unwrap();
    log.to_csv(style).lines().map(str::to_owned).collect()
}

#[test]
fn plain_text() {
    let lines = rows(&CsvStyle::default());
    assert_eq!(
        lines[0],
        "Time [s],Cyl 1 pressure [kPa],Cyl 2 pressure [kPa],Cyl 3 pressure [kPa],Engine speed [rpm]"
    );
    assert_eq!(lines.len(), 42);
    assert!(lines[1].starts_with("0.000,"));
    assert!(lines[19].starts_with("0.900,,,,"), "missing cells are empty: {}", lines[19]);
}

#[test]
fn semicolons_and_commas() {
    let lines = rows(&CsvStyle { header: HeaderStyle::Snake, ..CsvStyle::semicolon_comma() });
    assert_eq!(lines[0], "time_s;p1_kpa;p2_kpa;p3_kpa;rpm");
    assert_eq!(lines[1].matches(';').count(), 4);
    assert!(!lines[1].contains('.'));
    assert!(lines[1].contains(','));
}

/// NIST SP 811: 1 mmHg = 0.1333224 kPa; vacuum counts down from the barometer.
#[test]
fn vacuum_in_millimetres() {
    let kpa = rows(&CsvStyle { pressure_decimals: 6, ..CsvStyle::default() });
    let vacuum = rows(&CsvStyle {
        vacuum: true,
        header: HeaderStyle::Bare,
        units_row: true,
        time: TimeStyle::Clock,
        missing: "NaN".into(),
        preamble: vec!["# Harrow Sound workshop".into()],
        ..CsvStyle::default().in_unit(PressureUnit::Mmhg, 3)
    });
    assert_eq!(vacuum[0], "# Harrow Sound workshop");
    assert_eq!(vacuum[1], "Time,VAC1,VAC2,VAC3,RPM");
    assert_eq!(vacuum[2], ",mmHg,mmHg,mmHg,rpm");
    assert!(vacuum[3].starts_with("00:00:00.000,"));
    assert!(vacuum[21].contains("NaN"));
    let cell = |line: &str| line.split(',').nth(1).unwrap().parse::<f64>().unwrap();
    let want = (Engine::triple().barometer_kpa - cell(&kpa[1])) / 0.133_322_4;
    assert!((cell(&vacuum[3]) - want).abs() < 1e-3);
}

#[test]
fn units_agree_with_each_other() {
    // NIST SP 811: 1 atm = 101.325 kPa = 760 mmHg = 29.92 inHg = 14.696 psi = 406.8 inH2O.
    for (unit, atm, tol) in [
        (PressureUnit::Mmhg, 760.0, 0.001),
        (PressureUnit::Cmhg, 76.0, 0.001),
        (PressureUnit::Inhg, 29.9213, 0.001),
        (PressureUnit::Psi, 14.6959, 0.0001),
        (PressureUnit::Inh2o, 406.79, 0.02),
        (PressureUnit::Hpa, 1013.25, 1e-9),
        (PressureUnit::Bar, 1.01325, 1e-9),
    ] {
        assert!((101.325 / unit.kpa() - atm).abs() < tol, "{}", unit.symbol());
    }
}
