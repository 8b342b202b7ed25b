//! Stand-ins for rooms of other crates that are not built yet, in the shape they will have. Each `use
//! crate::pending::...` becomes a `use evenpull_core::...` or `use evenpull_report::...`, and this file goes.
#![allow(clippy::missing_errors_doc)]

use evenpull_core::machine::Machine;

/// A room that is not built yet.
#[derive(Debug, thiserror::Error)]
#[error("{what} is not built yet")]
pub(crate) struct NotBuilt {
    what: &'static str,
}

/// Becomes the inherent `Machine::from_toml`.
pub(crate) trait FromToml: Sized {
    fn from_toml(name: &str, text: &str) -> Result<Self, NotBuilt>;
}

impl FromToml for Machine {
    fn from_toml(_name: &str, _text: &str) -> Result<Self, NotBuilt> {
        Err(NotBuilt { what: "the machine file" })
    }
}

/// Becomes `evenpull_core::units`.
pub(crate) mod units {
    pub(crate) fn pressure_unit(text: &str) -> Option<&'static str> {
        const UNITS: [&str; 11] =
            ["Pa", "hPa", "kPa", "mbar", "bar", "mmHg", "cmHg", "inHg", "inH2O", "cmH2O", "psi"];
        UNITS.into_iter().find(|u| u.eq_ignore_ascii_case(text))
    }
}

/// Becomes `evenpull_core::read`.
pub(crate) mod read {
    use std::path::Path;

    use evenpull_core::machine::Machine;
    use evenpull_core::recording::Recording;

    use super::NotBuilt;

    #[derive(Debug, Clone, Default)]
    pub(crate) struct ReadOptions<'a> {
        #[allow(dead_code)]
        pub(crate) machine: Option<&'a Machine>,
        #[allow(dead_code)]
        pub(crate) columns: Option<String>,
        #[allow(dead_code)]
        pub(crate) rate_hz: Option<f64>,
    }

    pub(crate) fn read_path(path: &Path, options: &ReadOptions<'_>) -> std::io::Result<Recording> {
        read_bytes("log", &std::fs::read(path)?, options)
    }

    pub(crate) fn read_bytes(
        _name: &str,
        _bytes: &[u8],
        _options: &ReadOptions<'_>,
    ) -> std::io::Result<Recording> {
        Err(std::io::Error::other(NotBuilt { what: "the reader" }))
    }
}

/// Becomes `evenpull_core::review`.
pub(crate) mod review {
    use evenpull_core::Analysis;
    use evenpull_core::machine::Machine;
    use evenpull_core::recording::Recording;
    use evenpull_core::settings::Settings;

    #[derive(Debug, Clone, Default)]
    pub(crate) struct ReviewNotes {
        #[allow(dead_code)]
        pub(crate) codes: Vec<String>,
        #[allow(dead_code)]
        pub(crate) turns: Vec<()>,
    }

    pub(crate) fn review(_: &Recording, _: &Machine, _: &Settings, _: &ReviewNotes) -> Analysis {
        unreachable!("no recording can be read yet")
    }
}

/// Becomes `evenpull_report`.
pub(crate) mod report {
    use evenpull_core::Analysis;

    use super::NotBuilt;

    #[derive(Debug, Clone, Default)]
    pub(crate) struct PageOptions {
        #[allow(dead_code)]
        pub(crate) unit: Option<String>,
        #[allow(dead_code)]
        pub(crate) other: (),
    }

    #[derive(Debug)]
    pub(crate) struct Page;

    pub(crate) fn review_page(_: &Analysis, _: &PageOptions) -> Result<Page, NotBuilt> {
        Err(NotBuilt { what: "the page" })
    }

    pub(crate) fn terminal_summary(_: &Analysis, _: &PageOptions) -> String {
        String::new()
    }

    pub(crate) fn cautions() -> Vec<&'static str> {
        vec!["The maker's manual, local codes and licensed practice come first."]
    }

    pub(crate) mod write {
        use std::path::{Path, PathBuf};

        use super::super::NotBuilt;

        pub(crate) fn page(_: &Path, _: &super::Page) -> Result<Vec<PathBuf>, NotBuilt> {
            Err(NotBuilt { what: "the page" })
        }

        pub(crate) fn file(_: &Path, _: &[u8]) -> Result<(), NotBuilt> {
            Err(NotBuilt { what: "writing files" })
        }
    }
}
