//! Reading: bytes in, [`crate::recording::Recording`] out.
//!
//! The way of a file: bytes (bounded, hashed) - unpacked by content - text by its encoding - the table found
//! (delimiter, figures, header, units row) - columns planned from headers and sample cells - rows into columns of
//! figures - times ordered and made an axis - cylinders, units and kinds settled - channels in base units.
//! CAN frames and columnar files join at the columns.
//!
//! Nothing is guessed in silence: what a file does not say and the data do not settle stays open (`kind: None`,
//! a column left out) and is said in a notice.

mod blocks;
mod candump;
mod clock;
mod columns;
mod cylinder;
mod date_order;
mod decimal_commas;
mod decode;
mod error;
mod fast;
mod fill;
mod finish;
mod frame;
mod groups;
mod header;
mod header_rows;
mod headers;
mod isotp;
mod j1979;
mod kind;
mod lines;
mod long;
mod notes;
mod number;
mod numbering;
mod pipeline;
mod plan;
mod possible;
mod preamble;
mod pressures;
mod resolution;
mod rounds;
mod row_lines;
mod rows;
mod sniff;
mod source;
mod style;
mod table;
mod time_axis;
mod time_choice;
mod time_order;
mod time_unit;
mod unit_words;
mod vocabulary;
mod wide;
mod words;

use std::io::Read;
use std::path::Path;

pub use error::ReadError;

use crate::machine::Machine;
use crate::recording::Recording;

/// What a person may say about a file beforehand; by default nothing.
#[derive(Debug, Clone, Default)]
pub struct ReadOptions<'a> {
    /// The machine; its `[columns]` go before every header.
    pub machine: Option<&'a Machine>,
    /// Names of the columns, parted by commas, for a table without a header (or instead of its header).
    pub columns: Option<String>,
    /// Rows per second, for a table without a time.
    pub rate_hz: Option<f64>,
}

/// Reads a recording from a file.
///
/// # Errors
/// [`ReadError`] when the file cannot be opened or holds no recording; lesser defects are notices in the result.
pub fn read_path(path: &Path, options: &ReadOptions<'_>) -> Result<Recording, ReadError> {
    let name = source::file_name(path);
    let file = source::open(path, &name)?;
    read_stream(&name, file, options)
}

/// Reads a recording from bytes.
///
/// `name` is the file's own name, for errors and the result.
///
/// # Errors
/// [`ReadError`] when the bytes hold no recording; lesser defects are notices in the result.
pub fn read_bytes(name: &str, bytes: &[u8], options: &ReadOptions<'_>) -> Result<Recording, ReadError> {
    read_stream(name, bytes, options)
}

/// Reads a recording from a stream, such as standard input; at most 1 GiB of it. Blocks may be read on another thread than
/// the caller's, while the block before is taken apart.
///
/// # Errors
/// [`ReadError`] when the stream holds no recording; lesser defects are notices in the result.
pub fn read_stream(
    name: &str,
    source: impl Read + Send,
    options: &ReadOptions<'_>,
) -> Result<Recording, ReadError> {
    pipeline::read(name, source, options).map_err(|trouble| trouble.in_file(name))
}
