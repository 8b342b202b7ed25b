//! Pages: view model and figures into one self-contained HTML file, and the same figures as picture files.
//!
//! `shell` is what all pages share (head, policy, style, script, embedded result); each kind of page has a file of
//! its own with the figures it places and the template that orders them.

mod compare;
mod fleet;
mod lesson;
mod plan;
mod review;
mod shell;

use minijinja::Value;
use serde::Serialize;

use crate::error::ReportError;
use crate::figure::canvas::Drawing;
use crate::units::PageUnit;
use crate::{raster, svg};

pub use compare::{CompareLinks, compare_json, compare_page};
pub use fleet::{fleet_json, fleet_page};
pub use lesson::{LessonCheck, LessonFacts, LessonSeries, key_page, worksheet_page};
pub use plan::{plan_json, plan_page};
pub(crate) use review::{DATA_ID, embedded};
pub use review::{review_json, review_page};

/// What a caller may choose about a page.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PageOptions {
    /// Unit of pressures; the recording's own where `None`.
    pub unit: Option<PageUnit>,
    /// Leave the picture files out (they cost most of the time).
    pub without_png: bool,
}

/// A figure as a file of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Short name: `deviations`, `adjusting`, `trace`, `pulse` of a review, `expected` of a plan.
    pub name: &'static str,
    /// SVG on white.
    pub svg: String,
    /// PNG at two pixels a CSS pixel; empty when it was not asked for.
    pub png: Vec<u8>,
    /// What the figure says, in words.
    pub alt: String,
}

/// A finished page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// The whole page, one file.
    pub html: String,
    /// Its figures.
    pub figures: Vec<Figure>,
}

/// A figure as the template takes it.
#[derive(Debug, Clone, Serialize)]
struct Placed {
    name: &'static str,
    number: usize,
    caption: String,
    wide: Value,
    narrow: Value,
}

/// A figure that was drawn at both widths and has not been placed yet.
#[derive(Debug, Clone)]
struct Drawn {
    name: &'static str,
    alt: String,
    caption: String,
    wide: Drawing,
    narrow: Drawing,
}

/// Numbers the figures in the order of the page: what the template places, and the files beside the page (without
/// their pictures, see [`pictures`]).
fn place(drawn: Vec<Drawn>) -> (Vec<Placed>, Vec<Figure>) {
    let number = |(at, d): (usize, Drawn)| {
        let placed = Placed {
            name: d.name,
            number: at + 1,
            caption: d.caption,
            wide: Value::from_safe_string(svg::inline(&d.wide, "wide", &d.alt)),
            narrow: Value::from_safe_string(svg::inline(&d.narrow, "narrow", &d.alt)),
        };
        (placed, Figure { name: d.name, svg: svg::standalone(&d.wide), png: Vec::new(), alt: d.alt })
    };
    drawn.into_iter().enumerate().map(number).unzip()
}

/// Rasterises the figures side by side; each depends on its own SVG alone.
fn pictures(figures: &mut [Figure]) -> Result<(), ReportError> {
    std::thread::scope(|scope| {
        let work: Vec<_> = figures
            .iter_mut()
            .map(|f| {
                scope.spawn(move || {
                    f.png = raster::png(f.name, &f.svg)?;
                    Ok(())
                })
            })
            .collect();
        work.into_iter().try_for_each(|w| {
            w.join().unwrap_or_else(|_| {
                Err(ReportError::Raster {
                    figure: String::new(),
                    reason: "the work was broken off".to_owned(),
                })
            })
        })
    })
}
