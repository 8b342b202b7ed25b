//! The page and the terminal words of plans as a whole.
#![allow(clippy::unwrap_used)]

use evenpull_core::adjust::influence::InfluenceError;
use evenpull_core::adjust::plan::{PlanOptions, plan};
use evenpull_core::adjust::plan_result::{Advice, Plan};
use evenpull_core::machine::{Adjuster, Machine, Opens};
use evenpull_core::notice::{Level, Notice};
use evenpull_core::recording::PressureKind;
use evenpull_core::result::Verdict;

use crate::demo::{Spec, build, hostile};
use crate::texts::plan::Words;
use crate::{DisplayUnit, PageUnit, cautions, plan_json, plan_page, terminal_plan};

fn machine(kpa_per_turn: Option<f64>) -> Machine {
    let adjuster = |cylinder| Adjuster {
        cylinder,
        opens: Opens::Anticlockwise,
        range_turns: Some(3.0),
        kpa_per_turn,
        sealed: cylinder == 4,
    };
    Machine { adjusters: (1..=4).map(adjuster).collect(), ..Machine::default() }
}

/// A demo result with nothing in it that comes before a screw: its notices and trouble codes are there to be looked at.
fn clean(spec: &Spec) -> evenpull_core::Analysis {
    let mut a = build(spec);
    a.review.notices.clear();
    a.review.trouble_codes.clear();
    a.review.codes_cleared_s.clear();
    a.review.further_turning = None;
    a.review.cylinders.iter_mut().for_each(|c| c.refill_ratio = None);
    a
}

/// Plans of every advice, each with the unit of its recording.
fn examples() -> Vec<(Plan, DisplayUnit)> {
    let spec = Spec::outboard();
    let of = |a: &evenpull_core::Analysis, m: &Machine, o: &PlanOptions| {
        (plan(&a.review, m, None, o), DisplayUnit::choose(None, &a.context, a.review.barometer_kpa))
    };
    let (known, unknown, default) = (machine(Some(3.0)), machine(None), PlanOptions::default());
    let outside = clean(&spec);
    let mut leak = clean(&spec);
    let mut notice = Notice::new("leak-suspected", Level::Fault, "a leak");
    notice.cylinder = Some(3);
    leak.review.notices.push(notice);
    let chained = PlanOptions {
        not_learned: Some(InfluenceError::TooFewRounds { found: 1, screws: 2, alone: vec![3] }),
        passed_over: vec!["2025-01-01: other work was noted besides its turns".to_owned()],
        ..PlanOptions::default()
    };
    let mut open = clean(&Spec::open());
    open.review.verdict = Verdict::CannotTell;
    let mut sealed = machine(Some(3.0));
    sealed.adjusters.iter_mut().for_each(|a| a.sealed = true);
    let kpa = clean(&Spec { unit: ("kPa", PressureKind::Absolute), ..Spec::outboard() });
    vec![
        of(&outside, &known, &default),
        of(&outside, &unknown, &default),
        of(&leak, &known, &default),
        of(&clean(&Spec::as_left()), &known, &default),
        of(&open, &known, &default),
        of(&outside, &sealed, &default),
        of(&outside, &known, &chained),
        of(&kpa, &known, &default),
        of(&clean(&Spec::many(12)), &Machine::default(), &default),
    ]
}

fn html(p: &Plan, unit: &DisplayUnit) -> String {
    plan_page(p, unit, true).unwrap().html
}

