//! Picture files: the same SVG that a page shows, turned into pixels with the shipped font.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use crate::error::ReportError;
use crate::style::{FONT, PNG_SCALE};
use crate::{font, palette};

/// PNG at two pixels a CSS pixel.
///
/// # Errors
/// [`ReportError::Raster`] when the SVG cannot be read or has no extent.
pub(crate) fn png(figure: &str, svg: &str) -> Result<Vec<u8>, ReportError> {
    let fail = |reason: String| ReportError::Raster { figure: figure.to_owned(), reason };
    let options = Options { font_family: FONT.to_owned(), fontdb: font::database(), ..Options::default() };
    let tree = Tree::from_str(svg, &options).map_err(|e| fail(e.to_string()))?;
    let size = tree.size();
    let (w, h) = ((size.width() * PNG_SCALE).round() as u32, (size.height() * PNG_SCALE).round() as u32);
    let mut map = Pixmap::new(w, h).ok_or_else(|| fail(format!("{w} by {h} pixels")))?;
    resvg::render(&tree, Transform::from_scale(PNG_SCALE, PNG_SCALE), &mut map.as_mut());
    pack(&map).map_err(|e| fail(e.to_string()))
}

/// Packs opaque pixels as a PNG with a palette and the resolution at which the picture has its size on the page.
fn pack(map: &Pixmap) -> Result<Vec<u8>, png::EncodingError> {
    let image = palette::reduce(map.pixels().iter().map(|p| [p.red(), p.green(), p.blue()]));
    let mut out = Vec::with_capacity(64 * 1024);
    let mut encoder = png::Encoder::new(&mut out, map.width(), map.height());
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_palette(image.palette);
    // CSS: 96 pixels an inch, so this many pixels a metre.
    let density = (96.0 * f64::from(PNG_SCALE) / 0.0254).round() as u32;
    let unit = png::Unit::Meter;
    encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: density, yppu: density, unit }));
    encoder.set_filter(png::Filter::NoFilter);
    encoder.set_deflate_compression(png::DeflateCompression::Level(4));
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&image.pixels)?;
    writer.finish()?;
    Ok(out)
}
