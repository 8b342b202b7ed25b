//! Files built from published tables of units and of the standard atmosphere, through reader and review.

use evenpull_core::result::Review;

use super::outside::outside;
use super::support::*;

/// Levels of a made four, kPa.
const LEVELS_KPA: [f64; 4] = [40.0, 41.0, 40.5, 40.2];

/// The made four in another unit, `kpa` to one of it, six digits written.
fn in_unit(unit: &str, kpa: f64) -> Review {
    let decimals = (5.0 - (40.0 / kpa).log10().floor()).clamp(0.0, 9.0) as usize;
    let mut noise = Noise::new(12);
    let mut table = Table::even(60.0, 10.0).idling(1100.0);
    let shared: Vec<f64> = (0..600).map(|_| 0.2 * noise.normal()).collect();
    for (i, level) in LEVELS_KPA.iter().enumerate() {
        let values = shared.iter().map(|s| (level + s) / kpa).collect();
        table = table.column(&format!("Cyl {} absolute pressure [{unit}]", i + 1), decimals, values);
    }
    table.review_for("pressure_is = \"mean\"\n")
}

#[test]
fn one_recording_in_the_units_of_sp_811() {
    // NIST SP 811 (2008), appendix B.8, in kPa; seven digits as printed.
    let sp_811 = outside("units");
    for (unit, kpa) in sp_811.labels.iter().map(String::as_str).zip(sp_811.values()) {
        let review = in_unit(unit, kpa);
        for (i, level) in LEVELS_KPA.iter().enumerate() {
            let c = &review.cylinders[i];
            let p = c.pressure_kpa.unwrap_or_else(|| panic!("{unit}: {:?}", codes(&review)));
            // The shared noise has a mean of its own, at most 0.03 kPa; the differences have none.
            assert!((p.value - level).abs() < 0.03, "{unit}: {:.4} kPa for {level}", p.value);
            let d = c.deviation_kpa.unwrap().value - (level - median(&LEVELS_KPA));
            assert!(d.abs() < 2e-5, "{unit}, cylinder {}: deviation off by {d:+.6}", i + 1);
        }
    }
    // Naive: mercury at 60 degrees F, 3.376 85 kPa an inch in the same table, is off by 0.28 %.
    let off = 40.0 * (sp_811.naive[0] / 3.386_389 - 1.0_f64);
    assert!(off.abs() > 0.1);
    assert!(
        (in_unit("inHg", 3.386_389).cylinders[0].pressure_kpa.unwrap().value - 40.0).abs() < 0.3 * off.abs()
    );
}

#[test]
fn twenty_inches_of_vacuum() {
    // 101.325 kPa less 20 inHg of 3.386 389 kPa (SP 811, B.8): 33.597 kPa. As a vacuum and as a negative gauge pressure.
    let published = outside("twenty-inches");
    for (word, sign) in [("vacuum", 1.0), ("gauge pressure", -1.0)] {
        let mut noise = Noise::new(13);
        let mut table = Table::even(60.0, 10.0).idling(1100.0).with("Barometer [kPa]", 3, |_| 101.325);
        for n in 1..=3 {
            table =
                table.with(&format!("Cyl {n} {word} [inHg]"), 3, |_| sign * (20.0 + 0.02 * noise.normal()));
        }
        let review = table.review_for("pressure_is = \"mean\"\n");
        for c in &review.cylinders {
            let p = c.pressure_kpa.unwrap().value;
            assert!((p - published.values()[0]).abs() < 0.02, "{word}: {p:.3}");
            // Naive: 20 inHg taken for absolute is 67.7 kPa.
            assert!((p - published.naive[0]).abs() > 30.0);
        }
    }
}

#[test]
fn altitudes_of_the_us_standard_atmosphere() {
    // US Standard Atmosphere 1976, table I (geometric altitude, m) and its rows in feet: hPa, printed truncated to five
    // digits, so the value lies at or above the printed one by less than a unit of the last digit.
    let mut noise = Noise::new(14);
    let mut table = Table::even(40.0, 5.0).idling(1100.0);
    for n in 1..=2 {
        table = table.with(&format!("Cyl {n} vacuum [kPa]"), 2, |_| 20.0 + 0.05 * noise.normal());
    }
    for row in outside("altitudes").rows() {
        let (altitude_m, printed_hpa, digit) = (row[0], row[1], row[2]);
        let review = table.review_for(&format!("altitude_m = {altitude_m}\npressure_is = \"mean\"\n"));
        assert_eq!(review.barometer_source.as_deref(), Some("altitude"));
        let hpa = 10.0 * review.barometer_kpa.unwrap();
        assert!(hpa >= printed_hpa - 1e-9 && hpa < printed_hpa + digit, "{altitude_m} m: {hpa} hPa");
        let p = review.cylinders[0].pressure_kpa.unwrap().value;
        assert!((p - (0.1 * printed_hpa - 20.0)).abs() < 0.03, "{altitude_m} m: {p}");
        // Naive: sea level taken for granted.
        assert!((1013.25 - printed_hpa).abs() > 50.0);
    }
}
