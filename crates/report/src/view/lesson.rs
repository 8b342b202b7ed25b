//! Worksheet and key as finished strings. A worksheet takes nothing from a judgement.

use evenpull_core::Analysis;
use serde::Serialize;

use crate::cautions;
use crate::digits;
use crate::figure::blank::Blank;
use crate::figure::trace::{Panel, Series, Trace};
use crate::page::LessonFacts;
use crate::texts::{labels, lesson as words, page, restate};
use crate::units::DisplayUnit;
use crate::view::facts::fact;
use crate::view::trace::lanes;
use crate::view::{Fact, NoticeLine, ReviewView, Table};

/// Pressures further than this from the middle of all have left idle; they go out of the second panel, kPa.
const IDLE_BAND_KPA: f64 = 9.0;
/// Below this the engine stands, rev/min.
const STANDS_RPM: f64 = 100.0;
/// From so many rows a second on single pulses are seen, and a second of them is drawn.
const PULSES_HZ: f64 = 50.0;
/// Half the width of the empty chart, kPa: the same for every case.
const REACH_KPA: f64 = 5.0;

/// A question with the lines under it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Question {
    /// Question.
    pub(crate) text: &'static str,
    /// One entry a line to write on.
    pub(crate) lines: Vec<u8>,
}

/// A worksheet in finished strings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct WorksheetView {
    pub(crate) title: String,
    pub(crate) kicker: String,
    pub(crate) facts: Vec<Fact>,
    pub(crate) introduction: &'static str,
    pub(crate) told: Vec<String>,
    pub(crate) questions: Vec<Question>,
    pub(crate) table: Table,
    pub(crate) cautions: Vec<cautions::Caution>,
}

/// A key in finished strings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct KeyView {
    pub(crate) title: String,
    pub(crate) kicker: String,
    pub(crate) facts: Vec<Fact>,
    pub(crate) set: Vec<String>,
    pub(crate) finding: Vec<String>,
    pub(crate) agreement: &'static str,
    pub(crate) checks: Table,
    pub(crate) truth: Option<Table>,
    pub(crate) why: String,
    pub(crate) trap: String,
    pub(crate) command: String,
    pub(crate) notices: Vec<NoticeLine>,
    pub(crate) cautions: Vec<cautions::Caution>,
}

fn engine(f: &LessonFacts) -> String {
    let order: Vec<String> = f.firing_deg.iter().map(|d| digits::short(*d)).collect();
    format!("{} cylinders, firing at {} degrees of crank", f.cylinders, order.join(", "))
}

/// The worksheet.
pub(crate) fn worksheet(f: &LessonFacts, unit: &DisplayUnit) -> WorksheetView {
    let kicker = words::worksheet_kicker(f.number, f.seed);
    let blank = |n: usize| (0..n).map(|_| 0u8).collect();
    WorksheetView {
        title: kicker.clone(),
        facts: vec![
            fact("Recording", f.recording.clone()),
            fact("Engine", engine(f)),
            fact("Warm from", format!("{} °C", digits::short(f.warm_c))),
            fact("Limit on the spread", format!("{} (rule of thumb)", unit.limit_text(f.limit_kpa))),
            fact("Name and date", "_".repeat(24)),
        ],
        introduction: words::INTRODUCTION,
        told: f.told.clone(),
        questions: words::QUESTIONS.iter().map(|&(text, n)| Question { text, lines: blank(n) }).collect(),
        table: Table {
            caption: words::BLANK_TABLE.to_owned(),
            head: words::blank_heads(unit.name()),
            rows: (1..=f.cylinders)
                .map(|c| {
                    let mut row = vec![String::new(); 5];
                    row[0] = c.to_string();
                    row
                })
                .collect(),
            text_columns: vec![4],
            note: None,
        },
        cautions: cautions::LINES.to_vec(),
        kicker,
    }
}

/// The empty chart.
pub(crate) fn blank(f: &LessonFacts, unit: &DisplayUnit) -> Blank {
    Blank {
        cylinders: (1..=f.cylinders as u32).collect(),
        reach: unit.width(REACH_KPA),
        axis: page::deviation_axis(unit, "the middle of the group"),
    }
}

/// The recording as logged, and one second of it where the rows carry pulses.
pub(crate) fn traces(f: &LessonFacts, unit: &DisplayUnit) -> (Option<Trace>, Option<Trace>) {
    let s = &f.series;
    let (Some(first), Some(last)) = (s.time_s.first(), s.time_s.last()) else { return (None, None) };
    let length = last - first;
    let rate = (s.time_s.len() - 1) as f64 / length.max(f64::MIN_POSITIVE);
    let pulses = rate > PULSES_HZ;
    let all: Vec<f64> = s.pressure_kpa.iter().flat_map(|p| &p.1).copied().filter(|v| v.is_finite()).collect();
    let middle = middle(&all);
    let near = |v: f64| (v - middle).abs() <= IDLE_BAND_KPA;
    let mut panels = vec![pressures(f, unit, "as logged", |_, v| v, if pulses { 150.0 } else { 220.0 })];
    // With the engine off the axis reaches up to the barometer, and idle lies flat.
    if !pulses && s.rpm.iter().any(|v| *v < STANDS_RPM) {
        let idle = |_: f64, v: f64| if near(v) { v } else { f64::NAN };
        panels[0].height = room(f, 120.0);
        panels.push(pressures(f, unit, "the same, idle drawn larger", idle, 220.0));
    }
    if let Some(crowded) = panels.pop() {
        panels.extend(lanes(crowded));
    }
    for (title, name, values, height) in
        [(page::SPEED_TITLE, "rev/min", &s.rpm, 84.0), (page::COOLANT_TITLE, "°C", &s.coolant_c, 64.0)]
    {
        if values.iter().any(|v| v.is_finite()) {
            panels.push(panel(title, name, &s.time_s, vec![(None, values.clone())], height));
        }
    }
    let whole = trace(length, panels);
    let close = pulses.then(|| {
        let from = first + length / 2.0;
        let held = |t: f64| t >= from && t <= from + 1.0;
        let mut p = pressures(f, unit, "as logged", |_, v| v, 240.0);
        for series in &mut p.series {
            let rows = series.values.iter().zip(&p.time_s).filter(|(_, t)| held(**t));
            series.values = rows.map(|(v, _)| *v).collect();
        }
        p.time_s = p.time_s.iter().filter(|t| held(**t)).map(|t| t - from).collect();
        Trace {
            time_name: page::TIME_NAME.replace("the first row", &format!("{from:.0} s on")),
            ..trace(1.0, vec![p])
        }
    });
    (Some(whole), close)
}

