//! Every word of a result has a topic, and every topic fits one screen.
#![allow(clippy::unwrap_used)]

use evenpull_core::result::{Basis, Class, FurtherTurning, Signal, Undecided, Verdict};
use serde_json::to_value;

use super::*;

/// The spelling of result words on disk. The matches name every variant, so that a new one does not compile
/// before it stands here.
fn words_of_the_result() -> Vec<String> {
    let verdicts = [Verdict::Within, Verdict::Outside, Verdict::CannotTell, Verdict::NotApplicable];
    let undecided = [
        Undecided::Scatter,
        Undecided::Resolution,
        Undecided::Bias,
        Undecided::Aliasing,
        Undecided::Signal,
        Undecided::Windows,
        Undecided::Sensor,
    ];
    let classes = [Class::Even, Class::Lean, Class::Rich, Class::Imbalanced, Class::Undecided];
    let bases = [Basis::Measured, Basis::Inferred, Basis::None];
    let turning = [FurtherTurning::Worthwhile, FurtherTurning::WithinNoise, FurtherTurning::NotTheCure];
    let signals = [Signal::Resolved, Signal::Partial, Signal::Averaged, Signal::Aliased, Signal::Unknown];
    for verdict in verdicts {
        match verdict {
            Verdict::Within | Verdict::Outside | Verdict::CannotTell | Verdict::NotApplicable => {}
        }
    }
    for class in classes {
        match class {
            Class::Even | Class::Lean | Class::Rich | Class::Imbalanced | Class::Undecided => {}
        }
    }
    for reason in undecided {
        match reason {
            Undecided::Scatter | Undecided::Resolution | Undecided::Bias | Undecided::Aliasing => {}
            Undecided::Signal | Undecided::Windows | Undecided::Sensor => {}
        }
    }
    for signal in signals {
        match signal {
            Signal::Resolved | Signal::Partial | Signal::Averaged | Signal::Aliased | Signal::Unknown => {}
        }
    }
    let values = verdicts.iter().map(to_value).chain(undecided.iter().map(to_value));
    let values = values.chain(classes.iter().map(to_value)).chain(bases.iter().map(to_value));
    let values = values.chain(turning.iter().map(to_value)).chain(signals.iter().map(to_value));
    let values = values.chain(words_of_a_plan());
    values.map(|v| v.unwrap().as_str().unwrap().to_owned()).collect()
}

/// The spelling of a plan's words on disk, variant by variant as above.
fn words_of_a_plan() -> Vec<serde_json::Result<serde_json::Value>> {
    use evenpull_core::adjust::effects::{EffectSource, Untouched};
    use evenpull_core::adjust::influence::Coupling;
    use evenpull_core::adjust::plan_result::Advice;
    let advice = [
        Advice::Turn,
        Advice::TestTurn,
        Advice::Stop,
        Advice::CauseFirst,
        Advice::RecordAgain,
        Advice::NothingToTurn,
    ];
    for a in advice {
        match a {
            Advice::Turn | Advice::TestTurn | Advice::Stop => {}
            Advice::CauseFirst | Advice::RecordAgain | Advice::NothingToTurn => {}
        }
    }
    let alone = [
        Untouched::Reference,
        Untouched::Sealed,
        Untouched::NoAdjuster,
        Untouched::NoPressure,
        Untouched::NoEffect,
        Untouched::Even,
    ];
    for a in alone {
        match a {
            Untouched::Reference | Untouched::Sealed | Untouched::NoAdjuster => {}
            Untouched::NoPressure | Untouched::NoEffect | Untouched::Even => {}
        }
    }
    let sources = [EffectSource::Learned, EffectSource::MachineFile, EffectSource::LikeTheOthers];
    for s in sources {
        match s {
            EffectSource::Learned | EffectSource::MachineFile | EffectSource::LikeTheOthers => {}
        }
    }
    let coupling = [Coupling::OwnCylinder, Coupling::Coupled];
    for c in coupling {
        match c {
            Coupling::OwnCylinder | Coupling::Coupled => {}
        }
    }
    let words = advice.iter().map(to_value).chain(alone.iter().map(to_value));
    words.chain(sources.iter().map(to_value)).chain(coupling.iter().map(to_value)).collect()
}

#[test]
fn every_code_and_word_of_a_result_has_a_topic() {
    let words = words_of_the_result();
    let listed = codes::ALL
        .iter()
        .chain(codes::EXCLUSIONS)
        .chain(codes::PARTS)
        .chain(codes::PLAN)
        .map(|c| (*c).to_owned());
    for word in listed.chain(words).chain(["recording".to_owned(), "cautions".to_owned()]) {
        let topic = find(&word).unwrap_or_else(|| panic!("no topic {word}"));
        assert!(!topic.title.is_empty() && !topic.paragraphs.is_empty(), "{word} says nothing");
    }
}

