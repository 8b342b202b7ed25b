//! JSON schemas (draft 2020-12) of the results on disk, as text; the files stand in `schema/` of this crate.

/// Schema of [`crate::result::Review`], `evenpull.review/1`: every named field is required, more are allowed.
pub const REVIEW: &str = include_str!("../schema/evenpull.review.1.json");

/// Schema of [`crate::adjust::plan_result::Plan`], `evenpull.plan/1`: every named field is required, more are allowed.
pub const PLAN: &str = include_str!("../schema/evenpull.plan.1.json");

/// Schema of [`crate::visits::Comparison`], `evenpull.compare/1`.
pub const COMPARE: &str = include_str!("../schema/evenpull.compare.1.json");

/// Schema of [`crate::visits::Fleet`], `evenpull.fleet/1`.
pub const FLEET: &str = include_str!("../schema/evenpull.fleet.1.json");

/// Schema of [`crate::visits::record::Record`], `evenpull.record/1`.
pub const RECORD: &str = include_str!("../schema/evenpull.record.1.json");
