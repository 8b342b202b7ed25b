//! The words of the job in English, German, French, Spanish and Italian, and what a header means by them.
//!
//! Every list holds plain letters (accents dropped). A *word* must stand alone in the header; a *part* (five letters
//! or more) may be inside a compound such as `Saugrohrdruck`.

use super::header::Header;
use super::unit_words::Unit;
use crate::recording::{PressureKind, Quantity};

/// Words and parts of words that point to one meaning.
struct Vocabulary {
    words: &'static [&'static str],
    parts: &'static [&'static str],
}

impl Vocabulary {
    /// The first hit, as it is written in the list.
    fn hit(&self, header: &Header) -> Option<&'static str> {
        let word = self.words.iter().find(|w| header.words.iter().any(|x| x == *w));
        word.or_else(|| self.parts.iter().find(|p| header.joined.contains(*p))).copied()
    }
}

/// A value that was asked for, not measured.
const WANTED: Vocabulary = Vocabulary {
    words: &["target", "desired", "soll", "command", "cmd", "request", "requested", "goal", "des"],
    parts: &[
        "setpoint",
        "sollwert",
        "commanded",
        "consigne",
        "objetivo",
        "obiettivo",
        "demand",
        "zielwert",
        "consigna",
    ],
};

/// Things that are not judged, whatever their unit.
const ELSEWHERE: Vocabulary = Vocabulary {
    words: &[
        "oil",
        "olio",
        "huile",
        "aceite",
        "ol",
        "fuel",
        "rail",
        "brake",
        "tyre",
        "tire",
        "gear",
        "gang",
        "catalyst",
        "kat",
        "cat",
        "clutch",
        "load",
        "last",
        "carga",
        "carico",
        "charge",
        "voltage",
        "volt",
        "battery",
        "spannung",
        "tension",
        "advance",
        "ignition",
        "dwell",
        "evap",
        "distance",
        "odometer",
        "pedal",
        "pedale",
        "maf",
        "airflow",
        "torque",
        "fan",
        "vss",
        "gps",
        "lat",
        "lon",
        "accel",
        "tank",
        "mil",
        "dtc",
        "warm",
        "power",
        "evaporative",
        "purge",
        "crankcase",
        "steering",
        "wheel",
        "knock",
        "duty",
        "current",
        "strom",
        "deckung",
        "turbine",
        "delta",
        "diff",
    ],
    parts: &[
        "vehicle",
        "fahrzeug",
        "geschwindigkeit",
        "vehicule",
        "vehiculo",
        "veicolo",
        "velocidad",
        "kraftstoff",
        "carburant",
        "combustible",
        "benzin",
        "katalysator",
        "voltaje",
        "batterie",
        "zundung",
        "injector",
        "injection",
        "einspritz",
        "iniezione",
        "inyeccion",
        "luftmasse",
        "kilometer",
        "troublecode",
        "sincecodes",
        "drehmoment",
        "distancetravel",
        "fueltank",
        "milon",
        "gearbox",
        "getriebe",
        "oldruck",
        "oltemp",
        "kraftstoffdruck",
        "wheelspeed",
    ],
};

