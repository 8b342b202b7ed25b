//! The verdict in words a customer follows: headline, which cylinder, which way, how far, how sure.

use evenpull_core::Analysis;
use evenpull_core::result::{Basis, Class, CylinderResult, Measured, Reference, Review, Undecided, Verdict};

use crate::digits;
use crate::texts::{capital, count_word, cylinders, labels};
use crate::units::DisplayUnit;

/// One result seen through the eyes of the words: who is named, and in which unit it is said.
#[derive(Debug, Clone)]
pub(crate) struct Case<'a> {
    /// The result.
    pub(crate) review: &'a Review,
    /// How pressures are shown.
    pub(crate) unit: DisplayUnit,
    /// Cylinders whose class says that something is off.
    pub(crate) named: Vec<&'a CylinderResult>,
    /// Cylinders with a pressure.
    pub(crate) live: Vec<u32>,
    /// What the gain error of the sensors may add to a difference, kPa, k = 2; it is in the verdict, not in U.
    pub(crate) gain_kpa: Option<f64>,
}

impl<'a> Case<'a> {
    /// Looks at a result.
    pub(crate) fn new(analysis: &'a Analysis, unit: DisplayUnit) -> Self {
        let review = &analysis.review;
        let gain = 2.0 * analysis.context.gain_allowance_kpa;
        let off = |c: &&CylinderResult| matches!(c.class, Class::Lean | Class::Rich | Class::Imbalanced);
        let live = |c: &&CylinderResult| c.deviation_kpa.is_some() || c.pressure_kpa.is_some();
        Self {
            review,
            unit,
            named: review.cylinders.iter().filter(off).collect(),
            live: review.cylinders.iter().filter(live).map(|c| c.cylinder).collect(),
            gain_kpa: (gain.is_finite() && gain > 0.0).then_some(gain),
        }
    }

    /// Two live cylinders and none of them the reference: one recording cannot tell which of the two moved.
    pub(crate) fn twin(&self) -> bool {
        self.live.len() == 2 && !matches!(self.review.machine.reference, Reference::Cylinder(_))
    }

    /// Whether hoses or wires of two cylinders look exchanged.
    pub(crate) fn swapped(&self) -> bool {
        self.review.notices.iter().any(|n| n.code == "swapped-sensors")
    }

    /// Whether the zero of the sensors was found in the recording.
    pub(crate) fn zero_checked(&self) -> bool {
        self.review.cylinders.iter().any(|c| c.bias_removed_kpa.is_some())
    }

    /// Whether the limit is the rule of thumb.
    pub(crate) fn rule_of_thumb(&self) -> bool {
        self.review.machine.limit_source != "machine-file"
    }

    /// A cylinder whose measured mixture is off while its pressure is not.
    pub(crate) fn mixture_only(&self, c: &CylinderResult) -> bool {
        let even = c.deviation_kpa.is_none_or(|d| d.value.abs() <= self.review.machine.limit_kpa / 2.0);
        c.basis == Basis::Measured && even
    }

    fn than(&self) -> String {
        match self.review.machine.reference {
            Reference::Cylinder(c) => format!("cylinder {c}"),
            Reference::Group(_) => "the others".to_owned(),
        }
    }

    /// `pulls less vacuum than the others`, `has a higher pressure than the others`.
    fn direction(&self, deviation_kpa: f64) -> String {
        let than = self.than();
        match (self.unit.vacuum(), deviation_kpa > 0.0) {
            (true, true) => format!("pulls less vacuum than {than}"),
            (true, false) => format!("pulls more vacuum than {than}"),
            (false, true) => format!("idles at a higher pressure than {than}"),
            (false, false) => format!("idles at a lower pressure than {than}"),
        }
    }
}

/// The headline of the page.
pub(crate) fn headline(case: &Case<'_>) -> String {
    let all = if case.live.len() > 1 {
        format!("The {} cylinders", count_word(case.live.len()))
    } else {
        String::new()
    };
    match case.review.verdict {
        Verdict::NotApplicable => "There are no two cylinders to compare in this recording".to_owned(),
        Verdict::CannotTell => "This recording cannot tell whether the cylinders pull evenly".to_owned(),
        Verdict::Within => match case.named.as_slice() {
            [] => format!("{all} pull evenly"),
            [one] => format!("{all} pull evenly, but cylinder {} {}", one.cylinder, off_word(one)),
            _ => format!("{all} pull evenly, but not all run alike"),
        },
        Verdict::Outside => match case.named.as_slice() {
            _ if case.twin() => "The two cylinders pull unevenly".to_owned(),
            [] => format!("{all} pull unevenly"),
            [one] => match one.deviation_kpa {
                Some(d) => format!("Cylinder {} {}", one.cylinder, case.direction(d.value)),
                None => format!("Cylinder {} {}", one.cylinder, off_word(one)),
            },
            many => {
                let numbers: Vec<u32> = many.iter().map(|c| c.cylinder).collect();
                format!("{} are out of step with the rest", capital(&cylinders(&numbers)))
            }
        },
    }
}

