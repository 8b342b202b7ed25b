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
