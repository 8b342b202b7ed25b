//! A ranking in words; page and terminal both take them from here.

use evenpull_core::result::Verdict;
use evenpull_core::visits::Fleet;
use evenpull_core::visits::fleet_result::{Attention, FleetMachine};

use crate::digits;
use crate::texts::{capital, count_word, list, restate};
use crate::units::DisplayUnit;

/// How urgent, in a word or two.
pub(crate) fn attention(a: Attention) -> &'static str {
    match a {
        Attention::Act => "act",
        Attention::Watch => "watch",
        Attention::MeasureAgain => "measure again",
        Attention::Fine => "fine",
    }
}

/// What that word means.
pub(crate) fn attention_means(a: Attention) -> &'static str {
    match a {
        Attention::Act => "outside its limit, and not by chance among so many machines",
        Attention::Watch => "outside by little, worse since the visit before, or drifting away",
        Attention::MeasureAgain => "the last recording cannot tell",
        Attention::Fine => "nothing to do",
    }
}

/// All of them, the most urgent first.
pub(crate) const ATTENTIONS: [Attention; 4] =
    [Attention::Act, Attention::Watch, Attention::MeasureAgain, Attention::Fine];

/// Machines of one urgency.
pub(crate) fn count(fleet: &Fleet, a: Attention) -> usize {
    fleet.machines.iter().filter(|m| m.attention == a).count()
}

/// `machines`, `one machine`.
pub(crate) fn machines(n: usize) -> String {
    format!("{} machine{}", count_word(n), if n == 1 { "" } else { "s" })
}

/// The finding in a sentence.
pub(crate) fn headline(fleet: &Fleet) -> String {
    let (act, watch, again) =
        (count(fleet, Attention::Act), count(fleet, Attention::Watch), count(fleet, Attention::MeasureAgain));
    let first = fleet.machines.first().map_or("", |m| m.machine.as_str());
    match (act, watch, again) {
        _ if fleet.machines.is_empty() => "No machine could be ranked".to_owned(),
        (0, 0, 0) => format!("Nothing to do at {}", machines(fleet.machines.len())),
        (0, 0, n) => format!("{} must be measured again; the others need nothing", capital(&machines(n))),
        (0, n, _) => format!("See {first} first; {} to watch, none to act on at once", count_word(n)),
        (n, 0, _) => format!("See {first} first; {} to act on", count_word(n)),
        (n, w, _) => format!("See {first} first; {} to act on, {} to watch", count_word(n), count_word(w)),
    }
}

/// `Act 2, watch 1, measure again 0, fine 11.`
pub(crate) fn counts(fleet: &Fleet) -> String {
    let parts: Vec<String> =
        ATTENTIONS.iter().map(|a| format!("{} {}", attention(*a), count(fleet, *a))).collect();
    format!("{}.", capital(&parts.join(", ")))
}

/// Why a machine stands where it stands, in the unit and with the digits of the reader. State and drift are said from
/// their figures; the other sentences come as they stand in the result.
pub(crate) fn why(m: &FleetMachine, unit: &DisplayUnit) -> String {
    let drift = |w: &String| m.drift.as_ref().filter(|d| d.significant && w.contains(" drifts ")).cloned();
    let rest = m.why.iter().skip(1).map(|w| match drift(w) {
        Some(d) => format!(
            "Cylinder {} drifts {} by {} {} per {}.",
            d.cylinder,
            way(d.outward),
            unit.deviation_text(d.slope_kpa),
            unit.name(),
            d.per
        ),
        None => restate::sentence(w, unit),
    });
    std::iter::once(state(m, unit)).chain(rest).collect::<Vec<_>>().join(" ")
}

/// Which way a drift goes.
pub(crate) fn way(outward: bool) -> &'static str {
    if outward { "away from the others" } else { "back toward the others" }
}

/// The spread of the last visit against its limit.
fn state(m: &FleetMachine, unit: &DisplayUnit) -> String {
    let Some(s) = m.spread_kpa else {
        return "The last recording gave no spread.".to_owned();
    };
    let limit = unit.limit_text(m.limit_kpa);
    let spread = format!("Spread {} {}, limit {limit}", unit.width_text(s), unit.name());
    match m.verdict {
        Verdict::Outside => {
            let who = m.cylinder.map_or(String::new(), |c| format!("; cylinder {c} is furthest off"));
            let chance = if m.attention == Attention::Act {
                ""
            } else {
                "; among so many machines this may be chance"
            };
            format!("{spread}: outside{who}{chance}.")
        }
        Verdict::Within => format!("{spread}: within."),
        Verdict::CannotTell | Verdict::NotApplicable => format!("{spread}: the recording cannot tell."),
    }
}

/// How sure: the adjusted p of being outside, or of the drift.
pub(crate) fn sure(m: &FleetMachine) -> String {
    let drift = m.drift.as_ref().filter(|d| d.significant).map(|d| d.q);
    match (m.attention, m.q_outside, drift) {
        (Attention::Act, Some(q), _) => format!("q {}", q_text(q)),
        (Attention::Watch, Some(q), None) if m.verdict == Verdict::Outside => format!("q {}", q_text(q)),
        (_, _, Some(q)) => format!("drift q {}", q_text(q)),
        _ => "–".to_owned(),
    }
}

fn q_text(q: f64) -> String {
    if q < 0.001 { "0.001 or less".to_owned() } else { digits::fixed(q, 3) }
}

