//! Machine files and visit files (TOML).
#![no_main]
use evenpull_core::machine::Machine;
use evenpull_core::visits::VisitFacts;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let text = String::from_utf8_lossy(bytes);
    let said = [
        Machine::from_toml("m.toml", &text).err().map(|e| e.to_string()),
        VisitFacts::from_toml("v.toml", &text).err().map(|e| e.to_string()),
    ];
    for text in said.into_iter().flatten() {
        assert!(text.starts_with("m.toml:") || text.starts_with("v.toml:"), "{text}");
    }
});