/// The spelling of the words that comparisons and rankings carry. `unlike` names its conditions in plain text, so they
/// are looked for in its source.
fn words_of_visits() -> Vec<String> {
    use evenpull_core::visits::fleet_result::Attention;
    let attentions = [Attention::Act, Attention::Watch, Attention::MeasureAgain, Attention::Fine];
    for a in attentions {
        match a {
            Attention::Act | Attention::Watch | Attention::MeasureAgain | Attention::Fine => {}
        }
    }
    let source = include_str!("../../core/src/visits/unlike.rs");
    let named =
        ["say(", "differ("].into_iter().flat_map(|call| source.split(call).skip(1)).filter_map(|rest| {
            let word = rest.trim_start().strip_prefix('"')?.split('"').next()?;
            Some(word.to_owned())
        });
    let mut words: Vec<String> =
        attentions.iter().map(|a| to_value(a).unwrap().as_str().unwrap().to_owned()).collect();
    words.extend(named);
    words
}

#[test]
fn every_word_of_a_comparison_and_a_ranking_has_a_topic_and_a_place() {
    let words = words_of_visits();
    // Seven conditions in the contract of the comparison (`Unlike::what`), four attentions.
    assert_eq!(words.len(), 11, "{words:?}");
    for word in &words {
        assert!(find(word).is_some(), "no topic {word}");
        assert!(!places(word).is_empty(), "{word} is in no place of the list");
    }
    for word in ["compare", "fleet", "trend", "forecast", "repeatability", "control-limits", "swapped"] {
        assert!(find(word).is_some(), "no topic {word}");
    }
}

#[test]
fn every_word_that_stands_in_a_place_is_placed() {
    for word in words_of_the_result() {
        assert!(!places(&word).is_empty(), "{word} is in no place of the list");
    }
}

#[test]
fn every_topic_is_one_screen() {
    for topic in all() {
        let shown = screen(&topic);
        let lines = shown.lines().count();
        // The cautions may need a taller screen: none of them is left out to save a line.
        let most = if topic.name == CAUTIONS { 30 } else { 24 };
        assert!(lines <= most, "{} has {lines} lines", topic.name);
        for row in shown.lines() {
            assert!(row.chars().count() <= WIDTH, "{}: {row}", topic.name);
        }
    }
}

#[test]
fn every_topic_of_a_notice_says_what_was_seen_what_it_means_and_what_to_do() {
    for code in codes::ALL {
        let paragraphs = find(code).unwrap().paragraphs;
        for label in ["Seen: ", "Means: ", "Do: "] {
            assert!(paragraphs.iter().any(|p| p.starts_with(label)), "{code} lacks {label}");
        }
    }
}

#[test]
fn names_are_unique_and_none_is_beside_the_point() {
    let names: Vec<String> = all().into_iter().map(|t| t.name).collect();
    for (i, name) in names.iter().enumerate() {
        assert!(!names[..i].contains(name), "{name} twice");
        let listed = list().split([',', ' ', '\n']).any(|word| word == name);
        assert!(listed, "{name} is not listed");
    }
}

#[test]
fn topics_that_other_topics_point_to_exist() {
    for topic in all() {
        for paragraph in &topic.paragraphs {
            for (_, rest) in paragraph.match_indices("see ").map(|(i, m)| (i, &paragraph[i + m.len()..])) {
                let word: String = rest.chars().take_while(|c| c.is_ascii_lowercase() || *c == '-').collect();
                if word.contains('-') {
                    assert!(find(&word).is_some(), "{} points to {word}", topic.name);
                }
            }
        }
    }
}

#[test]
fn typed_topics_are_found_in_any_spelling_and_near_ones_offered() {
    assert_eq!(find("Stuck Sensor").unwrap().name, "stuck-sensor");
    assert_eq!(find("CANNOT_TELL").unwrap().name, "cannot-tell");
    assert!(find("nonsense").is_none());
    assert_eq!(near("stuk-sensor")[0], "stuck-sensor");
    assert!(near("sensor").contains(&"railed-sensor".to_owned()));
    assert!(near("alias").contains(&"aliased".to_owned()));
    assert!(near("zzzz").is_empty());
}

#[test]
fn long_words_and_empty_paragraphs_do_not_break_the_wrapping() {
    let mut text = String::new();
    wrap(&mut text, &format!("a {} b", "x".repeat(100)), 4);
    assert_eq!(text, format!("a\n    {}\n    b\n", "x".repeat(100)));
    let mut text = String::new();
    wrap(&mut text, "", 4);
    assert_eq!(text, "\n");
}
