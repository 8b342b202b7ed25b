//! The first figure: one row per cylinder, a dot with its interval, and the band that the limit allows.
//!
//! The limit is one on the spread (highest minus lowest), so the band is as wide as the limit and lies where it holds
//! the most cylinders: whoever stands outside is out of step with the rest. More air is always to the right.

use crate::error::ReportError;
use crate::figure::canvas::{Anchor, Canvas, Drawing, Drawn, Ink, Rect, draw};
use crate::figure::marks::{bottom_axis, cylinder_label, ink, marker, muted};
use crate::figure::scale::{Scale, widen};
use crate::font::text_width;
use crate::style::{HAIR, INTERVAL, MARKER, NARROW, Paint, SMALL, TEXT};

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row {
    /// Cylinder.
    pub(crate) cylinder: u32,
    /// Deviation and expanded uncertainty in the unit of the axis.
    pub(crate) value: Option<(f64, f64)>,
    /// Half-width that also holds a gain error of the sensors, in the unit of the axis.
    pub(crate) outer: Option<f64>,
    /// What stands right of the row.
    pub(crate) text: String,
    /// As found, where the recording holds adjustments; of a plan, as it is now.
    pub(crate) found: Option<(f64, f64)>,
    /// A screw moves it: an arrow leads from the ring to the mark.
    pub(crate) moved: bool,
}

/// What the figure needs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Deviations {
    /// Rows, cylinder order.
    pub(crate) rows: Vec<Row>,
    /// Width of the limit's band and its label.
    pub(crate) limit: Option<(f64, String)>,
    /// What the axis shows, with its unit.
    pub(crate) axis: String,
    /// Whether larger numbers lie to the left (vacuum).
    pub(crate) reversed: bool,
    /// Words at the left and the right end.
    pub(crate) ends: (String, String),
    /// Heading of the column of numbers.
    pub(crate) column: String,
    /// Words at the ring and the mark of the first row that is moved.
    pub(crate) words: Option<(&'static str, &'static str)>,
}

const TOP: f64 = 34.0;
const BOTTOM: f64 = 62.0;

/// Draws the figure at a width.
///
/// # Errors
/// [`ReportError::Axis`] where a value is not finite, [`ReportError::Draw`] from the library.
pub(crate) fn figure(data: &Deviations, width: f64) -> Result<Drawing, ReportError> {
    let has_found = data.rows.iter().any(|r| r.found.is_some());
    let pitch = match (has_found, data.words.is_some()) {
        (true, true) => 52.0,
        (true, false) => 44.0,
        _ => 34.0,
    };
    let height = TOP + pitch * data.rows.len() as f64 + BOTTOM;
    let narrow = width <= NARROW;
    let column = data.rows.iter().map(|r| r.text.as_str()).chain([data.column.as_str()]);
    let right =
        column.map(|t| text_width(t, TEXT, true)).fold(0.0, f64::max) + if narrow { 10.0 } else { 24.0 };
    let left = if narrow { 58.0 } else { 84.0 };
    draw("deviations", width, height, |canvas| {
        let panel = Rect { x0: left, y0: TOP, x1: width - right, y1: height - BOTTOM };
        let scale = axis(data, panel)?;
        canvas.text((width - 2.0, TOP / 2.0 - 4.0), &data.column, muted(Anchor::End))?;
        band(canvas, data, &scale, panel)?;
        zero(canvas, &scale, panel)?;
        for (i, row) in data.rows.iter().enumerate() {
            let y = panel.y0 + pitch * (i as f64 + 0.5);
            rows(canvas, row, &scale, y, panel)?;
        }
        say(canvas, data, &scale, panel, pitch)?;
        bottom_axis(canvas, &scale, panel.y1, &scale.signed_ticks(if narrow { 52.0 } else { 84.0 }))?;
        feet(canvas, data, panel)
    })
}

fn axis(data: &Deviations, panel: Rect) -> Result<Scale, ReportError> {
    let mut low = 0.0f64;
    let mut high = 0.0f64;
    let outer = |r: &Row| r.value.map(|(v, u)| (v, r.outer.unwrap_or(u).max(u)));
    for (v, u) in data.rows.iter().flat_map(|r| outer(r).into_iter().chain(r.found).chain(r.value)) {
        if !(v.is_finite() && u.is_finite()) {
            return Err(ReportError::Axis { axis: "deviation", low: v, high: u });
        }
        low = low.min(v - u.abs());
        high = high.max(v + u.abs());
    }
    if let Some((from, to)) = band_place(data) {
        low = low.min(from);
        high = high.max(to);
    }
    let range = widen((low, high), 0.06, f64::MIN_POSITIVE);
    let range = if range.1 > range.0 && range.1 - range.0 > 1e-12 { range } else { (-1.0, 1.0) };
    let ends = if data.reversed { (panel.x1, panel.x0) } else { (panel.x0, panel.x1) };
    Scale::new("deviation", range, ends)
}

