//! The page headers of a Parquet file, looked at before the pages are read.
//!
//! What a header claims is reserved before the first value is decoded, and a reservation that cannot be met ends the
//! program: no panic that could be caught. So a page may not hold more values than its rows, nor fill more than the bound.
//!
//! # Source
//! Apache Parquet format, "Data Pages" and `parquet.thrift`.

use polars_parquet::parquet::metadata::{ColumnChunkMetadata, FileMetadata};
use polars_parquet_format::thrift::protocol::TCompactInputProtocol;
use polars_parquet_format::{PageHeader, PageType};

use super::super::decode::MOST_HELD;
use super::super::error::Trouble;
use super::{damaged, too_much};

/// Walks the page headers of all flat columns; nested ones are never read.
///
/// # Errors
/// A header that does not parse or claims more values than the rows of its group; pages that unpack to over the bound.
pub(super) fn check(bytes: &[u8], metadata: &FileMetadata) -> Result<(), Trouble> {
    let mut unpacked = 0u64;
    for group in &metadata.row_groups {
        let flat = group.parquet_columns().iter().filter(|c| c.descriptor().path_in_schema.len() == 1);
        for column in flat {
            unpacked = unpacked.saturating_add(size(bytes, column, group.num_rows() as u64)?);
            if unpacked > MOST_HELD {
                return Err(too_much());
            }
        }
    }
    Ok(())
}

/// Bytes that the pages of one column unpack to.
fn size(bytes: &[u8], column: &ColumnChunkMetadata, rows: u64) -> Result<u64, Trouble> {
    let range = column.byte_range();
    let place = |at: u64| usize::try_from(at).unwrap_or(usize::MAX);
    let mut rest = bytes
        .get(place(range.start)..place(range.end))
        .ok_or_else(|| damaged("a column ends beyond the end of the file"))?;
    let (mut unpacked, mut values) = (0u64, 0u64);
    // Behind the last value there may be anything.
    while !rest.is_empty() && values < rows {
        let header = PageHeader::read_from_in_protocol(&mut TCompactInputProtocol::new(&mut rest, 1 << 20))
            .map_err(|_| damaged("a page header that does not parse"))?;
        let length = u32::try_from(header.compressed_page_size).ok().map(|length| length as usize);
        rest = length
            .and_then(|length| rest.get(length..))
            .ok_or_else(|| damaged("a page ends beyond the end of its column"))?;
        let size =
            u64::try_from(header.uncompressed_page_size).map_err(|_| damaged("a page of negative size"))?;
        unpacked = unpacked.saturating_add(size);
        let claimed = match header.type_ {
            PageType::DICTIONARY_PAGE => header.dictionary_page_header.map(|page| page.num_values),
            PageType::DATA_PAGE => header.data_page_header.map(|page| page.num_values),
            PageType::DATA_PAGE_V2 => header.data_page_header_v2.map(|page| page.num_values),
            _ => Some(0),
        };
        let claimed = claimed
            .and_then(|count| u64::try_from(count).ok())
            .filter(|count| *count <= rows)
            .ok_or_else(|| damaged("a page claims more values than there are rows"))?;
        if header.type_ != PageType::DICTIONARY_PAGE {
            values += claimed;
        }
    }
    if values > rows {
        return Err(damaged("a column has more values than rows"));
    }
    Ok(unpacked)
}
