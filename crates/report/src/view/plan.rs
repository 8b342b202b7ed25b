//! The page of a plan as finished strings, and what its figure needs.

use evenpull_core::adjust::advice::turn_words;
use evenpull_core::adjust::plan_result::{Advice, Plan, TurnAdvice};
use evenpull_core::result::Measured;
use serde::Serialize;

use crate::cautions;
use crate::digits;
use crate::figure::deviations::{Deviations, Row};
use crate::texts::plan::{self as words, Words};
use crate::texts::{capital, labels, page};
use crate::units::DisplayUnit;
use crate::view::facts::fact;
use crate::view::figures::MOST;
use crate::view::{Answer, Fact, Table};

/// The page of one plan in finished strings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct PlanView {
    /// Title of the document.
    pub(crate) title: String,
    /// Line over the headline.
    pub(crate) kicker: String,
    /// Headline.
    pub(crate) headline: String,
    /// What it rests on.
    pub(crate) facts: Vec<Fact>,
    /// The five answers.
    pub(crate) answers: Vec<Answer>,
    /// How far the method has been proven.
    pub(crate) checked: &'static str,
    /// Screws in order of work.
    pub(crate) order: Option<Table>,
    /// Every cylinder now and after.
    pub(crate) cylinders: Option<Table>,
    /// What a test turn is for, where one is asked for.
    pub(crate) test_turn: Option<&'static str>,
    /// Heading of the reasons.
    pub(crate) why_heading: &'static str,
    /// Reasons.
    pub(crate) why: Vec<String>,
    /// Whether turning further makes sense, in a few words.
    pub(crate) further: &'static str,
    /// Look at these first.
    pub(crate) look_first: Vec<String>,
    /// How to go about it.
    pub(crate) steps: Vec<String>,
    /// When to stop.
    pub(crate) stop_when: Vec<String>,
    /// What one turn does.
    pub(crate) known: Option<Table>,
    /// What could not be learned.
    pub(crate) not_learned: Vec<String>,
    /// Causes ruled out.
    pub(crate) ruled_out: Option<String>,
    /// Cautions.
    pub(crate) cautions: Vec<cautions::Caution>,
    /// How the plan was made.
    pub(crate) method: Vec<String>,
    /// What makes the page reproducible.
    pub(crate) origin: Vec<Fact>,
}

/// Builds the view model.
pub(crate) fn view(plan: &Plan, unit: DisplayUnit) -> PlanView {
    let w = Words { plan, unit };
    let name = plan.machine.id.clone().unwrap_or_else(|| plan.source.name.clone());
    let answer = |question, key, lines| Answer { question, key, lines };
    PlanView {
        title: format!("{name}: plan"),
        kicker: format!("Which screws to turn: {name}"),
        headline: capital(&w.headline()),
        facts: facts(plan, &w),
        answers: vec![
            answer("Which cylinder?", "which", w.which()),
            answer("Which way, how far?", "how-far", w.how_far()),
            answer("How sure?", "how-sure", w.how_sure()),
            answer("What next?", "next", w.next()),
            answer("What not to do?", "not", w.not_to_do()),
        ],
        checked: page::CHECKED,
        order: order(plan, &w),
        cylinders: cylinders(plan, &w),
        test_turn: (plan.advice == Advice::TestTurn && plan.influence.refused_because.is_none())
            .then_some(words::TEST_TURN),
        why_heading: words::why_heading(plan.advice),
        why: w.why(),
        further: words::further(plan.further_turning),
        look_first: w.points(&plan.look_first),
        steps: w.points(&plan.steps),
        stop_when: w.points(&plan.stop_when),
        known: known(plan, &w),
        not_learned: w.not_learned(),
        ruled_out: w.ruled_out(),
        cautions: cautions::LINES.to_vec(),
        method: words::method(plan),
        origin: origin(plan),
    }
}

