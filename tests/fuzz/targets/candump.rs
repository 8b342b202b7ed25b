//! CAN frames as candump text. Inputs that do not start like one get two sound frames in front, so that every
//! input comes to the frame reader.
#![no_main]
use evenpull_core::read::ReadOptions;
use libfuzzer_sys::fuzz_target;

const SOUND: &[u8] = b"(1.000000) can0 7E8#04410C1AF8AAAAAA\n(1.050000) can0 7E8#03410B23AAAAAAAA\n";

fuzz_target!(|bytes: &[u8]| {
    let whole = if bytes.starts_with(b"(") { bytes.to_vec() } else { [SOUND, bytes].concat() };
    evenpull_fuzz::read_and_check(&whole, &ReadOptions::default());
});
