//! The cautions that every output carries, in our own words. A running engine hurts people.

/// One caution with a stable short key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Caution {
    /// Short key, kebab-case.
    pub key: &'static str,
    /// The caution, one or two sentences.
    pub text: &'static str,
}

const fn caution(key: &'static str, text: &'static str) -> Caution {
    Caution { key, text }
}

/// All cautions, in the order in which work goes on.
pub const LINES: [Caution; 13] = [
    caution(
        "authority",
        "The maker's manual, local codes and licensed practice come first. Where they differ from this page, they are right.",
    ),
    caution(
        "air",
        "Run the engine in the open air or with extraction at the exhaust: carbon monoxide has no smell and kills within minutes indoors.",
    ),
    caution(
        "moving-parts",
        "Keep hands, hair, sleeves and cables away from fan, belts and other moving parts, and off the exhaust and whatever else is hot.",
    ),
    caution(
        "secured",
        "Neutral engaged, machine secured against rolling, driven wheel or propeller clear of everything and everybody.",
    ),
    caution(
        "water-and-bilge",
        "On a craft: cooling water flowing before the engine starts, bilge blower run and the bilge free of vapour first.",
    ),
    caution(
        "open-intakes",
        "Open intakes swallow rags, nuts and fingers, and can spit flame. Keep your face away and nothing loose near them.",
    ),
    caution("no-spray", "Do not hunt leaks with brake cleaner, starting fluid or any other flammable spray."),
    caution(
        "heat",
        "An engine without airflow overheats at idle. Watch the temperature and break off to let it cool.",
    ),
    caution(
        "fuel-vapour",
        "Fuel vapour burns and explodes: no leaks, no open flame, no sparks, an extinguisher within reach.",
    ),
    caution("hearing", "Protect your hearing at open intakes and raised engine speed."),
    caution(
        "throttle",
        "After the work, with the engine off: the throttle snaps shut by itself from every position and with the steering at both stops, and the cable play is what it was.",
    ),
    caution(
        "refit",
        "Refit every cap, hose, filter and sensor that came off; a forgotten cap is a leak at one cylinder.",
    ),
    caution(
        "sealed",
        "Leave sealed or emission-related adjusters alone unless the law and the maker let you turn them.",
    ),
];

/// Three lines for a terminal, 66 columns at most; the full list is in the page and in `evenpull explain cautions`.
#[must_use]
pub fn short() -> [&'static str; 3] {
    [
        "Open air or extraction. Hands, hair and clothes off fan, belts,",
        "hot parts. Neutral, secured. No flammable spray. The maker's",
        "manual comes first. All of them: evenpull explain cautions",
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_unique_and_short_lines_fit_a_terminal() {
        let mut keys: Vec<&str> = LINES.iter().map(|c| c.key).collect();
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), LINES.len());
        assert!(short().iter().all(|l| l.chars().count() <= 66));
    }

    /// The list of subjects is the one our users set; each must be spoken of.
    #[test]
    fn every_subject_is_covered() {
        let all: String = LINES.iter().map(|c| c.text.to_lowercase()).collect::<Vec<_>>().join("\n");
        for word in [
            "open air",
            "extraction",
            "carbon monoxide",
            "hands",
            "hair",
            "sleeves",
            "fan",
            "belts",
            "hot",
            "neutral",
            "secured",
            "wheel",
            "propeller",
            "cooling water",
            "bilge blower",
            "swallow",
            "spit flame",
            "flammable spray",
            "overheats",
            "fuel vapour",
            "hearing",
            "snaps shut",
            "cable play",
            "cap",
            "hose",
            "filter",
            "sensor",
            "sealed",
            "manual",
            "local codes",
            "licensed practice",
        ] {
            assert!(all.contains(word), "no caution speaks of: {word}");
        }
    }
}
