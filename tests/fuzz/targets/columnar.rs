//! Parquet, Arrow IPC files and streams. The marks at both ends are set, so that every input comes to the decoder.
//! Panics inside the decoder are caught by the reader and reported as damage; only one that leaves it is a finding.
#![no_main]
use std::sync::Once;

use evenpull_core::read::ReadOptions;
use libfuzzer_sys::fuzz_target;

static QUIET: Once = Once::new();

fuzz_target!(|bytes: &[u8]| {
    QUIET.call_once(|| std::panic::set_hook(Box::new(|_| {})));
    let mut whole = bytes.to_vec();
    let mark: &[u8] = match bytes.first() {
        Some(b'P') => b"PAR1",
        Some(b'A') => b"ARROW1",
        _ => b"\xff\xff\xff\xff",
    };
    let length = whole.len();
    if length >= 2 * mark.len() {
        whole[..mark.len()].copy_from_slice(mark);
        if mark[0] != 0xff {
            whole[length - mark.len()..].copy_from_slice(mark);
        }
    }
    let read = std::panic::catch_unwind(|| evenpull_fuzz::read_and_check(&whole, &ReadOptions::default()));
    if read.is_err() {
        std::process::abort();
    }
});