fn facts(plan: &Plan, w: &Words<'_>) -> Vec<Fact> {
    let whose = if plan.machine.limit_source == "machine-file" { "machine file" } else { "rule of thumb" };
    let mut out = vec![
        fact("Recording", plan.source.name.clone()),
        fact("Spread now", w.spread_now()),
        fact("Limit on the spread", format!("{} ({whose})", w.unit.limit_text(plan.machine.limit_kpa))),
    ];
    if let Some(rpm) = plan.rpm {
        out.push(fact("Idle speed", format!("{} rev/min", digits::plus_minus(rpm.value, rpm.u, 0))));
    }
    out
}

fn origin(plan: &Plan) -> Vec<Fact> {
    vec![
        fact("Recording", plan.source.name.clone()),
        fact("SHA-256", plan.source.sha256.clone()),
        fact("Length", digits::duration(plan.source.duration_s)),
        fact("Reference", labels::reference(&plan.machine.reference)),
        fact("Program", format!("evenpull {}, schema {}", plan.version, plan.schema)),
    ]
}

fn order(plan: &Plan, w: &Words<'_>) -> Option<Table> {
    let u = w.unit.name();
    let row = |t: &TurnAdvice| {
        vec![
            format!("{}.", t.order),
            t.cylinder.to_string(),
            words::way(t.direction).to_owned(),
            t.turns.map_or_else(|| "not known yet".to_owned(), turn_words),
            t.rotation.map_or_else(|| "–".to_owned(), |r| words::rotation(r).to_owned()),
            t.deviation_kpa.map_or_else(|| "–".to_owned(), |d| w.unit.deviation_text(d)),
            w.after(t.cylinder).map_or_else(|| "–".to_owned(), |d| w.unit.deviation_text(d)),
            t.later_turns.map_or_else(|| "–".to_owned(), |l| format!("about {}", turn_words(l))),
        ]
    };
    let note = match plan.turns.iter().any(|t| t.rotation.is_some()) {
        true => "Rotation as seen from the head of the screw.",
        false => {
            "Which rotation opens a plate stands in the machine file where it is known (opens); here it does not. Opening lets more air in: the pressure rises, the vacuum falls."
        }
    };
    let head = ["Order", "Cylinder", "Way", "How far", "Rotation"].map(str::to_owned).into_iter();
    let head = head.chain([format!("Now, {u}"), format!("After, {u}"), "Later rounds".to_owned()]).collect();
    (!plan.turns.is_empty()).then(|| {
        Table {
            caption: "Order of work".to_owned(),
            head,
            rows: plan.turns.iter().map(row).collect(),
            text_columns: vec![1, 2, 3, 4, 7],
            note: Some(note.to_owned()),
        }
        .without_empty_columns()
    })
}

fn cylinders(plan: &Plan, w: &Words<'_>) -> Option<Table> {
    let u = w.unit.name();
    let cell = |m: Option<Measured>| m.map_or_else(|| "–".to_owned(), |m| w.unit.deviation_text(m));
    let rows: Vec<Vec<String>> = plan
        .cylinders
        .iter()
        .map(|c| {
            let left = plan.left_alone.iter().find(|l| l.cylinder == c.cylinder);
            let turned = plan.turns.iter().any(|t| t.cylinder == c.cylinder);
            let screw = match (left, turned) {
                (Some(l), _) => words::left_alone(l.why).to_owned(),
                (None, true) => "see the order of work".to_owned(),
                (None, false) => "not turned".to_owned(),
            };
            let level = c.pressure_kpa.map_or_else(|| "–".to_owned(), |p| w.unit.level_text(p));
            vec![c.cylinder.to_string(), level, cell(c.deviation_kpa), cell(w.after(c.cylinder)), screw]
        })
        .collect();
    (!rows.is_empty()).then(|| {
        Table {
            caption: "Every cylinder".to_owned(),
            head: vec![
                "Cylinder".to_owned(),
                format!("{}, {u}", capital(w.unit.level_name())),
                format!("Now, {u}"),
                format!("After the turns, {u}"),
                "Its screw".to_owned(),
            ],
            rows,
            text_columns: vec![4],
            note: Some(format!("Now and after: against {}.", labels::reference(&plan.machine.reference))),
        }
        .without_empty_columns()
    })
}

