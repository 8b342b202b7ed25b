//! Comparison and ranking for a terminal, in the words of their pages.

use evenpull_core::result::{Measured, Verdict};
use evenpull_core::visits::comparison::ComparedVisit;
use evenpull_core::visits::fleet_result::{Attention, FleetMachine};
use evenpull_core::visits::{Comparison, Fleet};

use crate::cautions;
use crate::digits;
use crate::terminal::{block, plain, wrap};
use crate::texts::compare::{self, Told, visit_name};
use crate::texts::{compare_advice, compare_sure, fleet as words, labels, page};
use crate::units::DisplayUnit;

/// Machines that get a line; the files hold all of them.
const MOST_LINES: usize = 25;

/// Longest id shown, characters.
const ID_WIDTH: usize = 18;

/// `spread 2.31 ± 0.04 kPa, outside the limit`, for one line about a visit.
#[must_use]
pub fn spread_line(spread: Option<Measured>, verdict: Verdict) -> String {
    plain(&compare::spread(&DisplayUnit::kpa(), spread, verdict))
}

/// A comparison in lines.
#[must_use]
pub fn compare_summary(comparison: &Comparison, unit: DisplayUnit) -> String {
    let t = Told { c: comparison, unit };
    let mut out = String::new();
    wrap(&mut out, "", &format!("{}.", compare::kicker(&t)));
    wrap(&mut out, "", &format!("{}.", compare::headline(&t)));
    out.push('\n');
    table(&mut out, &t);
    out.push('\n');
    block(&mut out, "Changed", &compare::changed(&t));
    block(&mut out, "Limit", &compare::verdicts(&t));
    block(&mut out, "How sure", &compare_sure::how_sure(&t));
    block(&mut out, "Next", &compare_advice::next(&t));
    let mut not = compare_advice::not_to_do(&t);
    not.pop();
    block(&mut out, "Do not", &not);
    foot(&mut out);
    out
}

fn foot(out: &mut String) {
    block(out, "Checked", &[page::CHECKED.to_owned()]);
    out.push('\n');
    block(out, "Caution", &cautions::short().map(str::to_owned));
}

fn table(out: &mut String, t: &Told<'_>) {
    let numbers: Vec<u32> = t.c.trend.iter().map(|d| d.cylinder).collect();
    // Eighty columns hold four cylinders; the page and the JSON hold all.
    let shown = &numbers[..numbers.len().min(4)];
    let over = match t.c.axis.as_str() {
        "hours" => "hours",
        "km" => "km",
        _ => "",
    };
    let mut head = format!("{:<12}{over:>8}{:>6}{:>8}", "visit", "rpm", "spread");
    shown.iter().for_each(|n| head.push_str(&format!("{:>8}", format!("cyl {n}"))));
    out.push_str(head.trim_end());
    out.push('\n');
    for v in &t.c.visits {
        out.push_str(plain(&row(t, v, shown)).trim_end());
        out.push('\n');
    }
    let more = numbers.len() - shown.len();
    let rest = if more > 0 { format!(" {more} more cylinders stand in the page.") } else { String::new() };
    wrap(out, "", &format!("{} against the median of the steady cylinders.{rest}", t.unit.name()));
}

fn row(t: &Told<'_>, v: &ComparedVisit, shown: &[u32]) -> String {
    let number = |x: Option<f64>, places: usize| x.map_or("-".to_owned(), |x| digits::fixed(x, places));
    let at = match t.c.axis.as_str() {
        "hours" => number(v.hours, 0),
        "km" => number(v.distance_km, 0),
        _ => String::new(),
    };
    let places = t.unit.decimals();
    let name: String = plain(&visit_name(v)).chars().take(11).collect();
    let spread = number(v.spread_kpa.map(|s| t.unit.width(s.value)), places);
    let mut line = format!("{name:<12}{at:>8}{:>6}{spread:>8}", number(v.rpm.map(|r| r.value), 0));
    for n in shown {
        let d = v.cylinders.iter().find(|k| k.cylinder == *n).and_then(|k| k.deviation_kpa);
        let text = d.map_or("-".to_owned(), |m| digits::signed(t.unit.difference(m.value), places));
        line.push_str(&format!("{text:>8}"));
    }
    let word = match v.verdict {
        Verdict::Within => "within",
        Verdict::Outside => "outside",
        other => labels::verdict(other),
    };
    format!("{line}  {}", if v.judged { word } else { "not judged" })
}

/// A ranking in lines; `head` says what was read.
#[must_use]
pub fn fleet_summary(fleet: &Fleet, unit: DisplayUnit, head: &str) -> String {
    let mut out = String::new();
    wrap(
        &mut out,
        "",
        &format!("{head}. {}.", crate::texts::capital(&words::machines(fleet.machines.len()))),
    );
    wrap(&mut out, "", &format!("{}.", words::headline(fleet)));
    wrap(&mut out, "", &words::counts(fleet));
    out.push('\n');
    for m in fleet.machines.iter().take(MOST_LINES) {
        machine(&mut out, m, &unit);
    }
    if let Some(more) = fleet.machines.len().checked_sub(MOST_LINES + 1) {
        out.push_str(&format!("... and {} more in the files\n", more + 1));
    }
    out.push('\n');
    block(&mut out, "How sure", &words::how_sure(fleet, &unit));
    let mut not = words::not_to_do(fleet);
    not.pop();
    block(&mut out, "Next", &words::next(fleet));
    block(&mut out, "Do not", &not);
    if !fleet.unnamed.is_empty() {
        let names: Vec<&str> = fleet.unnamed.iter().take(5).map(|u| u.source.as_str()).collect();
        let dots = if fleet.unnamed.len() > 5 { " ..." } else { "" };
        let n = fleet.unnamed.len();
        let text = format!(
            "{n} recording{} without a machine, not ranked: {}{dots}",
            words::plural(n),
            names.join(", ")
        );
        block(&mut out, "No machine", &[text]);
    }
    if !fleet.failed.is_empty() {
        let n = fleet.failed.len();
        let text =
            format!("{n} file{} or row{} gave no visit; they follow.", words::plural(n), words::plural(n));
        block(&mut out, "Failed", &[text]);
    }
    foot(&mut out);
    out
}

/// One machine: rank, id, what to do, why and how sure.
fn machine(out: &mut String, m: &FleetMachine, unit: &DisplayUnit) {
    let id: String = plain(&m.machine).chars().take(ID_WIDTH).collect();
    let sure = match words::sure(m).as_str() {
        "–" => String::new(),
        sure => format!(" ({sure})"),
    };
    let label = format!("{:>3}  {id:<9} {:<13}  ", m.rank, words::attention(m.attention));
    let text = match m.attention {
        Attention::Fine => format!("{}.", compare::spread(unit, m.spread_kpa, m.verdict)),
        _ => format!("{}{sure}", words::why(m, unit)),
    };
    wrap(out, &label, &text);
}