/// Which machine first.
pub(crate) fn first(fleet: &Fleet) -> Vec<String> {
    let urgent: Vec<String> = fleet
        .machines
        .iter()
        .filter(|m| m.attention == Attention::Act)
        .take(8)
        .map(|m| m.machine.clone())
        .collect();
    let watch: Vec<String> = fleet
        .machines
        .iter()
        .filter(|m| m.attention == Attention::Watch)
        .take(8)
        .map(|m| m.machine.clone())
        .collect();
    let mut lines = Vec::new();
    if urgent.is_empty() {
        lines.push("None has to be seen at once.".to_owned());
    } else {
        lines.push(format!("{}, in this order.", capital(&list(&urgent))));
    }
    if !watch.is_empty() {
        lines.push(format!("Then {}.", list(&watch)));
    }
    lines.push(counts(fleet));
    lines
}

/// Why: the sentences of the first three.
pub(crate) fn reasons(fleet: &Fleet, unit: &DisplayUnit) -> Vec<String> {
    let pressing = fleet.machines.iter().filter(|m| m.attention <= Attention::Watch);
    let lines: Vec<String> = pressing.take(3).map(|m| format!("{}: {}", m.machine, why(m, unit))).collect();
    if lines.is_empty() {
        vec!["No machine is outside its limit, worse or drifting.".to_owned()]
    } else {
        lines
    }
}

/// How sure the ranking is.
pub(crate) fn how_sure(fleet: &Fleet, unit: &DisplayUnit) -> Vec<String> {
    let mut lines = vec![rests_on(fleet, unit)];
    let thumb = fleet.machines.iter().filter(|m| m.limit_source != "machine-file").count();
    if thumb > 0 {
        lines.push(format!(
            "The limit of {} is a rule of thumb, not the maker's figure, which overrides it.",
            machines(thumb)
        ));
    }
    lines
}

/// What the ranking rests on.
pub(crate) fn rests_on(fleet: &Fleet, unit: &DisplayUnit) -> String {
    let m = &fleet.model;
    let from = match m.repeatability_source.as_str() {
        "fleet" => format!("from {} pairs of figures of this fleet", m.pairs),
        _ => "a rule of thumb, too few visits of this fleet".to_owned(),
    };
    format!(
        "With nothing done two visits differ by {} {} (one standard deviation; {from}). Flags hold at most {} % false alarms on average.",
        digits::fixed(unit.width(m.repeatability_kpa), unit.decimals().max(1)),
        unit.name(),
        digits::fixed(100.0 * m.false_discovery_rate, 0)
    )
}

/// What next.
pub(crate) fn next(fleet: &Fleet) -> Vec<String> {
    let mut lines = Vec::new();
    if count(fleet, Attention::Act) > 0 {
        lines.push("Take the machines in the order of the ranking; the review of each last recording says which cylinder and what to look at first.".to_owned());
    }
    if fleet.machines.iter().any(|m| m.drift.as_ref().is_some_and(|d| d.significant && d.outward)) {
        lines.push(
            "Plan the drifting ones before their forecast, or at the next visit where there is none."
                .to_owned(),
        );
    }
    let again = count(fleet, Attention::MeasureAgain);
    if again > 0 {
        lines.push(format!("Record {} again: the review says what was missing.", machines(again)));
    }
    if !fleet.unnamed.is_empty() {
        lines.push(format!(
            "Name the machine of {} recording{}: in the log's head, or in a list.",
            fleet.unnamed.len(),
            plural(fleet.unnamed.len())
        ));
    }
    if !fleet.failed.is_empty() {
        lines.push(format!(
            "See to {} file{} or row{} that gave no visit; place and reason stand below.",
            fleet.failed.len(),
            plural(fleet.failed.len()),
            plural(fleet.failed.len())
        ));
    }
    if lines.is_empty() {
        lines.push("Go on recording: the next visits are compared with these.".to_owned());
    }
    lines
}

/// `s` for more than one.
pub(crate) fn plural(n: usize) -> &'static str {
    if n == 1 { "" } else { "s" }
}

/// What not to do.
pub(crate) fn not_to_do(fleet: &Fleet) -> Vec<String> {
    let mut lines = vec![
        "Do not turn anything on the strength of this list: it says where to go, the review says what to do."
            .to_owned(),
        "Do not read the order among machines that are fine: it is mostly chance.".to_owned(),
    ];
    if fleet.machines.iter().any(|m| m.limit_source != "machine-file" && m.verdict == Verdict::Outside) {
        lines.push("Do not condemn a machine on the default limit alone: it is a rule of thumb.".to_owned());
    }
    lines.push(crate::texts::page::HURTS.to_owned());
    lines
}

/// How the ranking was made, with sources.
pub(crate) fn method() -> Vec<String> {
    [
        "Each machine's visits are compared as on its own page: changes, trend, forecast.",
        "How far two visits differ with nothing done is taken from the whole fleet, where there are enough pairs: most machines have nothing done between two visits.",
        "Spread over limit is drawn toward the fleet's mean by what its uncertainty leaves open (empirical Bayes, after James and Stein; Efron and Morris 1975), so that a machine that was measured badly does not lead by chance.",
        "Being outside and drifting are tested with the false-discovery rate held over all machines and cylinders (Benjamini and Hochberg 1995); q is p after that adjustment.",
        "Order: act, watch, measure again, fine; within each by the drawn-in spread that the next visit would show if a drift goes on.",
        "Outliers among machines with as many cylinders: robust z over 3.5 (Iglewicz and Hoaglin 1993), at least five machines.",
    ]
    .map(str::to_owned)
    .to_vec()
}

/// Caption of the small strips.
pub(crate) fn caption(shown: usize, all: usize) -> String {
    let rest = if shown < all { format!(" The first {shown} of {all} machines.") } else { String::new() };
    format!(
        "One strip per machine in the order of the ranking, first visit on the left, last on the right: each line is a cylinder against the steady ones, all strips on one scale. The named cylinder is the one furthest off and carries the marks; more air is up. Shaded: as high as that machine's limit on the spread.{rest}"
    )
}
