//! A visit to a table and back. The only file that names the table library.

use std::collections::BTreeMap;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use evenpull_core::result::{Class, Measured, Reference};
use evenpull_core::visits::{Turn, VISIT_SCHEMA, Visit, VisitCylinder, VisitFacts};
use polars::prelude::{
    Column, DataFrame, NamedFrom, ParallelStrategy, ParquetCompression, ParquetReader, ParquetWriter,
    SerReader, Series,
};
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::columns::{COLUMNS, Kind};
use crate::error::BookError;
use crate::record::Record;

/// One value of a table.
#[derive(Debug, Clone)]
enum Cell {
    Text(Option<String>),
    Number(Option<f64>),
    Integer(Option<i32>),
}

fn text(value: impl Into<String>) -> Cell {
    Cell::Text(Some(value.into()).filter(|t: &String| !t.is_empty()))
}

fn number(value: Option<f64>) -> Cell {
    Cell::Number(value.filter(|v| v.is_finite()))
}

/// The Parquet bytes of a record.
pub(crate) fn to_parquet(record: &Record) -> Result<Vec<u8>, BookError> {
    let table = |e: &dyn std::fmt::Display| BookError::Table { why: e.to_string() };
    let shared = of_visit(record)?;
    let cylinders = &record.visit.cylinders;
    let rows: Vec<BTreeMap<&str, Cell>> = if cylinders.is_empty() {
        vec![BTreeMap::new()]
    } else {
        cylinders.iter().map(of_cylinder).collect::<Result<_, _>>()?
    };
    let columns = COLUMNS
        .iter()
        .map(|(name, kind, _)| {
            let cells = rows.iter().map(|row| shared.get(name).or_else(|| row.get(name)));
            column(name, *kind, cells)
        })
        .collect();
    let mut frame = DataFrame::new(rows.len(), columns).map_err(|e| table(&e))?;
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes)
        .with_compression(ParquetCompression::Uncompressed)
        .set_parallel(false)
        .finish(&mut frame)
        .map_err(|e| table(&e))?;
    Ok(bytes)
}

fn column<'a>(name: &str, kind: Kind, cells: impl Iterator<Item = Option<&'a Cell>>) -> Column {
    let series = match kind {
        Kind::Text => {
            let v: Vec<Option<String>> =
                cells.map(|c| if let Some(Cell::Text(t)) = c { t.clone() } else { None }).collect();
            Series::new(name.into(), v)
        }
        Kind::Number => {
            let v: Vec<Option<f64>> =
                cells.map(|c| if let Some(Cell::Number(n)) = c { *n } else { None }).collect();
            Series::new(name.into(), v)
        }
        Kind::Integer => {
            let v: Vec<Option<i32>> =
                cells.map(|c| if let Some(Cell::Integer(n)) = c { *n } else { None }).collect();
            Series::new(name.into(), v)
        }
    };
    series.into()
}

fn of_visit(record: &Record) -> Result<BTreeMap<&'static str, Cell>, BookError> {
    let v = &record.visit;
    let f = &v.facts;
    let maybe = |t: &Option<String>| text(t.as_deref().unwrap_or(""));
    let turns = if f.turns.is_empty() { Cell::Text(None) } else { text(json(&f.turns)?) };
    let reference = match v.reference {
        Reference::Cylinder(n) => n.to_string(),
        Reference::Group(g) => word(&g)?,
    };
    let signal = match &v.signal {
        Some(s) => text(word(s)?),
        None => Cell::Text(None),
    };
    let value = |m: Option<Measured>| number(m.map(|m| m.value));
    let u = |m: Option<Measured>| number(m.map(|m| m.u));
    Ok(BTreeMap::from([
        ("schema", text(VISIT_SCHEMA)),
        ("record", text(record.name.as_str())),
        ("supersedes", text(record.supersedes.join(" "))),
        ("machine_id", text(v.machine.as_str())),
        ("visit", text(v.visit.as_str())),
        ("visit_date", maybe(&f.date)),
        ("hours", number(f.hours)),
        ("distance_km", number(f.distance_km)),
        ("note", maybe(&f.note)),
        ("conditions", maybe(&f.conditions)),
        ("work", maybe(&f.work)),
        ("codes", text(f.codes.join(" "))),
        ("codes_cleared", text(f.codes_cleared.join(" "))),
        ("turns_json", turns),
        ("plan_json", v.plan.as_ref().map_or(Ok(Cell::Text(None)), |b| json(b).map(text))?),
        ("key", text(v.key.as_str())),
        ("source", text(v.source.as_str())),
        ("tool_version", text(v.tool_version.as_str())),
        ("settings_hash", text(v.settings_hash.as_str())),
        ("rpm", value(v.rpm)),
        ("rpm_u", u(v.rpm)),
        ("judged_s", number(v.seconds)),
        ("barometer_kpa", number(v.barometer_kpa)),
        ("limit_kpa", number(Some(v.limit_kpa))),
        ("limit_source", text(v.limit_source.as_str())),
        ("reference", text(reference)),
        ("signal", signal),
        ("verdict", text(word(&v.verdict)?)),
        ("spread_kpa", value(v.spread_kpa)),
        ("spread_u_kpa", u(v.spread_kpa)),
        ("notices", text(v.notices.join(" "))),
    ]))
}

