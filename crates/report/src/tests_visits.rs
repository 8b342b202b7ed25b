//! Pages of comparisons and rankings: told visits in, and the page may say nothing that the result does not hold.
#![allow(clippy::unwrap_used)]

use evenpull_core::recording::PressureKind;
use evenpull_core::result::Measured;
use evenpull_core::visits::compare::compare_in_order;
use evenpull_core::visits::fleet_result::Failed;
use evenpull_core::visits::{
    CompareOptions, Comparison, FleetOptions, Ranked, SwapResult, Visit, compare, fleet,
};

use crate::figure::canvas::{Drawing, Rect};
use crate::figure::{fleet as fleet_figure, history};
use crate::style::{NARROW, WIDE};
use crate::texts::compare::Told;
use crate::visits_demo::{drifting, visit};
use crate::{
    CompareLinks, DisplayUnit, PageOptions, PageUnit, cautions, compare_json, compare_page, compare_summary,
    fleet_json, fleet_page, fleet_summary, view,
};

const BARE: PageOptions = PageOptions { unit: None, without_png: true };

fn pair() -> Comparison {
    let visits = [visit("HS-01", 0, &[0.1, 0.0, -2.0, 0.1]), visit("HS-01", 1, &[0.1, 0.0, -0.1, 0.12])];
    compare_in_order(&visits, &CompareOptions::default())
}

fn many() -> Comparison {
    compare(&drifting("HS-03", 4, 7, -0.13), &CompareOptions::default())
}

fn exchanged() -> Comparison {
    let mut c = pair();
    c.swapped = Some(SwapResult {
        cylinders: [1, 2],
        cylinder_difference_kpa: Measured { value: 0.04, u: 0.21 },
        sensor_difference_kpa: Measured { value: 0.83, u: 0.21 },
        cylinders_differ: false,
        sensors_differ: true,
    });
    c
}

fn hostile() -> Comparison {
    let nasty = "<img src=x onerror=alert(1)></script><!--\u{202e}";
    let mut visits = drifting(nasty, 3, 4, 0.0);
    visits[3] = visit(nasty, 3, &[0.0, 1.9, 0.1]);
    for v in &mut visits {
        v.source = nasty.to_owned();
        v.facts.note = Some(nasty.to_owned());
        v.facts.work = Some(nasty.to_owned());
    }
    compare(&visits, &CompareOptions::default())
}

fn workshop() -> Ranked {
    let mut all: Vec<Visit> = (1..=12)
        .flat_map(|n| drifting(&format!("HS-{n:02}"), 4, 5, if n == 3 { -0.25 } else { 0.0 }))
        .collect();
    all.push(visit("HS-20 <b>", 0, &[0.0, 2.4, 0.1, 0.0]));
    let mut lost = visit("", 0, &[0.0, 0.1, 0.2, 0.1]);
    lost.source = "<i>lost</i>.csv".to_owned();
    all.push(lost);
    let mut ranked = fleet(&all, &FleetOptions::default());
    ranked
        .fleet
        .failed
        .push(Failed { path: "a<b>.csv".to_owned(), reason: "a<b>.csv:7:3: found x".to_owned() });
    ranked.fleet.machines[0].report = Some("machines/HS-03-visits.html".to_owned());
    ranked
}

fn html(c: &Comparison) -> String {
    plain(&compare_page(c, DisplayUnit::kpa(), &BARE, &CompareLinks::default()).unwrap().html)
}

/// A page with its slashes as they are: the template engine writes them as references.
fn plain(page: &str) -> String {
    page.replace("&#x2f;", "/")
}

fn pages() -> Vec<String> {
    let mut out: Vec<String> = [pair(), many(), exchanged(), hostile()].iter().map(html).collect();
    out.push(fleet_page(&workshop(), DisplayUnit::kpa(), &BARE).unwrap().html);
    let nobody = fleet(&[], &FleetOptions::default());
    out.push(fleet_page(&nobody, DisplayUnit::kpa(), &BARE).unwrap().html);
    out
}

