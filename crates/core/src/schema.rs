//! JSON schemas (draft 2020-12) of the results on disk, as text; the files stand in `schema/` of this crate.

/// Schema of [`crate::result::Review`], `evenpull.review/1`: every named field is required, more are allowed.
pub const REVIEW: &str = include_str!("../schema/evenpull.review.1.json");
