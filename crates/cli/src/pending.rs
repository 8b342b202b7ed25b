//! Stand-ins for rooms of other crates that are not built yet, in the shape they will have. Each `use
//! crate::pending::...` becomes a `use evenpull_core::...` or `use evenpull_report::...`, and this file goes.
#![allow(dead_code)]

/// A room that is not built yet.
#[derive(Debug, thiserror::Error)]
#[error("{what} is not built yet")]
pub(crate) struct NotBuilt {
    what: &'static str,
}

/// Becomes `evenpull_core::read`.
pub(crate) mod read {
    use std::path::Path;

    use evenpull_core::machine::Machine;
    use evenpull_core::recording::Recording;

    use super::NotBuilt;

    #[derive(Debug, Clone, Default)]
    pub(crate) struct ReadOptions<'a> {
        pub(crate) machine: Option<&'a Machine>,
        pub(crate) columns: Option<&'a str>,
        pub(crate) rate_hz: Option<f64>,
    }

    pub(crate) fn read_path(path: &Path, options: &ReadOptions<'_>) -> std::io::Result<Recording> {
        read_bytes("log", &std::fs::read(path)?, options)
    }

    pub(crate) fn read_bytes(_: &str, _: &[u8], _: &ReadOptions<'_>) -> std::io::Result<Recording> {
        Err(std::io::Error::other(NotBuilt { what: "the reader" }))
    }
}