fn of_cylinder(c: &VisitCylinder) -> Result<BTreeMap<&'static str, Cell>, BookError> {
    let value = |m: Option<Measured>| number(m.map(|m| m.value));
    let u = |m: Option<Measured>| number(m.map(|m| m.u));
    Ok(BTreeMap::from([
        ("cylinder", Cell::Integer(i32::try_from(c.cylinder).ok())),
        ("pressure_kpa", value(c.pressure_kpa)),
        ("pressure_u_kpa", u(c.pressure_kpa)),
        ("deviation_kpa", value(c.deviation_kpa)),
        ("deviation_u_kpa", u(c.deviation_kpa)),
        ("bias_removed_kpa", number(c.bias_removed_kpa)),
        ("refill_ratio", value(c.refill_ratio)),
        ("refill_ratio_u", u(c.refill_ratio)),
        ("air_ratio", value(c.air_ratio)),
        ("air_ratio_u", u(c.air_ratio)),
        ("lambda", value(c.lambda)),
        ("lambda_u", u(c.lambda)),
        ("class", text(word(&c.class)?)),
    ]))
}

/// The record in Parquet bytes. `path` is for errors.
pub(crate) fn from_parquet(path: &Path, bytes: &[u8]) -> Result<Record, BookError> {
    let unreadable = |why: String| BookError::Unreadable { path: path.to_owned(), why };
    if !(bytes.starts_with(b"PAR1") && bytes.ends_with(b"PAR1") && bytes.len() >= 12) {
        return Err(unreadable("it is no whole Parquet file".to_owned()));
    }
    // A damaged file may trip the library instead of giving an error; one bad file is not the end of a book.
    let read = catch_unwind(AssertUnwindSafe(|| {
        ParquetReader::new(Cursor::new(bytes)).read_parallel(ParallelStrategy::None).finish()
    }));
    let frame = match read {
        Ok(Ok(frame)) => frame,
        Ok(Err(e)) => return Err(unreadable(e.to_string())),
        Err(_) => return Err(unreadable("it is damaged".to_owned())),
    };
    Table(&frame).record().map_err(unreadable)
}

/// Reads values by column name.
struct Table<'a>(&'a DataFrame);

