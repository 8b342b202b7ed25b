//! Marks that several figures share: markers, axes, hatching, clipped lines, labels that keep clear of each other.

use crate::figure::canvas::{Anchor, Canvas, Drawn, Ink, Point, Rect};
use crate::figure::scale::{Scale, Tick};
use crate::font::text_width;
use crate::style::{HAIR, MARKER, Paint, SMALL, TEXT, TICK, second_set, style_index};

/// Ordinary text.
pub(crate) fn ink(paint: Paint, anchor: Anchor) -> Ink {
    Ink { size: TEXT, bold: false, paint, anchor }
}

/// Small muted text.
pub(crate) fn muted(anchor: Anchor) -> Ink {
    Ink { size: SMALL, bold: false, paint: Paint::Muted, anchor }
}

/// Label of a cylinder as figures write it.
pub(crate) fn cylinder_label(cylinder: u32) -> String {
    format!("cyl {cylinder}")
}

/// The marker of a cylinder: its shape, filled for the first six and open for the next six.
pub(crate) fn marker(canvas: &mut Canvas<'_>, at: Point, size: f64, cylinder: u32) -> Drawn {
    let paint = Paint::Mark(cylinder);
    let open = second_set(cylinder);
    let (x, y) = at;
    if style_index(cylinder).is_multiple_of(6) {
        if open {
            canvas.circle(at, size, None, Paint::Paper)?;
            return canvas.circle(at, size - 0.9, Some(1.8), paint);
        }
        return canvas.circle(at, size, None, paint);
    }
    let outline: Vec<Point> =
        shape(style_index(cylinder) % 6).iter().map(|p| (x + p.0 * size, y + p.1 * size)).collect();
    if !open {
        return canvas.area(&outline, paint, 1.0);
    }
    canvas.area(&outline, Paint::Paper, 1.0)?;
    let mut closed = outline;
    closed.extend_from_within(0..2);
    canvas.path(&closed, 1.8, paint)
}

/// Outlines of equal weight around the origin.
fn shape(index: usize) -> &'static [Point] {
    match index {
        1 => &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
        2 => &[(0.0, -1.2), (1.15, 0.85), (-1.15, 0.85)],
        3 => &[(0.0, -1.3), (1.15, 0.0), (0.0, 1.3), (-1.15, 0.0)],
        4 => &[(0.0, 1.2), (1.15, -0.85), (-1.15, -0.85)],
        _ => &[
            (-0.4, -1.2),
            (0.4, -1.2),
            (0.4, -0.4),
            (1.2, -0.4),
            (1.2, 0.4),
            (0.4, 0.4),
            (0.4, 1.2),
            (-0.4, 1.2),
            (-0.4, 0.4),
            (-1.2, 0.4),
            (-1.2, -0.4),
            (-0.4, -0.4),
        ],
    }
}

/// Room right of a panel for the tags of these cylinders and the lines that lead to them.
pub(crate) fn tag_room(cylinders: impl Iterator<Item = u32>) -> f64 {
    let widest = cylinders.map(|c| text_width(&cylinder_label(c), TEXT, false)).fold(0.0, f64::max);
    if widest > 0.0 { 8.0 + 2.0 * MARKER + 5.0 + widest + 2.0 } else { 10.0 }
}

/// Marker and label of a cylinder side by side.
pub(crate) fn tag(canvas: &mut Canvas<'_>, at: Point, cylinder: u32) -> Drawn {
    marker(canvas, (at.0 + MARKER, at.1), MARKER * 0.85, cylinder)?;
    canvas.text(
        (at.0 + 2.0 * MARKER + 5.0, at.1),
        &cylinder_label(cylinder),
        ink(Paint::Label(cylinder), Anchor::Start),
    )
}

/// Axis under a panel.
pub(crate) fn bottom_axis(canvas: &mut Canvas<'_>, scale: &Scale, y: f64, ticks: &[Tick]) -> Drawn {
    canvas.line((scale.from, y), (scale.to, y), HAIR, Paint::Ink)?;
    for tick in ticks {
        let x = scale.px(tick.value);
        canvas.line((x, y), (x, y + TICK), HAIR, Paint::Ink)?;
        canvas.text((x, y + TICK + 10.0), &tick.label, muted(Anchor::Middle))?;
    }
    Ok(())
}

/// Axis left of a panel, with light lines across it.
pub(crate) fn left_axis(canvas: &mut Canvas<'_>, scale: &Scale, x: f64, right: f64, ticks: &[Tick]) -> Drawn {
    for tick in ticks {
        let y = scale.px(tick.value);
        canvas.line((x, y), (right, y), HAIR, Paint::Grid)?;
        canvas.text((x - TICK - 3.0, y), &tick.label, muted(Anchor::End))?;
        canvas.line((x - TICK, y), (x, y), HAIR, Paint::Ink)?;
    }
    canvas.line((x, scale.from), (x, scale.to), HAIR, Paint::Ink)
}

