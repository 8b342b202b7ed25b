//! The recording over time: the level of each cylinder, the values as logged, the engine speed; what was judged,
//! what was not and why, and where a screw was turned.

use crate::error::ReportError;
use crate::figure::canvas::{Anchor, Canvas, Drawing, Drawn, Point, Rect, draw};
use crate::figure::marks::{bottom_axis, clipped, hatch, ink, left_axis, marker, spread_out, tag, tag_room};
use crate::figure::reduce::{Column, columns, dense, gap_s};
use crate::figure::scale::{Scale, extent, time_axis, widen};
use crate::figure::strip::{LANE, bars, lanes, strip_words, turn_lanes};
use crate::style::{HAIR, LINE, MARKER, NARROW, Paint, TEXT};

/// One line of a panel.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Series {
    /// Cylinder; `None` for what belongs to no single one.
    pub(crate) cylinder: Option<u32>,
    /// Values in the unit of the panel, one per time of the panel.
    pub(crate) values: Vec<f64>,
}

/// One panel with a time axis of its own values.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Panel {
    /// What it shows, with its unit.
    pub(crate) title: String,
    /// The unit alone.
    pub(crate) unit: String,
    /// Times, s.
    pub(crate) time_s: Vec<f64>,
    /// Lines.
    pub(crate) series: Vec<Series>,
    /// Height, CSS pixels.
    pub(crate) height: f64,
    /// Whether larger numbers lie below (vacuum).
    pub(crate) reversed: bool,
    /// Whether the range follows what was judged, so that the rest may leave the panel.
    pub(crate) zoomed: bool,
    /// Whether only the area between the extremes of all series is drawn.
    pub(crate) filled: bool,
    /// Range that it shares with other panels; `None` follows its own values.
    pub(crate) shared: Option<(f64, f64)>,
}

/// A stretch of time with a word.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Stretch {
    /// Start, s.
    pub(crate) start_s: f64,
    /// End, s.
    pub(crate) end_s: f64,
    /// Word for it.
    pub(crate) word: String,
}

/// What the figure needs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Trace {
    /// Length of the recording, s.
    pub(crate) duration_s: f64,
    /// Panels from above.
    pub(crate) panels: Vec<Panel>,
    /// Judged.
    pub(crate) windows: Vec<Stretch>,
    /// Not judged.
    pub(crate) excluded: Vec<Stretch>,
    /// Screws turned: time and word.
    pub(crate) turns: Vec<(f64, String)>,
    /// Name of the time axis without its unit.
    pub(crate) time_name: String,
}

const TITLE: f64 = 24.0;
const FOOT: f64 = 46.0;

/// Draws the figure at a width.
///
/// # Errors
/// [`ReportError::Axis`] for a recording without length or values, [`ReportError::Draw`] from the library.
pub(crate) fn figure(data: &Trace, width: f64) -> Result<Drawing, ReportError> {
    let narrow = width <= NARROW;
    let left = if narrow { 54.0 } else { 64.0 };
    let right = tag_room(data.panels.iter().flat_map(|p| &p.series).filter_map(|s| s.cylinder));
    let time = Scale::new("time", (0.0, data.duration_s), (left, width - right))?;
    let words = lanes(data, &time);
    let turns = turn_lanes(data, &time, width);
    let strip = LANE * f64::from(words.1 + turns.1) + 12.0;
    let height = strip + data.panels.iter().map(|p| TITLE + p.height).sum::<f64>() + FOOT;
    draw("trace", width, height, |canvas| {
        strip_words(canvas, &words.0, &turns.0, words.1)?;
        canvas.notes.set_axis(&time, true);
        bars(canvas, data, &time, strip)?;
        let mut y = strip;
        for panel in &data.panels {
            let area = Rect { x0: time.from, y0: y + TITLE, x1: time.to, y1: y + TITLE + panel.height };
            canvas.text((2.0, y + TITLE / 2.0), &panel.title, ink(Paint::Ink, Anchor::Start))?;
            ground(canvas, data, &time, (area.y0, area.y1))?;
            draw_panel(canvas, data, panel, &time, area)?;
            for (t, _) in data.turns.iter().filter(|t| time.holds(t.0)) {
                dashes_down(canvas, time.px(*t), area.y0, area.y1)?;
            }
            y = area.y1;
        }
        time_ticks(canvas, data, &time, height - FOOT, narrow)
    })
}

pub(crate) fn pixels(stretch: &Stretch, time: &Scale) -> Option<(f64, f64)> {
    let (a, b) = (stretch.start_s.max(time.low), stretch.end_s.min(time.high));
    (a.is_finite() && b.is_finite() && b > a).then(|| (time.px(a), time.px(b)))
}