fn known(plan: &Plan, w: &Words<'_>) -> Option<Table> {
    let u = w.unit.name();
    let rows: Vec<Vec<String>> = plan
        .influence
        .per_turn
        .iter()
        .map(|p| {
            let rpm = p.rpm.map_or_else(|| "–".to_owned(), |r| digits::signed_plus_minus(r.value, r.u, 0));
            vec![p.cylinder.to_string(), w.unit.width_text(p.kpa), rpm, w.origin(p.source)]
        })
        .collect();
    (!rows.is_empty()).then(|| {
        Table {
            caption: "What one turn of opening does".to_owned(),
            head: vec![
                "Cylinder".to_owned(),
                format!("Its pressure against the others, {u}"),
                "Idle speed, rev/min".to_owned(),
                "Known from".to_owned(),
            ],
            rows,
            text_columns: vec![3],
            note: words::coupling(plan.influence.coupling).map(str::to_owned),
        }
        .without_empty_columns()
    })
}

/// The figure: every cylinder now and after the turns; `None` without a deviation.
pub(crate) fn figure(plan: &Plan, unit: &DisplayUnit) -> Option<Deviations> {
    let w = Words { plan, unit: *unit };
    let point = |m: Measured| (unit.difference(m.value), unit.width(m.u));
    let expected = plan.expected.is_some();
    let turned = |c: u32| plan.turns.iter().any(|t| t.cylinder == c && t.turns.is_some());
    let rows: Vec<Row> = plan
        .cylinders
        .iter()
        .take(MOST)
        .map(|c| {
            let (now, after) = (c.deviation_kpa, w.after(c.cylinder));
            let value = if expected { after } else { now };
            Row {
                cylinder: c.cylinder,
                value: value.map(point),
                outer: None,
                text: match value {
                    Some(d) if d.u == 0.0 && d.value == 0.0 => "reference".to_owned(),
                    Some(d) => unit.deviation_text(d),
                    None => "no value".to_owned(),
                },
                found: now.filter(|_| expected).map(point),
                moved: expected && turned(c.cylinder),
            }
        })
        .collect();
    rows.iter().any(|r| r.value.is_some()).then(|| Deviations {
        rows,
        limit: (plan.machine.limit_kpa > 0.0).then(|| {
            let thumb = if plan.machine.limit_source == "machine-file" { "" } else { " (rule of thumb)" };
            let text = format!("limit {}{thumb}", unit.limit_text(plan.machine.limit_kpa));
            (unit.width(plan.machine.limit_kpa), text)
        }),
        axis: page::deviation_axis(unit, &labels::reference(&plan.machine.reference)),
        reversed: unit.downwards(),
        ends: page::ends(unit),
        column: if expected { format!("after, {}", unit.name()) } else { format!("now, {}", unit.name()) },
        words: expected.then_some(("now", "after the turns")),
    })
}

/// Alt text of the figure: the finding, then the values.
pub(crate) fn figure_alt(plan: &Plan, unit: &DisplayUnit, headline: &str, data: &Deviations) -> String {
    let w = Words { plan, unit: *unit };
    let rows: Vec<String> = plan
        .cylinders
        .iter()
        .zip(&data.rows)
        .map(|(c, r)| match (c.deviation_kpa, w.after(c.cylinder)) {
            (Some(now), Some(after)) => format!(
                "cylinder {} now {}, after {}",
                c.cylinder,
                unit.deviation_text(now),
                unit.deviation_text(after)
            ),
            _ => format!("cylinder {} {}", c.cylinder, r.text),
        })
        .collect();
    format!("{headline}. Deviations, {}: {}.", data.axis, rows.join("; "))
}
