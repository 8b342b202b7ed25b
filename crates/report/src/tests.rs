//! The page and the terminal words as a whole.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use evenpull_core::notice::{Level, Notice};
use evenpull_core::result::{Basis, Class, Reference, Verdict};

use crate::demo::{Spec, build, hostile};
use crate::{PageOptions, PageUnit, cautions, review_json, review_page, terminal_summary};

fn options() -> PageOptions {
    PageOptions { without_png: true, ..PageOptions::default() }
}

fn html(analysis: &evenpull_core::Analysis) -> String {
    review_page(analysis, &options()).unwrap().html
}

/// The page without its data block, style and script.
fn visible(html: &str) -> String {
    let mut out = String::new();
    let mut rest = html;
    while let Some(at) = rest.find("<s") {
        let tag = ["<script", "<style"].into_iter().find(|t| rest[at..].starts_with(t));
        let Some(tag) = tag else {
            out.push_str(&rest[..at + 2]);
            rest = &rest[at + 2..];
            continue;
        };
        out.push_str(&rest[..at]);
        let end = format!("</{}>", &tag[1..]);
        rest = rest[at..].find(&end).map_or("", |e| &rest[at + e + end.len()..]);
    }
    out + rest
}

fn examples() -> Vec<evenpull_core::Analysis> {
    let mut out: Vec<_> = [Spec::outboard(), Spec::as_left(), Spec::open(), Spec::many(1), Spec::many(12)]
        .iter()
        .map(build)
        .collect();
    let mut bare = build(&Spec::many(1));
    bare.review.verdict = Verdict::NotApplicable;
    bare.review.cylinders.clear();
    bare.review.regimes.clear();
    bare.review.windows.clear();
    bare.traces = Default::default();
    bare.pulses.clear();
    out.push(bare);
    out.push(hostile());
    out
}

#[test]
fn every_page_carries_every_caution_and_how_far_it_was_checked() {
    for analysis in examples() {
        let page = html(&analysis);
        for line in cautions::LINES {
            let text = line.text.replace('\'', "&#x27;");
            assert!(page.contains(&text) || page.contains(line.text), "{} is missing", line.key);
        }
        assert!(page.contains(
            "Checked on simulated engines; no open per-cylinder recording with known truth exists"
        ));
        let words = terminal_summary(&analysis, &options());
        assert!(cautions::short().iter().all(|l| words.contains(l)), "{words}");
        assert!(words.contains("Checked on simulated engines"));
    }
}

#[test]
fn nothing_from_a_log_becomes_markup() {
    let page = html(&hostile());
    assert!(!page.contains("<img"), "raw markup");
    assert_eq!(page.matches("</script>").count(), 2, "a log closed the data block");
    assert_eq!(page.matches("<script").count(), 2);
    assert!(!page.contains("<!--"));
    // The data block still reads back as the very same result.
    let from = page.find("id=\"evenpull-review\">").unwrap() + "id=\"evenpull-review\">".len();
    let data = &page[from..from + page[from..].find("</script>").unwrap()];
    let back: serde_json::Value = serde_json::from_str(data).unwrap();
    assert_eq!(
        back,
        serde_json::from_str::<serde_json::Value>(&review_json(&hostile().review).unwrap()).unwrap()
    );
}

#[test]
fn the_page_asks_for_nothing_from_anywhere() {
    for analysis in examples() {
        let page = html(&analysis);
        for word in
            ["http:", "https:", "src=\"", "href=\"", "@import", " style=\"", " onclick", "javascript:"]
        {
            let found = page.replace("http://www.w3.org/2000/svg", "");
            assert!(!found.contains(word), "{word}");
        }
        assert!(page.contains("default-src &#x27;none&#x27;") || page.contains("default-src 'none'"));
        assert!(!page.contains("unsafe-inline"));
    }
}

/// Limit of our users: 600 kB; ours: 300 kB for an ordinary page.
#[test]
fn pages_stay_small() {
    assert!(html(&build(&Spec { pulses: false, rate_hz: 4.0, ..Spec::outboard() })).len() < 300_000);
    let mut worst = build(&Spec { duration_s: 600.0, ..Spec::many(12) });
    for i in 0..1000 {
        worst.review.notices.push(Notice::new("gap", Level::Note, format!("a gap of {i} s")));
        worst.review.notices.push(Notice::new("bad-cell", Level::Caution, "x".repeat(300)));
    }
    // A drive of many short stretches: thousands of hatch lines if each were drawn and written for itself.
    for i in 0..500 {
        let start_s = f64::from(i) * 1.2;
        let reason = if i % 2 == 0 { "speed" } else { "blip" }.to_owned();
        worst.review.excluded.push(evenpull_core::result::Excluded { start_s, end_s: start_s + 0.7, reason });
    }
    let size = html(&worst).len();
    assert!(size < 600_000, "{size}");
}

