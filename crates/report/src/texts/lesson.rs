//! Words of worksheet and key.

/// Kicker of a worksheet.
pub(crate) fn worksheet_kicker(number: usize, seed: u64) -> String {
    format!("Worksheet {number:02}, recording {seed}")
}

/// Headline of a worksheet: a question, the same for every case.
pub(crate) const WORKSHEET_HEADLINE: &str = "What does this recording say, and what does it not say?";

/// What to do, before the questions.
pub(crate) const INTRODUCTION: &str = "The recording is in the file named above and drawn in figure 1 as it was logged. Every figure in it was made by an engine model; machine and workshop are invented. Answer with what the recording shows, and write \"cannot tell\" where it does not.";

/// The questions with the number of lines to write on. The same for every case: a question must not give its answer away.
pub(crate) const QUESTIONS: [(&str, usize); 7] = [
    ("Which stretches would you judge? Mark them in figure 1. Write down what you leave out, and why.", 2),
    (
        "What is a row of this file: one moment of the pulse, or an average over it? How do you know? Can it be judged?",
        2,
    ),
    (
        "Are the sensors to be trusted? What in the recording shows it, and what would have shown it better?",
        2,
    ),
    (
        "Fill in the table. Enter each cylinder in figure 2 as a dot with its interval, and draw the limit as a band.",
        0,
    ),
    ("Inside the limit, outside, or cannot tell? Give the spread, and how sure you are of it.", 2),
    (
        "Which cylinder stands out, if any, and which way? What could be the cause, and what speaks against each other cause?",
        3,
    ),
    ("What do you do next, and what do you leave alone? What would you record next time?", 3),
];

/// Caption of the recording on a worksheet.
pub(crate) const TRACE_CAPTION: &str = "The recording as logged, nothing marked. Mark what you judge.";

/// Caption of the close-up.
pub(crate) const CLOSE_CAPTION: &str = "One second of it.";

/// Caption of the empty chart.
pub(crate) fn blank_caption(limit: &str) -> String {
    format!(
        "To be filled in: each cylinder against the middle of the group. The limit on the spread is {limit}, highest minus lowest, a rule of thumb; a maker's figure overrides it."
    )
}

/// Heads of the table to fill in.
pub(crate) fn blank_heads(unit: &str) -> Vec<String> {
    vec![
        "Cylinder".to_owned(),
        format!("Mean, {unit}"),
        format!("Against the middle, {unit}"),
        format!("± (k = 2), {unit}"),
        "Even, lean, rich, breathing, or cannot tell".to_owned(),
    ]
}

/// Caption of that table.
pub(crate) const BLANK_TABLE: &str = "Cylinder by cylinder";

/// Kicker of a key.
pub(crate) fn key_kicker(number: usize, seed: u64, case: &str) -> String {
    format!("Key to worksheet {number:02}, recording {seed}: {case}")
}

/// Answer under the list of what must come out.
pub(crate) fn agreement(all: bool) -> &'static str {
    if all {
        "The review of this very recording finds what the lesson is about."
    } else {
        "The review of this recording does not find all that the lesson is about; the rows below say what. Teach it as it is, or take another seed."
    }
}

/// Note under the table of truth and finding.
pub(crate) const TRUTH_NOTE: &str = "True: mean pressure over whole engine cycles of the stretches judged, as the engine model had it, against the median. Found: what the review says. A column can be wrong about its cylinder only where the key says so above.";

/// Caption of that table.
pub(crate) const TRUTH_CAPTION: &str = "True and found, cylinder by cylinder";

/// Caption of the table of what must come out.
pub(crate) const CHECKS_CAPTION: &str = "What must come out, and what comes out";
