//! What next after a comparison, and what not to do; how its figures were made.

use evenpull_core::result::Verdict;

use crate::digits;
use crate::texts::compare::{Told, place};
use crate::texts::cylinders;

/// What next.
pub(crate) fn next(t: &Told<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    if t.c.swapped.is_some() {
        lines.extend(after_swap(t));
    }
    for (cylinder, step) in t.changed_last().into_iter().filter(|_| t.c.swapped.is_none()) {
        lines.extend(look(t, cylinder, step.value));
    }
    for d in t.drifting() {
        let before = t.c.forecast.as_ref().filter(|f| f.cylinder == d.cylinder);
        let when = before.map_or(String::new(), |f| {
            format!(" before {}", place(f.low.as_ref().unwrap_or(&f.at), &f.unit))
        });
        lines.push(format!(
            "Cylinder {}: look for its cause (dirt on the plate, cable, boot, sensor){when}. Swapping two sensors tells sensor from cylinder.",
            d.cylinder
        ));
    }
    if t.c.latest.is_none() {
        lines.push(
            "Record again at the idle speed of the other visit, warm, hands off, and compare those two."
                .to_owned(),
        );
    }
    match t.verdict_now() {
        Verdict::Outside => lines.push(
            "The spread is outside its limit: the review of the last recording says which cylinder and what to look at first."
                .to_owned(),
        ),
        Verdict::CannotTell | Verdict::NotApplicable => lines.push(
            "The last recording cannot tell: its review says what to record next time.".to_owned(),
        ),
        Verdict::Within if lines.is_empty() => {
            lines.push("Leave the adjusters as they are. The next visit is compared with these.".to_owned());
        }
        Verdict::Within => {}
    }
    lines
}

fn after_swap(t: &Told<'_>) -> Option<String> {
    let s = t.c.swapped.as_ref()?;
    let [a, b] = s.cylinders;
    Some(match (s.cylinders_differ, s.sensors_differ) {
        (true, false) => format!("Trust the sensors of {a} and {b}, and look at the cylinders."),
        (false, true) => format!("Leave cylinders {a} and {b} alone. Check or replace the sensor that is off; the maker's figure or the barometer with the engine off says which of the two."),
        (true, true) => "Judge the cylinders by the difference above, which is free of the sensors, and see to the sensors.".to_owned(),
        (false, false) => "Nothing to do for these two.".to_owned(),
    })
}

/// Where to look after a cylinder moved; nothing where it moved into the limit.
fn look(t: &Told<'_>, cylinder: u32, step_kpa: f64) -> Option<String> {
    let verdicts = t.c.latest.as_ref().map(|l| l.verdict)?;
    if verdicts == [Verdict::Outside, Verdict::Within] {
        return Some(format!(
            "Cylinder {cylinder}: what was done has helped. Check it again at the next visit."
        ));
    }
    Some(if step_kpa > 0.0 {
        format!(
            "Cylinder {cylinder} gets more air than before: look for what came with the last work or since (boot, hose nipple, missing cap), then at its plate."
        )
    } else {
        format!(
            "Cylinder {cylinder} gets less air than before: look for dirt on its plate and for a cable or link that holds it."
        )
    })
}

/// What not to do.
pub(crate) fn not_to_do(t: &Told<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    let moved: Vec<u32> =
        t.changed_last().iter().map(|k| k.0).chain(t.drifting().iter().map(|d| d.cylinder)).collect();
    let rest: Vec<u32> = t.c.trend.iter().map(|d| d.cylinder).filter(|n| !moved.contains(n)).collect();
    if !moved.is_empty() && !rest.is_empty() && t.c.trend.len() > 2 && t.c.swapped.is_none() {
        lines.push(format!(
            "Do not turn {} for this: nothing here says that {} changed.",
            cylinders(&rest),
            it(&rest)
        ));
    }
    // Two standard deviations: what 95 of 100 pairs of visits stay under.
    let least = 2.0 * t.c.repeatability_kpa.value;
    lines.push(format!(
        "Do not take a change under about {} {} for a finding: visits differ by as much with nothing done.",
        digits::short_within(t.unit.width(least), t.unit.decimals()),
        t.unit.name()
    ));
    if t.c.visits.len() < 5 {
        lines.push("Do not read a trend into fewer than five visits.".to_owned());
    }
    if t.rule_of_thumb() && t.verdict_now() == Verdict::Outside {
        lines.push("Do not condemn the machine on this limit alone: it is a rule of thumb.".to_owned());
    }
    lines.push(crate::texts::page::HURTS.to_owned());
    lines
}

fn it(n: &[u32]) -> &'static str {
    if n.len() == 1 { "it" } else { "they" }
}

/// How the numbers were made, with sources.
pub(crate) fn method(t: &Told<'_>) -> Vec<String> {
    let all = t.c.judged_against.len() == t.c.trend.len();
    let who = if all { "the other cylinders".to_owned() } else { cylinders(&t.c.judged_against) };
    let mut lines = vec![
        format!("Each deviation is a cylinder's mean pressure less the median of {who}, so that one that moved does not pull the rest along. It is brought to the machine's usual idle pressure, which takes out barometer and idle speed."),
        "A change counts where it is larger than its uncertainty (k = 2, JCGM 100), which holds what two visits differ by with nothing done. It is blamed on the fewest cylinders that explain it.".to_owned(),
        "Verdicts are those of each visit's own review: the spread against its limit with guard (JCGM 106).".to_owned(),
    ];
    if !t.pair() {
        lines.push("Trend since the last change: slope of Theil and Sen with its interval (Sen 1968; Gilbert 1987, 16.5), shown where the test of Mann and Kendall (exact up to ten visits) finds it and where it is larger than what can be measured. Fewer than five visits cannot show one.".to_owned());
        lines.push("Control limits: individuals and moving ranges of the visits before the last one (NIST/SEMATECH e-Handbook, 6.3.2.2); provisional with few visits.".to_owned());
        lines.push(
            "Forecast: the line carried on to the limit, never further than the visits reach back."
                .to_owned(),
        );
    }
    if t.c.swapped.is_some() {
        lines.push("Sensors exchanged: half the sum of the two differences is the cylinders', half their difference the sensors' (Bland and Altman 1986 compare two sensors likewise).".to_owned());
    }
    lines
}

/// Caption of the figure of two visits.
pub(crate) fn pair_caption(t: &Told<'_>, then: &str, now: &str) -> String {
    let whose = if t.rule_of_thumb() { "a rule of thumb" } else { "from the machine file" };
    format!(
        "Small rings above: {then}. Marks: {now}, with 95 % intervals. The numbers on the right are the changes. The shaded band is as wide as the limit on the spread ({}, {whose}) and lies where it holds the most cylinders now.",
        t.unit.limit_text(t.c.limit_kpa)
    )
}

/// Caption of the figure of many visits.
pub(crate) fn history_caption(t: &Told<'_>) -> String {
    let forecast = if t.c.forecast.is_some() {
        " The bar at the limit is where the spread reaches it if the drift goes on, with its interval."
    } else {
        ""
    };
    let odd = if t.c.visits.iter().all(|v| v.judged) { "" } else { " Rings: not judged with the others." };
    format!(
        "Above: the spread of each visit against its limit. Below: each cylinder against the median of the steady ones, with 95 % intervals. Shaded below: control limits, where a cylinder shows no trend. Broken vertical line: the cylinder changed between two visits. Straight line: its trend since then, where one is shown.{forecast}{odd}"
    )
}