/// Slanted lines over a rectangle.
pub(crate) fn hatch(canvas: &mut Canvas<'_>, r: Rect) -> Drawn {
    const GAP: f64 = 9.0;
    let (w, h) = (r.x1 - r.x0, r.y1 - r.y0);
    if !(w > 0.5 && h > 0.5) {
        return Ok(());
    }
    // Lines x + y = const, at the same places in every rectangle so that neighbours join.
    let mut k = ((r.x0 + r.y0) / GAP).ceil() * GAP;
    while k < r.x1 + r.y1 {
        let (xa, xb) = ((k - r.y1).max(r.x0), (k - r.y0).min(r.x1));
        if xb > xa {
            canvas.line((xa, k - xa), (xb, k - xb), 0.8, Paint::Hatch)?;
        }
        k += GAP;
    }
    Ok(())
}

/// The parts of a line that lie inside a rectangle (Liang and Barsky's clipping of each segment); a point that is
/// not finite ends a part.
pub(crate) fn clipped(points: &[Point], r: Rect) -> Vec<Vec<Point>> {
    let mut parts: Vec<Vec<Point>> = Vec::new();
    let mut open = false;
    for pair in points.windows(2) {
        let Some((a, b)) = clip_segment(pair[0], pair[1], r) else {
            open = false;
            continue;
        };
        match parts.last_mut() {
            Some(part) if open && part.last() == Some(&a) => part.push(b),
            _ => parts.push(vec![a, b]),
        }
        open = b == pair[1];
    }
    parts
}

fn clip_segment(a: Point, b: Point, r: Rect) -> Option<(Point, Point)> {
    if ![a.0, a.1, b.0, b.1].iter().all(|v| v.is_finite()) {
        return None;
    }
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut t0, mut t1) = (0.0f64, 1.0f64);
    for (p, q) in [(-dx, a.0 - r.x0), (dx, r.x1 - a.0), (-dy, a.1 - r.y0), (dy, r.y1 - a.1)] {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            t0 = t0.max(q / p);
        } else {
            t1 = t1.min(q / p);
        }
    }
    if t0 > t1 {
        return None;
    }
    let at = |t: f64| {
        if t == 0.0 {
            a
        } else if t == 1.0 {
            b
        } else {
            (a.0 + t * dx, a.1 + t * dy)
        }
    };
    Some((at(t0), at(t1)))
}

/// Moves wanted positions apart so that neighbours keep `gap`, inside `low..high` where there is room, order kept and
/// each cluster centred on its values (least squares with a minimum distance: pool adjacent violators).
pub(crate) fn spread_out(wanted: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    // Blocks of (sum, count) of positions less their place in the row.
    let mut blocks: Vec<(f64, usize)> = Vec::new();
    for (place, i) in order.iter().enumerate() {
        blocks.push((wanted[*i] - gap * place as f64, 1));
        while let [.., a, b] = blocks.as_slice() {
            if a.0 / a.1 as f64 <= b.0 / b.1 as f64 {
                break;
            }
            let joined = (a.0 + b.0, a.1 + b.1);
            blocks.truncate(blocks.len() - 2);
            blocks.push(joined);
        }
    }
    let means = blocks.iter().flat_map(|b| std::iter::repeat_n(b.0 / b.1 as f64, b.1));
    let room = high - gap * wanted.len().saturating_sub(1) as f64;
    let mut placed = vec![0.0; wanted.len()];
    for ((place, i), mean) in order.iter().enumerate().zip(means) {
        placed[*i] = mean.min(room).max(low) + gap * place as f64;
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_keep_their_distance() {
        let placed = spread_out(&[10.0, 10.5, 11.0, 90.0, 10.2], 13.0, 0.0, 100.0);
        let mut sorted = placed.clone();
        sorted.sort_by(f64::total_cmp);
        assert!(sorted.windows(2).all(|w| w[1] - w[0] >= 13.0 - 1e-9), "{placed:?}");
        assert_eq!(spread_out(&[50.0, 50.0], 10.0, 0.0, 100.0), [45.0, 55.0]);
        assert_eq!(spread_out(&[99.0, 99.0], 10.0, 0.0, 100.0), [90.0, 100.0]);
    }

    #[test]
    fn a_line_that_leaves_the_panel_is_cut_not_bent_along_its_edge() {
        let r = Rect { x0: 0.0, y0: 0.0, x1: 10.0, y1: 10.0 };
        let parts = clipped(&[(0.0, 5.0), (4.0, 5.0), (5.0, 25.0), (6.0, 25.0), (8.0, 5.0), (9.0, 5.0)], r);
        assert_eq!(parts.len(), 2);
        assert_eq!(parts[0].last(), Some(&(4.25, 10.0)));
        assert!(clipped(&[(0.0, f64::NAN), (1.0, 1.0)], r).is_empty());
    }
}
