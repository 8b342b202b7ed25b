//! Many visits: the spread against its limit, and below it one panel per cylinder, over hours, distance, date or order.
//!
//! Each panel is named at its side with the cylinder's marker; nothing depends on colour. More air is up.

use crate::error::ReportError;
use crate::figure::canvas::{Anchor, Canvas, Drawing, Drawn, Ink, Rect, draw};
use crate::figure::marks::{cylinder_label, ink, left_axis, marker, muted};
use crate::figure::scale::{Scale, Tick, extent, widen};
use crate::font::text_width;
use crate::style::{HAIR, INTERVAL, LINE, MARKER, NARROW, Paint, SMALL};

/// One figure of one visit: place, value, half-width; whether it was judged with the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Dot {
    /// Place on the axis.
    pub(crate) x: f64,
    /// Value in the unit of the page.
    pub(crate) value: f64,
    /// Expanded uncertainty.
    pub(crate) u: f64,
    /// Judged with the others.
    pub(crate) judged: bool,
}

/// One cylinder.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Panel {
    /// Cylinder.
    pub(crate) cylinder: u32,
    /// Deviations.
    pub(crate) dots: Vec<Dot>,
    /// Control limits and the place from which they hold.
    pub(crate) control: Option<(f64, f64, f64)>,
    /// Ends of the trend.
    pub(crate) trend: Option<[(f64, f64); 2]>,
    /// Between which places it changed.
    pub(crate) changes: Vec<f64>,
}

/// What the figure needs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct History {
    /// Spread of each visit.
    pub(crate) spread: Vec<Dot>,
    /// Limit and its label.
    pub(crate) limit: (f64, String),
    /// Where the spread reaches the limit: best, earliest, latest (open where `None`).
    pub(crate) forecast: Option<(f64, f64, Option<f64>)>,
    /// Cylinders.
    pub(crate) panels: Vec<Panel>,
    /// Ticks, where the visits themselves are named; round numbers otherwise.
    pub(crate) ticks: Option<Vec<(f64, String)>>,
    /// Name of the horizontal axis.
    pub(crate) axis: String,
    /// Title of the spread's panel.
    pub(crate) spread_title: String,
    /// Title of the cylinders' panels.
    pub(crate) title: String,
    /// Unit of pressures.
    pub(crate) unit: String,
    /// Whether larger numbers lie below (vacuum).
    pub(crate) reversed: bool,
}

const TOP: f64 = 24.0;
const SPREAD: f64 = 112.0;
const GAP: f64 = 30.0;
const BETWEEN: f64 = 8.0;
const BOTTOM: f64 = 48.0;

/// Draws the figure at a width.
///
/// # Errors
/// [`ReportError::Axis`] where there is nothing finite to draw, [`ReportError::Draw`] from the library.
pub(crate) fn figure(data: &History, width: f64) -> Result<Drawing, ReportError> {
    let tall = if data.panels.len() > 6 { 58.0 } else { 76.0 };
    let below = data.panels.len() as f64 * (tall + BETWEEN);
    let narrow = width <= NARROW;
    let (left, right) = (if narrow { 46.0 } else { 56.0 }, if narrow { 64.0 } else { 84.0 });
    draw("history", width, TOP + SPREAD + GAP + below + BOTTOM, |canvas| {
        let top = Rect { x0: left, y0: TOP, x1: width - right, y1: TOP + SPREAD };
        let x = horizontal(data, top)?;
        canvas.text((2.0, 10.0), &data.spread_title, ink(Paint::Ink, Anchor::Start))?;
        spread(canvas, data, &x, top)?;
        canvas.text((2.0, top.y1 + GAP - 12.0), &data.title, ink(Paint::Ink, Anchor::Start))?;
        let range = vertical(data);
        for (i, panel) in data.panels.iter().enumerate() {
            let y0 = top.y1 + GAP + i as f64 * (tall + BETWEEN);
            let area = Rect { y0, y1: y0 + tall, ..top };
            let ends = if data.reversed { (y0, area.y1) } else { (area.y1, y0) };
            cylinder(canvas, panel, &x, &Scale::new("deviation", range, ends)?, area)?;
        }
        let foot = top.y1 + GAP + below - BETWEEN;
        feet(canvas, data, &x, Rect { y1: foot, ..top })
    })
}

fn horizontal(data: &History, area: Rect) -> Result<Scale, ReportError> {
    let places: Vec<f64> = data.spread.iter().map(|d| d.x).collect();
    let mut range = extent(&places).unwrap_or((f64::NAN, f64::NAN));
    if let Some((at, low, high)) = data.forecast {
        range = (range.0, range.1.max(at).max(low).max(high.unwrap_or(at)));
    }
    let range = widen(range, 0.04, (range.0.abs() * 1e-3).max(0.5));
    Scale::new("visits", range, (area.x0, area.x1))
}

fn vertical(data: &History) -> (f64, f64) {
    let all: Vec<f64> = data
        .panels
        .iter()
        .flat_map(|p| {
            let dots = p.dots.iter().flat_map(|d| [d.value - d.u, d.value + d.u]);
            dots.chain(p.trend.iter().flatten().map(|e| e.1)).collect::<Vec<_>>()
        })
        .chain([0.0])
        .collect();
    widen(extent(&all).unwrap_or((-1.0, 1.0)), 0.08, 1e-3)
}

