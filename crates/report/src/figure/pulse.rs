//! The averaged pulse of each cylinder by crank phase, with its scatter from cycle to cycle as a band.
//!
//! Pulses are laid over each other from the start of their refill, so that a steeper refill (more air past the plate)
//! and a different shape show at once; where a pulse has no refill part all start at their lowest point.

use crate::error::ReportError;
use crate::figure::canvas::{Anchor, Canvas, Drawing, Drawn, Point, Rect, draw};
use crate::figure::marks::{bottom_axis, ink, left_axis, marker, muted, spread_out, tag, tag_room};
use crate::figure::scale::{Scale, widen};
use crate::style::{HAIR, LINE, MARKER, NARROW, Paint, TEXT};

/// One averaged pulse.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Pulse {
    /// Cylinder.
    pub(crate) cylinder: u32,
    /// Degrees, rising.
    pub(crate) phase_deg: Vec<f64>,
    /// Mean in the unit of the axis.
    pub(crate) mean: Vec<f64>,
    /// Standard deviation in the unit of the axis.
    pub(crate) sd: Vec<f64>,
    /// Refill part on the axis of the figure, degrees.
    pub(crate) refill_deg: Option<(f64, f64)>,
}

/// What the figure needs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Pulses {
    /// Pulses.
    pub(crate) pulses: Vec<Pulse>,
    /// Range of the phase axis, degrees.
    pub(crate) range_deg: (f64, f64),
    /// Vertical axis with its unit.
    pub(crate) title: String,
    /// The unit alone.
    pub(crate) unit: String,
    /// Horizontal axis.
    pub(crate) axis: String,
    /// Whether larger numbers lie below (vacuum).
    pub(crate) reversed: bool,
    /// Word for the refill part.
    pub(crate) refill: String,
}

const TOP: f64 = 28.0;
const BOTTOM: f64 = 48.0;
const HEIGHT: f64 = 300.0;

/// Draws the figure at a width.
///
/// # Errors
/// [`ReportError::Axis`] where there is nothing finite to draw, [`ReportError::Draw`] from the library.
pub(crate) fn figure(data: &Pulses, width: f64) -> Result<Drawing, ReportError> {
    let narrow = width <= NARROW;
    let left = if narrow { 54.0 } else { 64.0 };
    let right = tag_room(data.pulses.iter().map(|p| p.cylinder));
    draw("pulse", width, TOP + HEIGHT + BOTTOM, |canvas| {
        let area = Rect { x0: left, y0: TOP, x1: width - right, y1: TOP + HEIGHT };
        let phase = Scale::new("phase", data.range_deg, (area.x0, area.x1))?;
        let scale = value_scale(data, area)?;
        canvas.text((2.0, 11.0), &data.title, ink(Paint::Ink, Anchor::Start))?;
        canvas.notes.set_axis(&phase, false);
        canvas.notes.add_panel(&scale, &data.unit);
        left_axis(canvas, &scale, area.x0, area.x1, &scale.ticks(46.0))?;
        for pulse in &data.pulses {
            scatter(canvas, pulse, &phase, &scale)?;
        }
        for (i, pulse) in data.pulses.iter().enumerate() {
            line(canvas, pulse, &phase, &scale, i)?;
        }
        refill_word(canvas, data, &phase, area)?;
        end_labels(canvas, data, &scale, area)?;
        let step = if narrow { 180.0 } else { 90.0 };
        let ticks = phase.at_steps(step, |v| crate::digits::fixed(v, 0));
        bottom_axis(canvas, &phase, area.y1, &ticks)?;
        canvas.text(((area.x0 + area.x1) / 2.0, area.y1 + 36.0), &data.axis, ink(Paint::Ink, Anchor::Middle))
    })
}

fn value_scale(data: &Pulses, area: Rect) -> Result<Scale, ReportError> {
    let mut found: Option<(f64, f64)> = None;
    for pulse in &data.pulses {
        for (m, s) in pulse.mean.iter().zip(&pulse.sd).filter(|(m, _)| m.is_finite()) {
            let s = if s.is_finite() { s.abs() } else { 0.0 };
            found = Some(found.map_or((m - s, m + s), |(lo, hi)| (lo.min(m - s), hi.max(m + s))));
        }
    }
    let range = found.map_or((f64::NAN, f64::NAN), |r| widen(r, 0.04, 1e-6));
    let ends = if data.reversed { (area.y0, area.y1) } else { (area.y1, area.y0) };
    Scale::new("pulse", range, ends)
}

