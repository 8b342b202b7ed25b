//! The words of the job in English, German, French, Spanish and Italian.
//!
//! Every list holds plain letters (accents dropped). A *word* must stand alone in the header; a *part* (five letters
//! or more) may be inside a compound such as `Saugrohrdruck`.

use super::header::Header;

/// Words and parts of words that point to one meaning.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Vocabulary {
    /// Whole words, parted by blanks.
    words: &'static str,
    /// Parts of words, parted by blanks.
    parts: &'static str,
}

impl Vocabulary {
    /// The first hit, as it is written in the list.
    pub(crate) fn hit(&self, header: &Header) -> Option<&'static str> {
        let word = self.words.split_whitespace().find(|w| header.words.iter().any(|x| x == w));
        word.or_else(|| self.parts.split_whitespace().find(|p| header.joined.contains(p)))
    }
}

/// A value that was asked for, not measured.
pub(crate) const WANTED: Vocabulary = Vocabulary {
    words: "target desired soll command cmd request requested goal des",
    parts: "setpoint sollwert solldreh solldruck sollmap commanded consigne objetivo obiettivo demand zielwert consigna",
};

/// Things that are not judged, whatever their unit.
pub(crate) const ELSEWHERE: Vocabulary = Vocabulary {
    words: "oil olio huile aceite ol fuel rail brake tyre tire gear gang catalyst kat cat clutch load \
        last carga carico charge voltage volt battery spannung tension advance ignition dwell evap \
        distance odometer pedal pedale maf airflow torque fan vss gps lat lon accel tank mil dtc \
        warm power evaporative purge crankcase steering wheel knock duty strom deckung \
        turbine delta diff max maximum maximo massimo peak spitze redline",
    parts: "vehicle fahrzeug geschwindigkeit vehicule vehiculo veicolo velocidadveh velocidaddelveh kraftstoff carburant \
        combustible benzin katalysator voltaje batterie zundung injector injection einspritz \
        iniezione inyeccion luftmasse kilometer troublecode sincecodes drehmoment distancetravel \
        fueltank milon gearbox getriebe oldruck oltemp kraftstoffdruck wheelspeed",
};

pub(crate) const TRIM: Vocabulary = Vocabulary {
    words: "trim stft ltft fueltrim",
    parts: "gemischadaption fueltrim correctioncarburant shortterm longterm gemischkorrektur",
};
pub(crate) const LAMBDA: Vocabulary = Vocabulary {
    words: "lambda \u{3bb} afr wbo wideband",
    parts: "luftzahl wideband breitband airfuel equivratio equivalenceratio lambdasonde",
};
pub(crate) const BAROMETER: Vocabulary = Vocabulary {
    words: "baro barometer barometric ambient atmospheric patm pamb baromap amb env umgebung bap",
    parts: "barometr atmosph umgebungsdruck luftdruck atmosfer ambiente barometer ambiante ambientpress",
};
pub(crate) const EXHAUST: Vocabulary = Vocabulary {
    words: "egt exhaust exh escape scarico gase",
    parts: "abgas exhaust echappement gasdescape gasdiscarico",
};
pub(crate) const COOLANT: Vocabulary = Vocabulary {
    words: "coolant ect clt cts water wasser eau agua acqua refrigerante refrigerant tmot kmt head \
        motortemp wassertemperatur wassertemp zylinderkopf culata cht tw",
    parts: "coolant kuhlmittel kuhlwasser kuehlmittel kuehlwasser kuhlflussig kuehlfluessig wassertemp \
        temperaturah2o temperatureh2o temph2o h2otemp refroidissement refrigerante raffreddamento motortemp \
        enginetemp temperaturemoteur temperaturamotor tempmotor tempmoteur watertemp",
};
pub(crate) const INTAKE_AIR: Vocabulary = Vocabulary {
    words: "iat mat act tans lufttemp",
    parts: "intakeair airintake intaketemp inletair inlettemp ansaugluft ladeluft airadmission \
        admissionair aireadmision aireaspirado ariaaspirata airtemp lufttemp tempaire tempair \
        temperatureair",
};
pub(crate) const THROTTLE: Vocabulary = Vocabulary {
    words: "throttle tps tp dk papillon mariposa farfalla thr thrott acelerador acceleratore",
    parts: "throttle drossel papillon mariposa farfalla gasgriff",
};
pub(crate) const PRESSURE: Vocabulary = Vocabulary {
    words: "pressure press pres p map imap manifold vacuum vac boost druck pression presion pressione \
        depression vide vacio vuoto collecteur colector collettore imp inman runner unterdruck \
        saugrohr kruemmer krummer intake admission admision aspirazione inlet ansaug vakuum depresion",
    parts: "pressure manifold vacuum vakuum druck depresion saugrohr pression presion depression collecteur colector \
        collettore ladedruck aspiration",
};
pub(crate) const SPEED: Vocabulary = Vocabulary {
    words: "rpm n nmot revs rev speed drehzahl regime giri regimen tours tr upm revoluciones vueltas \
        rotation tacho tach omdr engspd drehz rotazione velocidad",
    parts: "enginespeed enginespd engspd drehzahl motordreh regimemoteur velocitamotore vitessemoteur revolution \
        regimenmotor velocidadmotor velocidaddelmotor velocidaddemotor velocidaddegiro velocitadirotazione umdrehung girimotore rotationspeed idlespeed leerlauf",
};
pub(crate) const MARK: Vocabulary = Vocabulary {
    words: "trigger tdc crank cam ot pmh pms pmi crankmark sync mark hall",
    parts: "trigger crankmark totpunkt camsync camshaft crankshaft crankangle nockenwelle kurbelwelle",
};
pub(crate) const TEMPERATURE: Vocabulary =
    Vocabulary { words: "temp temperature temperatur temperatura t degc tmp", parts: "temperat" };
pub(crate) const TIME: Vocabulary = Vocabulary {
    words: "time t zeit temps tiempo tempo timestamp elapsed uhrzeit date datum fecha data heure hora \
        ora clock ts datetime zeitstempel horodatage secs sec seconds second s ms msec millis \
        milliseconds us micros epoch unix unixtime seconde secondes segundos secondi sekunden marcatempo \
        instant stamp min minutes minute",
    parts: "timestamp zeitstempel horodat datetime laufzeit messzeit runtime elapsed marcatemporal",
};
pub(crate) const INDEX: Vocabulary = Vocabulary {
    words: "index sample samples row nr no idx counter frame muestra echantillon campione record #",
    parts: "samplenumber samplenr messwertnr sampleindex zeilennr recordnumber",
};

/// Words that say what a pressure is measured against.
pub(crate) const VACUUM: Vocabulary = Vocabulary {
    words: "vacuum vac vacio vuoto vide depression depressione depresion unterdruck vakuum mapvac",
    parts: "vacuum vakuum unterdruck depression depresion",
};
pub(crate) const GAUGE: Vocabulary = Vocabulary {
    words: "gauge gage rel relative relativ relativa relativo boost uberdruck manometrique g",
    parts: "gauge uberdruck relativ manometr ladedruck surpression sovrapressione sobrepresion",
};
pub(crate) const ABSOLUTE: Vocabulary = Vocabulary {
    words: "abs absolute absolut absolu absolue absoluta assoluta absoluto map imap manifold",
    parts: "absolut assolut manifold saugrohr krummer collecteur colector collettore",
};
