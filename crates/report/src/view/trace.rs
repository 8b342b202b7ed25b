//! What the trace needs, taken from a result and turned into the unit of the page.

use evenpull_core::Analysis;
use evenpull_core::result::Signal;

use crate::digits;
use crate::figure::marks::cylinder_label;
use crate::figure::scale::extent;
use crate::figure::trace::{Panel, Series, Stretch, Trace};
use crate::texts::{labels, page};
use crate::units::DisplayUnit;
use crate::view::figures::MOST;

/// Heights of the panels: cylinders at least, values as logged, speed, temperature.
const HEIGHTS: (f64, f64, f64, f64) = (220.0, 84.0, 96.0, 64.0);

/// Rows from which the lines of several cylinders hide each other.
const CROWDED: usize = 600;

/// Trace; `None` for a recording without length or without anything to draw.
pub(crate) fn trace(analysis: &Analysis, unit: &DisplayUnit) -> Option<Trace> {
    let (r, t) = (&analysis.review, &analysis.traces);
    let duration_s = r.source.duration_s;
    if !(duration_s.is_finite() && duration_s > 0.0) || t.time_s.is_empty() {
        return None;
    }
    let mut panels = pressures(analysis, unit);
    for (title, name, values, height) in [
        (page::SPEED_TITLE, "rev/min", &t.rpm, HEIGHTS.2),
        (page::COOLANT_TITLE, "°C", &t.coolant_c, HEIGHTS.3),
    ] {
        if values.len() == t.time_s.len() && values.iter().any(|v| v.is_finite()) {
            panels.push(Panel {
                title: title.to_owned(),
                unit: name.to_owned(),
                time_s: t.time_s.clone(),
                series: vec![Series { cylinder: None, values: values.clone() }],
                height,
                reversed: false,
                zoomed: false,
                filled: false,
                shared: None,
            });
        }
    }
    (!panels.is_empty()).then(|| Trace {
        duration_s,
        panels,
        windows: r.windows.iter().map(|w| stretch(w.start_s, w.end_s, labels::regime(w.regime))).collect(),
        excluded: r
            .excluded
            .iter()
            .map(|e| stretch(e.start_s, e.end_s, labels::excluded(&e.reason)))
            .collect(),
        turns: r
            .adjustments
            .iter()
            .filter(|a| a.time_s.is_finite())
            .map(|a| (a.time_s, cylinder_label(a.cylinder)))
            .collect(),
        time_name: page::TIME_NAME.to_owned(),
    })
}

/// Panels of the cylinders' pressures: the levels with the values as logged under them, or these alone.
fn pressures(analysis: &Analysis, unit: &DisplayUnit) -> Vec<Panel> {
    let t = &analysis.traces;
    let lines = |all: &[(u32, Vec<f64>)], n: usize| -> Vec<Series> {
        let sound = all.iter().take(MOST).filter(|(_, v)| v.len() == n && v.iter().any(|x| x.is_finite()));
        sound
            .map(|(c, v)| Series { cylinder: Some(*c), values: v.iter().map(|x| unit.level(*x)).collect() })
            .collect()
    };
    let panel = |title: String, time: &[f64], series: Vec<Series>, zoomed: bool, filled: bool| Panel {
        title,
        unit: unit.name().to_owned(),
        time_s: time.to_vec(),
        // Every label at the right end has a line of its own.
        height: if filled { HEIGHTS.1 } else { HEIGHTS.0.max(series.len() as f64 * 17.0 + 16.0) },
        series,
        reversed: unit.downwards(),
        zoomed,
        filled,
        shared: None,
    };
    let (level, name) = (unit.level_name(), unit.name());
    let levels = lines(&t.level_kpa, t.level_time_s.len());
    let logged = lines(&t.pressure_kpa, t.time_s.len());
    let mut out = Vec::new();
    if !levels.is_empty() {
        let title = format!("level of each cylinder, {level}, {name}");
        out.push(panel(title, &t.level_time_s, levels, true, false));
        if !logged.is_empty() && analysis.review.pulse.as_ref().is_some_and(|p| p.signal != Signal::Averaged)
        {
            let title = format!("values as logged, all cylinders, {name}");
            out.push(panel(title, &t.time_s, logged, false, true));
        }
    } else if !logged.is_empty() {
        out.extend(lanes(panel(format!("as logged, {level}, {name}"), &t.time_s, logged, false, false)));
    }
    out
}

/// Pulses of several cylinders in one panel hide each other: one lane each, all on one scale, where the rows are many.
pub(crate) fn lanes(panel: Panel) -> Vec<Panel> {
    let count = panel.series.len();
    if count < 2 || panel.time_s.len() <= CROWDED {
        return vec![panel];
    }
    let shared = extent(panel.series.iter().flat_map(|s| &s.values));
    let height = (280.0 / count as f64).clamp(40.0, 84.0);
    let lane = |(i, series): (usize, &Series)| Panel {
        title: if i == 0 { format!("{}, one scale for all", panel.title) } else { String::new() },
        series: vec![series.clone()],
        height,
        shared,
        ..panel.clone()
    };
    panel.series.iter().enumerate().map(lane).collect()
}

fn stretch(start_s: f64, end_s: f64, word: &str) -> Stretch {
    Stretch { start_s, end_s, word: word.to_owned() }
}

/// Alt text of the trace.
pub(crate) fn trace_alt(data: &Trace) -> String {
    let judged: f64 = data.windows.iter().map(|w| w.end_s - w.start_s).sum();
    let mut reasons: Vec<&str> = data.excluded.iter().map(|e| e.word.as_str()).collect();
    reasons.sort_unstable();
    reasons.dedup();
    let rest =
        if reasons.is_empty() { String::new() } else { format!(" Not judged: {}.", reasons.join(", ")) };
    let turned = match data.turns.len() {
        0 => String::new(),
        1 => " One turn of a screw is marked.".to_owned(),
        n => format!(" {n} turns of screws are marked."),
    };
    format!(
        "The recording over time, {}, of which {} in {} {} judged.{rest}{turned}",
        digits::duration(data.duration_s),
        digits::duration(judged),
        data.windows.len(),
        if data.windows.len() == 1 { "stretch was" } else { "stretches were" }
    )
}