fn off_word(c: &CylinderResult) -> &'static str {
    match (c.class, c.basis) {
        (Class::Lean, Basis::Measured) => "runs lean (measured)",
        (Class::Lean, _) => "tends to run lean (inferred)",
        (Class::Rich, Basis::Measured) => "runs rich (measured)",
        (Class::Rich, _) => "tends to run rich (inferred)",
        _ => "breathes differently",
    }
}

/// Which cylinder.
pub(crate) fn which(case: &Case<'_>) -> Vec<String> {
    let numbers: Vec<u32> = case.named.iter().map(|c| c.cylinder).collect();
    match case.review.verdict {
        Verdict::NotApplicable => vec!["None: it takes at least two cylinder pressures to compare.".to_owned()],
        Verdict::Outside if case.twin() => vec![
            "One of the two. A twin without a reference cylinder shows that they differ, not which of them moved."
                .to_owned(),
        ],
        Verdict::Outside if numbers.is_empty() => {
            vec!["No single one: the spread is outside the limit, and no cylinder stands apart from the rest.".to_owned()]
        }
        Verdict::CannotTell if numbers.is_empty() => {
            let open: Vec<u32> = case
                .review
                .cylinders
                .iter()
                .filter(|c| c.class == Class::Undecided && c.deviation_kpa.is_some())
                .map(|c| c.cylinder)
                .collect();
            if open.is_empty() || open.len() == case.live.len() {
                vec!["Cannot be said.".to_owned()]
            } else {
                vec![format!("Open for {}; the others are even.", cylinders(&open))]
            }
        }
        _ if numbers.is_empty() => vec!["None stands out.".to_owned()],
        _ => {
            let rest: Vec<u32> = case.live.iter().copied().filter(|c| !numbers.contains(c)).collect();
            let mut line = format!("{}.", capital(&cylinders(&numbers)));
            if case.swapped() {
                line += " Hoses or wires look exchanged: it may be another one.";
            } else if !rest.is_empty() && case.review.verdict == Verdict::Outside {
                line += &format!(" Nothing here speaks against {}.", cylinders(&rest));
            }
            vec![line]
        }
    }
}

/// Which way and how far.
pub(crate) fn how_far(case: &Case<'_>) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    if case.twin() && case.review.verdict == Verdict::Outside {
        if let Some(s) = case.review.spread_kpa {
            lines.push(format!("They differ by {} {}.", case.unit.width_text(s), case.unit.name()));
        }
    } else {
        lines.extend(case.named.iter().filter_map(|c| one_way(case, c)));
    }
    if lines.is_empty() {
        lines.push(match case.review.spread_kpa {
            Some(s) => format!(
                "Highest and lowest cylinder are {} {} apart.",
                case.unit.width_text(s),
                case.unit.name()
            ),
            None => "No spread could be computed.".to_owned(),
        });
    }
    if let (Some(found), Some(left)) = (&case.review.as_found, case.review.spread_kpa)
        && let Some(spread) = found.spread_kpa
    {
        lines.push(format!(
            "Spread as found {}, as left {} {}.",
            case.unit.width_text(spread),
            case.unit.width_text(left),
            case.unit.name()
        ));
    }
    lines
}

