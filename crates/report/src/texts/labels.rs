//! Single words and short phrases for the codes of a result.

use evenpull_core::notice::Level;
use evenpull_core::recording::{Format, PressureKind, Quantity};
use evenpull_core::result::{Basis, Class, Fuelling, GroupReference, Reference, Regime, Signal, Verdict};

/// Verdict in two or three words.
pub(crate) fn verdict(v: Verdict) -> &'static str {
    match v {
        Verdict::Within => "within the limit",
        Verdict::Outside => "outside the limit",
        Verdict::CannotTell => "cannot tell",
        Verdict::NotApplicable => "not applicable",
    }
}

/// Class with what it rests on; never a bare "lean" where nothing measured the mixture.
pub(crate) fn class(class: Class, basis: Basis) -> &'static str {
    match (class, basis) {
        (Class::Even, _) => "even",
        (Class::Lean, Basis::Measured) => "lean (measured)",
        (Class::Lean, _) => "lean (inferred)",
        (Class::Rich, Basis::Measured) => "rich (measured)",
        (Class::Rich, _) => "rich (inferred)",
        (Class::Imbalanced, _) => "imbalanced",
        (Class::Undecided, _) => "undecided",
    }
}

/// Word of the strip over the trace for a reason of exclusion; an unknown reason is shown as it is.
pub(crate) fn excluded(reason: &str) -> &str {
    match reason {
        "engine-off" => "engine off",
        "starting" => "starting",
        "cold" => "cold",
        "warming" => "warming up",
        "speed" => "speed moves",
        "blip" => "blip",
        "adjusting" => "adjusting",
        "gap" => "gap",
        "sensor" => "sensor",
        "drifting" => "drifting",
        "too-short" => "too short",
        other => other,
    }
}

/// Why a stretch with that reason is not judged.
pub(crate) fn excluded_because(reason: &str) -> &'static str {
    match reason {
        "engine-off" => "the engine stands; used for the sensors' zero",
        "starting" => "the engine has just been started",
        "cold" => "the engine is cold, when fuelling and idle air differ from warm idle",
        "warming" => "the coolant still rises",
        "speed" => "the engine speed moves or is neither idle nor a steady raised speed",
        "blip" => "the throttle was opened, and the seconds after it",
        "adjusting" => "a screw was turned, and the seconds in which the idle settles",
        "gap" => "rows are missing",
        "sensor" => "a sensor does not deliver",
        "load" => "the idle stands at another level than in the longest stretch, as with a load switched on",
        "drifting" => "the pressures drift against each other",
        "too-short" => "steady, but shorter than can be judged",
        _ => "",
    }
}

/// Idle or raised.
pub(crate) fn regime(r: Regime) -> &'static str {
    match r {
        Regime::Idle => "idle",
        Regime::Raised => "raised",
    }
}

/// Part of a good recording.
pub(crate) fn part(part: &str) -> &str {
    match part {
        "engine-off" => "key on, engine off",
        "warm" => "engine warm",
        "idle" => "warm idle, hands off",
        "after-blip" => "idle again after a blip of the throttle",
        "raised" => "steady raised speed",
        other => other,
    }
}

/// What a part of a recording would add.
pub(crate) fn part_gives(part: &str) -> &'static str {
    match part {
        "engine-off" => {
            "15 s with key on and engine off give every sensor's zero, so that sensor error is not taken for imbalance."
        }
        "warm" => {
            "A warm engine (coolant logged, no longer rising): a cold one idles on other air and other fuel."
        }
        "idle" => "60 s of warm idle, hands off, give the means their certainty.",
        "after-blip" => {
            "A blip of the throttle and 60 s of idle after it show whether the plates come back to the same place."
        }
        "raised" => "30 s at a steady 2,500 to 3,000 rev/min show the linkage, which idle hides.",
        _ => "",
    }
}

/// Level of a notice.
pub(crate) fn level(l: Level) -> &'static str {
    match l {
        Level::Note => "note",
        Level::Caution => "caution",
        Level::Fault => "fault",
    }
}

/// Name of a quantity.
pub(crate) fn quantity(q: Quantity) -> &'static str {
    match q {
        Quantity::ManifoldPressure => "manifold pressure",
        Quantity::EngineSpeed => "engine speed",
        Quantity::CoolantTemperature => "coolant temperature",
        Quantity::IntakeTemperature => "intake air temperature",
        Quantity::Throttle => "throttle",
        Quantity::Lambda => "lambda",
        Quantity::FuelTrim => "fuel trim",
        Quantity::Barometer => "barometer",
        Quantity::ExhaustTemperature => "exhaust temperature",
        Quantity::CrankMark => "crank mark",
        Quantity::Time => "time",
        Quantity::Ignored => "not used",
    }
}

/// Kind of a pressure.
pub(crate) fn kind(k: PressureKind) -> &'static str {
    match k {
        PressureKind::Absolute => "absolute",
        PressureKind::Vacuum => "vacuum",
        PressureKind::Gauge => "gauge",
    }
}

/// Container format.
pub(crate) fn format(f: Format) -> &'static str {
    match f {
        Format::Csv => "delimited text",
        Format::Parquet => "Parquet",
        Format::Arrow => "Arrow",
        Format::Candump => "CAN frames (candump)",
    }
}

/// What deviations are counted from.
pub(crate) fn reference(r: &Reference) -> String {
    match r {
        Reference::Cylinder(c) => format!("cylinder {c}"),
        Reference::Group(GroupReference::Median) => "the median cylinder".to_owned(),
        Reference::Group(GroupReference::Mean) => "the mean of the cylinders".to_owned(),
    }
}

/// How fuel is metered.
pub(crate) fn fuelling(f: Fuelling) -> &'static str {
    match f {
        Fuelling::Shared => "one injected quantity for all cylinders",
        Fuelling::Individual => "metered cylinder by cylinder",
        Fuelling::Unknown => "not known",
    }
}

/// What the signal carries.
pub(crate) fn signal(s: Signal) -> &'static str {
    match s {
        Signal::Resolved => "resolved: the shape of each pulse can be used",
        Signal::Partial => "partial: pulses are seen, means over whole cycles are sound, the shape is not",
        Signal::Averaged => "averaged: no pulse is left in the values, which suits means at any row rate",
        Signal::Aliased => "aliased: pulses are there and the rows are too far apart to carry them",
        Signal::Unknown => "not known",
    }
}

/// Where the barometer comes from.
pub(crate) fn barometer(source: &str) -> &str {
    match source {
        "channel" => "logged",
        "engine-off" => "from the sensors with the engine off",
        "machine-file" => "from the machine file",
        "altitude" => "from the altitude, standard atmosphere",
        other => other,
    }
}