impl Table<'_> {
    fn text(&self, name: &str, row: usize) -> Result<Option<String>, String> {
        let Ok(column) = self.0.column(name) else { return Ok(None) };
        let values = column.str().map_err(|e| e.to_string())?;
        Ok(values.get(row).map(str::to_owned))
    }

    fn number(&self, name: &str, row: usize) -> Result<Option<f64>, String> {
        let Ok(column) = self.0.column(name) else { return Ok(None) };
        Ok(column.f64().map_err(|e| e.to_string())?.get(row).filter(|v| v.is_finite()))
    }

    fn measured(&self, name: &str, u_name: &str, row: usize) -> Result<Option<Measured>, String> {
        let pair = self.number(name, row)?.zip(self.number(u_name, row)?);
        Ok(pair.map(|(value, u)| Measured { value, u }))
    }

    fn need(&self, name: &str) -> Result<String, String> {
        self.text(name, 0)?.ok_or_else(|| format!("column `{name}` is missing or empty"))
    }

    fn list(&self, name: &str) -> Result<Vec<String>, String> {
        let joined = self.text(name, 0)?.unwrap_or_default();
        Ok(joined.split(' ').filter(|s| !s.is_empty()).map(str::to_owned).collect())
    }

    /// A column of JSON; `None` where it is missing or empty.
    fn parsed<T: DeserializeOwned>(&self, name: &str) -> Result<Option<T>, String> {
        let text = self.text(name, 0)?;
        text.map(|t| serde_json::from_str(&t).map_err(|e| format!("column `{name}`: {e}"))).transpose()
    }

    fn record(&self) -> Result<Record, String> {
        if self.0.height() == 0 {
            return Err("it has no row".to_owned());
        }
        let schema = self.need("schema")?;
        if schema != VISIT_SCHEMA {
            return Err(format!("its schema is {schema}, this program reads {VISIT_SCHEMA}"));
        }
        let visit = Visit {
            machine: self.need("machine_id")?,
            visit: self.need("visit")?,
            facts: self.facts()?,
            key: self.need("key")?,
            source: self.text("source", 0)?.unwrap_or_default(),
            tool_version: self.text("tool_version", 0)?.unwrap_or_default(),
            settings_hash: self.text("settings_hash", 0)?.unwrap_or_default(),
            rpm: self.measured("rpm", "rpm_u", 0)?,
            seconds: self.number("judged_s", 0)?,
            barometer_kpa: self.number("barometer_kpa", 0)?,
            limit_kpa: self.number("limit_kpa", 0)?.ok_or("column `limit_kpa` is missing or empty")?,
            limit_source: self.text("limit_source", 0)?.unwrap_or_default(),
            reference: reference(&self.need("reference")?)?,
            signal: self.text("signal", 0)?.map(|s| from_word(&s)).transpose()?,
            verdict: from_word(&self.need("verdict")?)?,
            spread_kpa: self.measured("spread_kpa", "spread_u_kpa", 0)?,
            notices: self.list("notices")?,
            cylinders: self.cylinders()?,
            plan: self.parsed("plan_json")?,
        };
        Ok(Record { name: self.need("record")?, supersedes: self.list("supersedes")?, visit })
    }

    fn facts(&self) -> Result<VisitFacts, String> {
        let turns: Vec<Turn> = self.parsed("turns_json")?.unwrap_or_default();
        Ok(VisitFacts {
            date: self.text("visit_date", 0)?,
            hours: self.number("hours", 0)?,
            distance_km: self.number("distance_km", 0)?,
            note: self.text("note", 0)?,
            conditions: self.text("conditions", 0)?,
            work: self.text("work", 0)?,
            codes: self.list("codes")?,
            codes_cleared: self.list("codes_cleared")?,
            turns,
        })
    }

    fn cylinders(&self) -> Result<Vec<VisitCylinder>, String> {
        let numbers = self.0.column("cylinder").map_err(|e| e.to_string())?;
        let numbers = numbers.i32().map_err(|e| e.to_string())?;
        let mut found = Vec::with_capacity(self.0.height());
        for row in 0..self.0.height() {
            let Some(cylinder) = numbers.get(row).and_then(|n| u32::try_from(n).ok()) else { continue };
            let class = self.text("class", row)?.map_or(Ok(Class::Undecided), |c| from_word(&c))?;
            found.push(VisitCylinder {
                cylinder,
                pressure_kpa: self.measured("pressure_kpa", "pressure_u_kpa", row)?,
                deviation_kpa: self.measured("deviation_kpa", "deviation_u_kpa", row)?,
                bias_removed_kpa: self.number("bias_removed_kpa", row)?,
                refill_ratio: self.measured("refill_ratio", "refill_ratio_u", row)?,
                air_ratio: self.measured("air_ratio", "air_ratio_u", row)?,
                lambda: self.measured("lambda", "lambda_u", row)?,
                class,
            });
        }
        Ok(found)
    }
}

fn reference(text: &str) -> Result<Reference, String> {
    match text.parse() {
        Ok(n) => Ok(Reference::Cylinder(n)),
        Err(_) => from_word(text).map(Reference::Group),
    }
}

/// The word by which a plain enum is written in JSON.
pub(crate) fn word<T: Serialize>(value: &T) -> Result<String, BookError> {
    Ok(json(value)?.trim_matches('"').to_owned())
}

fn from_word<T: DeserializeOwned>(word: &str) -> Result<T, String> {
    serde_json::from_value(serde_json::Value::String(word.to_owned())).map_err(|e| e.to_string())
}

fn json<T: Serialize>(value: &T) -> Result<String, BookError> {
    serde_json::to_string(value).map_err(|e| BookError::Table { why: e.to_string() })
}
