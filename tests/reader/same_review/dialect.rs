//! A recording in many dialects: delimiters, units, kinds, clocks, encodings, containers, layouts.

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

use evenpull_core::machine::Machine;
use evenpull_core::read::{ReadOptions, read_bytes};
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use polars::prelude::{
    Column, DataFrame, DataType, IntoColumn, IpcStreamWriter, IpcWriter, NamedFrom, ParquetWriter, SerWriter,
    Series, TimeUnit,
};
use rand::{Rng, SeedableRng};
use serde_json::Value;

pub(super) const BAROMETER_KPA: f64 = 101.5;

/// Rows of the sample between two times, the engine slowed down by 20 to 21: with rows every 20 ms many stand on the very
/// edge of a stretch (whole seconds), where the last bit of a time in minutes decides to which side they belong.
pub(super) struct Log {
    time_ms: Vec<i64>,
    /// kPa absolute, four cylinders.
    pub(super) pressure: [Vec<f64>; 4],
    rpm: Vec<f64>,
    coolant: Vec<f64>,
}

pub(super) fn log() -> Log {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data-samples/hs-01-four-out-of-balance.csv");
    let text = std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{error}"));
    let mut log =
        Log { time_ms: Vec::new(), pressure: Default::default(), rpm: Vec::new(), coolant: Vec::new() };
    for line in text.lines().skip(1) {
        let cells: Vec<f64> = line.split(',').filter_map(|cell| cell.parse().ok()).collect();
        let ms = (cells[0] * 1000.0).round() as i64;
        if (8_000..48_000).contains(&ms) {
            log.time_ms.push((ms - 8_000) * 21 / 20);
            (0..4).for_each(|at| log.pressure[at].push(cells[at + 1]));
            log.rpm.push((cells[5] * 20.0 / 21.0).round());
            log.coolant.push(cells[6]);
        }
    }
    log
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Absolute,
    Vacuum,
    Gauge,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Clock {
    Seconds,
    Milliseconds,
    Microseconds,
    Minutes,
    MinuteSecond,
    HourMinuteSecond,
    Iso,
    IsoZone,
    DateAndTime,
    HalfDay,
    UnixSeconds,
    UnixMilliseconds,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Container {
    Plain,
    Mark,
    Utf16Le,
    Utf16Be,
    Windows1252,
    Gzip,
    GzipMembers,
    Zstd,
    Parquet,
    Arrow,
    Stream,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Dialect {
    delimiter: &'static str,
    comma: bool,
    end: &'static str,
    unit: usize,
    kind: Kind,
    clock: Clock,
    container: Container,
    long: bool,
}

pub(super) const PLAIN: Dialect = Dialect {
    delimiter: ",",
    comma: false,
    end: "\n",
    unit: 0,
    kind: Kind::Absolute,
    clock: Clock::Seconds,
    container: Container::Plain,
    long: false,
};

/// Name, kilopascals of one unit, and decimals that hold a hundredth of a kilopascal well.
///
/// mmHg, inHg and inH2O: conventional values of NIST SP 811 (2008), table B.8; psi from its definition by the pound and
/// the inch there; Torr: 101 325/760 Pa.
const UNITS: [(&str, f64, usize); 10] = [
    ("kPa", 1.0, 2),
    ("hPa", 0.1, 1),
    ("mbar", 0.1, 1),
    ("Pa", 0.001, 0),
    ("bar", 100.0, 4),
    ("mmHg", 0.133_322_4, 4),
    ("Torr", 0.101_325 / 0.76, 4),
    ("inHg", 3.386_389, 6),
    ("psi", 6.894_757_293, 6),
    ("inH2O", 0.249_088_9, 4),
];
const DELIMITERS: [&str; 5] = [",", ";", "\t", "|", "   "];
const CLOCKS: [Clock; 12] = [
    Clock::Seconds,
    Clock::Milliseconds,
    Clock::Microseconds,
    Clock::Minutes,
    Clock::MinuteSecond,
    Clock::HourMinuteSecond,
    Clock::Iso,
    Clock::IsoZone,
    Clock::DateAndTime,
    Clock::HalfDay,
    Clock::UnixSeconds,
    Clock::UnixMilliseconds,
];
const CONTAINERS: [Container; 11] = [
    Container::Plain,
    Container::Mark,
    Container::Utf16Le,
    Container::Utf16Be,
    Container::Windows1252,
    Container::Gzip,
    Container::GzipMembers,
    Container::Zstd,
    Container::Parquet,
    Container::Arrow,
    Container::Stream,
];
const KINDS: [Kind; 3] = [Kind::Absolute, Kind::Vacuum, Kind::Gauge];
const ENDS: [&str; 3] = ["\n", "\r\n", "\r"];

/// 2026-03-21 10:00:00 universal time, seconds since 1970 (Python's `datetime`).
const START_S: i64 = 1_774_087_200;

impl Dialect {
    /// What cannot be written is changed to what can.
    fn sane(mut self) -> Self {
        self.comma &= self.delimiter != ",";
        // Blanks stand inside such a time.
        if self.delimiter == "   " && self.clock == Clock::HalfDay {
            self.clock = Clock::HourMinuteSecond;
        }
        self
    }

    fn figure(self, value: f64, decimals: usize) -> String {
        let text = format!("{value:.decimals$}");
        if self.comma { text.replace('.', ",") } else { text }
    }

    fn times(self, ms: i64) -> Vec<String> {
        let part = |unit: i64| ms / unit;
        let second =
            |width: usize| self.figure((ms % 60_000) as f64 / 1000.0, 3).trim().to_owned().pad(width);
        let of_day = format!("10:{:02}:{}", part(60_000), second(6));
        match self.clock {
            Clock::Seconds => vec![self.figure(ms as f64 / 1000.0, 3)],
            Clock::Milliseconds => vec![ms.to_string()],
            Clock::Microseconds => vec![(ms * 1000).to_string()],
            Clock::Minutes => vec![self.figure(ms as f64 / 60_000.0, 12)],
            Clock::MinuteSecond => vec![format!("{}:{}", part(60_000), second(6))],
            Clock::HourMinuteSecond => vec![of_day],
            Clock::Iso => vec![format!("2026-03-21T{of_day}")],
            Clock::IsoZone => vec![format!("2026-03-21T{of_day}+01:00")],
            Clock::DateAndTime => vec!["21.03.2026".to_owned(), of_day],
            Clock::HalfDay => vec![format!("{of_day} AM")],
            Clock::UnixSeconds => vec![self.figure(START_S as f64 + ms as f64 / 1000.0, 3)],
            Clock::UnixMilliseconds => vec![(START_S * 1000 + ms).to_string()],
        }
    }

    fn time_names(self) -> Vec<&'static str> {
        match self.clock {
            Clock::Seconds => vec!["Time [s]"],
            Clock::Milliseconds => vec!["Time [ms]"],
            Clock::Microseconds => vec!["Time [us]"],
            Clock::Minutes => vec!["Time [min]"],
            Clock::DateAndTime => vec!["Date", "Time"],
            Clock::UnixSeconds | Clock::UnixMilliseconds => vec!["Timestamp"],
            _ => vec!["Time"],
        }
    }

    fn pressure(self, absolute: f64) -> f64 {
        let kpa = match self.kind {
            Kind::Absolute => absolute,
            Kind::Vacuum => BAROMETER_KPA - absolute,
            Kind::Gauge => absolute - BAROMETER_KPA,
        };
        kpa / UNITS[self.unit].1
    }

    fn word(self) -> &'static str {
        match self.kind {
            Kind::Absolute => "absolute pressure",
            Kind::Vacuum => "vacuum",
            Kind::Gauge => "gauge pressure",
        }
    }

    fn names(self) -> Vec<String> {
        // A header of words cut at blanks would fall apart.
        let blank = if self.delimiter == "   " { "_" } else { " " };
        let mut names: Vec<String> =
            (1..=4).map(|n| format!("Cyl {n} {} [{}]", self.word(), UNITS[self.unit].0)).collect();
        names.extend(
            ["Engine speed [rpm]", "Coolant temperature [\u{b0}C]", "Barometer [kPa]"].map(str::to_owned),
        );
        names.iter().map(|name| name.replace(' ', blank)).collect()
    }

    fn cells(self, log: &Log, row: usize) -> Vec<String> {
        let mut cells: Vec<String> = log
            .pressure
            .iter()
            .map(|list| self.figure(self.pressure(list[row]), UNITS[self.unit].2))
            .collect();
        cells.push(self.figure(log.rpm[row], 0));
        cells.push(self.figure(log.coolant[row], 0));
        cells.push(self.figure(BAROMETER_KPA, 1));
        cells
    }

    fn text(self, log: &Log) -> String {
        let mut out = String::new();
        let blank = if self.delimiter == "   " { "_" } else { " " };
        let mut line = |cells: &[String]| {
            let _ = write!(out, "{}{}", cells.join(self.delimiter), self.end);
        };
        let mut head: Vec<String> = self.time_names().iter().map(|name| name.replace(' ', blank)).collect();
        if self.long {
            head.extend(["Signal", "Value"].map(str::to_owned));
        } else {
            head.extend(self.names());
        }
        line(&head);
        for (row, ms) in log.time_ms.iter().enumerate() {
            let times = self.times(*ms);
            if self.long {
                for (name, cell) in self.names().iter().zip(self.cells(log, row)) {
                    line(&[times.clone(), vec![name.replace(' ', "_"), cell]].concat());
                }
            } else {
                line(&[times, self.cells(log, row)].concat());
            }
        }
        out
    }

    fn bytes(self, log: &Log) -> Vec<u8> {
        let text = || self.text(log);
        let wide = |order: fn(u16) -> [u8; 2], mark: [u8; 2]| -> Vec<u8> {
            mark.into_iter().chain(text().encode_utf16().flat_map(order)).collect()
        };
        match self.container {
            Container::Plain => text().into_bytes(),
            Container::Mark => [&[0xef, 0xbb, 0xbf], text().as_bytes()].concat(),
            Container::Utf16Le => wide(u16::to_le_bytes, [0xff, 0xfe]),
            Container::Utf16Be => wide(u16::to_be_bytes, [0xfe, 0xff]),
            Container::Windows1252 => text().chars().map(|c| u32::from(c) as u8).collect(),
            Container::Gzip => gzip(text().as_bytes()),
            Container::GzipMembers => {
                let text = text();
                let (one, two) = text.as_bytes().split_at(text.len() / 3);
                [gzip(one), gzip(two)].concat()
            }
            Container::Zstd => ruzstd::encoding::compress_to_vec(
                text().as_bytes(),
                ruzstd::encoding::CompressionLevel::Fastest,
            ),
            Container::Parquet => {
                let mut out = Vec::new();
                ParquetWriter::new(&mut out)
                    .finish(&mut self.frame(log))
                    .map(drop)
                    .unwrap_or_else(|e| panic!("{e}"));
                out
            }
            Container::Arrow => {
                let mut out = Vec::new();
                IpcWriter::new(&mut out).finish(&mut self.frame(log)).unwrap_or_else(|e| panic!("{e}"));
                out
            }
            Container::Stream => {
                let mut out = Vec::new();
                IpcStreamWriter::new(&mut out).finish(&mut self.frame(log)).unwrap_or_else(|e| panic!("{e}"));
                out
            }
        }
    }

    /// The same as columns: clocks as moments, figures as figures to the same decimals.
    fn frame(self, log: &Log) -> DataFrame {
        let day_ms = 10 * 3_600_000i64;
        let ms = |from: i64| -> Vec<i64> { log.time_ms.iter().map(|ms| from + ms).collect() };
        let series = |name: &str, list: Vec<i64>, kind: DataType| -> Column {
            Series::new(name.into(), list).cast(&kind).unwrap_or_else(|e| panic!("{e}")).into_column()
        };
        let figures = |name: &str, list: Vec<f64>| Series::new(name.into(), list).into_column();
        let per = |size: f64| -> Vec<f64> { log.time_ms.iter().map(|ms| *ms as f64 / size).collect() };
        let moment = DataType::Datetime(TimeUnit::Milliseconds, None);
        let mut columns = match self.clock {
            Clock::Seconds => vec![figures("Time [s]", per(1000.0))],
            Clock::Milliseconds => vec![series("Time [ms]", ms(0), DataType::Int32)],
            Clock::Microseconds => {
                vec![series("Time [us]", ms(0).iter().map(|v| v * 1000).collect(), DataType::Int64)]
            }
            Clock::Minutes => vec![figures("Time [min]", per(60_000.0))],
            Clock::MinuteSecond => vec![series("Time", ms(0), DataType::Duration(TimeUnit::Milliseconds))],
            Clock::HourMinuteSecond | Clock::HalfDay => {
                vec![series("Time", ms(day_ms).iter().map(|v| v * 1_000_000).collect(), DataType::Time)]
            }
            Clock::Iso | Clock::IsoZone => vec![series("Time", ms(START_S * 1000), moment)],
            Clock::DateAndTime => vec![
                series("Date", vec![START_S / 86_400; log.time_ms.len()], DataType::Int32)
                    .cast(&DataType::Date)
                    .unwrap_or_else(|e| panic!("{e}")),
                series("Time", ms(day_ms).iter().map(|v| v * 1_000_000).collect(), DataType::Time),
            ],
            Clock::UnixSeconds => {
                vec![figures("Timestamp", ms(START_S * 1000).iter().map(|v| *v as f64 / 1000.0).collect())]
            }
            Clock::UnixMilliseconds => vec![series("Timestamp", ms(START_S * 1000), DataType::Int64)],
        };
        let decimals = UNITS[self.unit].2;
        let rounded = |v: f64| format!("{v:.decimals$}").parse().unwrap_or(f64::NAN);
        for (list, name) in log.pressure.iter().zip(self.names()) {
            columns.push(figures(&name, list.iter().map(|v| rounded(self.pressure(*v))).collect()));
        }
        let names = self.names();
        columns.push(series(&names[4], log.rpm.iter().map(|v| *v as i64).collect(), DataType::Int16));
        columns.push(series(&names[5], log.coolant.iter().map(|v| *v as i64).collect(), DataType::UInt8));
        columns.push(figures(&names[6], vec![BAROMETER_KPA; log.rpm.len()]));
        DataFrame::new(log.rpm.len(), columns).unwrap_or_else(|e| panic!("{e}"))
    }

    pub(super) fn review(self, log: &Log) -> Value {
        let bytes = self.bytes(log);
        let recording = read_bytes("log", &bytes, &ReadOptions::default()).unwrap_or_else(|error| {
            panic!("{self:?}: {error}\n{}", String::from_utf8_lossy(&bytes[..bytes.len().min(400)]))
        });
        let machine = Machine::from_toml("m.toml", "cylinders = 4\n").unwrap_or_else(|e| panic!("{e}"));
        let review = review(&recording, &machine, &Settings::default(), &ReviewNotes::default()).review;
        serde_json::to_value(&review).unwrap_or_else(|error| panic!("{error}"))
    }
}

trait Pad {
    fn pad(self, width: usize) -> String;
}

impl Pad for String {
    /// Zeros in front up to a width.
    fn pad(self, width: usize) -> String {
        format!("{self:0>width$}")
    }
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(bytes).unwrap_or_else(|error| panic!("{error}"));
    packer.finish().unwrap_or_else(|error| panic!("{error}"))
}

/// Each axis by itself, then 40 drawn mixtures of all.
pub(super) fn dialects() -> Vec<Dialect> {
    let mut all = Vec::new();
    for delimiter in DELIMITERS {
        for comma in [false, true] {
            all.push(Dialect { delimiter, comma, ..PLAIN });
        }
    }
    all.extend((0..UNITS.len()).map(|unit| Dialect { unit, ..PLAIN }));
    all.extend(KINDS.map(|kind| Dialect { kind, ..PLAIN }));
    all.extend(CLOCKS.map(|clock| Dialect { clock, ..PLAIN }));
    all.extend(CLOCKS.map(|clock| Dialect { clock, container: Container::Parquet, ..PLAIN }));
    all.extend(CONTAINERS.map(|container| Dialect { container, ..PLAIN }));
    all.extend(ENDS.map(|end| Dialect { end, ..PLAIN }));
    all.push(Dialect { long: true, ..PLAIN });
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(6);
    all.extend((0..40).map(|_| Dialect {
        delimiter: DELIMITERS[rng.random_range(0..DELIMITERS.len())],
        comma: rng.random(),
        end: ENDS[rng.random_range(0..ENDS.len())],
        unit: rng.random_range(0..UNITS.len()),
        kind: KINDS[rng.random_range(0..KINDS.len())],
        clock: CLOCKS[rng.random_range(0..CLOCKS.len())],
        container: CONTAINERS[rng.random_range(0..CONTAINERS.len())],
        long: rng.random_bool(0.3),
    }));
    all.into_iter().map(Dialect::sane).collect()
}
