//! Small multiples: one strip per machine, its cylinders over its visits, all on one scale.

use crate::error::ReportError;
use crate::figure::canvas::{Anchor, Canvas, Drawing, Drawn, Ink, Point, Rect, draw};
use crate::figure::marks::{clipped, cylinder_label, ink, marker, muted};
use crate::figure::scale::Scale;
use crate::font::text_width;
use crate::style::{HAIR, LINE, NARROW, Paint, SMALL, TEXT};

/// One machine.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Strip {
    /// Place in the ranking and id.
    pub(crate) name: String,
    /// How urgent.
    pub(crate) word: String,
    /// Cylinder that carries marks and label.
    pub(crate) cylinder: Option<u32>,
    /// Cylinder and its values over the limit, each with its place between 0 and 1.
    pub(crate) lines: Vec<(u32, Vec<Point>)>,
}

const CELL: f64 = 86.0;
const HEAD: f64 = 20.0;
const GAP: f64 = 14.0;
const FOOT: f64 = 8.0;

/// Most that is drawn of a deviation, in limits; what goes further is cut at the edge.
const MOST: f64 = 2.5;

/// Draws the strips at a width.
///
/// # Errors
/// [`ReportError`] from the canvas.
pub(crate) fn figure(strips: &[Strip], reversed: bool, width: f64) -> Result<Drawing, ReportError> {
    let columns = if width <= NARROW { 2 } else { 4 };
    let rows = strips.len().div_ceil(columns).max(1);
    let wide = (width - GAP * (columns - 1) as f64) / columns as f64;
    let top = strips
        .iter()
        .flat_map(|s| s.lines.iter().flat_map(|l| &l.1))
        .map(|p| p.1.abs())
        .filter(|v| v.is_finite())
        .fold(0.6, f64::max)
        .min(MOST);
    draw("fleet", width, rows as f64 * CELL, |canvas| {
        for (i, s) in strips.iter().enumerate() {
            let (x0, y0) = ((i % columns) as f64 * (wide + GAP), (i / columns) as f64 * CELL);
            let area = Rect { x0, y0: y0 + HEAD, x1: x0 + wide, y1: y0 + CELL - FOOT };
            strip(canvas, s, top * 1.08, reversed, area)?;
        }
        Ok(())
    })
}

fn strip(canvas: &mut Canvas<'_>, s: &Strip, top: f64, reversed: bool, area: Rect) -> Drawn {
    let label_room = 50.0;
    let plot = Rect { x1: area.x1 - label_room, ..area };
    let ends = if reversed { (area.y0, area.y1) } else { (area.y1, area.y0) };
    let y = Scale::new("strip", (-top, top), ends)?;
    let x = Scale::new("visits", (-0.04, 1.04), (plot.x0, plot.x1))?;
    // As high as the limit on the spread, around the middle.
    let (a, b) = (y.px(0.5), y.px(-0.5));
    canvas.rect(Rect { y0: a.min(b), y1: a.max(b), ..plot }, Paint::Band, 1.0)?;
    canvas.line((plot.x0, y.px(0.0)), (plot.x1, y.px(0.0)), HAIR, Paint::Grid)?;
    heading(canvas, s, area)?;
    let own = |c: u32| s.cylinder == Some(c);
    for (c, points) in s.lines.iter().filter(|l| !own(l.0)) {
        course(canvas, points, &x, &y, plot, Paint::Muted, HAIR)?;
        single(canvas, points, &x, &y, *c)?;
    }
    for (c, points) in s.lines.iter().filter(|l| own(l.0)) {
        course(canvas, points, &x, &y, plot, Paint::Line(*c), LINE * 1.3)?;
        for p in points {
            let at = (x.px(p.0), y.px(p.1.clamp(-top, top)));
            marker(canvas, at, 3.4, *c)?;
        }
        if let Some(p) = points.last() {
            let at = (plot.x1 + 4.0, y.px(p.1.clamp(-top * 0.8, top * 0.8)));
            canvas.text(
                at,
                &cylinder_label(*c),
                Ink { size: SMALL, ..ink(Paint::Label(*c), Anchor::Start) },
            )?;
        }
    }
    Ok(())
}

/// A machine with one visit has a point and no line.
fn single(canvas: &mut Canvas<'_>, points: &[Point], x: &Scale, y: &Scale, _: u32) -> Drawn {
    match points {
        [p] if y.holds(p.1) => canvas.circle((x.px(p.0), y.px(p.1)), 2.4, None, Paint::Muted),
        _ => Ok(()),
    }
}

fn course(
    canvas: &mut Canvas<'_>,
    points: &[Point],
    x: &Scale,
    y: &Scale,
    plot: Rect,
    paint: Paint,
    stroke: f64,
) -> Drawn {
    let line: Vec<Point> = points.iter().map(|p| (x.px(p.0), y.px(p.1))).collect();
    for part in clipped(&line, plot) {
        canvas.path(&part, stroke, paint)?;
    }
    Ok(())
}

fn heading(canvas: &mut Canvas<'_>, s: &Strip, area: Rect) -> Drawn {
    let y = area.y0 - 11.0;
    let room = area.x1 - area.x0 - text_width(&s.word, SMALL, false) - 8.0;
    let mut name = s.name.clone();
    while text_width(&name, TEXT, true) > room && name.chars().count() > 3 {
        let kept: String = name.chars().take(name.chars().count().saturating_sub(2)).collect();
        name = format!("{}…", kept.trim_end_matches('…'));
    }
    canvas.text((area.x0, y), &name, Ink { bold: true, ..ink(Paint::Ink, Anchor::Start) })?;
    canvas.text((area.x1, y), &s.word, muted(Anchor::End))
}