const TRIM: Vocabulary = Vocabulary {
    words: &["trim", "stft", "ltft", "fueltrim"],
    parts: &[
        "gemischadaption",
        "fueltrim",
        "correctioncarburant",
        "shortterm",
        "longterm",
        "gemischkorrektur",
    ],
};
const LAMBDA: Vocabulary = Vocabulary {
    words: &["lambda", "\u{3bb}", "afr", "wbo", "wideband"],
    parts: &["luftzahl", "wideband", "breitband", "airfuel", "equivratio", "equivalenceratio", "lambdasonde"],
};
const BAROMETER: Vocabulary = Vocabulary {
    words: &[
        "baro",
        "barometer",
        "barometric",
        "ambient",
        "atmospheric",
        "patm",
        "pamb",
        "baromap",
        "amb",
        "env",
        "umgebung",
        "bap",
    ],
    parts: &[
        "barometr",
        "atmosph",
        "umgebungsdruck",
        "luftdruck",
        "atmosfer",
        "ambiente",
        "barometer",
        "ambiante",
        "ambientpress",
    ],
};
const EXHAUST: Vocabulary = Vocabulary {
    words: &["egt", "exhaust", "exh", "escape", "scarico", "gase"],
    parts: &["abgas", "exhaust", "echappement", "gasdescape", "gasdiscarico"],
};
const COOLANT: Vocabulary = Vocabulary {
    words: &[
        "coolant",
        "ect",
        "clt",
        "cts",
        "water",
        "wasser",
        "eau",
        "agua",
        "acqua",
        "refrigerante",
        "refrigerant",
        "tmot",
        "kmt",
        "head",
        "motortemp",
        "h2o",
        "zylinderkopf",
        "culata",
    ],
    parts: &[
        "coolant",
        "kuhlmittel",
        "kuhlwasser",
        "refroidissement",
        "refrigerante",
        "raffreddamento",
        "motortemp",
        "enginetemp",
        "temperaturemoteur",
        "temperaturamotor",
        "tempmotor",
        "tempmoteur",
        "watertemp",
    ],
};
const INTAKE_AIR: Vocabulary = Vocabulary {
    words: &["iat", "mat", "act", "tans", "lufttemp"],
    parts: &[
        "intakeair",
        "airintake",
        "intaketemp",
        "inletair",
        "inlettemp",
        "ansaugluft",
        "ladeluft",
        "airadmission",
        "admissionair",
        "aireadmision",
        "aireaspirado",
        "ariaaspirata",
        "airtemp",
        "lufttemp",
        "tempaire",
        "tempair",
        "temperatureair",
    ],
};
const THROTTLE: Vocabulary = Vocabulary {
    words: &[
        "throttle",
        "tps",
        "tp",
        "dk",
        "papillon",
        "mariposa",
        "farfalla",
        "thr",
        "thrott",
        "acelerador",
        "acceleratore",
    ],
    parts: &["throttle", "drossel", "papillon", "mariposa", "farfalla", "gasgriff"],
};
const PRESSURE: Vocabulary = Vocabulary {
    words: &[
        "pressure",
        "press",
        "pres",
        "p",
        "map",
        "imap",
        "manifold",
        "vacuum",
        "vac",
        "boost",
        "druck",
        "pression",
        "presion",
        "pressione",
        "depression",
        "vide",
        "vacio",
        "vuoto",
        "collecteur",
        "colector",
        "collettore",
        "imp",
        "inman",
        "runner",
        "unterdruck",
        "saugrohr",
        "kruemmer",
        "krummer",
        "intake",
        "admission",
        "admision",
        "aspirazione",
        "inlet",
        "ansaug",
    ],
    parts: &[
        "pressure",
        "manifold",
        "vacuum",
        "druck",
        "saugrohr",
        "pression",
        "presion",
        "depression",
        "collecteur",
        "colector",
        "collettore",
        "ladedruck",
        "aspiration",
    ],
};
const SPEED: Vocabulary = Vocabulary {
    words: &[
        "rpm",
        "n",
        "nmot",
        "revs",
        "rev",
        "speed",
        "drehzahl",
        "regime",
        "giri",
        "regimen",
        "tours",
        "tr",
        "upm",
        "revoluciones",
        "vueltas",
        "rotation",
        "tacho",
        "tach",
        "omdr",
        "engspd",
        "moteur",
    ],
    parts: &[
        "enginespeed",
        "drehzahl",
        "motordreh",
        "regimemoteur",
        "velocitamotore",
        "vitessemoteur",
        "revolution",
        "regimenmotor",
        "umdrehung",
        "girimotore",
        "rotationspeed",
        "idlespeed",
        "leerlauf",
    ],
};
const MARK: Vocabulary = Vocabulary {
    words: &[
        "trigger",
        "tdc",
        "crank",
        "cam",
        "ot",
        "pmh",
        "pms",
        "pmi",
        "crankmark",
        "sync",
        "mark",
        "hall",
    ],
    parts: &[
        "trigger",
        "crankmark",
        "totpunkt",
        "camsync",
        "camshaft",
        "crankshaft",
        "crankangle",
        "nockenwelle",
        "kurbelwelle",
    ],
};
const TEMPERATURE: Vocabulary = Vocabulary {
    words: &["temp", "temperature", "temperatur", "temperatura", "t", "degc", "tmp"],
    parts: &["temperat"],
};
const TIME: Vocabulary = Vocabulary {
    words: &[
        "time",
        "t",
        "zeit",
        "temps",
        "tiempo",
        "tempo",
        "timestamp",
        "elapsed",
        "uhrzeit",
        "date",
        "datum",
        "fecha",
        "data",
        "heure",
        "hora",
        "ora",
        "clock",
        "ts",
        "datetime",
        "zeitstempel",
        "horodatage",
        "secs",
        "sec",
        "seconds",
        "second",
        "s",
        "ms",
        "msec",
        "millis",
        "milliseconds",
        "us",
        "micros",
        "epoch",
        "unixtime",
        "seconde",
        "secondes",
        "segundos",
        "secondi",
        "sekunden",
        "marcatempo",
        "instant",
        "stamp",
        "min",
        "minutes",
        "minute",
    ],
    parts: &[
        "timestamp",
        "zeitstempel",
        "horodat",
        "datetime",
        "laufzeit",
        "runtime",
        "elapsed",
        "marcatemporal",
    ],
};
const INDEX: Vocabulary = Vocabulary {
    words: &[
        "index",
        "sample",
        "samples",
        "row",
        "nr",
        "no",
        "idx",
        "counter",
        "frame",
        "muestra",
        "echantillon",
        "campione",
        "record",
        "#",
    ],
    parts: &["samplenumber", "samplenr", "messwertnr", "sampleindex", "zeilennr", "recordnumber"],
};