#[test]
fn every_page_and_every_summary_carries_the_cautions() {
    for page in pages() {
        for line in cautions::LINES {
            assert!(
                page.contains(&line.text.replace('\'', "&#x27;")) || page.contains(line.text),
                "{}",
                line.key
            );
        }
        assert!(page.contains("Checked on simulated engines"));
    }
    let words = [
        compare_summary(&pair(), DisplayUnit::kpa()),
        compare_summary(&hostile(), DisplayUnit::kpa()),
        fleet_summary(&workshop().fleet, DisplayUnit::kpa(), "63 logs"),
    ];
    for text in words {
        assert!(cautions::short().iter().all(|l| text.contains(l)), "{text}");
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        assert!(!text.chars().any(|c| (c.is_control() && c != '\n') || c == '\u{202e}'));
    }
}

#[test]
fn nothing_from_a_log_becomes_markup_or_a_request() {
    for page in pages() {
        assert!(
            !page.contains("<img") && !page.contains("<i>lost") && !page.contains("<b>.csv"),
            "raw markup"
        );
        assert_eq!(page.matches("</script>").count(), 2);
        assert!(!page.contains("<!--"));
        let found = page.replace("http://www.w3.org/2000/svg", "");
        for word in ["http:", "https:", "src=\"", "@import", " style=\"", "javascript:", "unsafe-inline"] {
            assert!(!found.contains(word), "{word}");
        }
        assert!(page.len() < 600_000, "{}", page.len());
    }
}

/// All numbers of a result, with the lengths of its lists, which pages count.
fn numbers_in(v: &serde_json::Value, out: &mut Vec<f64>) {
    match v {
        serde_json::Value::Number(n) => out.extend(n.as_f64()),
        serde_json::Value::Array(a) => {
            out.push(a.len() as f64);
            a.iter().for_each(|v| numbers_in(v, out));
        }
        serde_json::Value::Object(o) => o.values().for_each(|v| numbers_in(v, out)),
        _ => {}
    }
}

/// Figures with decimals in the cells of tables: `+2.41 ± 0.31` holds two.
fn figures_in(page: &str) -> Vec<String> {
    let cells = page.split("<td").skip(1).filter_map(|c| c.split_once('>')?.1.split("</td>").next());
    let mut out = Vec::new();
    for cell in cells {
        let text = cell.replace("<bdi>", "").replace("</bdi>", "").replace('−', "-");
        for word in text.split([' ', '(', ')', ',']) {
            let word = word.trim_end_matches(['.', ':', ';']);
            if word.contains('.') && word.parse::<f64>().is_ok() {
                out.push(word.to_owned());
            }
        }
    }
    out
}

fn every_figure_is_in(page: &str, json: &str) {
    let mut known = Vec::new();
    numbers_in(&serde_json::from_str(json).unwrap(), &mut known);
    let shown = figures_in(page);
    assert!(shown.len() > 12, "{shown:?}");
    for word in shown {
        let value: f64 = word.parse().unwrap();
        let places = word.split('.').nth(1).map_or(0, str::len) as i32;
        // A value is rounded to its place, an uncertainty may be rounded up to it.
        let step = 10f64.powi(-places);
        let near = |k: &f64| {
            let way = value.abs() - k.abs();
            way.abs() <= 0.5 * step + 1e-9 || (way > 0.0 && way <= step + 1e-9)
        };
        assert!(known.iter().any(near), "{word} stands in no place of the result");
        assert!(
            known.iter().any(|k| near(k) && (value == 0.0 || k.abs() < 0.5 * step || (k * value) > 0.0)),
            "{word}: sign"
        );
    }
}

#[test]
fn every_figure_of_a_page_is_in_its_result() {
    for c in [pair(), many(), exchanged()] {
        every_figure_is_in(&html(&c), &compare_json(&c).unwrap());
    }
    let ranked = workshop();
    let page = fleet_page(&ranked, DisplayUnit::kpa(), &BARE).unwrap().html;
    every_figure_is_in(&page, &fleet_json(&ranked.fleet).unwrap());
    // The check itself can fail: a figure that was changed by one in its last place is found out.
    let wrong = html(&pair()).replacen("−2.00", "−2.34", 99).replacen("+1.90", "+1.97", 99);
    let json = compare_json(&pair()).unwrap();
    assert!(std::panic::catch_unwind(|| every_figure_is_in(&wrong, &json)).is_err());
}

