//! What a lesson must bring out against what the review of its recording says: words compared with words.

use evenpull_core::result::{Class, Review, Verdict};
use evenpull_model::lessons::Lesson;
use evenpull_report::LessonCheck;

/// One entry for each thing that must come out.
pub(crate) fn checks(lesson: &Lesson, review: &Review) -> Vec<LessonCheck> {
    let expected = lesson.expected;
    let mut out = Vec::new();
    if !expected.verdicts.is_empty() {
        let found = verdict(review.verdict);
        out.push(LessonCheck {
            expected: format!("verdict: {}", expected.verdicts.join(" or ")),
            found: found.to_owned(),
            agrees: expected.verdicts.contains(&found),
        });
    }
    let there = |code: &str| review.notices.iter().any(|n| n.code == code);
    for code in expected.notices {
        let agrees = there(code);
        let found = if agrees { "the notice is there" } else { "no such notice" };
        out.push(LessonCheck { expected: format!("notice {code}"), found: found.to_owned(), agrees });
    }
    for code in expected.absent {
        let agrees = !there(code);
        let found = if agrees { "no such notice" } else { "the notice is there" };
        out.push(LessonCheck { expected: format!("no notice {code}"), found: found.to_owned(), agrees });
    }
    if let (Some(cylinder), false) = (lesson.at_fault, expected.classes.is_empty()) {
        out.push(blamed(cylinder, expected.classes, review));
    }
    for words in expected.evidence {
        let agrees = review
            .cylinders
            .iter()
            .filter(|c| Some(c.cylinder as usize) == lesson.at_fault)
            .flat_map(|c| &c.evidence)
            .any(|e| e.contains(words));
        let found = if agrees { "said" } else { "not said" };
        out.push(LessonCheck {
            expected: format!("the evidence speaks of {words}"),
            found: found.to_owned(),
            agrees,
        });
    }
    if expected.turned {
        let turned: Vec<String> =
            review.adjustments.iter().map(|a| format!("cylinder {}", a.cylinder)).collect();
        let wanted = lesson.at_fault.map_or(String::new(), |c| format!("cylinder {c}"));
        out.push(LessonCheck {
            expected: format!("a screw turned at {wanted}"),
            agrees: turned == [wanted],
            found: if turned.is_empty() { "none seen".to_owned() } else { turned.join(", ") },
        });
    }
    out
}

/// The cylinder at fault has the class, and no other one is blamed.
fn blamed(cylinder: usize, classes: &[&str], review: &Review) -> LessonCheck {
    let off = |c: Class| matches!(c, Class::Lean | Class::Rich | Class::Imbalanced);
    let of = |n: usize| review.cylinders.iter().find(|c| c.cylinder as usize == n).map(|c| class(c.class));
    let others: Vec<String> = review
        .cylinders
        .iter()
        .filter(|c| c.cylinder as usize != cylinder && off(c.class))
        .map(|c| format!("cylinder {}: {}", c.cylinder, class(c.class)))
        .collect();
    let own = of(cylinder).unwrap_or("no such cylinder");
    let mut found = format!("cylinder {cylinder}: {own}");
    if !others.is_empty() {
        found = format!("{found}; {}", others.join("; "));
    }
    LessonCheck {
        expected: format!("cylinder {cylinder}: {}, and no other is blamed", classes.join(" or ")),
        agrees: classes.contains(&own) && others.is_empty(),
        found,
    }
}

/// A verdict as results spell it.
pub(crate) fn verdict(v: Verdict) -> &'static str {
    match v {
        Verdict::Within => "within",
        Verdict::Outside => "outside",
        Verdict::CannotTell => "cannot-tell",
        Verdict::NotApplicable => "not-applicable",
    }
}

fn class(c: Class) -> &'static str {
    match c {
        Class::Even => "even",
        Class::Lean => "lean",
        Class::Rich => "rich",
        Class::Imbalanced => "imbalanced",
        Class::Undecided => "undecided",
    }
}
