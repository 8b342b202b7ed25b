//! What the fuzz targets found, made small and mended: every file under `found/` is read again, by the parser its name
//! begins with.

use std::path::Path;

use evenpull_core::machine::Machine;
use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::visits::VisitFacts;

#[test]
fn findings_stay_mended() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reader/found");
    let entries = std::fs::read_dir(folder).unwrap_or_else(|error| panic!("{error}"));
    for entry in entries {
        let path = entry.unwrap_or_else(|error| panic!("{error}")).path();
        let bytes = std::fs::read(&path).unwrap_or_else(|error| panic!("{error}"));
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        let started = std::time::Instant::now();
        if name.starts_with("papers") {
            let text = String::from_utf8_lossy(&bytes);
            let _ = Machine::from_toml("m.toml", &text);
            let _ = VisitFacts::from_toml("v.toml", &text);
        } else {
            let columns = Some("map1_kpa,map2_kpa,rpm".to_owned());
            let named = ReadOptions { columns, rate_hz: Some(50.0), ..ReadOptions::default() };
            for options in [ReadOptions::default(), named] {
                super::properties::check(read_bytes("log", &bytes, &options));
            }
        }
        assert!(started.elapsed().as_secs() < 10, "{name} took {:?}", started.elapsed());
    }
}

/// Found beside the fuzzing: a clock that was set anew between two stretches of idle. Naive: a list of all the seconds between.
#[test]
fn a_gap_of_thirty_thousand_years_is_a_gap() {
    let mut text = String::from("time_s,map1_kpa,map2_kpa,rpm\n");
    for start in [0.0, 1e12] {
        for k in 0..600 {
            let (t, p) = (start + f64::from(k) * 0.05, 40 + k % 3);
            text += &format!("{t:.2},{p},{},{}\n", p + 1, 1000 + k % 5);
        }
    }
    let read = read_bytes("log", text.as_bytes(), &ReadOptions::default()).unwrap_or_else(|e| panic!("{e}"));
    let started = std::time::Instant::now();
    let notes = evenpull_core::review::ReviewNotes::default();
    let settings = evenpull_core::settings::Settings::default();
    let found = evenpull_core::review::review(&read, &Machine::default(), &settings, &notes);
    assert!(found.review.notices.iter().any(|n| n.code == "gap"), "{:?}", found.review.notices);
    assert!(started.elapsed().as_secs() < 20, "took {:?}", started.elapsed());
}