/// Where the band lies: over as many dots as it can hold, centred on them; the nearest to zero among equals.
pub(crate) fn band_place(data: &Deviations) -> Option<(f64, f64)> {
    let width = data.limit.as_ref().map(|l| l.0).filter(|w| w.is_finite() && *w > 0.0)?;
    let values: Vec<f64> = data.rows.iter().filter_map(|r| r.value).map(|v| v.0).collect();
    if let [a, b] = values[..]
        && (a - b).abs() > width
    {
        // Of two nobody can say which one is out of step: the band takes neither's side.
        let middle = (a + b) / 2.0;
        return Some((middle - width / 2.0, middle + width / 2.0));
    }
    let mut best: Option<(usize, f64)> = None;
    for from in &values {
        let inside: Vec<f64> = values.iter().copied().filter(|v| v >= from && *v <= from + width).collect();
        let top = inside.iter().copied().fold(*from, f64::max);
        let middle = (from + top) / 2.0;
        let better =
            best.is_none_or(|(n, m)| inside.len() > n || (inside.len() == n && middle.abs() < m.abs()));
        if better {
            best = Some((inside.len(), middle));
        }
    }
    let middle = best.map_or(0.0, |b| b.1);
    Some((middle - width / 2.0, middle + width / 2.0))
}

fn band(canvas: &mut Canvas<'_>, data: &Deviations, scale: &Scale, panel: Rect) -> Drawn {
    let (Some((from, to)), Some((_, label))) = (band_place(data), &data.limit) else { return Ok(()) };
    let (a, b) = (scale.px(from), scale.px(to));
    let (x0, x1) = (a.min(b), a.max(b));
    canvas.rect(Rect { x0, x1, ..panel }, Paint::Band, 1.0)?;
    for x in [x0, x1] {
        canvas.line((x, panel.y0 - 4.0), (x, panel.y1), HAIR, Paint::BandEdge)?;
    }
    canvas.line((x0, panel.y0 - 4.0), (x1, panel.y0 - 4.0), HAIR, Paint::BandEdge)?;
    let half = text_width(label, SMALL, false) / 2.0 + 2.0;
    let right = panel.x1.max(half * 2.0);
    let x = ((x0 + x1) / 2.0).clamp(half, (right - half).max(half));
    canvas.text((x, panel.y0 - 16.0), label, muted(Anchor::Middle))
}

fn zero(canvas: &mut Canvas<'_>, scale: &Scale, panel: Rect) -> Drawn {
    if !scale.holds(0.0) {
        return Ok(());
    }
    let x = scale.px(0.0);
    canvas.line((x, panel.y0), (x, panel.y1), HAIR, Paint::Muted)
}

fn rows(canvas: &mut Canvas<'_>, row: &Row, scale: &Scale, y: f64, panel: Rect) -> Drawn {
    let label = Ink { bold: true, ..ink(Paint::Label(row.cylinder), Anchor::End) };
    canvas.text((panel.x0 - 12.0, y), &cylinder_label(row.cylinder), label)?;
    canvas.text((canvas.width - 2.0, y), &row.text, ink(Paint::Label(row.cylinder), Anchor::End))?;
    if let Some((v, u)) = row.found {
        let above = y - 13.0;
        if let Some((now, _)) = row.value.filter(|_| !row.moved) {
            canvas.line((scale.px(v), above), (scale.px(now), y), HAIR, Paint::Muted)?;
        }
        interval(canvas, scale, (v, u), above, 1.0, 3.0, Paint::Muted)?;
        canvas.circle((scale.px(v), above), 4.0, None, Paint::Paper)?;
        canvas.circle((scale.px(v), above), 3.4, Some(1.2), Paint::Muted)?;
    }
    if let (true, Some((from, _)), Some((to, _))) = (row.moved, row.found, row.value) {
        arrow(canvas, (scale.px(from), scale.px(to)), y - 13.0)?;
    }
    if let Some((v, u)) = row.value {
        if let Some(outer) = row.outer.filter(|o| *o > u && u > 0.0) {
            interval(canvas, scale, (v, outer), y, 1.0, 3.0, Paint::Mark(row.cylinder))?;
        }
        interval(canvas, scale, (v, u), y, INTERVAL, 5.0, Paint::Mark(row.cylinder))?;
        marker(canvas, (scale.px(v), y), MARKER * 1.1, row.cylinder)?;
    }
    Ok(())
}

