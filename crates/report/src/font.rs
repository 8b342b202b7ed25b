//! The fonts that we ship: registered for measuring and drawing, loaded for rasterising, embedded in pages.
//!
//! One family (Noto Sans with the signs of Noto Sans Math, SIL Open Font License 1.1, see `fonts/OFL.txt`), regular
//! and bold, cut down to Latin, Greek, Cyrillic, punctuation, arrows and the signs of measured values.

use std::sync::{Arc, OnceLock};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use plotters::style::{FontFamily, FontStyle, TextStyle, register_font};
use resvg::usvg::fontdb;

use crate::error::ReportError;
use crate::style::FONT;

const REGULAR: &[u8] = include_bytes!("../fonts/NotoSans-Regular.ttf");
const BOLD: &[u8] = include_bytes!("../fonts/NotoSans-Bold.ttf");
const REGULAR_WOFF2: &[u8] = include_bytes!("../fonts/NotoSans-Regular.woff2");
const BOLD_WOFF2: &[u8] = include_bytes!("../fonts/NotoSans-Bold.woff2");

/// plotters-svg writes a font size of `size / 1.24`, so a size is multiplied by it before it is handed over.
pub(crate) const PLOTTERS_SIZE: f64 = 1.24;
/// Height of the font over its em square ((ascent - descent) / units per em = (1069 + 293) / 1000): plotters measures
/// with the size as height, browsers and rasterisers draw with the size as em.
const HEIGHT_PER_EM: f64 = 1.362;
/// Share of the em square that capital letters rise above the base line.
pub(crate) const CAP_HEIGHT: f64 = 0.714;

static REGISTERED: OnceLock<Result<(), &'static str>> = OnceLock::new();
static DATABASE: OnceLock<Arc<fontdb::Database>> = OnceLock::new();

/// Makes the fonts known to the drawing library.
///
/// # Errors
/// [`ReportError::Font`] when the shipped bytes are no font.
pub(crate) fn register() -> Result<(), ReportError> {
    REGISTERED
        .get_or_init(|| {
            register_font(FONT, FontStyle::Normal, REGULAR).map_err(|_| "NotoSans-Regular.ttf")?;
            register_font(FONT, FontStyle::Bold, BOLD).map_err(|_| "NotoSans-Bold.ttf")
        })
        .map_err(|font| ReportError::Font { font })
}

/// The same fonts for the rasteriser; no font of the host is looked at.
pub(crate) fn database() -> Arc<fontdb::Database> {
    DATABASE
        .get_or_init(|| {
            let mut db = fontdb::Database::new();
            db.load_font_data(REGULAR.to_vec());
            db.load_font_data(BOLD.to_vec());
            db.set_sans_serif_family(FONT);
            Arc::new(db)
        })
        .clone()
}

/// Style for the drawing library at `size` canvas units.
pub(crate) fn text_style(size: f64, bold: bool) -> TextStyle<'static> {
    let style = if bold { FontStyle::Bold } else { FontStyle::Normal };
    TextStyle::from((FontFamily::Name(FONT), size * PLOTTERS_SIZE, style))
}

/// Width of a text in the units of `size`; an estimate a little on the large side.
pub(crate) fn text_width(text: &str, size: f64, bold: bool) -> f64 {
    // Measured large and scaled down: the library rounds to whole units.
    if register().is_err() {
        return 0.6 * size * text.chars().count() as f64;
    }
    let big = 1000.0;
    let measured = text_style(big, bold).font.box_size(text).map_or(0, |(w, _)| w);
    f64::from(measured) * HEIGHT_PER_EM / PLOTTERS_SIZE / big * size * 1.01
}

/// `@font-face` rules with the fonts in them.
pub(crate) fn css() -> String {
    let face = |bytes: &[u8], weight: u32| {
        format!(
            "@font-face{{font-family:\"{FONT}\";font-weight:{weight};font-display:block;\
             src:url(data:font/woff2;base64,{}) format(\"woff2\")}}\n",
            STANDARD.encode(bytes)
        )
    };
    face(REGULAR_WOFF2, 400) + &face(BOLD_WOFF2, 700)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn widths_follow_the_font_tables() {
        register().unwrap();
        // Advance of a digit is 572/1000 em in both weights (hmtx table of the font, read with fontTools).
        let w = text_width("0000000000", 10.0, false);
        assert!((w - 57.2).abs() < 1.0, "{w}");
        // The naive measure of the library is smaller by 1.24/1.362 and lets texts run into each other.
        assert!(w > 55.0);
        assert!((text_width("0000000000", 10.0, true) - 57.2).abs() < 1.0);
    }

    #[test]
    fn both_weights_are_in_the_database() {
        let weights: Vec<u16> = database().faces().map(|f| f.weight.0).collect();
        assert_eq!(weights, [400, 700]);
    }
}
