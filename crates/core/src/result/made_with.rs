//! What a review was made with besides the recording: enough to make it again.

use serde::{Deserialize, Serialize};

/// What was said beside the recording, and the settings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MadeWith {
    /// The machine file without its comments (TOML); `None` where there was none, or where it said nothing.
    pub machine_file: Option<String>,
    /// Names of the columns that were given.
    pub columns: Option<String>,
    /// Rows a second that were given, Hz.
    pub rate_hz: Option<f64>,
    /// Trouble codes that were noted.
    pub codes: Vec<String>,
    /// Every setting, in the order of their table.
    pub settings: Vec<SettingValue>,
}

/// One setting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SettingValue {
    /// Its name, with its unit.
    pub name: String,
    /// Its value.
    pub value: f64,
}