fn trace(duration_s: f64, panels: Vec<Panel>) -> Trace {
    let (windows, excluded, turns) = (Vec::new(), Vec::new(), Vec::new());
    Trace { duration_s, panels, windows, excluded, turns, time_name: page::TIME_NAME.to_owned() }
}

/// The value in the middle: where the picture is centred.
fn middle(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Height of a panel: every label at the right end has a line of its own.
fn room(f: &LessonFacts, least: f64) -> f64 {
    least.max(f.cylinders as f64 * 17.0 + 16.0)
}

fn pressures(
    f: &LessonFacts,
    unit: &DisplayUnit,
    title: &str,
    keep: impl Fn(f64, f64) -> f64,
    height: f64,
) -> Panel {
    let lines = f.series.pressure_kpa.iter().map(|(c, v)| {
        let kept = v.iter().zip(&f.series.time_s).map(|(v, t)| unit.level(keep(*t, *v)));
        (Some(*c), kept.collect::<Vec<f64>>())
    });
    let title = format!("{title}, {}, {}", unit.level_name(), unit.name());
    panel(&title, unit.name(), &f.series.time_s, lines.collect(), room(f, height))
}

fn panel(title: &str, unit: &str, time_s: &[f64], lines: Vec<(Option<u32>, Vec<f64>)>, height: f64) -> Panel {
    Panel {
        title: title.to_owned(),
        unit: unit.to_owned(),
        time_s: time_s.to_vec(),
        series: lines.into_iter().map(|(cylinder, values)| Series { cylinder, values }).collect(),
        height,
        reversed: false,
        zoomed: false,
        filled: false,
        shared: None,
    }
}

/// The key: what was set beside what the review of the same recording says.
pub(crate) fn key(f: &LessonFacts, analysis: &Analysis, review: ReviewView, unit: &DisplayUnit) -> KeyView {
    let kicker = words::key_kicker(f.number, f.seed, &f.case);
    let mut finding = vec![format!("Verdict: {}. {}.", review.verdict, review.headline)];
    let told = review.answers.iter().filter(|a| matches!(a.key, "which" | "how-far" | "how-sure" | "next"));
    finding.extend(told.flat_map(|a| a.lines.iter().cloned()));
    let checks = f.checks.iter().map(|c| {
        let agrees = if c.agrees { "yes" } else { "NO" };
        vec![c.expected.clone(), c.found.clone(), agrees.to_owned()]
    });
    KeyView {
        title: kicker.clone(),
        kicker,
        facts: vec![
            fact("Recording", f.recording.clone()),
            fact("Recorded by", f.recorder.clone()),
            fact("Engine", engine(f)),
            fact("Difficulty", f.difficulty.clone()),
            fact("Seed", f.seed.to_string()),
        ],
        set: f.set.iter().map(|line| restate::sentence(line, unit)).collect(),
        finding,
        agreement: words::agreement(f.checks.iter().all(|c| c.agrees)),
        checks: Table {
            caption: words::CHECKS_CAPTION.to_owned(),
            head: ["Must come out", "Comes out", "Agrees"].map(str::to_owned).to_vec(),
            rows: checks.collect(),
            text_columns: vec![1, 2],
            note: None,
        },
        truth: truth(f, analysis, unit),
        why: restate::sentence(&f.why, unit),
        trap: restate::sentence(&f.trap, unit),
        command: f.command.clone(),
        notices: review.notices,
        cautions: cautions::LINES.to_vec(),
    }
}

fn truth(f: &LessonFacts, analysis: &Analysis, unit: &DisplayUnit) -> Option<Table> {
    let r = &analysis.review;
    if f.true_kpa.is_empty() || r.cylinders.is_empty() {
        return None;
    }
    let places = unit.decimals();
    let rows = r.cylinders.iter().map(|c| {
        let real = f.true_kpa.iter().find(|t| t.0 == c.cylinder);
        vec![
            c.cylinder.to_string(),
            real.map_or("–".to_owned(), |t| digits::signed(unit.difference(t.1), places)),
            c.deviation_kpa.map_or("–".to_owned(), |d| unit.deviation_text(d)),
            labels::class(c.class, c.basis).to_owned(),
        ]
    });
    Some(Table {
        caption: format!("{}, {}", words::TRUTH_CAPTION, unit.name()),
        head: ["Cylinder", "True", "Found ± (k = 2)", "Class found"].map(str::to_owned).to_vec(),
        rows: rows.collect(),
        text_columns: vec![3],
        note: Some(words::TRUTH_NOTE.to_owned()),
    })
}