fn ground(canvas: &mut Canvas<'_>, data: &Trace, time: &Scale, (y0, y1): (f64, f64)) -> Drawn {
    for stretch in &data.windows {
        if let Some((x0, x1)) = pixels(stretch, time) {
            canvas.rect(Rect { x0, y0, x1, y1 }, Paint::Judged, 1.0)?;
        }
    }
    for (x0, x1) in joined(&data.excluded, time) {
        hatch(canvas, Rect { x0, y0, x1, y1 })?;
    }
    Ok(())
}

/// Stretches in pixels, those that touch or overlap as one.
fn joined(stretches: &[Stretch], time: &Scale) -> Vec<(f64, f64)> {
    let mut all: Vec<(f64, f64)> = stretches.iter().filter_map(|s| pixels(s, time)).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut out: Vec<(f64, f64)> = Vec::new();
    for (x0, x1) in all {
        match out.last_mut() {
            Some(last) if x0 <= last.1 + 0.6 => last.1 = last.1.max(x1),
            _ => out.push((x0, x1)),
        }
    }
    out
}

fn dashes_down(canvas: &mut Canvas<'_>, x: f64, y0: f64, y1: f64) -> Drawn {
    let mut y = y0;
    while y < y1 {
        canvas.line((x, y), (x, (y + 5.0).min(y1)), HAIR, Paint::Ink)?;
        y += 9.0;
    }
    Ok(())
}

/// Range of a panel: of what was judged where it is zoomed, else of everything.
fn range(data: &Trace, panel: &Panel) -> Option<(f64, f64)> {
    if let Some(shared) = panel.shared {
        return Some(widen(shared, 0.06, shared.1.abs().max(shared.0.abs()).max(1.0) * 0.01));
    }
    let judged = |t: &f64| data.windows.iter().any(|w| *t >= w.start_s && *t <= w.end_s);
    let mut all: Option<(f64, f64)> = None;
    for series in &panel.series {
        let inside = series.values.iter().zip(&panel.time_s).filter(|(_, t)| judged(t)).map(|(v, _)| v);
        let found = if panel.zoomed { extent(inside) } else { None }.or_else(|| extent(&series.values));
        all = match (all, found) {
            (Some(a), Some(b)) => Some((a.0.min(b.0), a.1.max(b.1))),
            (a, b) => a.or(b),
        };
    }
    all.map(|r| widen(r, if panel.zoomed { 0.35 } else { 0.06 }, r.1.abs().max(r.0.abs()).max(1.0) * 0.01))
}

fn draw_panel(canvas: &mut Canvas<'_>, data: &Trace, panel: &Panel, time: &Scale, area: Rect) -> Drawn {
    let Some(range) = range(data, panel) else {
        return canvas.line((area.x0, area.y1), (area.x1, area.y1), HAIR, Paint::Ink);
    };
    let ends = if panel.reversed { (area.y0, area.y1) } else { (area.y1, area.y0) };
    let scale = Scale::new("trace", range, ends)?;
    canvas.notes.add_panel(&scale, if panel.filled { "" } else { &panel.unit });
    left_axis(canvas, &scale, area.x0, area.x1, &scale.ticks((panel.height / 2.6).min(46.0)))?;
    canvas.line((area.x0, area.y1), (area.x1, area.y1), HAIR, Paint::Grid)?;
    let gap = gap_s(&panel.time_s);
    if panel.filled {
        let all: Vec<&[f64]> = panel.series.iter().map(|s| s.values.as_slice()).collect();
        return envelope(canvas, &columns(&panel.time_s, &all, time, 1.0, gap), &scale, area);
    }
    let mut ends: Vec<(u32, f64)> = Vec::new();
    for (i, series) in panel.series.iter().enumerate() {
        let runs = columns(&panel.time_s, &[&series.values], time, 1.0, gap);
        if dense(panel.time_s.len(), time.to - time.from) {
            lines(canvas, series, &zigzag(&runs, &scale), area, i)?;
        } else {
            lines(canvas, series, &exact(panel, series, time, &scale, gap), area, i)?;
        }
        let last = last_value(data, panel, series, &scale);
        if let (Some(c), Some(v)) = (series.cylinder, last) {
            ends.push((c, scale.px(v)));
        }
    }
    labels(canvas, &ends, area)
}

/// The last value on the panel, of what was judged where there is one.
fn last_value(data: &Trace, panel: &Panel, series: &Series, scale: &Scale) -> Option<f64> {
    let judged = |t: f64| data.windows.iter().any(|w| t >= w.start_s && t <= w.end_s);
    let backwards = || panel.time_s.iter().zip(&series.values).rev().filter(|(_, v)| scale.holds(**v));
    let found = backwards().find(|(t, _)| judged(**t)).or_else(|| backwards().next());
    found.map(|(_, v)| *v)
}

