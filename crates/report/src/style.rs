//! Every size, colour and font of the figures, in one place.
//!
//! Figures are drawn in *stand-in colours*: values that no reader ever sees and that say what a stroke is for (ink,
//! grid, the line of cylinder 3 ...). [`crate::svg`] replaces them at the end, by real colours for a picture file and
//! by CSS variables for a page, so that one drawing serves light, dark and print.
//!
//! Palette: Okabe and Ito (2008), "Color Universal Design", colour-blind safe. Yellow and black are left out because
//! one of them disappears on paper and the other at night; a marker shape, filled or open, and a dash pattern make
//! twelve cylinders distinct without any colour.

/// Sub-units of one CSS pixel: plotters draws in whole numbers, a tenth of a pixel is fine enough.
pub(crate) const SUB: f64 = 10.0;
/// Width of a figure on a desktop page and in print, CSS pixels.
pub(crate) const WIDE: f64 = 860.0;
/// Width of a figure on a phone, CSS pixels.
pub(crate) const NARROW: f64 = 380.0;
/// Pixels of a picture file for one CSS pixel.
pub(crate) const PNG_SCALE: f32 = 2.0;

/// Family name of the shipped font, in SVG, in CSS and for measuring.
pub(crate) const FONT: &str = "Noto Sans";
/// Size of ordinary text in figures, CSS pixels.
pub(crate) const TEXT: f64 = 13.0;
/// Size of tick labels and remarks.
pub(crate) const SMALL: f64 = 12.0;

/// Stroke of axes.
pub(crate) const HAIR: f64 = 1.0;
/// Stroke of data lines.
pub(crate) const LINE: f64 = 1.6;
/// Stroke of intervals.
pub(crate) const INTERVAL: f64 = 2.2;
/// Half-size of a marker.
pub(crate) const MARKER: f64 = 5.5;
/// Length of a tick.
pub(crate) const TICK: f64 = 5.0;

/// Number of distinct cylinder styles.
pub(crate) const STYLES: u32 = 12;

/// Okabe-Ito colours in the order in which cylinders take them.
pub(crate) const CYLINDER_COLOURS: [&str; 6] =
    ["#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9"];

/// Place of a cylinder among the styles, 0 to 11.
pub(crate) fn style_index(cylinder: u32) -> usize {
    (cylinder.saturating_sub(1) % STYLES) as usize
}

/// Real colour of a cylinder.
pub(crate) fn cylinder_colour(cylinder: u32) -> &'static str {
    CYLINDER_COLOURS[style_index(cylinder) % CYLINDER_COLOURS.len()]
}

/// Whether a cylinder's marker is open and its line dashed.
pub(crate) fn second_set(cylinder: u32) -> bool {
    style_index(cylinder) >= CYLINDER_COLOURS.len()
}

/// What a stroke or a surface is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Paint {
    /// Text and axes.
    Ink,
    /// Remarks and tick labels.
    Muted,
    /// Grid lines.
    Grid,
    /// Ground.
    Paper,
    /// Band of the limit.
    Band,
    /// Edge of that band.
    BandEdge,
    /// Hatching over what was not judged.
    Hatch,
    /// Ground behind what was judged.
    Judged,
    /// Line of a cylinder.
    Line(u32),
    /// Area of a cylinder.
    Area(u32),
    /// Marker of a cylinder.
    Mark(u32),
    /// Text about a cylinder (drawn as ink).
    Label(u32),
}

/// Name of the CSS variable and the colour on white paper of every paint that is no cylinder.
const GROUND: [(Paint, &str, &str); 8] = [
    (Paint::Ink, "--ink", "#1B1D21"),
    (Paint::Muted, "--muted", "#5A5F68"),
    (Paint::Grid, "--grid", "#E3E3E0"),
    (Paint::Paper, "--paper", "#FFFFFF"),
    (Paint::Band, "--band", "#EDEBE3"),
    (Paint::BandEdge, "--band-edge", "#A9A494"),
    (Paint::Hatch, "--hatch", "#C9C9C6"),
    (Paint::Judged, "--judged", "#F6F5F0"),
];

impl Paint {
    /// Stand-in colour.
    pub(crate) fn stand_in(self) -> (u8, u8, u8) {
        let (role, number) = match self {
            Paint::Line(c) => (0xC1, slot(c)),
            Paint::Area(c) => (0xC2, slot(c)),
            Paint::Mark(c) => (0xC3, slot(c)),
            Paint::Label(c) => (0xC4, slot(c)),
            other => (0xC0, GROUND.iter().position(|(p, _, _)| *p == other).unwrap_or(0) as u8),
        };
        (role, number, 0x1D)
    }

    /// The paint of a stand-in colour, if it is one.
    pub(crate) fn from_stand_in(rgb: (u8, u8, u8)) -> Option<Self> {
        let number = u32::from(rgb.1);
        match rgb {
            (0xC0, n, 0x1D) => GROUND.get(usize::from(n)).map(|g| g.0),
            (0xC1, _, 0x1D) => Some(Paint::Line(number)),
            (0xC2, _, 0x1D) => Some(Paint::Area(number)),
            (0xC3, _, 0x1D) => Some(Paint::Mark(number)),
            (0xC4, _, 0x1D) => Some(Paint::Label(number)),
            _ => None,
        }
    }

    /// Colour on white paper.
    pub(crate) fn on_paper(self) -> &'static str {
        match self {
            Paint::Line(c) | Paint::Area(c) | Paint::Mark(c) => cylinder_colour(c),
            Paint::Label(_) => Paint::Ink.on_paper(),
            other => GROUND.iter().find(|g| g.0 == other).map_or("#000000", |g| g.2),
        }
    }

    /// CSS value in a page.
    pub(crate) fn in_page(self) -> String {
        match self {
            Paint::Line(_) | Paint::Area(_) | Paint::Mark(_) => self.on_paper().to_owned(),
            Paint::Label(_) => Paint::Ink.in_page(),
            other => {
                GROUND.iter().find(|g| g.0 == other).map_or_else(String::new, |g| format!("var({})", g.1))
            }
        }
    }

    /// Cylinder that it belongs to.
    pub(crate) fn cylinder(self) -> Option<u32> {
        match self {
            Paint::Line(c) | Paint::Area(c) | Paint::Mark(c) | Paint::Label(c) => Some(c),
            _ => None,
        }
    }
}

/// Cylinder number as one byte; numbers above 240 fold back onto the same style.
fn slot(cylinder: u32) -> u8 {
    if cylinder <= 240 { cylinder as u8 } else { (1 + (cylinder - 1) % STYLES) as u8 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twelve_cylinders_have_twelve_styles() {
        let mut seen: Vec<(&str, bool)> = (1..=12).map(|c| (cylinder_colour(c), second_set(c))).collect();
        seen.sort_unstable();
        seen.dedup();
        assert_eq!(seen.len(), 12);
    }

    #[test]
    fn a_stand_in_finds_its_way_back() {
        for c in [1, 7, 12, 240] {
            for paint in [Paint::Line(c), Paint::Area(c), Paint::Mark(c), Paint::Label(c)] {
                assert_eq!(Paint::from_stand_in(paint.stand_in()), Some(paint));
            }
        }
        for (paint, _, _) in GROUND {
            assert_eq!(Paint::from_stand_in(paint.stand_in()), Some(paint));
        }
        assert_eq!(Paint::from_stand_in((0, 0, 0)), None);
        assert_eq!(cylinder_colour(1000), cylinder_colour(1 + 999 % 12));
    }
}
