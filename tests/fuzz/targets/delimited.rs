//! Delimited text: with nothing said beforehand and, for some inputs, with names and a rate.
#![no_main]
use evenpull_core::read::ReadOptions;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    evenpull_fuzz::read_and_check(bytes, &ReadOptions::default());
    if bytes.len() % 8 == 7 {
        let columns = Some("map1_kpa,map2_kpa,rpm".to_owned());
        let options = ReadOptions { columns, rate_hz: Some(50.0), ..ReadOptions::default() };
        evenpull_fuzz::read_and_check(bytes, &options);
    }
});
