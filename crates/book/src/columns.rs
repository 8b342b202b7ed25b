//! The columns of a visit file, in order. One row per cylinder; the columns of the visit repeat.

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// 64-bit number.
    Number,
    /// 32-bit integer.
    Integer,
}

/// Name, kind and meaning of every column of a visit file. Units are in the names, `_u_` marks the expanded
/// uncertainty (k = 2), missing is null.
pub const COLUMNS: &[(&str, Kind, &str)] = &[
    ("schema", Kind::Text, "evenpull.visit/1"),
    ("record", Kind::Text, "name of this record"),
    ("supersedes", Kind::Text, "names of the records that it replaces, separated by spaces"),
    ("machine_id", Kind::Text, "machine id"),
    ("visit", Kind::Text, "visit id"),
    ("visit_date", Kind::Text, "date, YYYY-MM-DD"),
    ("hours", Kind::Number, "operating hours"),
    ("distance_km", Kind::Number, "distance"),
    ("note", Kind::Text, "note"),
    ("conditions", Kind::Text, "conditions"),
    ("work", Kind::Text, "work done"),
    ("codes", Kind::Text, "trouble codes, separated by spaces"),
    ("codes_cleared", Kind::Text, "trouble codes cleared, separated by spaces"),
    ("turns_json", Kind::Text, "screws turned, JSON list of time_s, cylinder, turns"),
    (
        "plan_json",
        Kind::Text,
        "what a plan needs besides: state as found, changes made by the turns, reasons, JSON",
    ),
    ("key", Kind::Text, "SHA-256 of the recording"),
    ("source", Kind::Text, "the recording's own name"),
    ("tool_version", Kind::Text, "version of the program"),
    ("settings_hash", Kind::Text, "fingerprint of its settings"),
    ("rpm", Kind::Number, "mean idle speed, rev/min"),
    ("rpm_u", Kind::Number, "its uncertainty"),
    ("judged_s", Kind::Number, "seconds of idle judged"),
    ("barometer_kpa", Kind::Number, "barometer"),
    ("limit_kpa", Kind::Number, "largest allowed spread"),
    ("limit_source", Kind::Text, "machine-file or default"),
    ("reference", Kind::Text, "median, mean or a cylinder's number"),
    ("signal", Kind::Text, "how the pulse shows"),
    ("verdict", Kind::Text, "the spread against its limit"),
    ("spread_kpa", Kind::Number, "highest minus lowest mean"),
    ("spread_u_kpa", Kind::Number, "its uncertainty"),
    ("notices", Kind::Text, "codes of cautions and faults, separated by spaces"),
    ("cylinder", Kind::Integer, "cylinder, from 1; null where the visit has none"),
    ("pressure_kpa", Kind::Number, "time mean over whole cycles, absolute"),
    ("pressure_u_kpa", Kind::Number, "its uncertainty"),
    ("deviation_kpa", Kind::Number, "against the reference"),
    ("deviation_u_kpa", Kind::Number, "its uncertainty"),
    ("bias_removed_kpa", Kind::Number, "sensor bias taken out"),
    ("refill_ratio", Kind::Number, "refill rate against the median cylinder"),
    ("refill_ratio_u", Kind::Number, "its uncertainty"),
    ("air_ratio", Kind::Number, "air a cycle against the median cylinder"),
    ("air_ratio_u", Kind::Number, "its uncertainty"),
    ("lambda", Kind::Number, "measured lambda"),
    ("lambda_u", Kind::Number, "its uncertainty"),
    ("class", Kind::Text, "class of the cylinder"),
];