/// Words that say what a pressure is measured against.
const VACUUM: Vocabulary = Vocabulary {
    words: &["vacuum", "vac", "vacio", "vuoto", "vide", "depression", "depressione", "unterdruck", "mapvac"],
    parts: &["vacuum", "unterdruck", "depression"],
};
const GAUGE: Vocabulary = Vocabulary {
    words: &[
        "gauge",
        "gage",
        "rel",
        "relative",
        "relativ",
        "relativa",
        "relativo",
        "boost",
        "uberdruck",
        "manometrique",
        "g",
    ],
    parts: &[
        "gauge",
        "uberdruck",
        "relativ",
        "manometr",
        "ladedruck",
        "surpression",
        "sovrapressione",
        "sobrepresion",
    ],
};
const ABSOLUTE: Vocabulary = Vocabulary {
    words: &[
        "abs", "absolute", "absolut", "absolu", "absolue", "absoluta", "assoluta", "absoluto", "map", "imap",
        "manifold",
    ],
    parts: &["absolut", "assolut", "manifold", "saugrohr", "krummer", "collecteur", "colector", "collettore"],
};

/// What a header says.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Meaning {
    /// `None`: nothing that is known.
    pub(crate) quantity: Option<Quantity>,
    pub(crate) why: String,
}

impl Meaning {
    fn of(quantity: Quantity, word: &str) -> Option<Self> {
        Some(Self { quantity: Some(quantity), why: format!("`{word}` in the header") })
    }
}

/// Quantities in the order in which their words decide.
const ORDER: [(Quantity, &Vocabulary); 6] = [
    (Quantity::CoolantTemperature, &COOLANT),
    (Quantity::IntakeTemperature, &INTAKE_AIR),
    (Quantity::Throttle, &THROTTLE),
    (Quantity::ManifoldPressure, &PRESSURE),
    (Quantity::EngineSpeed, &SPEED),
    (Quantity::CrankMark, &MARK),
];

/// What a header means, from its words and its unit. Time is judged elsewhere ([`time_rank`]).
pub(crate) fn meaning(header: &Header) -> Meaning {
    let nothing = |why: String| Meaning { quantity: Some(Quantity::Ignored), why };
    if let Some(word) = WANTED.hit(header) {
        return nothing(format!("`{word}`: a wanted value, not a measured one"));
    }
    let fits = |quantity: Quantity| header.unit.is_none_or(|unit| unit.fits(quantity));
    if let Some(found) = early(header, &fits) {
        return found;
    }
    if let Some(word) = ELSEWHERE.hit(header) {
        return nothing(format!("`{word}`: not a quantity that is judged here"));
    }
    let temperature = TEMPERATURE.hit(header).is_some();
    if COOLANT.hit(header).is_some() && matches!(header.unit, Some(Unit::Pressure(_))) {
        return nothing("a pressure of the cooling water".to_owned());
    }
    for (quantity, list) in ORDER {
        let Some(word) = list.hit(header).filter(|_| fits(quantity)) else { continue };
        // `intake temp`, `p1 temp` are no pressures.
        if quantity == Quantity::ManifoldPressure
            && temperature
            && header.unit.is_none()
            && header.words.len() > 1
            && !header.words.iter().any(|w| matches!(w.as_str(), "map" | "pressure" | "druck" | "vacuum"))
        {
            continue;
        }
        if let Some(found) = Meaning::of(quantity, word) {
            return found;
        }
    }
    by_unit(header)
}

