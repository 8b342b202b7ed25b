//! Figures: prepared values in, a drawing out. One figure one file; nothing is computed here but places on paper.

pub(crate) mod blank;
pub(crate) mod canvas;
pub(crate) mod deviations;
pub(crate) mod fleet;
pub(crate) mod history;
pub(crate) mod marks;
pub(crate) mod pulse;
pub(crate) mod reduce;
pub(crate) mod scale;
pub(crate) mod strip;
pub(crate) mod timeline;
pub(crate) mod trace;

#[cfg(test)]
mod tests;
