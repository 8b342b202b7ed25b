//! The machine file, key by key.

use std::collections::BTreeMap;

use toml::de::DeTable;

use super::{Adjuster, ColumnRule, Machine, Opens, PressureIs};
use crate::recording::{PressureKind, Quantity};
use crate::result::{Fuelling, GroupReference, Reference};
use crate::toml_cells::{Cell, Place, TomlError};
use crate::units::PressureUnit;

const KEYS: &[&str] = &[
    "id",
    "cylinders",
    "strokes",
    "firing_deg",
    "reference",
    "limit_kpa",
    "fuelling",
    "pressure_is",
    "idle_rpm",
    "warm_c",
    "altitude_m",
    "barometer_kpa",
    "runner_cc",
    "displacement_cc",
    "lambda_target",
    "adjuster",
    "columns",
];
const ADJUSTER_KEYS: &[&str] = &["cylinder", "opens", "range_turns", "kpa_per_turn", "sealed"];
const COLUMN_KEYS: &[&str] = &["quantity", "cylinder", "unit", "kind"];
/// Most cylinders of any engine this is meant for.
const MOST_CYLINDERS: u32 = 24;

pub(super) const QUANTITIES: &[(&str, Quantity)] = &[
    ("manifold_pressure", Quantity::ManifoldPressure),
    ("engine_speed", Quantity::EngineSpeed),
    ("coolant_temperature", Quantity::CoolantTemperature),
    ("intake_temperature", Quantity::IntakeTemperature),
    ("throttle", Quantity::Throttle),
    ("lambda", Quantity::Lambda),
    ("fuel_trim", Quantity::FuelTrim),
    ("barometer", Quantity::Barometer),
    ("exhaust_temperature", Quantity::ExhaustTemperature),
    ("crank_mark", Quantity::CrankMark),
    ("time", Quantity::Time),
    ("ignored", Quantity::Ignored),
];

pub(super) const KINDS: &[(&str, PressureKind)] =
    &[("absolute", PressureKind::Absolute), ("vacuum", PressureKind::Vacuum), ("gauge", PressureKind::Gauge)];

impl Machine {
    /// Reads a machine file.
    ///
    /// `name` is the file's name for errors. What the file does not say keeps its default.
    ///
    /// # Errors
    /// [`TomlError`] at the first key that is unknown, of the wrong type or out of its range.
    pub fn from_toml(name: &str, text: &str) -> Result<Self, TomlError> {
        let place = Place::new(name, text);
        let root = place.root()?;
        let cells = keyed(place, root.get_ref(), KEYS)?;
        let mut machine = Self::default();
        // What others are checked against comes first, wherever it stands in the file.
        let first = ["cylinders", "strokes", "firing_deg"];
        for key in first.iter().chain(KEYS.iter().filter(|key| !first.contains(key))) {
            if let Some(cell) = cells.get(key) {
                machine.set(cell)?;
            }
        }
        Ok(machine)
    }

    fn set(&mut self, cell: &Cell<'_>) -> Result<(), TomlError> {
        match cell.key {
            "id" => self.id = Some(id(cell)?),
            "cylinders" => self.cylinders = Some(cell.whole_in(1, MOST_CYLINDERS)?),
            "strokes" => self.strokes = strokes(cell)?,
            "firing_deg" => self.firing_deg = Some(self.firing(cell)?),
            "reference" => self.reference = self.reference(cell)?,
            "limit_kpa" => self.limit_kpa = Some(cell.number_in(0.05, 50.0, " kPa")?),
            "fuelling" => {
                self.fuelling = cell.word(&[
                    ("shared", Fuelling::Shared),
                    ("individual", Fuelling::Individual),
                    ("unknown", Fuelling::Unknown),
                ])?;
            }
            "pressure_is" => {
                self.pressure_is = cell.word(&[
                    ("mean", PressureIs::Mean),
                    ("minimum", PressureIs::Minimum),
                    ("unknown", PressureIs::Unknown),
                ])?;
            }
            "idle_rpm" => self.idle_rpm = Some(idle_band(cell)?),
            "warm_c" => self.warm_c = Some(cell.number_in(0.0, 150.0, " degrees C")?),
            "altitude_m" => self.altitude_m = Some(cell.number_in(-500.0, 6000.0, " m")?),
            "barometer_kpa" => self.barometer_kpa = Some(cell.number_in(45.0, 115.0, " kPa")?),
            "runner_cc" => self.runner_cc = Some(self.runners(cell)?),
            "displacement_cc" => self.displacement_cc = Some(cell.number_in(1.0, 20_000.0, " cm3")?),
            "lambda_target" => self.lambda_target = cell.number_in(0.5, 2.0, "")?,
            "adjuster" => self.adjusters = self.adjusters(cell)?,
            _ => self.columns = self.column_rules(cell)?,
        }
        Ok(())
    }

