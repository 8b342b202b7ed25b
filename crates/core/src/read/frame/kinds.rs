//! Kinds of columns: which are read, which can be read another way, and the others in plain words.

use polars::prelude::{ArrowDataType, ArrowSchema};
use polars_parquet::parquet::metadata::FileMetadata;

/// Key under which a Parquet file keeps the Arrow kinds of its columns.
///
/// # Source
/// Arrow C++ documentation, "Reading and writing the Apache Parquet format", serialized Arrow schema.
const ARROW_KINDS: &str = "ARROW:schema";

/// Names as categories, in words.
pub(super) const CATEGORIES: &str = "names as categories";

/// Whether a column of this kind is read.
pub(super) fn readable(kind: &ArrowDataType) -> bool {
    use ArrowDataType as T;
    let figures = matches!(
        kind,
        T::Boolean
            | T::Int8
            | T::Int16
            | T::Int32
            | T::Int64
            | T::UInt8
            | T::UInt16
            | T::UInt32
            | T::UInt64
            | T::Float32
            | T::Float64
    );
    let times = matches!(
        kind,
        T::Timestamp(..) | T::Date32 | T::Date64 | T::Time32(_) | T::Time64(_) | T::Duration(_)
    );
    figures || times || is_text(kind)
}

fn is_text(kind: &ArrowDataType) -> bool {
    matches!(kind, ArrowDataType::Utf8 | ArrowDataType::LargeUtf8 | ArrowDataType::Utf8View)
}

/// A kind that is not read: what it is, and what to do.
pub(super) fn in_words(kind: &ArrowDataType) -> (&'static str, &'static str) {
    use ArrowDataType as T;
    const FLOATS: &str = "write them as floating-point figures of 32 or 64 bits";
    match kind {
        T::Float16 => ("floating-point figures of 16 bits, a kind that is not read here", FLOATS),
        T::Decimal(..) | T::Decimal32(..) | T::Decimal64(..) | T::Decimal256(..) => {
            ("decimal figures, a kind that is not read here", FLOATS)
        }
        T::Int128 | T::UInt128 => ("whole figures of 128 bits, a kind that is not read here", FLOATS),
        T::Dictionary(_, inner, _) if is_text(inner) => (CATEGORIES, "write them as text"),
        T::Dictionary(..) => ("figures as categories", FLOATS),
        T::List(_) | T::LargeList(_) | T::FixedSizeList(..) | T::Struct(_) | T::Map(..) | T::Union(_) => {
            ("nested values", "write one column for each")
        }
        T::Binary | T::LargeBinary | T::FixedSizeBinary(_) | T::BinaryView => {
            ("raw bytes", "write them as floating-point figures, or names as text")
        }
        T::Null => ("no values at all", "leave the column out or fill it"),
        T::Interval(_) => ("spans of the calendar", "write times in seconds"),
        T::Extension(kind) => in_words(&kind.inner),
        _ => ("values of a kind that is not read here", FLOATS),
    }
}

/// What stands in the way of reading names without the Arrow kinds, and what asks for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Want {
    /// Names as categories.
    Names,
    /// More than Parquet says by itself: a duration, a time of a zone.
    ArrowKind,
    Either,
}

fn want(kind: &ArrowDataType) -> Want {
    match kind {
        ArrowDataType::Dictionary(_, inner, _) if is_text(inner) => Want::Names,
        ArrowDataType::Duration(_) => Want::ArrowKind,
        ArrowDataType::Timestamp(_, Some(zone)) if zone.as_str() != "UTC" => Want::ArrowKind,
        _ => Want::Either,
    }
}

fn names_alone(wants: &[Want]) -> bool {
    wants.contains(&Want::Names) && !wants.contains(&Want::ArrowKind)
}

/// The description of a Parquet file without the Arrow kinds of its columns, where that makes names readable: names
/// as categories are stored as text, and the Arrow kinds alone say otherwise. `None` where there are no such names, or
/// where the Arrow kinds say more that is needed.
pub(super) fn without_categories(schema: &ArrowSchema, metadata: &FileMetadata) -> Option<FileMetadata> {
    let wants: Vec<Want> = schema.iter().map(|(_, field)| want(field.dtype())).collect();
    if !names_alone(&wants) {
        return None;
    }
    let mut bare = metadata.clone();
    if let Some(list) = &mut bare.key_value_metadata {
        list.retain(|entry| entry.key != ARROW_KINDS);
    }
    Some(bare)
}

#[cfg(test)]
mod tests {
    use polars::prelude::{ArrowField, ArrowTimeUnit};

    use super::*;

    #[test]
    fn no_notation_of_a_programmer_in_the_words() {
        use ArrowDataType as T;
        let inner = Box::new(ArrowField::new("x".into(), T::Float64, true));
        for kind in [T::Float16, T::Decimal(10, 2), T::List(inner), T::Struct(Vec::new()), T::Binary, T::Null]
        {
            assert!(!readable(&kind));
            let (what, advice) = in_words(&kind);
            let plain = |text: &str| !text.contains(['(', '{', '[', '<', '_']) && text == text.to_lowercase();
            assert!(plain(what) && plain(advice), "{what}; {advice}");
            // The naive way shows the kind as the library writes it.
            assert!(!plain(&format!("{kind:?}")));
        }
        assert_eq!(in_words(&T::Struct(Vec::new())).0, "nested values");
        assert!(readable(&T::Float32) && readable(&T::Utf8View) && readable(&T::Date32));
    }

    #[test]
    fn names_are_freed_where_nothing_else_is_lost() {
        use ArrowDataType as T;
        let zone = |zone: Option<&str>| T::Timestamp(ArrowTimeUnit::Millisecond, zone.map(Into::into));
        for kind in [T::Float64, T::Utf8View, zone(None), zone(Some("UTC"))] {
            assert_eq!(want(&kind), Want::Either, "{kind:?}");
            assert!(names_alone(&[want(&kind), Want::Names]) && !names_alone(&[want(&kind)]));
        }
        for kind in [zone(Some("Europe/Berlin")), T::Duration(ArrowTimeUnit::Millisecond)] {
            assert!(!names_alone(&[want(&kind), Want::Names]), "{kind:?}");
        }
    }
}
