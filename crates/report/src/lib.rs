//! Results into figures, pages and words.
//!
//! Result types -> view model (finished strings) -> figures -> HTML and PNG. The crate computes no statistic, reads
//! no log and prints nothing; exporters return bytes and strings, and only [`mod@write`] writes files.

pub mod cautions;
mod digits;
mod error;
mod figure;
mod font;
mod page;
mod palette;
mod raster;
mod slug;
mod style;
mod svg;
mod terminal;
mod terminal_plan;
mod terminal_visits;
mod texts;
mod units;
mod verify;
mod view;
pub mod write;

#[cfg(test)]
#[path = "../examples/demo/mod.rs"]
#[allow(unreachable_pub)]
mod demo;
#[cfg(test)]
mod plan_tests;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod tests_lesson;
#[cfg(test)]
mod tests_visits;
#[cfg(test)]
mod visits_demo;

pub use error::ReportError;
pub use page::{
    CompareLinks, Figure, LessonCheck, LessonFacts, LessonSeries, Page, PageOptions, compare_json,
    compare_page, fleet_json, fleet_page, key_page, plan_json, plan_page, review_json, review_page,
    worksheet_page,
};
pub use slug::{slug, stem};
pub use terminal::{plain, terminal_line, terminal_summary};
pub use terminal_plan::terminal_plan;
pub use terminal_visits::{compare_summary, fleet_summary, spread_line};
pub use units::{DisplayUnit, PageUnit};
pub use verify::{Claim, NotAReport, Outcome as Verified, check, claim_of, verified_words};
