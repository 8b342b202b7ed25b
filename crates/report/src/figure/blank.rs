//! A figure to be filled in by hand: one row per cylinder over a ruled scale, nothing on it.

use crate::error::ReportError;
use crate::figure::canvas::{Anchor, Drawing, Rect, draw};
use crate::figure::marks::{bottom_axis, cylinder_label, ink, muted};
use crate::figure::scale::{Scale, round_step};
use crate::style::{HAIR, NARROW, Paint};

/// What the figure needs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Blank {
    /// Cylinders in order.
    pub(crate) cylinders: Vec<u32>,
    /// Half the width of the scale, in the unit of the axis.
    pub(crate) reach: f64,
    /// What the axis shows, with its unit.
    pub(crate) axis: String,
}

const TOP: f64 = 10.0;
const PITCH: f64 = 34.0;
const BOTTOM: f64 = 52.0;

/// Draws the figure at a width.
///
/// # Errors
/// [`ReportError::Axis`] for a scale without width, [`ReportError::Draw`] from the library.
pub(crate) fn figure(data: &Blank, width: f64) -> Result<Drawing, ReportError> {
    let height = TOP + PITCH * data.cylinders.len() as f64 + BOTTOM;
    let narrow = width <= NARROW;
    draw("blank", width, height, |canvas| {
        let left = if narrow { 58.0 } else { 84.0 };
        let panel = Rect { x0: left, y0: TOP, x1: width - 14.0, y1: height - BOTTOM };
        let scale = Scale::new("blank", (-data.reach, data.reach), (panel.x0, panel.x1))?;
        let fine = round_step(2.0 * data.reach / if narrow { 16.0 } else { 40.0 });
        for tick in scale.at_steps(fine, |_| String::new()) {
            let x = scale.px(tick.value);
            canvas.line((x, panel.y0), (x, panel.y1), HAIR, Paint::Grid)?;
        }
        let zero = scale.px(0.0);
        canvas.line((zero, panel.y0), (zero, panel.y1), HAIR, Paint::Ink)?;
        for (i, cylinder) in data.cylinders.iter().enumerate() {
            let y = panel.y0 + PITCH * (i as f64 + 0.5);
            canvas.line((panel.x0, y), (panel.x1, y), HAIR, Paint::Grid)?;
            canvas.text((panel.x0 - 12.0, y), &cylinder_label(*cylinder), ink(Paint::Ink, Anchor::End))?;
        }
        bottom_axis(canvas, &scale, panel.y1, &scale.signed_ticks(if narrow { 52.0 } else { 84.0 }))?;
        let middle = (panel.x0 + panel.x1) / 2.0;
        canvas.text((middle, panel.y1 + 38.0), &data.axis, muted(Anchor::Middle))
    })
}
