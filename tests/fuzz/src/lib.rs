//! What every fuzz target asks of the reader: no panic, no endless loop, bounded memory, the promises of a recording
//! kept and every refusal in words without control characters.

use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::recording::{Quantity, Recording};

/// Reads bytes and checks what comes back.
///
/// # Panics
/// Where a promise is broken; the fuzzer takes that as a finding.
pub fn read_and_check(bytes: &[u8], options: &ReadOptions<'_>) {
    match read_bytes("log", bytes, options) {
        Ok(recording) => check(&recording),
        Err(error) => {
            let text = error.to_string();
            assert!(!text.contains(|c: char| c.is_control()), "{text:?}");
            assert!(text.contains("found ") && text.contains("expected "), "{text}");
        }
    }
}

fn check(recording: &Recording) {
    let times = &recording.time_s;
    assert!(times.len() >= 2 && times[0] == 0.0, "starts at 0");
    assert!(times.windows(2).all(|w| w[1] > w[0]) && times.iter().all(|t| t.is_finite()), "rises");
    assert_eq!(recording.source.rows, times.len());
    for channel in &recording.channels {
        let used = !matches!(channel.quantity, Quantity::Time | Quantity::Ignored);
        assert_eq!(channel.values.len(), if used { times.len() } else { 0 }, "{}", channel.header);
        assert!(channel.values.iter().all(|v| !v.is_infinite()), "{}", channel.header);
        assert!(!channel.header.contains(|c: char| c.is_control()), "{:?}", channel.header);
    }
    for notice in &recording.notices {
        assert!(!notice.text.contains(|c: char| c.is_control()), "{:?}", notice.text);
    }
}
