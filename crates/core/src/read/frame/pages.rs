//! What a Parquet file claims, looked at before it is believed.
//!
//! The library reserves memory for what footer and page headers claim before the first value is decoded, and a reservation
//! that cannot be met ends the program: no panic that could be caught. So the parts of the file have to agree about the
//! number of rows, a page may not hold more values than there are, and lists packed as differences not more than their page.
//!
//! # Source
//! Apache Parquet format: "Data Pages", "Delta encoding" and `parquet.thrift`.

use std::io::Cursor;

use polars_buffer::Buffer;
use polars_parquet::parquet::metadata::{ColumnChunkMetadata, FileMetadata};
use polars_parquet::parquet::page::split_buffer;
use polars_parquet::parquet::read::{BasicDecompressor, get_page_iterator};
use polars_parquet_format::thrift::protocol::TCompactInputProtocol;
use polars_parquet_format::{Encoding, PageHeader, PageType};

use super::super::decode::MOST_HELD;
use super::super::error::Trouble;
use super::{damaged, too_much};

/// Fewest bytes of an entry of a dictionary.
const ENTRY: u64 = 4;
/// Largest block of a list packed as differences: writers use 128.
const LARGEST_BLOCK: u64 = 1 << 16;

/// Looks at the footer and the page headers of the columns that are `wanted`.
///
/// # Errors
/// Parts that do not agree about the rows; a header that does not parse or claims more values than there are rows; pages
/// that unpack to over the bound.
pub(super) fn check(
    bytes: &Buffer<u8>,
    metadata: &FileMetadata,
    wanted: &dyn Fn(&str) -> bool,
) -> Result<(), Trouble> {
    let rows = metadata.row_groups.iter().try_fold(0usize, |sum, group| sum.checked_add(group.num_rows()));
    if rows != Some(metadata.num_rows) {
        return Err(damaged("its groups hold more or fewer rows than its footer says"));
    }
    let mut unpacked = 0u64;
    for group in &metadata.row_groups {
        let rows = group.num_rows() as u64;
        let asked = |column: &&ColumnChunkMetadata| {
            column.descriptor().path_in_schema.first().is_some_and(|name| wanted(name))
        };
        for column in group.parquet_columns().iter().filter(asked) {
            if u64::try_from(column.num_values()) != Ok(rows) {
                return Err(damaged("a column has more or fewer values than rows"));
            }
            unpacked = unpacked.saturating_add(size(bytes, column, rows)?);
            if unpacked > MOST_HELD {
                return Err(too_much());
            }
        }
    }
    Ok(())
}

/// Bytes that the pages of one column unpack to.
fn size(bytes: &Buffer<u8>, column: &ColumnChunkMetadata, rows: u64) -> Result<u64, Trouble> {
    let range = column.byte_range();
    let place = |at: u64| usize::try_from(at).unwrap_or(usize::MAX);
    let mut rest = bytes
        .get(place(range.start)..place(range.end))
        .ok_or_else(|| damaged("a column ends beyond the end of the file"))?;
    let (mut unpacked, mut values, mut packed) = (0u64, 0u64, false);
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
        if unpacked > MOST_HELD {
            return Err(too_much());
        }
        let (claimed, most) = match header.type_ {
            PageType::DICTIONARY_PAGE => {
                (header.dictionary_page_header.as_ref().map(|page| page.num_values), size / ENTRY)
            }
            PageType::DATA_PAGE => (header.data_page_header.as_ref().map(|page| page.num_values), rows),
            PageType::DATA_PAGE_V2 => (header.data_page_header_v2.as_ref().map(|page| page.num_values), rows),
            _ => (Some(0), rows),
        };
        let claimed = claimed
            .and_then(|count| u64::try_from(count).ok())
            .filter(|count| *count <= most)
            .ok_or_else(|| damaged("a page claims more values than it can hold"))?;
        if header.type_ != PageType::DICTIONARY_PAGE {
            values += claimed;
        }
        packed |= is_packed(&header);
    }
    if values != rows {
        return Err(damaged("the pages of a column hold more or fewer values than rows"));
    }
    if packed {
        check_packed(bytes, column, rows)?;
    }
    Ok(unpacked)
}

fn is_packed(header: &PageHeader) -> bool {
    let first = header.data_page_header.as_ref().map(|page| page.encoding);
    let encoding = first.or(header.data_page_header_v2.as_ref().map(|page| page.encoding));
    let packed =
        [Encoding::DELTA_BINARY_PACKED, Encoding::DELTA_LENGTH_BYTE_ARRAY, Encoding::DELTA_BYTE_ARRAY];
    encoding.is_some_and(|encoding| packed.contains(&encoding))
}

/// Unpacks the pages of a column that holds differences, and compares what their lists claim with the rows.
fn check_packed(bytes: &Buffer<u8>, column: &ColumnChunkMetadata, rows: u64) -> Result<(), Trouble> {
    let failed = |_| damaged("a page that cannot be unpacked");
    let most = usize::try_from(MOST_HELD).unwrap_or(usize::MAX);
    let pages = get_page_iterator(column, Cursor::new(bytes.clone()), Vec::new(), most).map_err(failed)?;
    let mut pages = BasicDecompressor::new(pages, Vec::new());
    pages.read_dict_page().map_err(failed)?;
    while let Some(page) = pages.next() {
        let page = page.and_then(|page| page.decompress(&mut pages)).map_err(failed)?;
        let mut values = split_buffer(&page).map_err(failed)?.values;
        let (block, _, count) = (number(&mut values), number(&mut values), number(&mut values));
        if block.is_none_or(|block| block > LARGEST_BLOCK) || count.is_none_or(|count| count > rows) {
            return Err(damaged("a list of differences claims more values than there are rows"));
        }
    }
    Ok(())
}