/// Text of a page as a reader sees it, on one line.
fn visible(html: &str) -> String {
    let body = html.split("<body>").nth(1).unwrap().split("<script").next().unwrap();
    let mut out = String::new();
    let mut inside = false;
    for c in body.chars() {
        match c {
            '<' => inside = true,
            '>' => {
                inside = false;
                out.push(' ');
            }
            c if !inside => out.push(c),
            _ => {}
        }
    }
    let out = out.replace("&#x27;", "'").replace("&quot;", "\"").replace("&lt;", "<").replace("&gt;", ">");
    one_line(&out.replace("&amp;", "&").replace("&#x2f;", "/"))
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_examples_have_every_advice() {
    let found: Vec<Advice> = examples().iter().map(|e| e.0.advice).collect();
    for wanted in [
        Advice::Turn,
        Advice::TestTurn,
        Advice::CauseFirst,
        Advice::Stop,
        Advice::RecordAgain,
        Advice::NothingToTurn,
    ] {
        assert!(found.contains(&wanted), "no example of {wanted:?}: {found:?}");
    }
}

#[test]
fn every_page_carries_every_caution_and_how_far_it_was_checked() {
    for (p, unit) in examples() {
        let page = visible(&html(&p, &unit));
        for line in cautions::LINES {
            assert!(page.contains(line.text), "{} is missing", line.key);
        }
        let words = terminal_plan(&p, &unit);
        for text in [&page, &one_line(&words)] {
            assert!(text.contains("Checked on simulated engines; no open per-cylinder recording"), "{text}");
        }
        assert!(cautions::short().iter().all(|l| words.contains(l)), "{words}");
        assert!(words.lines().all(|l| l.chars().count() <= 80), "{words}");
    }
}

/// Page and terminal say the same: every sentence of the terminal stands in the page.
#[test]
fn the_page_says_what_the_terminal_says() {
    for (p, unit) in examples() {
        let (page, words) = (html(&p, &unit), Words { plan: &p, unit });
        let page = visible(&page);
        let terminal = one_line(&terminal_plan(&p, &unit));
        let lists = [&p.because, &p.look_first, &p.steps, &p.do_not, &p.stop_when];
        for line in lists.iter().flat_map(|l| words.points(l)).chain(words.why()).chain(words.expected()) {
            assert!(page.contains(&line), "{line} is not in the page: {page}");
            let plain = one_line(&crate::plain(&line));
            assert!(terminal.contains(&plain), "{plain} is not on the terminal: {terminal}");
        }
        for t in &p.turns {
            let act = words.act(t);
            assert!(terminal.contains(&crate::plain(&act)), "{act}");
            if t.turns.is_some() {
                assert!(page.contains(&act), "{act} is not in the page");
            }
        }
    }
}

#[test]
fn every_number_of_the_figure_is_the_jsons() {
    // kPa: the axis is the unit of the JSON, so a figure is its number, rounded by the rule of the page.
    let (p, unit) =
        examples().into_iter().find(|e| e.0.advice == Advice::Turn && e.1.name() == "kPa").unwrap();
    let json: serde_json::Value = serde_json::from_str(&plan_json(&p).unwrap()).unwrap();
    let page = plan_page(&p, &unit, true).unwrap();
    let (svg, alt) = (&page.figures[0].svg, &page.figures[0].alt);
    let expected = json["expected"]["cylinders"].as_array().unwrap();
    assert_eq!(expected.len(), 4);
    for (now, after) in json["cylinders"].as_array().unwrap().iter().zip(expected) {
        let text = |v: &serde_json::Value, u: &serde_json::Value| {
            let (v, u) = (v.as_f64().unwrap(), u.as_f64().unwrap());
            // Two digits of the uncertainty, no more than two decimals (JCGM 100, 7.2.6).
            let places = if u >= 0.0995 { 2 - usize::from(u >= 0.995) } else { 2 };
            let sign = if v > 0.0 { "+" } else { "" };
            format!("{sign}{v:.places$}").replace('-', "\u{2212}")
        };
        let then = text(&after["deviation_kpa"], &after["u_kpa"]);
        let value = then.trim_start_matches('+');
        let zero = value.trim_start_matches('\u{2212}').chars().all(|c| c == '0' || c == '.');
        let shown = if zero { value.trim_start_matches('\u{2212}') } else { &then };
        assert!(svg.contains(shown), "{shown} is not in the figure: {svg}");
        assert!(alt.contains(&text(&now["deviation_kpa"]["value"], &now["deviation_kpa"]["u"])), "{alt}");
    }
    // The embedded result is the same as the file's.
    let from = page.html.find("id=\"evenpull-plan\">").unwrap() + "id=\"evenpull-plan\">".len();
    let data = &page.html[from..from + page.html[from..].find("</script>").unwrap()];
    assert_eq!(serde_json::from_str::<serde_json::Value>(data).unwrap(), json);
}

#[test]
fn nothing_from_a_log_or_machine_becomes_markup() {
    let a = hostile();
    let bad = "<img src=x onerror=alert(1)>\"'&\u{202e}\u{1b}[31m</script><!--";
    let options = PlanOptions {
        ruled_out: vec![bad.to_owned()],
        passed_over: vec![bad.to_owned()],
        ..PlanOptions::default()
    };
    let p = plan(&a.review, &machine(Some(3.0)), None, &options);
    let unit = DisplayUnit::choose(None, &a.context, None);
    let page = html(&p, &unit);
    assert!(!page.contains("<img") && !page.contains("<!--"), "raw markup");
    assert_eq!((page.matches("</script>").count(), page.matches("<script").count()), (2, 2));
    let words = terminal_plan(&p, &unit);
    assert!(!words.chars().any(|c| c.is_control() && c != '\n') && !words.contains('\u{202e}'), "{words:?}");
    for (p, unit) in examples() {
        let page = html(&p, &unit).replace("http://www.w3.org/2000/svg", "");
        for word in ["http:", "https:", "src=\"", "href=\"", "@import", " style=\"", " onclick"] {
            assert!(!page.contains(word), "{word}");
        }
        assert!(!page.contains("unsafe-inline") && page.len() < 300_000, "{} bytes", page.len());
    }
}

#[test]
fn a_page_in_another_unit_says_no_kilopascal() {
    let (p, _) = examples().remove(0);
    let unit = DisplayUnit::logged(PageUnit::parse("inHg"), "kPa", Some(PressureKind::Vacuum), Some(101.3));
    // kPa_per_turn is the name of a key of the machine file and stays.
    let page = visible(&html(&p, &unit)).replace("kpa_per_turn", "");
    assert!(!page.contains("kPa"), "{page}");
    assert!(!terminal_plan(&p, &unit).contains("kPa"));
    // 2.41 kPa more pressure is 2.41 / 3.386389 = 0.712 inHg less vacuum (NIST SP 811).
    assert!(page.contains("\u{2212}0.712"), "{page}");
}

#[test]
fn turning_is_spoken_of_only_where_something_is_turned() {
    for (p, unit) in examples() {
        let page = visible(&html(&p, &unit));
        let turning = matches!(p.advice, Advice::Turn | Advice::TestTurn);
        assert_eq!(page.contains("What to turn, in order"), !p.turns.is_empty(), "{:?}", p.advice);
        assert_eq!(page.contains("No turn."), !turning, "{:?}", p.advice);
        assert_eq!(page.contains("When to stop"), !p.stop_when.is_empty());
        for question in
            ["Which cylinder?", "Which way, how far?", "How sure?", "What next?", "What not to do?"]
        {
            assert!(page.contains(question), "{question}");
        }
    }
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let (p, unit) = examples().remove(0);
    let (a, b) = (plan_page(&p, &unit, false).unwrap(), plan_page(&p, &unit, false).unwrap());
    assert_eq!(a, b);
    assert!(a.figures.iter().all(|f| f.png.starts_with(&[0x89, b'P', b'N', b'G'])));
    let headline = crate::texts::capital(&Words { plan: &p, unit }.headline());
    assert!(
        a.figures[0].alt.starts_with(&headline) && headline.contains("cylinders 3"),
        "{}",
        a.figures[0].alt
    );
}
