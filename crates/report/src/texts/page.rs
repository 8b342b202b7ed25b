//! Headings, captions and standing sentences of the pages.

use crate::units::DisplayUnit;

/// What every page says about how far its method has been proven.
pub(crate) const CHECKED: &str =
    "Checked on simulated engines; no open per-cylinder recording with known truth exists.";

/// The cautions in one line, for the first page; the list of all of them stands further down.
pub(crate) const HURTS: &str = "Do not run the engine indoors without extraction (carbon monoxide), nor reach near fan, belts, hot parts or open intakes. The full list stands under “Cautions”.";

/// Heading of the part with the numbers of a plain display.
pub(crate) const DISPLAY_HEADING: &str = "What your display would have shown";

/// Sentence before the table of a plain display.
pub(crate) fn display_intro(bias: bool) -> String {
    let zero = if bias {
        " Removed from it: the zero error of each sensor, found where the key was on and the engine off."
    } else {
        " No zero error could be removed: the recording holds no stretch with key on and engine off to find it in."
    };
    format!(
        "A display that averages over the same idle would have shown the figures in the first column.{zero} The rest is what an average over parts of engine cycles adds or takes."
    )
}

/// Caption of the first figure.
pub(crate) fn deviations_caption(
    reference: &str,
    limit: &str,
    rule_of_thumb: bool,
    found: bool,
    gain: bool,
) -> String {
    let whose =
        if rule_of_thumb { "a rule of thumb, not the maker's figure" } else { "from the machine file" };
    let rings = if found { " Small rings above: as found, before the first turn." } else { "" };
    let thin = if gain { " (heavy; thin: with the gain error that the sensors may have)" } else { "" };
    format!(
        "Each dot is one cylinder against {reference}, with its 95 % interval{thin}. The shaded band is as wide as the limit on the spread ({limit}, {whose}) and lies where it holds the most cylinders: a dot outside it is out of step.{rings}"
    )
}

/// Caption of the trace.
pub(crate) fn trace_caption(level: bool, excluded: bool, turns: bool) -> String {
    let what = if level { "The level is the pressure with the pulses averaged out. " } else { "" };
    let hatched = if excluded { " Hatched: not judged, with the reason." } else { "" };
    let turned = if turns { " Broken vertical lines: a screw was turned." } else { "" };
    format!("{what}Black bars and the plain ground under them: judged.{hatched}{turned}")
}

/// Caption of the averaged pulse.
pub(crate) fn pulse_caption(aligned: bool, refill: bool) -> String {
    let from = if aligned {
        "Laid over each other from the start of the refill"
    } else {
        "Laid over each other at the lowest point"
    };
    let heavy = if refill {
        " The heavy part is the straight refill while the plate is choked: the steeper it is, the more air passes the plate."
    } else {
        ""
    };
    format!("{from}; the pale band is one standard deviation from cycle to cycle.{heavy}")
}

/// Caption of the adjusting figure.
pub(crate) const ADJUSTING_CAPTION: &str = "Marks with an interval were measured; the small marks between them add the step that each turn made against the other cylinders. The shaded band is as wide as the limit on the spread, laid where it holds the most cylinders as left. A turn also moves the middle of the group, and with it the cylinders that nobody turned.";

/// Title of the panel of the engine speed.
pub(crate) const SPEED_TITLE: &str = "engine speed, rev/min";

/// Title of the panel of the coolant temperature.
pub(crate) const COOLANT_TITLE: &str = "coolant temperature, °C";

/// Name of the time axis.
pub(crate) const TIME_NAME: &str = "time from the first row";

/// Words at the two ends of the deviation axis.
pub(crate) fn ends(unit: &DisplayUnit) -> (String, String) {
    if unit.vacuum() {
        ("more vacuum".to_owned(), "less vacuum".to_owned())
    } else {
        ("lower pressure".to_owned(), "higher pressure".to_owned())
    }
}

/// Axis of the deviations.
pub(crate) fn deviation_axis(unit: &DisplayUnit, reference: &str) -> String {
    let what = if unit.vacuum() { "vacuum" } else { "pressure" };
    format!("{what} against {reference}, {}", unit.name())
}