#[test]
fn the_embedded_result_is_the_result() {
    let page = html(&many());
    let from = page.find("id=\"evenpull-compare\">").unwrap() + "id=\"evenpull-compare\">".len();
    let data = &page[from..from + page[from..].find("</script>").unwrap()];
    let back: serde_json::Value = serde_json::from_str(data).unwrap();
    assert_eq!(back, serde_json::from_str::<serde_json::Value>(&compare_json(&many()).unwrap()).unwrap());
}

#[test]
fn two_visits_say_what_changed_then_and_now_and_what_next() {
    let page = html(&pair());
    assert!(page.contains("Cylinder 3 has changed; the spread has come within its limit"));
    // Told: cylinder 3 came up from -2.0 to -0.1 while the median of the others stood at 0.1: +1.90 kPa.
    assert!(page.contains("Cylinder 3 changed by +1.90"), "{page}");
    assert!(page.contains("Do not turn cylinders 1, 2 and 4"));
    assert!(page.contains("Do not read a trend into fewer than five visits"));
    assert!(page.contains("rule of thumb"));
    let figures = compare_page(&pair(), DisplayUnit::kpa(), &BARE, &CompareLinks::default()).unwrap().figures;
    assert_eq!(figures.iter().map(|f| f.name).collect::<Vec<_>>(), ["then-now"]);
    assert!(figures[0].alt.contains("cylinder 3 +1.90"), "{}", figures[0].alt);
}

#[test]
fn a_vacuum_turns_changes_and_slopes_round_and_keeps_intervals_in_order() {
    let unit = DisplayUnit::of(PageUnit::MmHg, PressureKind::Vacuum);
    let page = compare_page(&many(), unit, &BARE, &CompareLinks::default()).unwrap().html;
    // -0.13 kPa a visit of 55 h are -0.236 kPa per 100 h, so +1.77 mmHg of vacuum (0.1333224 kPa, NIST SP 811).
    let slope = page.split("drifts by ").nth(1).unwrap();
    let value: f64 = slope.split(' ').next().unwrap().parse().unwrap();
    assert!((value - 1.77).abs() < 0.25, "{value}");
    let words: Vec<&str> = slope.split("interval ").nth(1).unwrap().split([' ', ')']).collect();
    let (low, high): (f64, f64) = (words[0].parse().unwrap(), words[2].parse().unwrap());
    assert!(low < value && value < high, "{low} {value} {high}");
    let pair = compare_page(&pair(), unit, &BARE, &CompareLinks::default()).unwrap().html;
    // +1.90 kPa more pressure are 14.3 mmHg less vacuum.
    assert!(pair.contains("Cylinder 3 changed by −14.3"), "{pair}");
}

#[test]
fn a_sensor_is_told_from_its_cylinder_in_the_headline() {
    assert!(html(&exchanged()).contains("The sensors differ, their cylinders do not"));
    assert!(html(&exchanged()).contains("Leave cylinders 1 and 2 alone"));
}

#[test]
fn unlike_idle_speeds_are_named_and_not_judged() {
    let mut visits = vec![visit("HS-01", 0, &[0.0, 0.1, 0.0, 0.1]), visit("HS-01", 1, &[0.0, 2.1, 0.0, 0.1])];
    visits[1].rpm = Some(Measured { value: 2_600.0, u: 2.0 });
    let c = compare_in_order(&visits, &CompareOptions::default());
    let page = html(&c);
    assert!(c.latest.is_none() && page.contains("These recordings cannot be compared with each other"));
    assert!(page.contains("Idle speeds from 1050 to 2600 rev/min") && page.contains("not judged"));
    assert!(!page.contains("has changed"));
}

