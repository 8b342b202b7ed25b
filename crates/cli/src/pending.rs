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
        pub(crate) columns: Option<String>,
        pub(crate) rate_hz: Option<f64>,
    }

    pub(crate) fn read_path(path: &Path, options: &ReadOptions<'_>) -> std::io::Result<Recording> {
        read_bytes("log", &std::fs::read(path)?, options)
    }

    pub(crate) fn read_bytes(_: &str, _: &[u8], _: &ReadOptions<'_>) -> std::io::Result<Recording> {
        Err(std::io::Error::other(NotBuilt { what: "the reader" }))
    }
}

/// Becomes `evenpull_report`.
pub(crate) mod report {
    use evenpull_core::Analysis;
    use evenpull_core::result::Review;

    use super::NotBuilt;

    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub(crate) struct PageUnit;

    impl PageUnit {
        pub(crate) fn parse(text: &str) -> Option<Self> {
            ["hPa", "kPa", "mbar", "mmHg", "inHg"]
                .iter()
                .any(|u| u.eq_ignore_ascii_case(text))
                .then_some(Self)
        }
    }

    #[derive(Debug, Clone, Copy, PartialEq, Default)]
    pub(crate) struct PageOptions {
        pub(crate) unit: Option<PageUnit>,
        pub(crate) without_png: bool,
    }

    #[derive(Debug)]
    pub(crate) struct Page;

    pub(crate) fn review_page(_: &Analysis, _: &PageOptions) -> Result<Page, NotBuilt> {
        Err(NotBuilt { what: "the page" })
    }

    pub(crate) fn review_json(_: &Review) -> Result<String, NotBuilt> {
        Err(NotBuilt { what: "the JSON" })
    }

    pub(crate) fn terminal_summary(_: &Analysis, _: &PageOptions) -> String {
        String::new()
    }

    pub(crate) mod cautions {
        pub(crate) struct Caution {
            pub(crate) text: &'static str,
        }

        pub(crate) const LINES: [Caution; 1] =
            [Caution { text: "The maker's manual, local codes and licensed practice come first." }];
    }

    pub(crate) mod write {
        use std::path::{Path, PathBuf};

        use evenpull_core::Analysis;

        use super::super::NotBuilt;

        pub(crate) fn review_set(_: &Path, _: &Analysis, _: &super::Page) -> Result<Vec<PathBuf>, NotBuilt> {
            Err(NotBuilt { what: "the page" })
        }

        pub(crate) fn file(_: &Path, _: &[u8]) -> Result<(), NotBuilt> {
            Err(NotBuilt { what: "writing files" })
        }
    }
}