    fn most(&self) -> u32 {
        self.cylinders.unwrap_or(MOST_CYLINDERS)
    }

    fn firing(&self, cell: &Cell<'_>) -> Result<Vec<f64>, TomlError> {
        let turn = if self.strokes == 2 { 360.0 } else { 720.0 };
        let expected = "a list of crank angles, one per cylinder, cylinder 1 first";
        let entries = cell.list(expected)?;
        let angles = entries
            .iter()
            .map(|entry| {
                entry
                    .number()
                    .filter(|angle| (0.0..turn).contains(angle))
                    .ok_or_else(|| entry.bad(format!("a crank angle from 0 to under {turn} degrees")))
            })
            .collect::<Result<Vec<_>, _>>()?;
        self.one_per_cylinder(cell, angles, "angles")
    }

    fn runners(&self, cell: &Cell<'_>) -> Result<Vec<f64>, TomlError> {
        if cell.number().is_some() {
            return Ok(vec![cell.number_in(1.0, 20_000.0, " cm3")?]);
        }
        let entries = cell.list("a number in cm3, or a list with one per cylinder")?;
        let volumes =
            entries.iter().map(|e| e.number_in(1.0, 20_000.0, " cm3")).collect::<Result<Vec<_>, _>>()?;
        self.one_per_cylinder(cell, volumes, "volumes")
    }

    fn one_per_cylinder(&self, cell: &Cell<'_>, list: Vec<f64>, what: &str) -> Result<Vec<f64>, TomlError> {
        match self.cylinders {
            Some(cylinders) if list.len() != cylinders as usize => {
                Err(cell.bad(format!("{cylinders} {what}, one per cylinder (this list has {})", list.len())))
            }
            _ if list.is_empty() => Err(cell.bad(format!("one or more {what}"))),
            _ => Ok(list),
        }
    }

    fn reference(&self, cell: &Cell<'_>) -> Result<Reference, TomlError> {
        let most = self.most();
        let expected = format!("\"median\", \"mean\" or the number of a cylinder from 1 to {most}");
        match cell.value.get_ref().as_str() {
            Some("median") => Ok(Reference::Group(GroupReference::Median)),
            Some("mean") => Ok(Reference::Group(GroupReference::Mean)),
            _ => cell.whole_in(1, most).map(Reference::Cylinder).map_err(|_| cell.bad(expected)),
        }
    }

    fn adjusters(&self, cell: &Cell<'_>) -> Result<Vec<Adjuster>, TomlError> {
        let expected = "one or more tables [[adjuster]]";
        let mut found: Vec<Adjuster> = Vec::new();
        for entry in cell.list(expected)? {
            let cells = keyed(cell.place, entry.table(expected)?, ADJUSTER_KEYS)?;
            let Some(number) = cells.get("cylinder") else {
                return Err(entry.bad("a table with the key cylinder"));
            };
            let cylinder = number.whole_in(1, self.most())?;
            if found.iter().any(|other| other.cylinder == cylinder) {
                return Err(number.bad("a cylinder that has no [[adjuster]] yet"));
            }
            found.push(adjuster(cylinder, &cells)?);
        }
        Ok(found)
    }