/// From a ring to above its mark; nothing where they are too close for one.
fn arrow(canvas: &mut Canvas<'_>, (from, to): (f64, f64), y: f64) -> Drawn {
    let way = (to - from).signum();
    if !(to - from).is_finite() || (to - from).abs() < 26.0 {
        return Ok(());
    }
    canvas.line((from + 7.0 * way, y), (to - 6.0 * way, y), 1.2, Paint::Muted)?;
    canvas.area(&[(to, y), (to - 8.0 * way, y + 3.6), (to - 8.0 * way, y - 3.6)], Paint::Muted, 1.0)
}

/// The words at the first row that is moved.
fn say(canvas: &mut Canvas<'_>, data: &Deviations, scale: &Scale, panel: Rect, pitch: f64) -> Drawn {
    let Some((now, then)) = data.words else { return Ok(()) };
    let Some((i, row)) = data.rows.iter().enumerate().find(|(_, r)| r.moved) else { return Ok(()) };
    let y = panel.y0 + pitch * (i as f64 + 0.5);
    for (value, word, at) in [(row.found, now, y - 23.0), (row.value, then, y + 15.0)] {
        if let Some((v, _)) = value {
            let half = text_width(word, SMALL, false) / 2.0;
            let mut x = scale.px(v).clamp(panel.x0 + half, (panel.x1 - half).max(panel.x0 + half));
            // The line at zero would run through the word.
            let zero = scale.px(0.0);
            if scale.holds(0.0) && (x - zero).abs() < half + 4.0 {
                x = if x >= zero { zero + half + 5.0 } else { zero - half - 5.0 };
            }
            canvas.text((x, at), word, muted(Anchor::Middle))?;
        }
    }
    Ok(())
}

fn interval(
    canvas: &mut Canvas<'_>,
    scale: &Scale,
    (v, u): (f64, f64),
    y: f64,
    stroke: f64,
    cap: f64,
    paint: Paint,
) -> Drawn {
    if u <= 0.0 {
        return Ok(());
    }
    let (a, b) = (scale.px(v - u), scale.px(v + u));
    canvas.line((a, y), (b, y), stroke, paint)?;
    for x in [a, b] {
        canvas.line((x, y - cap), (x, y + cap), stroke, paint)?;
    }
    Ok(())
}

fn feet(canvas: &mut Canvas<'_>, data: &Deviations, panel: Rect) -> Drawn {
    let y = panel.y1 + 32.0;
    let (left, right) = (format!("← {}", data.ends.0), format!("{} →", data.ends.1));
    let room = panel.x1 - panel.x0;
    let need = text_width(&left, SMALL, false) + text_width(&right, SMALL, false) + 16.0;
    // Where the panel is too small for both words they take the whole width of the figure.
    let (x0, x1) = if need > room { (2.0, canvas.width - 2.0) } else { (panel.x0, panel.x1) };
    canvas.text((x0, y), &left, muted(Anchor::Start))?;
    canvas.text((x1, y), &right, muted(Anchor::End))?;
    let half = text_width(&data.axis, TEXT, false) / 2.0;
    let middle = ((panel.x0 + panel.x1) / 2.0).clamp(half, (canvas.width - half).max(half));
    canvas.text((middle, y + 19.0), &data.axis, ink(Paint::Ink, Anchor::Middle))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn data(values: &[f64], limit: f64) -> Deviations {
        Deviations {
            rows: values
                .iter()
                .enumerate()
                .map(|(i, v)| Row {
                    cylinder: i as u32 + 1,
                    value: Some((*v, 0.1)),
                    outer: None,
                    text: String::new(),
                    found: None,
                    moved: false,
                })
                .collect(),
            limit: Some((limit, "limit".to_owned())),
            axis: "kPa".to_owned(),
            reversed: false,
            ends: ("less".to_owned(), "more".to_owned()),
            column: String::new(),
            words: None,
        }
    }

    /// A band fixed at half the limit around zero would put a cylinder outside although the spread is inside.
    #[test]
    fn the_band_holds_every_dot_of_an_even_engine() {
        let (from, to) = band_place(&data(&[0.9, 0.0, 0.0, -0.1], 1.3)).unwrap_or((0.0, 0.0));
        assert!(from < -0.1 && to > 0.9 && (to - from - 1.3).abs() < 1e-12);
    }

    #[test]
    fn the_band_leaves_out_the_one_that_is_off() {
        let (from, to) = band_place(&data(&[0.1, 0.0, 2.4, -0.1], 1.3)).unwrap_or((0.0, 0.0));
        assert!(from < -0.1 && to > 0.1 && to < 2.4);
    }

    #[test]
    fn values_that_are_not_finite_are_refused() {
        let mut bad = data(&[0.1, f64::NAN], 1.3);
        assert!(figure(&bad, 860.0).is_err());
        bad.rows[1].value = Some((0.0, f64::INFINITY));
        assert!(figure(&bad, 860.0).is_err());
    }
}
