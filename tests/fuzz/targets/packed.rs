//! Packed logs: the mark of gzip or zstd is set, so that every input comes to an unpacker.
#![no_main]
use evenpull_core::read::ReadOptions;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let mut whole = bytes.to_vec();
    if whole.len() > 4 {
        let mark: &[u8] = if bytes[0] & 1 == 1 { &[0x1f, 0x8b] } else { &[0x28, 0xb5, 0x2f, 0xfd] };
        whole[..mark.len()].copy_from_slice(mark);
    }
    evenpull_fuzz::read_and_check(&whole, &ReadOptions::default());
});
