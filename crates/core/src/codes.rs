//! The codes that notices, exclusions and parts of a recording carry: every room that speaks takes its code from
//! here, so that scripts can rely on the spelling and no code lacks an explanation (a test of the command line
//! asks for a topic on every entry of [`ALL`], [`EXCLUSIONS`], [`PARTS`] and [`PLAN`]).

/// Declares code constants and the list of them in one go, so that the list cannot fall behind.
macro_rules! codes {
    ($(#[$list_doc:meta])* $list:ident: $($(#[$doc:meta])* $name:ident = $code:literal;)*) => {
        $($(#[$doc])* pub const $name: &str = $code;)*
        $(#[$list_doc])*
        pub const $list: &[&str] = &[$($name),*];
    };
}

codes! {
    /// Every notice code, grouped by the room that raises it.
    ALL:

    // The table as text
    /// A cell that should hold a number does not.
    BAD_CELL = "bad-cell";
    /// A cell without a value.
    MISSING_VALUE = "missing-value";
    /// A row with fewer fields than the header.
    SHORT_ROW = "short-row";
    /// A row with more fields than the header.
    LONG_ROW = "long-row";
    /// A line too long to be a row.
    LONG_LINE = "long-line";
    /// A quote that is not closed.
    OPEN_QUOTE = "open-quote";
    /// A comma that could be decimal or between thousands.
    DECIMAL_MARK_ASSUMED = "decimal-mark-assumed";
    /// The header row comes again inside the table.
    HEADER_AGAIN = "header-again";
    /// Bytes that are no text in the file's encoding.
    BAD_TEXT = "bad-text";
    /// The file ends in the middle of a row, a frame or a block.
    CUT_OFF = "cut-off";
    /// A cell holds a number that the quantity cannot have.
    IMPOSSIBLE_VALUE = "impossible-value";

    // The time axis
    /// A time earlier than the one before it.
    TIME_BACKWARDS = "time-backwards";
    /// The same time again.
    DUPLICATE_TIME = "duplicate-time";
    /// A hole in the time axis.
    GAP = "gap";
    /// The clock ticks more slowly than rows arrive.
    COARSE_CLOCK = "coarse-clock";
    /// The clock stood still while rows were written.
    CLOCK_STOOD = "clock-stood";
    /// The clock starts again from a small figure.
    CLOCK_WRAP = "clock-wrap";
    /// The rows run from the newest to the oldest.
    NEWEST_FIRST = "newest-first";
    /// One time far ahead of its neighbours.
    TIME_JUMP = "time-jump";
    /// A rising column was taken for the time.
    TIME_ASSUMED = "time-assumed";
    /// The unit of the time was taken from its steps.
    TIME_UNIT_ASSUMED = "time-unit-assumed";
    /// No time column: rows were spaced evenly by a given rate.
    NO_CLOCK = "no-clock";
    /// Steps between rows vary by much.
    UNEVEN_RATE = "uneven-rate";

    // What the columns mean
    /// A column that was not understood and is left out.
    UNKNOWN_COLUMN = "unknown-column";
    /// A column of a columnar file whose type holds no numbers.
    COLUMN_TYPE = "column-type";
    /// Two columns claim the same quantity and cylinder.
    DUPLICATE_COLUMN = "duplicate-column";
    /// A column without any value.
    EMPTY_COLUMN = "empty-column";
    /// A column that was logged less often.
    SPARSE_COLUMN = "sparse-column";
    /// A unit that neither header nor machine file names was taken from the values.
    UNIT_ASSUMED = "unit-assumed";
    /// No unit fits, or several do: the column is left out.
    UNIT_UNKNOWN = "unit-unknown";
    /// Absolute or vacuum cannot be told.
    KIND_AMBIGUOUS = "kind-ambiguous";
    /// Cylinder numbers were taken from the order of the columns.
    CYLINDER_ASSUMED = "cylinder-assumed";
    /// Fewer pressure columns than the machine has cylinders.
    MISSING_CYLINDER = "missing-cylinder";
    /// A rule of the machine file names a column that the recording lacks.
    UNUSED_RULE = "unused-rule";
    /// The recording names another machine than the machine file.
    OTHER_MACHINE = "other-machine";
    /// A line of a CAN log that holds no sound frame.
    BAD_FRAME = "bad-frame";

    // Sensors
    /// One value while the engine moves.
    STUCK_SENSOR = "stuck-sensor";
    /// Values at the end of the sensor's range.
    RAILED_SENSOR = "railed-sensor";
    /// Values missing for a stretch.
    DROP_OUT = "drop-out";
    /// Steps of the values are large against the limit.
    COARSE_RESOLUTION = "coarse-resolution";
    /// Sensors disagree with the engine off.
    SENSOR_BIAS = "sensor-bias";
    /// No engine-off rows: sensors were taken as equal.
    SENSORS_NOT_CHECKED = "sensors-not-checked";
    /// A pulse comes at another cylinder's crank angle.
    SWAPPED_SENSORS = "swapped-sensors";
    /// The firing order was read from the pulses.
    FIRING_ORDER_INFERRED = "firing-order-inferred";
    /// A crank or cam mark that cannot give the phase.
    MARK_UNUSABLE = "mark-unusable";
    /// A cylinder breathes like the others and gives the crank less.
    WEAK_BURN = "weak-burn";
    /// The pulses do not sit at the machine file's firing angles, whichever hoses are exchanged.
    FIRING_ORDER_DIFFERS = "firing-order-differs";
    /// Two channels hold the same values.
    DUPLICATE_CHANNEL = "duplicate-channel";
    /// One channel lags the others.
    CHANNEL_LAG = "channel-lag";
    /// Each row refreshes some channels, the rest repeat.
    POLLED_IN_TURN = "polled-in-turn";

    // The signal
    /// Pulses are there and the row rate cannot carry them.
    ALIASED = "aliased";
    /// One reading a cycle at a fixed crank angle cannot be told from an average.
    FIXED_ANGLE = "fixed-angle";
    /// The engine speed is not logged.
    NO_SPEED = "no-speed";
    /// No barometer from any source.
    NO_BAROMETER = "no-barometer";
    /// One shared manifold pressure, none by cylinder.
    ONE_PRESSURE = "one-pressure";

    // The engine and how it ran
    /// The coolant is below its running temperature.
    COLD_ENGINE = "cold-engine";
    /// Nothing shows that the engine is warm.
    WARM_NOT_SHOWN = "warm-not-shown";
    /// A temperature that never moves.
    FLAT_TEMPERATURE = "flat-temperature";
    /// The coolant keeps rising in a long idle.
    OVERHEATING = "overheating";
    /// Too little steady running.
    TOO_SHORT = "too-short";
    /// The idle speed swings.
    HUNTING = "hunting";
    /// The idle speed lies outside the maker's band.
    IDLE_SPEED = "idle-speed";
    /// A cylinder drifts against the others during the recording.
    DRIFTING_CYLINDER = "drifting-cylinder";
    /// Even at idle, uneven at raised speed.
    RAISED_UNEVEN = "raised-uneven";
    /// The group's mixture lies off its target.
    MIXTURE_BIASED = "mixture-biased";
    /// One cylinder looks like a leak after its plate.
    LEAK_SUSPECTED = "leak-suspected";
    /// A twin: one recording cannot tell which of the two moved.
    EITHER_OF_TWO = "either-of-two";
    /// Trouble codes put the recording in doubt.
    TROUBLE_CODE = "trouble-code";
    /// Trouble codes were cleared while recording.
    CODES_CLEARED = "codes-cleared";
}

codes! {
    /// Every reason for which a stretch is not judged.
    EXCLUSIONS:
    /// The engine stands.
    EXCLUDED_ENGINE_OFF = "engine-off";
    /// Cranking and the first seconds after it.
    EXCLUDED_STARTING = "starting";
    /// Below running temperature.
    EXCLUDED_COLD = "cold";
    /// Still getting warmer.
    EXCLUDED_WARMING = "warming";
    /// Speed outside the idle band, or not steady.
    EXCLUDED_SPEED = "speed";
    /// A blip of the throttle.
    EXCLUDED_BLIP = "blip";
    /// A screw is being turned.
    EXCLUDED_ADJUSTING = "adjusting";
    /// A hole in the time axis.
    EXCLUDED_GAP = "gap";
    /// A sensor fails in it.
    EXCLUDED_SENSOR = "sensor";
    /// Steady, but under another load than the longest stretch.
    EXCLUDED_LOAD = "load";
    /// The level moves.
    EXCLUDED_DRIFTING = "drifting";
    /// Steady, but not for long enough.
    EXCLUDED_TOO_SHORT = "too-short";
}

codes! {
    /// Every part of a good recording, in the order in which it is made.
    PARTS:
    /// Key on, engine off.
    PART_ENGINE_OFF = "engine-off";
    /// Warm engine.
    PART_WARM = "warm";
    /// Hands off, at idle.
    PART_IDLE = "idle";
    /// Idle again after a blip of the throttle.
    PART_AFTER_BLIP = "after-blip";
    /// A steady speed well above idle.
    PART_RAISED = "raised";
}

codes! {
    /// Every code of a reason, an instruction or a warning that only plans give; they use notice codes besides.
    PLAN:

    // Reasons
    /// A cylinder breathes differently.
    BREATHING = "breathing";
    /// The limit is exceeded so far that a leak comes to mind.
    FAR_OPEN = "far-open";
    /// One cylinder takes less air than the others.
    FAR_CLOSED = "far-closed";
    /// A cylinder without a usable pressure.
    NO_PRESSURE = "no-pressure";
    /// A screw needs all its range.
    END_OF_RANGE = "end-of-range";
    /// The screws do not reach what is off.
    OUT_OF_REACH = "out-of-reach";
    /// No adjuster may be turned.
    NOTHING_TO_TURN = "nothing-to-turn";
    /// No screw has room.
    NO_RANGE = "no-range";
    /// Screws act on each other's cylinders.
    SCREWS_CHAINED = "screws-chained";
    /// It is not known what a turn does.
    EFFECT_UNKNOWN = "effect-unknown";
    /// Inside the limit.
    INSIDE = "inside";
    /// Outside the limit.
    OUTSIDE = "outside";
    /// On the limit.
    AT_THE_LIMIT = "at-the-limit";
    /// Under the scatter between repeats.
    REPEATS = "repeats";
    /// Under the smallest turn.
    SMALLEST_TURN = "smallest-turn";
    /// Under the uncertainty.
    NOISE = "noise";
    /// The recording does not carry a plan.
    CANNOT_TELL = "cannot-tell";

    // How to go about it
    /// Mark the screws.
    MARK = "mark";
    /// One screw at a time.
    ONE_AT_A_TIME = "one-at-a-time";
    /// Come from the same side.
    SAME_SIDE = "same-side";
    /// Wait for the idle to settle.
    WAIT = "wait";
    /// Note the turns.
    NOTE = "note";
    /// Record.
    RECORD = "record";
    /// Plan again.
    AGAIN = "again";
    /// Check at raised speed.
    RAISED = "raised";

    // What not to do, and when to stop
    /// Not on.
    NOT_ON = "not-on";
    /// Not before the cause is found.
    NOT_YET = "not-yet";
    /// Not on this recording.
    NOT_ON_THIS = "not-on-this";
    /// Leave a screw.
    LEAVE = "leave";
    /// Leave a healthy cylinder.
    HEALTHY = "healthy";
    /// Not further.
    MORE = "more";
    /// Leave the mixture.
    MIXTURE = "mixture";
    /// The limit is a rule of thumb.
    RULE_OF_THUMB = "rule-of-thumb";
    /// A turn without effect.
    NO_EFFECT = "no-effect";
    /// The engine says stop.
    ROUGH = "rough";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_kebab_case_and_unique_in_their_list() {
        for list in [ALL, EXCLUSIONS, PARTS] {
            for (i, code) in list.iter().enumerate() {
                assert!(
                    code.split('-').all(|p| !p.is_empty() && p.bytes().all(|b| b.is_ascii_lowercase())),
                    "{code} is not kebab-case"
                );
                assert!(!list[..i].contains(code), "{code} twice");
            }
        }
    }

    #[test]
    fn codes_that_scripts_rely_on_are_all_here() {
        // The list promised to other tools; a renamed constant must not rename one of them.
        let promised = [
            "aliased",
            "coarse-resolution",
            "cold-engine",
            "overheating",
            "flat-temperature",
            "stuck-sensor",
            "railed-sensor",
            "sensor-bias",
            "swapped-sensors",
            "kind-ambiguous",
            "time-backwards",
            "duplicate-time",
            "gap",
            "bad-cell",
            "short-row",
            "no-barometer",
            "too-short",
            "trouble-code",
            "raised-uneven",
            "mixture-biased",
            "polled-in-turn",
        ];
        for code in promised {
            assert!(ALL.contains(&code), "{code} is missing");
        }
    }
}