    fn column_rules(&self, cell: &Cell<'_>) -> Result<BTreeMap<String, ColumnRule>, TomlError> {
        let expected =
            "a table such as \"Ch 3\" = { quantity = \"manifold_pressure\", cylinder = 2, unit = \"mmHg\" }";
        let mut rules = BTreeMap::new();
        for (header, value) in cell.table(expected)? {
            let entry = Cell::new(cell.place, header.get_ref(), value);
            let cells = keyed(cell.place, entry.table(expected)?, COLUMN_KEYS)?;
            let Some(quantity) = cells.get("quantity") else {
                return Err(entry.bad("a table with the key quantity"));
            };
            let rule = ColumnRule {
                quantity: quantity.word(QUANTITIES)?,
                cylinder: cells.get("cylinder").map(|c| c.whole_in(1, self.most())).transpose()?,
                unit: cells.get("unit").map(|c| c.text("a unit in quotes").map(str::to_owned)).transpose()?,
                kind: cells.get("kind").map(|c| c.word(KINDS)).transpose()?,
            };
            check_rule(&cells, &rule)?;
            rules.insert(header.get_ref().trim().to_owned(), rule);
        }
        Ok(rules)
    }
}

/// A pressure needs a pressure unit, and only a pressure has a kind.
fn check_rule(cells: &BTreeMap<&str, Cell<'_>>, rule: &ColumnRule) -> Result<(), TomlError> {
    let pressure = matches!(rule.quantity, Quantity::ManifoldPressure | Quantity::Barometer);
    if let (true, Some(cell), Some(unit)) = (pressure, cells.get("unit"), rule.unit.as_deref())
        && PressureUnit::parse_with_kind(unit).is_none()
    {
        let names: Vec<&str> = PressureUnit::ALL.iter().map(|unit| unit.name()).collect();
        return Err(cell.bad(format!("a unit of pressure: {}", names.join(", "))));
    }
    match cells.get("kind") {
        Some(cell) if !pressure => Err(cell.bad("no kind: only a pressure has one")),
        _ => Ok(()),
    }
}

/// The cells of a table by key, once every key is known to be allowed.
fn keyed<'a>(
    place: Place<'a>,
    table: &'a DeTable<'a>,
    allowed: &[&'static str],
) -> Result<BTreeMap<&'a str, Cell<'a>>, TomlError> {
    Ok(place.cells(table, allowed)?.into_iter().map(|cell| (cell.key, cell)).collect())
}

fn adjuster(cylinder: u32, cells: &BTreeMap<&str, Cell<'_>>) -> Result<Adjuster, TomlError> {
    let number =
        |key: &str, low, high, unit| cells.get(key).map(|c| c.number_in(low, high, unit)).transpose();
    let opens = [
        ("anticlockwise", Opens::Anticlockwise),
        ("clockwise", Opens::Clockwise),
        ("unknown", Opens::Unknown),
    ];
    Ok(Adjuster {
        cylinder,
        opens: cells.get("opens").map_or(Ok(Opens::Unknown), |c| c.word(&opens))?,
        range_turns: number("range_turns", 0.01, 50.0, " turns")?,
        kpa_per_turn: number("kpa_per_turn", 0.001, 100.0, " kPa per turn")?,
        sealed: cells.get("sealed").map_or(Ok(false), Cell::truth)?,
    })
}

fn id(cell: &Cell<'_>) -> Result<String, TomlError> {
    let expected = "1 to 64 of the characters A-Z a-z 0-9 - _ . and not only full stops";
    let text = cell.text(expected)?;
    let fits = (1..=64).contains(&text.len())
        && text.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b))
        && text.bytes().any(|b| b != b'.');
    if fits { Ok(text.to_owned()) } else { Err(cell.bad(expected)) }
}

fn strokes(cell: &Cell<'_>) -> Result<u8, TomlError> {
    match cell.whole_in(2, 4) {
        Ok(2) => Ok(2),
        Ok(4) => Ok(4),
        _ => Err(cell.bad("2 or 4")),
    }
}

fn idle_band(cell: &Cell<'_>) -> Result<(f64, f64), TomlError> {
    let expected = "a list of two speeds in rev/min, the lower one first, such as [900, 1300]";
    let entries = cell.list(expected)?;
    let [low, high] = entries.as_slice() else {
        return Err(cell.bad(expected));
    };
    let band = (low.number_in(100.0, 10_000.0, " rev/min")?, high.number_in(100.0, 10_000.0, " rev/min")?);
    if band.0 < band.1 { Ok(band) } else { Err(cell.bad(expected)) }
}
