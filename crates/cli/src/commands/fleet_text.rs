//! A ranking in plain words for the terminal.

use evenpull_core::safe_text::{one_line, one_line_within};
use evenpull_core::visits::Fleet;
use evenpull_core::visits::fleet_result::{Attention, FleetMachine};

/// Machines that get a line on the terminal; the files hold all of them.
const MOST_LINES: usize = 25;

/// Longest id shown, characters.
const ID_WIDTH: usize = 18;

fn attention_words(attention: Attention) -> &'static str {
    match attention {
        Attention::Act => "act",
        Attention::Watch => "watch",
        Attention::MeasureAgain => "measure again",
        Attention::Fine => "fine",
    }
}

/// The ranking as lines; `head` says what was read.
pub(crate) fn fleet_text(fleet: &Fleet, head: &str) -> String {
    let of = |a: Attention| fleet.machines.iter().filter(|m| m.attention == a).count();
    let mut lines = vec![
        format!("{head}. {} machines.", fleet.machines.len()),
        format!(
            "Act {}, watch {}, measure again {}, fine {}.",
            of(Attention::Act),
            of(Attention::Watch),
            of(Attention::MeasureAgain),
            of(Attention::Fine)
        ),
        String::new(),
    ];
    lines.extend(fleet.machines.iter().take(MOST_LINES).map(line));
    if let Some(more) = fleet.machines.len().checked_sub(MOST_LINES + 1) {
        lines.push(format!("... and {} more in the files", more + 1));
    }
    lines.push(String::new());
    lines.push(rests_on(fleet));
    if !fleet.unnamed.is_empty() {
        let names: Vec<&str> = fleet.unnamed.iter().take(5).map(|u| u.source.as_str()).collect();
        let dots = if fleet.unnamed.len() > 5 { " ..." } else { "" };
        lines.push(format!(
            "{} recordings name no machine and are not ranked: {}{dots}",
            fleet.unnamed.len(),
            names.join(", ")
        ));
    }
    if !fleet.failed.is_empty() {
        lines.push(format!("{} files or rows gave no visit; they follow.", fleet.failed.len()));
    }
    lines.iter().map(|l| one_line(l)).collect::<Vec<_>>().join("\n")
}

fn line(m: &FleetMachine) -> String {
    let sure = match (m.attention, m.q_outside) {
        (Attention::Act, Some(q)) => format!(" (q = {q:.3})"),
        _ => String::new(),
    };
    let id = one_line_within(&m.machine, ID_WIDTH);
    format!("{:>4}  {id:<ID_WIDTH$}  {:<13}  {}{sure}", m.rank, attention_words(m.attention), m.why.join(" "))
}

fn rests_on(fleet: &Fleet) -> String {
    let m = &fleet.model;
    let from = match m.repeatability_source.as_str() {
        "fleet" => format!("from {} pairs of visits of this fleet", m.pairs),
        _ => "rule of thumb, too few visits of this fleet".to_owned(),
    };
    format!(
        "With nothing done two visits differ by {:.2} kPa (one standard deviation; {from}). Flags hold at most {:.0} % \
         false alarms on average.",
        m.repeatability_kpa,
        100.0 * m.false_discovery_rate
    )
}