fn one_way(case: &Case<'_>, c: &CylinderResult) -> Option<String> {
    if case.mixture_only(c) {
        let lambda =
            c.lambda.map(|l| format!(", lambda {}", digits::plus_minus(l.value, l.u, 3))).unwrap_or_default();
        return Some(format!("Cylinder {} {}{lambda}; its pressure is even.", c.cylinder, off_word(c)));
    }
    let d = c.deviation_kpa?;
    let amount = case.unit.width_text(Measured { value: d.value.abs(), u: d.u });
    let (way, meaning) = match (case.unit.vacuum(), d.value > 0.0) {
        (true, true) => ("less vacuum", "more air gets in"),
        (true, false) => ("more vacuum", "less air gets in"),
        (false, true) => ("higher pressure (less vacuum)", "more air gets in"),
        (false, false) => ("lower pressure (more vacuum)", "less air gets in"),
    };
    let meaning = if c.class == Class::Imbalanced { String::new() } else { format!(": {meaning}") };
    let class = match (c.class, c.basis) {
        _ if super::advice::breathes(c) => {
            let r = c.refill_ratio.map_or_else(String::new, |r| {
                format!(
                    " (refill rate {} %)",
                    digits::signed_plus_minus(100.0 * (r.value - 1.0), 100.0 * r.u, 2)
                )
            });
            format!(
                ". Its plate lets the same air past as the others'{r}: it breathes badly, and no screw is at fault"
            )
        }
        (Class::Lean | Class::Rich, Basis::Measured) => format!(". It {}", off_word(c)),
        (Class::Lean | Class::Rich, _) => format!(". It {}; nothing here measured the mixture", off_word(c)),
        _ => String::new(),
    };
    let from = match case.review.machine.reference {
        Reference::Cylinder(n) => format!("than cylinder {n}"),
        Reference::Group(_) => "than the middle of the group".to_owned(),
    };
    Some(format!("Cylinder {}: {amount} {} {way} {from}{meaning}{class}.", c.cylinder, case.unit.name()))
}

/// How sure.
pub(crate) fn how_sure(case: &Case<'_>) -> Vec<String> {
    let limit = case.unit.limit_text(case.review.machine.limit_kpa);
    let whose = if case.rule_of_thumb() {
        "a rule of thumb of the trade; a figure from the maker takes its place"
    } else {
        "from the machine file"
    };
    let mut lines = Vec::new();
    if let Some(s) = case.review.spread_kpa {
        let against = match case.review.verdict {
            Verdict::Within => "inside the limit even with its uncertainty",
            Verdict::Outside => "outside the limit even with its uncertainty",
            _ => "too close to the limit for its uncertainty",
        };
        lines.push(format!(
            "The spread is {} {}, {against}. The limit is {limit}: {whose}.",
            case.unit.width_text(s),
            case.unit.name()
        ));
        let gain = case.gain_kpa.map_or_else(String::new, |g| {
            format!(
                " A gain error of the sensors may add up to {} {} to a difference; the verdict allows for it.",
                case.unit.least_text(g),
                case.unit.name()
            )
        });
        lines.push(format!("The figure after ± covers the true value about 95 times in 100.{gain}"));
        if !case.zero_checked() {
            lines.push("The zero of the sensors was not checked in this recording: an error of theirs would look like a difference between cylinders and is not in the figure after ±. 15 s with the key on and the engine off at the start of a recording would show it.".to_owned());
        }
    } else if case.review.verdict != Verdict::NotApplicable {
        lines.push(format!("There is no spread to hold against the limit of {limit} ({whose})."));
    }
    if let Some(why) = case.review.undecided_because {
        lines.push(undecided(case, why));
    }
    if lines.is_empty() {
        lines.push("Nothing was judged, so nothing is claimed.".to_owned());
    }
    lines
}

/// What keeps the verdict open.
fn undecided(case: &Case<'_>, why: Undecided) -> String {
    let why = match why {
        Undecided::Scatter => "the engine scatters too much for so short an idle",
        Undecided::Resolution => "the logged values move in steps too coarse for this limit",
        Undecided::Bias => "the sensors may have zero and gain errors as large as what is to be judged",
        Undecided::Aliasing => "the rows are too far apart to carry the pulses",
        Undecided::Signal => {
            "the file does not say what the logged figure stands for (mean of the cycle, its minimum, or one crank angle)"
        }
        Undecided::Windows => {
            let most = super::advice::unfit(case).map(|reason| {
                format!(" Most of the recording was left out ({}).", labels::excluded_because(reason))
            });
            return format!(
                "The reason: no stretch of steady warm idle was found.{}",
                most.unwrap_or_default()
            );
        }
        Undecided::Sensor => "too few sensors deliver, or their kind is not known",
    };
    format!("The reason: {why}.")
}

/// One line for a terminal: verdict and file.
pub(crate) fn terminal_head(case: &Case<'_>) -> &'static str {
    labels::verdict(case.review.verdict)
}
