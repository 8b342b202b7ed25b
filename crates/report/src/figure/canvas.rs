//! A drawing surface in CSS pixels over the SVG back end of plotters.
//!
//! Everything a figure draws goes through here: coordinates are checked to be finite, every text leaves its estimated
//! box behind so that tests can look for overlaps, and colours are the stand-ins of [`crate::style`].

use evenpull_core::safe_text::is_hostile;
use plotters::backend::{DrawingBackend, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, RGBColor, ShapeStyle};

use crate::error::ReportError;
use crate::figure::scale::Scale;
use crate::font;
use crate::style::{Paint, SUB};

/// A point in CSS pixels.
pub(crate) type Point = (f64, f64);

/// A rectangle in CSS pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Rect {
    /// Left edge.
    pub(crate) x0: f64,
    /// Upper edge.
    pub(crate) y0: f64,
    /// Right edge.
    pub(crate) x1: f64,
    /// Lower edge.
    pub(crate) y1: f64,
}

impl Rect {
    #[cfg(test)]
    /// Whether two rectangles share more than an edge.
    pub(crate) fn overlaps(&self, other: &Rect) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }
}

/// Where a text stands against its point, horizontally; vertically it is always centred on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    /// Text starts at the point.
    Start,
    /// Text is centred on the point.
    Middle,
    /// Text ends at the point.
    End,
}

/// How a text is drawn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ink {
    /// Size, CSS pixels.
    pub(crate) size: f64,
    /// Bold.
    pub(crate) bold: bool,
    /// Paint.
    pub(crate) paint: Paint,
    /// Anchor.
    pub(crate) anchor: Anchor,
}

/// A scale of a figure for reading values back from places, in the units of the SVG.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub(crate) struct AxisNote {
    from: f64,
    to: f64,
    low: f64,
    high: f64,
    /// Whether the axis is time in seconds.
    time: bool,
}

/// A panel of a figure for reading values back from places, in the units of the SVG.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub(crate) struct PanelNote {
    y0: f64,
    y1: f64,
    low: f64,
    high: f64,
    flip: bool,
    decimals: usize,
    unit: String,
}

/// What a page needs to read values back from a figure.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Notes {
    /// Horizontal axis.
    pub(crate) axis: Option<AxisNote>,
    /// Panels from above.
    pub(crate) panels: Vec<PanelNote>,
}

impl Notes {
    /// Notes the horizontal axis.
    pub(crate) fn set_axis(&mut self, scale: &Scale, time: bool) {
        let (from, to) = (scale.from * SUB, scale.to * SUB);
        self.axis = Some(AxisNote { from, to, low: scale.low, high: scale.high, time });
    }

    /// Notes a panel.
    pub(crate) fn add_panel(&mut self, scale: &Scale, unit: &str) {
        let (a, b) = (scale.from * SUB, scale.to * SUB);
        // One pixel of the screen is the finest that can be read back.
        let step = (scale.high - scale.low) / (scale.from - scale.to).abs();
        let decimals = (-step.log10().floor()).clamp(0.0, 4.0) as usize;
        let flip = a < b;
        let (low, high, unit) = (scale.low, scale.high, unit.to_owned());
        self.panels.push(PanelNote { y0: a.min(b), y1: a.max(b), low, high, flip, decimals, unit });
    }
}

/// A finished figure before its stand-in colours are replaced.
#[derive(Debug, Clone)]
pub(crate) struct Drawing {
    /// SVG in stand-in colours and sub-pixel units.
    pub(crate) svg: String,
    /// Width, CSS pixels.
    pub(crate) width: f64,
    /// Height, CSS pixels.
    pub(crate) height: f64,
    /// For reading values back.
    pub(crate) notes: Notes,
    /// Estimated boxes of all texts.
    #[cfg_attr(not(test), allow(dead_code))]
    pub(crate) texts: Vec<(String, Rect)>,
}

/// The surface. Obtained from [`draw`].
pub(crate) struct Canvas<'a> {
    back: SVGBackend<'a>,
    texts: Vec<(String, Rect)>,
    figure: &'static str,
    /// For reading values back.
    pub(crate) notes: Notes,
    /// Width, CSS pixels.
    pub(crate) width: f64,
}

/// Result of drawing steps.
pub(crate) type Drawn = Result<(), ReportError>;

