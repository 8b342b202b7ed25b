//! Picture files: the same SVG that a page shows, turned into pixels with the shipped font.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use crate::error::ReportError;
use crate::font;
use crate::style::{FONT, PNG_SCALE};

/// PNG at two pixels a CSS pixel.
///
/// # Errors
/// [`ReportError::Raster`] when the SVG cannot be read or has no extent.
pub(crate) fn png(figure: &str, svg: &str) -> Result<Vec<u8>, ReportError> {
    let fail = |reason: String| ReportError::Raster { figure: figure.to_owned(), reason };
    let options =
        Options { font_family: FONT.to_owned(), fontdb: font::database(), ..Options::default() };
    let tree = Tree::from_str(svg, &options).map_err(|e| fail(e.to_string()))?;
    let size = tree.size();
    let (w, h) = ((size.width() * PNG_SCALE).round() as u32, (size.height() * PNG_SCALE).round() as u32);
    let mut map = Pixmap::new(w, h).ok_or_else(|| fail(format!("{w} by {h} pixels")))?;
    resvg::render(&tree, Transform::from_scale(PNG_SCALE, PNG_SCALE), &mut map.as_mut());
    map.encode_png().map_err(|e| fail(e.to_string()))
}
