//! Trouble codes of a recorded link: services 03, 07, 0A and the clearing 04 enter the judgement in words.
//!
//! Layout of the answers: ISO 15765-4 with SAE J1979 (service + 0x40, number of codes, two bytes each; the two top bits
//! of the first byte are the letter, the next two the first digit). From memory.

use evenpull_core::notice::Level;
use evenpull_core::read::{ReadOptions, read_bytes};

use super::support::*;

/// A link that polls one manifold pressure and the speed, with other answers in between.
fn link(others: &[(f64, &str)]) -> String {
    let mut lines: Vec<(f64, String)> = Vec::new();
    for k in 0..240 {
        let t = 1000.0 + 0.25 * f64::from(k);
        let raw = 1000 * 4 + (k % 5) * 8;
        lines.push((t, format!("7E8#04410C{:02X}{:02X}AAAAAA", raw / 256, raw % 256)));
        lines.push((t + 0.1, format!("7E8#03410B{:02X}AAAAAAAA", 36 + k % 2)));
    }
    lines.extend(others.iter().map(|(t, frame)| (1000.0 + t, (*frame).to_owned())));
    lines.sort_by(|a, b| a.0.total_cmp(&b.0));
    lines.iter().map(|(t, frame)| format!("({t:.6}) can0 {frame}\n")).collect()
}

fn reviewed(others: &[(f64, &str)]) -> evenpull_core::result::Review {
    let recording = read_bytes("link.log", link(others).as_bytes(), &ReadOptions::default()).unwrap();
    analyse(&recording, &machine("")).review
}

#[test]
fn each_service_is_told_from_the_others() {
    // Naive: every frame with two code bytes is "a stored code", and 0x0301 read as hexadecimal is P769.
    let review = reviewed(&[
        (5.0, "7E8#0443010107AAAAAA"),
        (6.0, "7E8#0447010301AAAAAA"),
        (7.0, "7E8#044A01C123AAAAAA"),
    ]);
    let found: Vec<(&str, &str)> =
        review.trouble_codes.iter().map(|c| (c.code.as_str(), c.status.as_str())).collect();
    assert_eq!(found, [("P0107", "stored"), ("P0301", "pending"), ("U0123", "permanent")]);
    let cautions: Vec<&str> = review
        .notices
        .iter()
        .filter(|n| n.code == "trouble-code" && n.level == Level::Caution)
        .map(|n| n.text.as_str())
        .collect();
    assert_eq!(cautions.len(), 2, "{cautions:?}");
    assert!(cautions[0].contains("P0107") && cautions[0].contains("substitute value"), "{cautions:?}");
    assert!(cautions[1].contains("P0301") && cautions[1].contains("cylinder 1"), "{cautions:?}");
}

#[test]
fn no_codes_is_an_answer_and_no_code() {
    // Naive: 43 00 padded with AA would read as code 0xAAAA (B2AAA).
    let review = reviewed(&[(5.0, "7E8#024300AAAAAAAAAA")]);
    assert!(review.trouble_codes.is_empty(), "{:?}", review.trouble_codes);
    assert!(!has(&review, "trouble-code"));
}

#[test]
fn clearing_is_placed_in_time_and_warned_about() {
    let review = reviewed(&[(30.0, "7E8#0144AAAAAAAAAAAA")]);
    assert_eq!(review.codes_cleared_s.len(), 1);
    assert!((review.codes_cleared_s[0] - 30.0).abs() < 0.3, "{:?}", review.codes_cleared_s);
    assert!(has(&review, "codes-cleared"), "{:?}", codes(&review));
}