/// Draws one figure.
///
/// # Errors
/// What `fill` returns, or [`ReportError::Font`].
pub(crate) fn draw(
    figure: &'static str,
    width: f64,
    height: f64,
    fill: impl FnOnce(&mut Canvas<'_>) -> Drawn,
) -> Result<Drawing, ReportError> {
    font::register()?;
    let mut svg = String::with_capacity(32 * 1024);
    let size = ((width * SUB).round() as u32, (height * SUB).round() as u32);
    let (texts, notes) = {
        let back = SVGBackend::with_string(&mut svg, size);
        let mut canvas = Canvas { back, texts: Vec::new(), figure, notes: Notes::default(), width };
        fill(&mut canvas)?;
        canvas.back.present().map_err(|e| ReportError::Draw { figure, reason: e.to_string() })?;
        (std::mem::take(&mut canvas.texts), std::mem::take(&mut canvas.notes))
    };
    Ok(Drawing { svg, width, height, notes, texts })
}

fn colour(paint: Paint, alpha: f64) -> plotters::style::RGBAColor {
    let (r, g, b) = paint.stand_in();
    RGBColor(r, g, b).mix(alpha)
}

/// A text from a log may hold what no XML file can, or turn the direction of writing.
fn printable(text: &str) -> String {
    let odd = |c: char| is_hostile(c) || matches!(c, '\u{fffe}'..='\u{ffff}');
    text.chars().map(|c| if odd(c) { '\u{fffd}' } else { c }).collect()
}

fn unit(p: Point) -> (i32, i32) {
    ((p.0 * SUB).round() as i32, (p.1 * SUB).round() as i32)
}

impl Canvas<'_> {
    fn check<E: std::fmt::Display>(&self, done: Result<(), E>) -> Drawn {
        done.map_err(|e| ReportError::Draw { figure: self.figure, reason: e.to_string() })
    }

    fn finite(&self, points: &[Point]) -> Drawn {
        if points.iter().all(|p| p.0.is_finite() && p.1.is_finite()) {
            Ok(())
        } else {
            Err(ReportError::Draw { figure: self.figure, reason: "a point is not finite".to_owned() })
        }
    }

    /// A straight line.
    pub(crate) fn line(&mut self, from: Point, to: Point, stroke: f64, paint: Paint) -> Drawn {
        self.finite(&[from, to])?;
        let style = self.stroke(stroke, paint, 1.0);
        let done = self.back.draw_line(unit(from), unit(to), &style);
        self.check(done)
    }

    /// A line through points; fewer than two draw nothing.
    pub(crate) fn path(&mut self, points: &[Point], stroke: f64, paint: Paint) -> Drawn {
        self.finite(points)?;
        if points.len() < 2 {
            return Ok(());
        }
        let style = self.stroke(stroke, paint, 1.0);
        let done = self.back.draw_path(points.iter().map(|p| unit(*p)), &style);
        self.check(done)
    }

    /// A filled outline.
    pub(crate) fn area(&mut self, points: &[Point], paint: Paint, alpha: f64) -> Drawn {
        self.finite(points)?;
        if points.len() < 3 {
            return Ok(());
        }
        let style = ShapeStyle { color: colour(paint, alpha), filled: true, stroke_width: 0 };
        let done = self.back.fill_polygon(points.iter().map(|p| unit(*p)), &style);
        self.check(done)
    }

    /// A filled rectangle.
    pub(crate) fn rect(&mut self, r: Rect, paint: Paint, alpha: f64) -> Drawn {
        self.finite(&[(r.x0, r.y0), (r.x1, r.y1)])?;
        let style = ShapeStyle { color: colour(paint, alpha), filled: true, stroke_width: 0 };
        let done = self.back.draw_rect(unit((r.x0, r.y0)), unit((r.x1, r.y1)), &style, true);
        self.check(done)
    }

    /// A disc, or a ring with a stroke.
    pub(crate) fn circle(&mut self, at: Point, radius: f64, ring: Option<f64>, paint: Paint) -> Drawn {
        self.finite(&[at])?;
        let style = ShapeStyle {
            color: colour(paint, 1.0),
            filled: ring.is_none(),
            stroke_width: (ring.unwrap_or(0.0) * SUB).round() as u32,
        };
        let radius = (radius * SUB).round() as u32;
        let done = self.back.draw_circle(unit(at), radius, &style, ring.is_none());
        self.check(done)
    }

    /// A text, vertically centred (capital letters) on its point.
    pub(crate) fn text(&mut self, at: Point, text: &str, ink: Ink) -> Drawn {
        self.finite(&[at])?;
        if text.is_empty() {
            return Ok(());
        }
        let text = &printable(text);
        let w = font::text_width(text, ink.size, ink.bold);
        let x0 = match ink.anchor {
            Anchor::Start => at.0,
            Anchor::Middle => at.0 - w / 2.0,
            Anchor::End => at.0 - w,
        };
        let half = ink.size * font::CAP_HEIGHT / 2.0;
        let below = ink.size * 0.2;
        self.texts.push((text.clone(), Rect { x0, y0: at.1 - half, x1: x0 + w, y1: at.1 + half + below }));
        let h = match ink.anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        let paint = colour(ink.paint, 1.0);
        let style = font::text_style(ink.size * SUB, ink.bold).pos(Pos::new(h, VPos::Top)).color(&paint);
        // The back end puts the base line 0.76 em under the point of a text anchored at its top.
        let top = at.1 + half - 0.76 * ink.size;
        let done = self.back.draw_text(text, &style, unit((at.0, top)));
        self.check(done)
    }

    fn stroke(&self, width: f64, paint: Paint, alpha: f64) -> ShapeStyle {
        ShapeStyle {
            color: colour(paint, alpha),
            filled: false,
            stroke_width: (width * SUB).round().max(1.0) as u32,
        }
    }
}
