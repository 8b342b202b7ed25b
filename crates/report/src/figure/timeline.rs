//! Adjusting, step by step: each cylinder as found, after every turn of a screw, and as left.
//!
//! Full marks with intervals are measured states; small marks between them add the steps found in the recording to
//! the state as found. More air is up.

use crate::error::ReportError;
use crate::figure::canvas::{Anchor, Canvas, Drawing, Drawn, Point, Rect, draw};
use crate::figure::marks::{ink, left_axis, marker, muted, spread_out, tag, tag_room};
use crate::figure::scale::{Scale, widen};
use crate::font::text_width;
use crate::style::{HAIR, INTERVAL, LINE, MARKER, NARROW, Paint, SMALL, TEXT};

/// One cylinder through all columns.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Course {
    /// Cylinder.
    pub(crate) cylinder: u32,
    /// Value in each column, in the unit of the axis; the expanded uncertainty where the state was measured.
    pub(crate) values: Vec<Option<(f64, Option<f64>)>>,
}

/// What the figure needs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Timeline {
    /// Two lines under each column: what, when.
    pub(crate) columns: Vec<(String, String)>,
    /// Cylinders.
    pub(crate) courses: Vec<Course>,
    /// Band of the limit around the state as left, in the unit of the axis.
    pub(crate) band: Option<(f64, f64)>,
    /// What the axis shows, with its unit.
    pub(crate) title: String,
    /// Whether larger numbers lie below (vacuum).
    pub(crate) reversed: bool,
}

const TOP: f64 = 28.0;
const BOTTOM: f64 = 44.0;
const HEIGHT: f64 = 250.0;

/// Draws the figure at a width.
///
/// # Errors
/// [`ReportError::Axis`] where there is nothing finite to draw, [`ReportError::Draw`] from the library.
pub(crate) fn figure(data: &Timeline, width: f64) -> Result<Drawing, ReportError> {
    let left = if width <= NARROW { 54.0 } else { 64.0 };
    let right = tag_room(data.courses.iter().map(|c| c.cylinder));
    let tall = HEIGHT.max(data.courses.len() as f64 * (TEXT + 4.0));
    draw("adjusting", width, TOP + tall + BOTTOM, |canvas| {
        let area = Rect { x0: left, y0: TOP, x1: width - right, y1: TOP + tall };
        let scale = axis(data, area)?;
        let last = data.columns.len().saturating_sub(1).max(1) as f64;
        let x = |i: usize| area.x0 + 24.0 + (area.x1 - area.x0 - 48.0) * i as f64 / last;
        canvas.text((2.0, 11.0), &data.title, ink(Paint::Ink, Anchor::Start))?;
        if let Some((a, b)) = data.band {
            let (a, b) = (scale.px(a), scale.px(b));
            let band = Rect { y0: a.min(b).max(area.y0), y1: a.max(b).min(area.y1), ..area };
            canvas.rect(band, Paint::Band, 1.0)?;
        }
        left_axis(canvas, &scale, area.x0, area.x1, &scale.signed_ticks(46.0))?;
        // Side by side at each column, so that intervals do not hide each other.
        let apart = (36.0 / data.courses.len().max(1) as f64).min(9.0);
        let middle = data.courses.len().saturating_sub(1) as f64 / 2.0;
        for (i, course) in data.courses.iter().enumerate() {
            let aside = (i as f64 - middle) * apart;
            draw_course(canvas, course, &scale, &|column| x(column) + aside)?;
        }
        ends(canvas, data, &scale, area)?;
        heads(canvas, data, area, &x)
    })
}

fn axis(data: &Timeline, area: Rect) -> Result<Scale, ReportError> {
    let mut range: Option<(f64, f64)> = data.band;
    for (v, u) in data.courses.iter().flat_map(|c| c.values.iter().flatten()) {
        let u = u.unwrap_or(0.0).abs();
        range = Some(range.map_or((v - u, v + u), |(lo, hi)| (lo.min(v - u), hi.max(v + u))));
    }
    let range = range.map_or((f64::NAN, f64::NAN), |r| widen(r, 0.06, 1e-6));
    let ends = if data.reversed { (area.y0, area.y1) } else { (area.y1, area.y0) };
    Scale::new("adjusting", range, ends)
}

fn draw_course(canvas: &mut Canvas<'_>, course: &Course, scale: &Scale, x: &impl Fn(usize) -> f64) -> Drawn {
    let at = |i: usize, v: f64| -> Point { (x(i), scale.px(v)) };
    let line: Vec<Point> =
        course.values.iter().enumerate().filter_map(|(i, v)| v.map(|(v, _)| at(i, v))).collect();
    canvas.path(&line, LINE, Paint::Line(course.cylinder))?;
    for (i, (v, u)) in course.values.iter().enumerate().filter_map(|(i, v)| v.map(|v| (i, v))) {
        let Some(u) = u else {
            marker(canvas, at(i, v), MARKER * 0.6, course.cylinder)?;
            continue;
        };
        if u > 0.0 {
            let (a, b) = (at(i, v - u), at(i, v + u));
            canvas.line(a, b, INTERVAL * 0.8, Paint::Mark(course.cylinder))?;
            for (px, py) in [a, b] {
                canvas.line((px - 4.0, py), (px + 4.0, py), INTERVAL * 0.8, Paint::Mark(course.cylinder))?;
            }
        }
        marker(canvas, at(i, v), MARKER, course.cylinder)?;
    }
    Ok(())
}

fn ends(canvas: &mut Canvas<'_>, data: &Timeline, scale: &Scale, area: Rect) -> Drawn {
    let last: Vec<(u32, f64)> = data
        .courses
        .iter()
        .filter_map(|c| c.values.last().copied().flatten().map(|(v, _)| (c.cylinder, scale.px(v))))
        .collect();
    let wanted: Vec<f64> = last.iter().map(|e| e.1).collect();
    let placed = spread_out(&wanted, TEXT + 3.0, area.y0 + 7.0, area.y1 - 7.0);
    for ((cylinder, from), y) in last.iter().zip(placed) {
        canvas.line((area.x1 - 16.0, *from), (area.x1 + 7.0, y), 0.8, Paint::Mark(*cylinder))?;
        tag(canvas, (area.x1 + 8.0, y), *cylinder)?;
    }
    Ok(())
}

fn heads(canvas: &mut Canvas<'_>, data: &Timeline, area: Rect, x: &impl Fn(usize) -> f64) -> Drawn {
    canvas.line((area.x0, area.y1), (area.x1, area.y1), HAIR, Paint::Ink)?;
    let mut free = 0.0;
    let count = data.columns.len();
    let half = |i: usize| {
        let (a, b) = &data.columns[i];
        text_width(a, SMALL, false).max(text_width(b, SMALL, false)) / 2.0 + 3.0
    };
    for (i, (what, when)) in data.columns.iter().enumerate() {
        let px = x(i);
        canvas.line((px, area.y1), (px, area.y1 + 5.0), HAIR, Paint::Ink)?;
        // The last column always keeps its words; one before it that would touch them goes without.
        let clear = i + 1 == count || px + half(i) <= x(count - 1) - half(count - 1);
        if px - half(i) >= free && clear {
            canvas.text((px, area.y1 + 15.0), what, muted(Anchor::Middle))?;
            canvas.text((px, area.y1 + 31.0), when, muted(Anchor::Middle))?;
            free = px + half(i);
        }
    }
    Ok(())
}