fn spread(canvas: &mut Canvas<'_>, data: &History, x: &Scale, area: Rect) -> Drawn {
    let (limit, label) = &data.limit;
    let tops: Vec<f64> = data.spread.iter().map(|d| d.value + d.u).chain([0.0, *limit]).collect();
    let high = extent(&tops).map_or(1.0, |r| r.1);
    let y = Scale::new("spread", (0.0, high * 1.12), (area.y1, area.y0))?;
    canvas.rect(Rect { y0: y.px(*limit), ..area }, Paint::Band, 1.0)?;
    left_axis(canvas, &y, area.x0, area.x1, &y.ticks(34.0))?;
    canvas.line((area.x0, y.px(*limit)), (area.x1, y.px(*limit)), HAIR * 1.4, Paint::BandEdge)?;
    canvas.text((area.x1 + 6.0, y.px(*limit)), label, muted(Anchor::Start))?;
    let line: Vec<(f64, f64)> = data.spread.iter().map(|d| (x.px(d.x), y.px(d.value))).collect();
    canvas.path(&line, HAIR, Paint::Muted)?;
    for d in &data.spread {
        whisker(canvas, d, x, &y, Paint::Ink)?;
        dot(canvas, (x.px(d.x), y.px(d.value)), d.judged)?;
    }
    if let Some((at, low, high)) = data.forecast {
        let ly = y.px(*limit);
        let end = high.map_or(area.x1, |h| x.px(h));
        canvas.line((x.px(low), ly), (end, ly), INTERVAL * 1.4, Paint::Ink)?;
        for px in [Some(x.px(low)), high.map(|h| x.px(h))].into_iter().flatten() {
            canvas.line((px, ly - 5.0), (px, ly + 5.0), INTERVAL, Paint::Ink)?;
        }
        canvas.circle((x.px(at), ly), 5.0, None, Paint::Paper)?;
        canvas.circle((x.px(at), ly), 4.4, Some(1.8), Paint::Ink)?;
    }
    Ok(())
}

fn dot(canvas: &mut Canvas<'_>, at: (f64, f64), judged: bool) -> Drawn {
    if judged {
        return canvas.circle(at, 3.6, None, Paint::Ink);
    }
    canvas.circle(at, 4.0, None, Paint::Paper)?;
    canvas.circle(at, 3.4, Some(1.4), Paint::Muted)
}

fn whisker(canvas: &mut Canvas<'_>, d: &Dot, x: &Scale, y: &Scale, paint: Paint) -> Drawn {
    if d.u <= 0.0 {
        return Ok(());
    }
    let (px, a, b) = (x.px(d.x), y.px(d.value - d.u), y.px(d.value + d.u));
    canvas.line((px, a), (px, b), INTERVAL * 0.7, paint)?;
    for e in [a, b] {
        canvas.line((px - 3.0, e), (px + 3.0, e), INTERVAL * 0.7, paint)?;
    }
    Ok(())
}

fn cylinder(canvas: &mut Canvas<'_>, p: &Panel, x: &Scale, y: &Scale, area: Rect) -> Drawn {
    if let Some((low, high, from)) = p.control {
        let (a, b) = (y.px(low), y.px(high));
        let band = Rect {
            x0: x.px(from).max(area.x0),
            y0: a.min(b).clamp(area.y0, area.y1),
            y1: a.max(b).clamp(area.y0, area.y1),
            ..area
        };
        canvas.rect(band, Paint::Band, 1.0)?;
    }
    left_axis(canvas, y, area.x0, area.x1, &y.signed_ticks(28.0))?;
    for at in &p.changes {
        broken(canvas, x.px(*at), area)?;
    }
    if let Some([a, b]) = p.trend {
        let at = |e: (f64, f64)| (x.px(e.0), y.px(e.1));
        canvas.line(at(a), at(b), LINE * 1.5, Paint::Ink)?;
    }
    for d in &p.dots {
        whisker(canvas, d, x, y, Paint::Mark(p.cylinder))?;
        if d.judged {
            marker(canvas, (x.px(d.x), y.px(d.value)), MARKER * 0.85, p.cylinder)?;
        } else {
            dot(canvas, (x.px(d.x), y.px(d.value)), false)?;
        }
    }
    let (tx, ty) = (area.x1 + 8.0, (area.y0 + area.y1) / 2.0);
    marker(canvas, (tx + MARKER, ty), MARKER * 0.85, p.cylinder)?;
    let bold = Ink { bold: true, ..ink(Paint::Label(p.cylinder), Anchor::Start) };
    canvas.text((tx + 2.0 * MARKER + 4.0, ty), &cylinder_label(p.cylinder), bold)
}

/// A broken vertical line over a panel.
fn broken(canvas: &mut Canvas<'_>, px: f64, area: Rect) -> Drawn {
    let mut y = area.y0;
    while y < area.y1 {
        canvas.line((px, y), (px, (y + 5.0).min(area.y1)), 1.4, Paint::Ink)?;
        y += 9.0;
    }
    Ok(())
}

fn feet(canvas: &mut Canvas<'_>, data: &History, x: &Scale, area: Rect) -> Drawn {
    let ticks: Vec<Tick> = match &data.ticks {
        None => x.ticks(80.0),
        Some(named) => {
            named.iter().map(|(value, label)| Tick { value: *value, label: label.clone() }).collect()
        }
    };
    canvas.line((area.x0, area.y1), (area.x1, area.y1), HAIR, Paint::Ink)?;
    let mut free = f64::NEG_INFINITY;
    for tick in &ticks {
        let px = x.px(tick.value);
        canvas.line((px, area.y1), (px, area.y1 + 5.0), HAIR, Paint::Ink)?;
        let half = text_width(&tick.label, SMALL, false) / 2.0;
        let at = px.clamp(half, (canvas.width - half).max(half));
        if at - half >= free {
            canvas.text((at, area.y1 + 15.0), &tick.label, muted(Anchor::Middle))?;
            free = at + half + 8.0;
        }
    }
    let middle = (area.x0 + area.x1) / 2.0;
    canvas.text((middle, area.y1 + 36.0), &data.axis, ink(Paint::Ink, Anchor::Middle))
}