/// Meanings whose words also occur inside others (`fuel trim`, `ambient pressure`, `exhaust temperature`).
fn early(header: &Header, fits: &impl Fn(Quantity) -> bool) -> Option<Meaning> {
    let trim = TRIM.hit(header).filter(|_| fits(Quantity::FuelTrim));
    if let Some(word) = trim {
        return Meaning::of(Quantity::FuelTrim, word);
    }
    if let Some(word) = LAMBDA.hit(header).filter(|_| fits(Quantity::Lambda)) {
        return Meaning::of(Quantity::Lambda, word);
    }
    let ambient_temperature = TEMPERATURE.hit(header).is_some();
    if let Some(word) = BAROMETER.hit(header) {
        if header.words.iter().any(|w| w == "qnh") || ambient_temperature || !fits(Quantity::Barometer) {
            return Some(Meaning {
                quantity: Some(Quantity::Ignored),
                why: format!("`{word}`, but no barometer"),
            });
        }
        return Meaning::of(Quantity::Barometer, word);
    }
    if let Some(word) = EXHAUST.hit(header) {
        let back_pressure = PRESSURE.hit(header).is_some() || !fits(Quantity::ExhaustTemperature);
        let quantity = if back_pressure { Quantity::Ignored } else { Quantity::ExhaustTemperature };
        return Meaning::of(quantity, word);
    }
    None
}

/// Without a known word a unit may still tell: pressures and speeds.
fn by_unit(header: &Header) -> Meaning {
    let meaning = |quantity, why: &str| Meaning { quantity, why: why.to_owned() };
    match header.unit {
        Some(Unit::Pressure(_)) => meaning(Some(Quantity::ManifoldPressure), "its unit is one of pressure"),
        Some(Unit::Turning(_)) => meaning(Some(Quantity::EngineSpeed), "its unit is one of speed"),
        Some(Unit::AirFuel) => meaning(Some(Quantity::Lambda), "its unit is an air-fuel ratio"),
        _ => meaning(None, "no word of the job in the header"),
    }
}

/// What the words say a pressure is measured against, with the word.
pub(crate) fn pressure_kind(header: &Header) -> Option<(PressureKind, &'static str)> {
    if let Some(word) = VACUUM.hit(header) {
        return Some((PressureKind::Vacuum, word));
    }
    let absolute = ABSOLUTE.hit(header).map(|word| (PressureKind::Absolute, word));
    if let Some(kind) = header.kind {
        return Some((kind, "its unit"));
    }
    GAUGE.hit(header).map(|word| (PressureKind::Gauge, word)).or(absolute)
}

/// How much a header looks like a time axis: 0 not at all, 3 nothing else.
pub(crate) fn time_rank(header: &Header) -> u8 {
    let clock_unit = matches!(header.unit, Some(Unit::Time(_) | Unit::ClockText));
    if header.unit.is_some() && !clock_unit {
        return 0;
    }
    let spoiled =
        ["since", "mil", "cleared", "remaining", "dwell", "on", "off", "response", "codes", "delta", "dt"];
    if header.words.iter().any(|w| spoiled.contains(&w.as_str()))
        || WANTED.hit(header).is_some()
        || header.joined.contains("injection")
    {
        return 0;
    }
    match TIME.hit(header) {
        Some(_) if header.words.len() <= 2 => 3,
        Some(_) => 2,
        None if clock_unit => 1,
        None => 0,
    }
}

/// Whether a header names a running number.
pub(crate) fn is_index(header: &Header) -> bool {
    header.unit.is_none() && header.words.len() <= 2 && INDEX.hit(header).is_some()
}