#[test]
fn the_same_result_gives_the_same_bytes() {
    let analysis = build(&Spec::outboard());
    let full = PageOptions::default();
    let (a, b) = (review_page(&analysis, &full).unwrap(), review_page(&analysis, &full).unwrap());
    assert_eq!(a, b);
    assert!(a.figures.iter().all(|f| f.png.starts_with(&[0x89, b'P', b'N', b'G'])));
}

#[test]
fn the_default_limit_is_called_a_rule_of_thumb() {
    let mut analysis = build(&Spec::outboard());
    assert!(html(&analysis).matches("rule of thumb").count() >= 3);
    assert!(terminal_summary(&analysis, &options()).contains("rule of thumb"));
    analysis.review.machine.limit_source = "machine-file".to_owned();
    assert!(!html(&analysis).contains("rule of thumb"));
}

#[test]
fn lean_is_never_said_plainly_where_nothing_measured_it() {
    let page = visible(&html(&build(&Spec::outboard())));
    let found: BTreeSet<String> = page
        .match_indices("lean")
        .filter(|(at, _)| !page[..*at].ends_with('c') && !page[*at..].starts_with("leant"))
        .map(|(at, _)| page[at..].chars().take(15).collect())
        .collect();
    assert!(!found.is_empty() && found.iter().all(|f| f == "lean (inferred)"), "{found:?}");
    let mut measured = build(&Spec::outboard());
    measured.review.cylinders[2].basis = Basis::Measured;
    assert!(html(&measured).contains("lean (measured)"));
}

#[test]
fn vacuum_is_said_as_vacuum_and_pressure_as_pressure() {
    let vacuum = html(&build(&Spec::outboard()));
    assert!(vacuum.contains("Cylinder 3 pulls less vacuum than the others"));
    // 2.41 kPa more pressure: 2.41 / 0.1333224 = 18.08 mmHg less vacuum (NIST SP 811), U 0.31 kPa = 2.3 mmHg.
    assert!(vacuum.contains("−18.1 ± 2.3") && vacuum.contains("18.1 ± 2.3 mmHg less vacuum"));
    let spec = Spec { unit: ("kPa", evenpull_core::recording::PressureKind::Absolute), ..Spec::outboard() };
    let absolute = html(&build(&spec));
    assert!(absolute.contains("Cylinder 3 idles at a higher pressure than the others"));
    assert!(absolute.contains("+2.41 ± 0.31"));
    let asked =
        review_page(&build(&spec), &PageOptions { unit: Some(PageUnit::InHg), without_png: true }).unwrap();
    // 2.41 / 3.386389 = 0.712 inHg, U 0.092.
    assert!(asked.html.contains("+0.712 ± 0.092"));
}

#[test]
fn a_twin_without_reference_blames_neither() {
    let mut twin = build(&Spec { deviations: vec![-1.2, 1.2], ..Spec::outboard() });
    for c in &mut twin.review.cylinders {
        c.class = Class::Imbalanced;
    }
    let page = html(&twin);
    assert!(page.contains("The two cylinders pull unevenly") && page.contains("not which of them moved"));
    twin.review.machine.reference = Reference::Cylinder(1);
    twin.review.cylinders[0].class = Class::Even;
    assert!(html(&twin).contains("Cylinder 2 pulls less vacuum than cylinder 1"));
}

#[test]
fn every_picture_says_its_finding_in_words() {
    let page = review_page(&build(&Spec::outboard()), &options()).unwrap();
    let alt = &page.figures[0].alt;
    assert!(
        alt.starts_with("Cylinder 3 pulls less vacuum than the others.")
            && alt.contains("cylinder 3 −18.1 ± 2.3"),
        "{alt}"
    );
    assert_eq!(page.html.matches("role=\"img\"").count(), 2 * page.figures.len());
}

#[test]
fn terminal_words_fit_eighty_columns() {
    for analysis in examples() {
        let words = terminal_summary(&analysis, &options());
        for line in words.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
        assert!(!words.chars().any(|c| c.is_control() && c != '\n'));
    }
}

#[test]
fn missing_values_are_null_in_the_json() {
    let mut analysis = build(&Spec::outboard());
    analysis.review.barometer_kpa = Some(f64::NAN);
    let json = review_json(&analysis.review).unwrap();
    assert!(json.contains("\"barometer_kpa\": null") && !json.contains("NaN") && json.ends_with("}\n"));
}
