//! Worksheet and key: the worksheet holds no answer, both warn, nothing that is passed in becomes markup.
#![allow(clippy::unwrap_used)]

use evenpull_core::recording::PressureKind;

use crate::demo::{Spec, build};
use crate::{
    DisplayUnit, LessonCheck, LessonFacts, LessonSeries, PageUnit, cautions, key_page, worksheet_page,
};

fn wave(rate_hz: f64, seconds: f64) -> LessonSeries {
    let time_s: Vec<f64> = (0..(rate_hz * seconds) as usize).map(|k| k as f64 / rate_hz).collect();
    let cylinder = |c: u32| -> Vec<f64> {
        time_s.iter().map(|t| if *t < 3.0 { 101.0 } else { 41.0 + (t * 7.0 + f64::from(c)).sin() }).collect()
    };
    LessonSeries {
        pressure_kpa: (1..=4).map(|c| (c, cylinder(c))).collect(),
        rpm: time_s.iter().map(|t| if *t < 3.0 { 0.0 } else { 1_050.0 }).collect(),
        coolant_c: vec![82.0; time_s.len()],
        time_s,
    }
}

fn facts() -> LessonFacts {
    LessonFacts {
        number: 7,
        case: "leak-at-idle".to_owned(),
        teaches: "a leak behind one plate".to_owned(),
        seed: 3,
        difficulty: "easy".to_owned(),
        recording: "lesson-07-003.csv".to_owned(),
        recorder: "damped line".to_owned(),
        cylinders: 4,
        firing_deg: vec![0.0, 540.0, 180.0, 360.0],
        warm_c: 70.0,
        limit_kpa: 1.3,
        told: vec!["Trouble code noted: P0107.".to_owned()],
        series: wave(20.0, 30.0),
        set: vec!["A leak of 0.55 mm2 behind the plate of cylinder 2.".to_owned()],
        why: "A leak lets the same stream past.".to_owned(),
        trap: "Closing the plate hides it.".to_owned(),
        true_kpa: vec![(1, -0.01), (2, 2.31), (3, 0.01), (4, 0.0)],
        checks: vec![LessonCheck {
            expected: "verdict: outside".to_owned(),
            found: "outside".to_owned(),
            agrees: true,
        }],
        command: "evenpull review lesson-07-003.csv".to_owned(),
    }
}

fn kpa() -> DisplayUnit {
    DisplayUnit::of(PageUnit::Kpa, PressureKind::Absolute)
}

/// The text of a page as a reader gets it.
fn plain(page: &str) -> String {
    page.replace("&#x27;", "'").replace("&#x2f;", "/").replace("&quot;", "\"")
}

/// Whatever only the key may say can change without a byte of the worksheet changing.
#[test]
fn a_worksheet_does_not_depend_on_the_answer() {
    let sheet = worksheet_page(&facts(), &kpa()).unwrap();
    let other = LessonFacts {
        case: "x".to_owned(),
        teaches: "x".to_owned(),
        difficulty: "x".to_owned(),
        recorder: "x".to_owned(),
        set: vec!["x".to_owned()],
        why: "x".to_owned(),
        trap: "x".to_owned(),
        true_kpa: vec![(4, 9.0)],
        checks: Vec::new(),
        command: "x".to_owned(),
        ..facts()
    };
    assert_eq!(sheet, worksheet_page(&other, &kpa()).unwrap());
    // And what the student is to be told is there.
    let words = plain(&sheet.html);
    for told in ["P0107", "lesson-07-003.csv", "0, 540, 180, 360", "1.3 kPa", "id=\"fill\"", "Worksheet 07"] {
        assert!(words.contains(told), "{told}");
    }
    assert!(words.contains("{\"lesson\":7,\"seed\":3,\"unit\":\"kPa\"}"), "the data block");
    assert!(!words.contains("evenpull.review/1"));
}

#[test]
fn both_pages_carry_every_caution() {
    let analysis = build(&Spec::outboard());
    let pages =
        [worksheet_page(&facts(), &kpa()).unwrap().html, key_page(&facts(), &analysis, &kpa()).unwrap().html];
    for page in pages.map(|p| plain(&p)) {
        for line in cautions::LINES {
            assert!(page.contains(line.text), "{} is missing", line.key);
        }
        let page = page.replace("http://www.w3.org/2000/svg", "");
        assert!(!page.contains("http:") && !page.contains("https:"), "a request");
    }
}

#[test]
fn a_key_says_what_was_set_what_is_found_and_owns_up() {
    let analysis = build(&Spec::outboard());
    let page = plain(&key_page(&facts(), &analysis, &kpa()).unwrap().html);
    for told in [
        "A leak of 0.55 mm2",
        "Closing the plate hides it.",
        "+2.31",
        "leak-at-idle",
        "finds what the lesson",
    ] {
        assert!(page.contains(told), "{told}");
    }
    let wrong = LessonCheck { expected: "a".to_owned(), found: "b".to_owned(), agrees: false };
    let missed = LessonFacts { checks: vec![wrong], ..facts() };
    let page = plain(&key_page(&missed, &analysis, &kpa()).unwrap().html);
    assert!(page.contains("does not find all") && page.contains(">NO<"), "the key hides it");
}

#[test]
fn nothing_passed_in_becomes_markup() {
    let evil = "<img src=x onerror=alert(1)></script>\u{202e}";
    let bad = LessonFacts {
        case: evil.to_owned(),
        teaches: evil.to_owned(),
        recording: evil.to_owned(),
        told: vec![evil.to_owned()],
        set: vec![evil.to_owned()],
        trap: evil.to_owned(),
        command: evil.to_owned(),
        ..facts()
    };
    let analysis = build(&Spec::outboard());
    for page in [worksheet_page(&bad, &kpa()).unwrap().html, key_page(&bad, &analysis, &kpa()).unwrap().html]
    {
        assert!(!page.contains("<img"));
        assert_eq!((page.matches("</script>").count(), page.matches("<script").count()), (2, 2));
    }
}

#[test]
fn a_fast_recording_gets_a_close_up_and_a_blank_chart_holds_no_mark() {
    let names = |f: &LessonFacts| -> Vec<&'static str> {
        worksheet_page(f, &kpa()).unwrap().figures.iter().map(|f| f.name).collect()
    };
    assert_eq!(names(&facts()), ["recording", "blank"]);
    assert_eq!(names(&LessonFacts { series: wave(200.0, 8.0), ..facts() }), ["recording", "close", "blank"]);
    let empty = LessonFacts { series: LessonSeries::default(), ..facts() };
    assert_eq!(names(&empty), ["blank"]);
    let sheet = worksheet_page(&facts(), &kpa()).unwrap();
    let blank = sheet.figures.iter().find(|f| f.name == "blank").unwrap();
    assert!(!blank.svg.contains("<circle") && !blank.svg.contains("<polygon"), "a mark on the blank chart");
}

#[test]
fn a_worksheet_in_another_unit_says_no_kilopascal() {
    let unit = DisplayUnit::of(PageUnit::InHg, PressureKind::Absolute);
    let page = worksheet_page(&facts(), &unit).unwrap().html;
    assert!(!page.contains("kPa"));
    let analysis = build(&Spec::outboard());
    // 2.31 kPa / 3.386389 = 0.682 inHg (NIST SP 811).
    assert!(key_page(&facts(), &analysis, &unit).unwrap().html.contains("+0.682"));
}