fn runs(pulse: &Pulse, phase: &Scale) -> Vec<Vec<usize>> {
    let mut runs: Vec<Vec<usize>> = Vec::new();
    let mut open = false;
    for (i, (p, m)) in pulse.phase_deg.iter().zip(&pulse.mean).enumerate() {
        let fine = m.is_finite() && p.is_finite() && phase.holds(*p);
        match runs.last_mut() {
            Some(run) if fine && open => run.push(i),
            _ if fine => runs.push(vec![i]),
            _ => {}
        }
        open = fine;
    }
    runs
}

fn scatter(canvas: &mut Canvas<'_>, pulse: &Pulse, phase: &Scale, scale: &Scale) -> Drawn {
    for run in runs(pulse, phase) {
        let edge = |i: &usize, sign: f64| {
            let sd = pulse.sd.get(*i).copied().filter(|s| s.is_finite()).unwrap_or(0.0);
            (phase.px(pulse.phase_deg[*i]), scale.px(pulse.mean[*i] + sign * sd))
        };
        let upper = run.iter().map(|i| edge(i, 1.0));
        let lower = run.iter().rev().map(|i| edge(i, -1.0));
        let outline: Vec<Point> = upper.chain(lower).collect();
        canvas.area(&outline, Paint::Area(pulse.cylinder), 0.16)?;
    }
    Ok(())
}

fn line(canvas: &mut Canvas<'_>, pulse: &Pulse, phase: &Scale, scale: &Scale, index: usize) -> Drawn {
    let point = |i: &usize| (phase.px(pulse.phase_deg[*i]), scale.px(pulse.mean[*i]));
    for run in runs(pulse, phase) {
        let points: Vec<Point> = run.iter().map(point).collect();
        canvas.path(&points, LINE, Paint::Line(pulse.cylinder))?;
        if let Some((from, to)) = pulse.refill_deg {
            let inside = |i: &&usize| pulse.phase_deg[**i] >= from && pulse.phase_deg[**i] <= to;
            let part: Vec<Point> = run.iter().filter(inside).map(point).collect();
            canvas.path(&part, LINE * 2.2, Paint::Line(pulse.cylinder))?;
        }
        let mut next = phase.from + 40.0 + 31.0 * index as f64;
        for (x, y) in points {
            if x >= next {
                marker(canvas, (x, y), MARKER * 0.75, pulse.cylinder)?;
                next = x + 190.0;
            }
        }
    }
    Ok(())
}

fn refill_word(canvas: &mut Canvas<'_>, data: &Pulses, phase: &Scale, area: Rect) -> Drawn {
    let parts = data.pulses.iter().filter_map(|p| p.refill_deg);
    let Some((from, to)) = parts.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))) else { return Ok(()) };
    let (x0, x1) = (phase.px(from.max(phase.low)), phase.px(to.min(phase.high)));
    if x1 - x0 < 12.0 {
        return Ok(());
    }
    let y = area.y1 - 8.0;
    canvas.line((x0, y), (x1, y), HAIR, Paint::Muted)?;
    for x in [x0, x1] {
        canvas.line((x, y - 3.0), (x, y + 3.0), HAIR, Paint::Muted)?;
    }
    canvas.text(((x0 + x1) / 2.0, y - 10.0), &data.refill, muted(Anchor::Middle))
}

fn end_labels(canvas: &mut Canvas<'_>, data: &Pulses, scale: &Scale, area: Rect) -> Drawn {
    let last = |p: &Pulse| p.mean.iter().rev().copied().find(|m| m.is_finite());
    let ends: Vec<(u32, f64)> =
        data.pulses.iter().filter_map(|p| last(p).map(|v| (p.cylinder, scale.px(v)))).collect();
    let wanted: Vec<f64> = ends.iter().map(|e| e.1).collect();
    let placed = spread_out(&wanted, TEXT + 3.0, area.y0 + 7.0, area.y1 - 7.0);
    for ((cylinder, from), y) in ends.iter().zip(placed) {
        canvas.line((area.x1 + 1.0, *from), (area.x1 + 7.0, y), 0.8, Paint::Mark(*cylinder))?;
        tag(canvas, (area.x1 + 8.0, y), *cylinder)?;
    }
    Ok(())
}