/// Every value as a point, split at gaps; used where there are few enough.
fn exact(panel: &Panel, series: &Series, time: &Scale, scale: &Scale, gap: f64) -> Vec<Vec<Point>> {
    let mut runs: Vec<Vec<Point>> = Vec::new();
    let mut last: Option<f64> = None;
    for (t, v) in panel.time_s.iter().zip(&series.values) {
        if !(t.is_finite() && v.is_finite() && time.holds(*t)) {
            last = None;
            continue;
        }
        let point = (time.px(*t), scale.px(*v));
        match (last, runs.last_mut()) {
            (Some(before), Some(run)) if t - before <= gap => run.push(point),
            _ => runs.push(vec![point]),
        }
        last = Some(*t);
    }
    runs
}

/// The extremes of each pixel column, one after the other: a line that keeps every peak.
fn zigzag(runs: &[Vec<Column>], scale: &Scale) -> Vec<Vec<Point>> {
    let both = |c: &Column| {
        let (a, b) = (scale.px(c.low), scale.px(c.high));
        if (a - b).abs() < 0.3 { vec![(c.x, (a + b) / 2.0)] } else { vec![(c.x, a), (c.x, b)] }
    };
    runs.iter().map(|run| run.iter().flat_map(both).collect()).collect()
}

fn lines(canvas: &mut Canvas<'_>, series: &Series, runs: &[Vec<Point>], area: Rect, index: usize) -> Drawn {
    let paint = series.cylinder.map_or(Paint::Ink, Paint::Line);
    for run in runs {
        for part in clipped(run, area) {
            canvas.path(&part, LINE, paint)?;
        }
    }
    // Markers along the line, staggered from cylinder to cylinder, tell lines apart in black and white.
    let Some(cylinder) = series.cylinder else { return Ok(()) };
    let mut next = area.x0 + 30.0 + 23.0 * (index % 6) as f64;
    for (x, y) in runs.iter().flatten() {
        if *x >= next && *y >= area.y0 && *y <= area.y1 {
            marker(canvas, (*x, *y), MARKER * 0.7, cylinder)?;
            next = x + 150.0;
        }
    }
    Ok(())
}

fn envelope(canvas: &mut Canvas<'_>, runs: &[Vec<Column>], scale: &Scale, area: Rect) -> Drawn {
    let y = |v: f64| scale.px(v).clamp(area.y0, area.y1);
    for run in runs {
        // A column keeps at least one pixel of height so that a still signal does not vanish.
        let upper = run.iter().map(|c| (c.x, y(c.high).min(y(c.low)) - 0.5));
        let lower = run.iter().rev().map(|c| (c.x, y(c.low).max(y(c.high)) + 0.5));
        let outline: Vec<Point> = upper.chain(lower).collect();
        if let [(x, top), (_, low)] = outline.as_slice() {
            let column = Rect { x0: x - 0.5, y0: *top, x1: x + 0.5, y1: *low };
            canvas.rect(column, Paint::Muted, 0.55)?;
        } else {
            canvas.area(&outline, Paint::Muted, 0.55)?;
        }
    }
    Ok(())
}

fn labels(canvas: &mut Canvas<'_>, ends: &[(u32, f64)], area: Rect) -> Drawn {
    let wanted: Vec<f64> = ends.iter().map(|e| e.1).collect();
    let half = TEXT * 0.5;
    let placed = spread_out(&wanted, TEXT + 3.0, area.y0 + half, area.y1 - half);
    for ((cylinder, from), y) in ends.iter().zip(placed) {
        canvas.line((area.x1 + 1.0, *from), (area.x1 + 7.0, y), 0.8, Paint::Mark(*cylinder))?;
        tag(canvas, (area.x1 + 8.0, y), *cylinder)?;
    }
    Ok(())
}

fn time_ticks(canvas: &mut Canvas<'_>, data: &Trace, time: &Scale, y: f64, narrow: bool) -> Drawn {
    let axis = time_axis(data.duration_s, (time.to - time.from) / if narrow { 48.0 } else { 70.0 });
    let whole = axis.step_s % axis.unit_s == 0.0;
    let places = if whole { 0 } else { usize::from(axis.step_s / axis.unit_s < 0.1) + 1 };
    let ticks = time.at_steps(axis.step_s, |t| crate::digits::fixed(t / axis.unit_s, places));
    bottom_axis(canvas, time, y, &ticks)?;
    let name = format!("{}, {}", data.time_name, axis.name);
    canvas.text(((time.from + time.to) / 2.0, y + 34.0), &name, ink(Paint::Ink, Anchor::Middle))
}
