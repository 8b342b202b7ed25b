//! What can go wrong while a page is made.

use std::path::PathBuf;

/// Why a page or a figure could not be made or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReportError {
    /// An axis was asked for with a bound that is not finite, or with no extent.
    #[error("axis {axis}: the range {low} to {high} cannot be drawn")]
    Axis {
        /// Which axis.
        axis: &'static str,
        /// Lower bound asked for.
        low: f64,
        /// Upper bound asked for.
        high: f64,
    },
    /// The drawing library refused.
    #[error("figure {figure}: {reason}")]
    Draw {
        /// Name of the figure.
        figure: &'static str,
        /// What the library said.
        reason: String,
    },
    /// The SVG could not be turned into pixels.
    #[error("picture of figure {figure}: {reason}")]
    Raster {
        /// Name of the figure.
        figure: String,
        /// What the library said.
        reason: String,
    },
    /// One of the fonts shipped with the program could not be read.
    #[error("font {font} shipped with the program cannot be read")]
    Font {
        /// File name of the font.
        font: &'static str,
    },
    /// The page template failed.
    #[error("page template: {source}")]
    Template {
        /// Cause.
        #[from]
        source: minijinja::Error,
    },
    /// The result could not be written as JSON.
    #[error("result as JSON: {source}")]
    Json {
        /// Cause.
        #[from]
        source: serde_json::Error,
    },
    /// A file could not be written.
    #[error("{}: {source}", path.display())]
    Write {
        /// Where.
        path: PathBuf,
        /// Cause.
        source: std::io::Error,
    },
}