/// A whole number in base 128, the lowest seven bits first.
fn number(bytes: &mut &[u8]) -> Option<u64> {
    let mut value = 0u64;
    for shift in (0..64).step_by(7) {
        let (first, rest) = bytes.split_first()?;
        *bytes = rest;
        value |= u64::from(first & 0x7f).checked_shl(shift)?;
        if first & 0x80 == 0 {
            return Some(value);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use polars::prelude::{DataFrame, IntoColumn, NamedFrom, ParquetWriter, Series};
    use polars_parquet_format::FileMetaData;
    use polars_parquet_format::thrift::protocol::TCompactOutputProtocol;

    use crate::read::{ReadOptions, read_bytes};

    fn written(rows: i32, group: usize) -> Vec<u8> {
        let time: Vec<f64> = (0..rows).map(|i| f64::from(i) * 0.02).collect();
        let holed: Vec<Option<f64>> =
            (0..rows).map(|i| (i % 9 != 4).then(|| 40.0 + f64::from(i % 17))).collect();
        let rpm: Vec<i64> = (0..rows).map(|i| 1100 + i64::from(i % 5)).collect();
        let columns = vec![
            Series::new("time_s".into(), time).into_column(),
            Series::new("map1_kpa".into(), holed).into_column(),
            Series::new("map2_kpa".into(), vec![41.5f32; rows as usize]).into_column(),
            Series::new("rpm".into(), rpm).into_column(),
        ];
        let mut frame = DataFrame::new(rows as usize, columns).unwrap();
        let mut bytes = Vec::new();
        ParquetWriter::new(&mut bytes).with_row_group_size(Some(group)).finish(&mut frame).unwrap();
        bytes
    }

    /// The file with another footer.
    fn with_footer(bytes: &[u8], change: impl Fn(&mut FileMetaData)) -> Vec<u8> {
        let (rest, _mark) = bytes.split_at(bytes.len() - 4);
        let (rest, length) = rest.split_at(rest.len() - 4);
        let length = u32::from_le_bytes(length.try_into().unwrap()) as usize;
        let (body, mut footer) = rest.split_at(rest.len() - length);
        let mut protocol = super::TCompactInputProtocol::new(&mut footer, 1 << 20);
        let mut metadata = FileMetaData::read_from_in_protocol(&mut protocol).unwrap();
        change(&mut metadata);
        let mut footer = Vec::new();
        metadata.write_to_out_protocol(&mut TCompactOutputProtocol::new(&mut footer)).unwrap();
        let length = (footer.len() as u32).to_le_bytes();
        [body, &footer, &length, b"PAR1"].concat()
    }

    fn said(bytes: &[u8]) -> String {
        read_bytes("x", bytes, &ReadOptions::default())
            .map_or_else(|error| error.to_string(), |_| String::new())
    }

    #[test]
    fn whole_files_pass_whatever_their_groups() {
        for (rows, group) in [(200, 200), (200, 33), (5000, 512)] {
            let bytes = written(rows, group);
            assert_eq!(said(&bytes), "", "{rows} {group}");
            // Written anew without a change it is still read: the tests below change nothing else.
            assert_eq!(said(&with_footer(&bytes, |_| {})), "", "{rows} {group}");
        }
    }

    #[test]
    fn a_footer_that_claims_more_than_there_is_is_refused() {
        let bytes = written(200, 100);
        let huge = 1i64 << 38;
        for (name, file) in [
            ("rows of the file", with_footer(&bytes, |m| m.num_rows = huge)),
            ("rows of a group", with_footer(&bytes, |m| m.row_groups[0].num_rows = huge)),
            ("both", with_footer(&bytes, |m| (m.num_rows, m.row_groups[0].num_rows) = (huge + 100, huge))),
            (
                "values of a column",
                with_footer(&bytes, |m| {
                    m.row_groups[1].columns[0].meta_data.as_mut().unwrap().num_values = huge
                }),
            ),
            (
                "all of a group",
                with_footer(&bytes, |m| {
                    m.row_groups[0].num_rows = huge;
                    for column in &mut m.row_groups[0].columns {
                        column.meta_data.as_mut().unwrap().num_values = huge;
                    }
                }),
            ),
            (
                "fewer rows than its pages hold",
                with_footer(&bytes, |m| {
                    (m.num_rows, m.row_groups[0].num_rows) = (150, 50);
                    for column in &mut m.row_groups[0].columns {
                        column.meta_data.as_mut().unwrap().num_values = 50;
                    }
                }),
            ),
        ] {
            let text = said(&file);
            assert!(
                text.contains("a damaged or cut columnar file") || text.contains("256 MiB"),
                "{name}: {text}"
            );
        }
    }
}