#[test]
fn the_ranking_names_the_first_links_it_and_lists_what_is_not_ranked() {
    let ranked = workshop();
    let page = fleet_page(&ranked, DisplayUnit::kpa(), &BARE).unwrap().html;
    let first = &ranked.fleet.machines[0].machine;
    assert!(page.contains(&format!("See {} first", first.replace('<', "&lt;").replace('>', "&gt;"))));
    assert!(plain(&page).contains("<a href=\"machines/HS-03-visits.html\">"));
    assert!(page.contains("&lt;i&gt;lost") && page.contains(":7:3: found x"));
    assert!(page.contains("listed, never merged"));
}

#[test]
fn terminal_and_page_say_the_same_sentences() {
    for c in [pair(), many(), exchanged()] {
        let page = html(&c).replace("&#x27;", "'").replace('−', "-");
        let text = compare_summary(&c, DisplayUnit::kpa());
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let t = Told { c: &c, unit: DisplayUnit::kpa() };
        for line in crate::texts::compare::changed(&t).iter().chain(&crate::texts::compare_advice::next(&t)) {
            let line = line.replace('−', "-");
            assert!(page.contains(&line) && flat.contains(&line), "{line}\n{text}");
        }
    }
}

fn check(drawing: &Drawing, what: &str) {
    let paper = Rect { x0: -0.5, y0: -0.5, x1: drawing.width + 0.5, y1: drawing.height + 0.5 };
    for (i, (text, a)) in drawing.texts.iter().enumerate() {
        let inside = a.x0 >= paper.x0 && a.y0 >= paper.y0 && a.x1 <= paper.x1 && a.y1 <= paper.y1;
        assert!(inside, "{what}, {} wide: \u{201c}{text}\u{201d} leaves the paper: {a:?}", drawing.width);
        for (other, b) in &drawing.texts[i + 1..] {
            assert!(
                !a.overlaps(b),
                "{what}, {} wide: \u{201c}{text}\u{201d} on \u{201c}{other}\u{201d}",
                drawing.width
            );
        }
    }
}

#[test]
fn figures_of_many_visits_keep_their_words_apart() {
    for cylinders in 2..=12 {
        for visits in [3, 5, 14, 40] {
            let mut all = drifting("HS-03", cylinders, visits.min(12), -0.1);
            for n in 12..visits {
                let mut more = visit("HS-03", n % 12, &vec![0.1; cylinders]);
                more.facts.hours = Some(100.0 + 55.0 * n as f64);
                more.key = format!("more-{n}");
                more.visit.clone_from(&more.key);
                all.push(more);
            }
            for dates_only in [false, true] {
                if dates_only {
                    all.iter_mut().for_each(|v| v.facts.hours = None);
                }
                let c = compare(&all, &CompareOptions::default());
                for unit in [DisplayUnit::kpa(), DisplayUnit::of(PageUnit::Pa, PressureKind::Vacuum)] {
                    let Some(data) = view::compare_figures::history(&Told { c: &c, unit }) else { continue };
                    for width in [WIDE, NARROW] {
                        check(
                            &history::figure(&data, width).unwrap(),
                            &format!("{cylinders} cylinders, {visits} visits"),
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn strips_keep_their_words_apart() {
    let mut ranked = workshop();
    ranked.fleet.machines[1].machine = "a very long name of a machine that goes on and on".to_owned();
    let strips = view::fleet::strips(&ranked, &DisplayUnit::kpa());
    for width in [WIDE, NARROW] {
        check(&fleet_figure::figure(&strips, false, width).unwrap(), "strips");
    }
}

/// Two thousand machines, forty of which act: the page stays under the 600 kB of our users and says what it leaves out.
#[test]
fn a_page_of_two_thousand_machines_stays_small() {
    let all: Vec<Visit> = (0..2_000)
        .flat_map(|n| drifting(&format!("M{n:05}"), 4, 3, if n % 50 == 0 { -0.9 } else { 0.0 }))
        .collect();
    let ranked = fleet(&all, &FleetOptions::default());
    let page = fleet_page(&ranked, DisplayUnit::kpa(), &BARE).unwrap().html;
    assert!(page.len() < 500_000, "{}", page.len());
    assert!(page.contains("1880 more machines stand in fleet.csv"));
}
