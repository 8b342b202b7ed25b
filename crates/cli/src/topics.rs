//! What `explain` knows: one table of topics, their texts kept as data beside this file.
//!
//! # Form of the texts
//! `# name`, a title, then paragraphs set apart by empty lines. A line that starts with `- ` is an item, a
//! paragraph that starts with `Seen:`, `Means:` or `Do:` hangs under its label. Every topic fits one screen.

use evenpull_core::codes;
use evenpull_report::cautions;

/// Width of a screen, characters.
const WIDTH: usize = 78;

/// The texts, in the order of the list.
const TEXTS: [&str; 8] = [
    include_str!("topics/pages.txt"),
    include_str!("topics/verdicts.txt"),
    include_str!("topics/plan.txt"),
    include_str!("topics/stretches.txt"),
    include_str!("topics/engine.txt"),
    include_str!("topics/sensors.txt"),
    include_str!("topics/reading.txt"),
    include_str!("topics/visits.txt"),
];

/// Jaro-Winkler similarity from which a name is offered for a mistyped one.
const NEAR: f64 = 0.8;

/// Topic whose text comes from the list that every output carries.
const CAUTIONS: &str = "cautions";

/// Where a word stands in a result, and the words that stand there. A word can have several places.
const PLACES: [(&str, &[&str]); 14] = [
    ("verdict", &["within", "outside", "cannot-tell", "not-applicable"]),
    (
        "why a verdict is undecided",
        &["scatter", "resolution", "bias", "aliasing", "signal", "windows", "sensor"],
    ),
    ("further turning", &["worthwhile", "within-noise", "not-the-cure"]),
    ("class of a cylinder", &["even", "lean", "rich", "imbalanced", "undecided"]),
    ("basis of a class", &["measured", "inferred", "none"]),
    ("kind of signal", &["resolved", "partial", "averaged", "aliased", "unknown"]),
    ("advice of a plan", &["turn", "test-turn", "stop", "cause-first", "record-again", "nothing-to-turn"]),
    ("plan", codes::PLAN),
    (
        "why a screw is left alone",
        &["reference", "sealed", "no-adjuster", "no-pressure", "no-effect", "even"],
    ),
    ("what a turn does", &["learned", "machine-file", "like-the-others", "own-cylinder", "coupled"]),
    ("attention of a machine", &["act", "watch", "measure-again", "fine"]),
    (
        "condition that was not alike",
        &["idle-speed", "barometer", "limit", "reference", "settings", "signal", "cylinders"],
    ),
    ("part of a recording", codes::PARTS),
    ("stretch left out", codes::EXCLUSIONS),
];

/// One topic.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Topic {
    /// Word that finds it.
    name: String,
    /// The title line.
    title: String,
    /// Paragraphs and items.
    paragraphs: Vec<String>,
}

/// All topics, in the order of the list.
fn all() -> Vec<Topic> {
    let mut topics = vec![Topic {
        name: CAUTIONS.to_owned(),
        title: "Running engines hurt people".to_owned(),
        paragraphs: cautions::LINES.iter().map(|c| format!("- {}", c.text)).collect(),
    }];
    topics.extend(TEXTS.iter().flat_map(|text| text.split("\n# ")).map(topic));
    topics
}

/// One topic from its part of a text.
fn topic(part: &str) -> Topic {
    let mut lines = part.trim_start_matches("# ").lines();
    let name = lines.next().unwrap_or_default().trim().to_owned();
    let title = lines.next().unwrap_or_default().trim().to_owned();
    let paragraphs = lines.map(str::trim).filter(|l| !l.is_empty()).map(str::to_owned).collect();
    Topic { name, title, paragraphs }
}

/// The topic a person typed, whatever the case, with spaces or underscores for hyphens.
pub(crate) fn find(typed: &str) -> Option<Topic> {
    let name = spelled(typed);
    all().into_iter().find(|t| t.name == name)
}

/// Names that come near what was typed, the nearest first, at most five: those that contain it, and those that
/// are alike by the Jaro-Winkler measure.
pub(crate) fn near(typed: &str) -> Vec<String> {
    let typed = spelled(typed);
    let closeness = |name: &str| {
        let contains = typed.chars().count() >= 3 && name.contains(&typed);
        if contains { 1.0 } else { strsim::jaro_winkler(name, &typed) }
    };
    let mut found: Vec<(f64, String)> = all().into_iter().map(|t| (closeness(&t.name), t.name)).collect();
    found.retain(|(close, _)| *close >= NEAR);
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, name)| name).take(5).collect()
}

/// A typed topic in the spelling of the table.
fn spelled(typed: &str) -> String {
    typed.trim().to_lowercase().replace([' ', '_'], "-")
}

/// Where a word stands in a result, as text for its headline.
fn places(name: &str) -> String {
    let mut found: Vec<&str> =
        PLACES.iter().filter(|(_, words)| words.contains(&name)).map(|(p, _)| *p).collect();
    if codes::ALL.contains(&name) {
        found.push("notice");
    }
    found.join(", ")
}

/// One topic as a screen: at most 24 lines of 78 characters.
pub(crate) fn screen(topic: &Topic) -> String {
    let mut text = match places(&topic.name) {
        places if places.is_empty() => format!("{}\n", topic.name),
        places => format!("{} ({places})\n", topic.name),
    };
    text.push_str(&topic.title);
    text.push('\n');
    let mut after_item = false;
    for paragraph in &topic.paragraphs {
        let item = paragraph.starts_with("- ");
        // Items stand close together; everything else is set apart.
        if !(item && after_item) {
            text.push('\n');
        }
        let hang = match (item, paragraph.split_once(": ")) {
            (true, _) => 2,
            (false, Some((label @ ("Seen" | "Means" | "Do" | "Next"), _))) => label.len() + 2,
            _ => 0,
        };
        wrap(&mut text, paragraph, hang);
        after_item = item;
    }
    text
}

/// Adds a paragraph broken at spaces, later lines moved in by `hang`.
fn wrap(text: &mut String, paragraph: &str, hang: usize) {
    let mut column = 0;
    for word in paragraph.split_whitespace() {
        let length = word.chars().count();
        if column > 0 && column + 1 + length > WIDTH {
            text.push('\n');
            text.push_str(&" ".repeat(hang));
            column = hang;
        } else if column > 0 {
            text.push(' ');
            column += 1;
        }
        text.push_str(word);
        column += length;
    }
    text.push('\n');
}

/// The list of topics by the place where their words stand.
pub(crate) fn list() -> String {
    let names: Vec<String> = all().into_iter().map(|t| t.name).collect();
    let mut text = String::from("evenpull explain TOPIC prints one screen of plain words. Topics:\n");
    let general: Vec<&str> = names.iter().map(String::as_str).filter(|n| places(n).is_empty()).collect();
    let notices: Vec<&str> = codes::ALL.to_vec();
    let groups = std::iter::once(("in general", general.as_slice()))
        .chain(PLACES.iter().map(|(place, words)| (*place, *words)))
        .chain(std::iter::once(("notices", notices.as_slice())));
    for (place, words) in groups {
        text.push('\n');
        text.push_str(place);
        text.push('\n');
        text.push_str("  ");
        wrap(&mut text, &words.join(", "), 2);
    }
    text
}

#[cfg(test)]
#[path = "topics_tests.rs"]
mod tests;
