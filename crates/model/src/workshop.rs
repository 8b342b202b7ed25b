//! A year of the invented Harrow Sound harbour workshop: fourteen machines, five visits each, with a story that is known.
//!
//! - HS-03: the plate of cylinder 2 closes a little from visit to visit (dirt).
//! - HS-05: the boot of cylinder 1 leaks after a refit before the last visit.
//! - HS-08: the plate of cylinder 4 was out, and was set right before the third visit.
//! - HS-10: the third sensor reads high, at every visit.
//! - The others are healthy; their plates come back a little differently each time.
//!
//! `evenpull demo` writes it, and the tests of the ranking ask whether its faults are found.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use crate::engine::Engine;
use crate::error::ModelError;
use crate::recorder::csv::CsvStyle;
use crate::recorder::logger::Logger;
use crate::recorder::sensor::Sensor;
use crate::run::{Run, Truth};
use crate::scenario::Scenario;
use crate::sim::simulate;

/// Visits of each machine.
pub const VISITS: usize = 5;

/// Length of a recording, s.
pub const SECONDS: f64 = 40.0;

/// Scatter of a plate from visit to visit, one standard deviation (0.2 % are about 0.06 kPa).
const PLATE_SCATTER: f64 = 0.002;

/// Year and month of each visit.
const MONTHS: [&str; VISITS] = ["2024-04", "2024-07", "2024-10", "2025-01", "2025-04"];

/// What is wrong with a machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Story {
    /// Nothing.
    Healthy,
    /// A plate closes by a share of its area from visit to visit.
    Drifts {
        /// Cylinder, from 1.
        cylinder: usize,
        /// Share per visit.
        per_visit: f64,
    },
    /// Something lets more air in from one visit on.
    Leaks {
        /// Cylinder, from 1.
        cylinder: usize,
        /// First visit with it, from 0.
        from: usize,
        /// Inlet area over the healthy one.
        factor: f64,
    },
    /// A plate was out and was set right before a visit.
    Repaired {
        /// Cylinder, from 1.
        cylinder: usize,
        /// First visit after the repair, from 0.
        before: usize,
        /// Plate area over the healthy one until then.
        factor: f64,
    },
    /// A sensor reads high by this much, kPa.
    Biased {
        /// Cylinder, from 1.
        cylinder: usize,
        /// Error, kPa.
        kpa: f64,
    },
}

/// One machine of the workshop.
#[derive(Debug, Clone, PartialEq)]
pub struct Craft {
    /// Machine id.
    pub id: String,
    /// What it is.
    pub name: &'static str,
    /// Cylinders, 3 or 4.
    pub cylinders: usize,
    /// Engine hours at the first visit and from one to the next.
    pub hours: (f64, f64),
    /// What is wrong with it.
    pub story: Story,
    seed: u64,
}

/// One visit of one machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// The machine.
    pub craft: Craft,
    /// Which visit, from 0.
    pub number: usize,
    /// `YYYY-MM-DD`.
    pub date: String,
    /// Engine hours.
    pub hours: f64,
    /// What the workshop wrote down.
    pub note: &'static str,
}

/// All machines in the order of their ids.
#[must_use]
pub fn harrow_sound() -> Vec<Craft> {
    const NAMES: [&str; 14] = [
        "patrol boat, port engine",
        "patrol boat, starboard engine",
        "pilot launch",
        "crew tender",
        "survey boat",
        "line-handling boat",
        "harbour work boat",
        "rescue boat, port engine",
        "rescue boat, starboard engine",
        "quay water pump",
        "fire pump trailer",
        "yard generator",
        "training boat, port engine",
        "training boat, starboard engine",
    ];
    let told = |number: u64| match number {
        3 => Story::Drifts { cylinder: 2, per_visit: 0.008 },
        5 => Story::Leaks { cylinder: 1, from: 4, factor: 1.08 },
        8 => Story::Repaired { cylinder: 4, before: 2, factor: 0.94 },
        10 => Story::Biased { cylinder: 3, kpa: 1.9 },
        _ => Story::Healthy,
    };
    (1u64..)
        .zip(NAMES)
        .map(|(number, name)| Craft {
            id: format!("HS-{number:02}"),
            name,
            cylinders: if number > 12 { 3 } else { 4 },
            hours: (90.0 + 37.0 * ((number * 5) % 7) as f64, 48.0 + 4.0 * (number % 5) as f64),
            story: told(number),
            seed: 10_000 + 100 * number,
        })
        .collect()
}

impl Craft {
    /// Its visits in order.
    #[must_use]
    pub fn visits(&self) -> Vec<Visit> {
        let day = 3 + self.seed / 100 % 100;
        (0..VISITS)
            .map(|number| Visit {
                craft: self.clone(),
                number,
                date: format!("{}-{day:02}", MONTHS[number]),
                hours: self.hours.0 + self.hours.1 * number as f64,
                note: self.note(number),
            })
            .collect()
    }

    fn note(&self, number: usize) -> &'static str {
        match self.story {
            Story::Leaks { from, .. } if number == from => "boots refitted after the winter",
            Story::Repaired { before, .. } if number == before => "plate of cylinder 4 cleaned and set",
            _ => "",
        }
    }

    /// Its machine file.
    #[must_use]
    pub fn machine_file(&self) -> String {
        let firing = if self.cylinders == 3 { "[0, 240, 480]" } else { "[0, 540, 180, 360]" };
        let columns: String = (1..=self.cylinders)
            .map(|c| {
                let header = format!("Cyl {c} pressure [kPa]");
                format!(
                    "\"{header}\" = {{ quantity = \"manifold_pressure\", cylinder = {c}, unit = \"kPa\", kind = \"absolute\" }}\n"
                )
            })
            .collect();
        format!(
            "# {}: {}. Invented, like everything at Harrow Sound.\nid = \"{}\"\ncylinders = {}\nfiring_deg = {firing}\n\n[columns]\n{columns}",
            self.id, self.name, self.id, self.cylinders
        )
    }
}

impl Visit {
    /// File name of the recording.
    #[must_use]
    pub fn file_name(&self) -> String {
        format!("{}-{}.csv", self.craft.id.to_ascii_lowercase(), self.date)
    }

    /// Engine, faults and weather of that day.
    #[must_use]
    pub fn scenario(&self) -> Scenario {
        let seed = self.craft.seed + self.number as u64;
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut normal = || -> f64 { random.sample(StandardNormal) };
        let base = if self.craft.cylinders == 3 { Engine::triple() } else { Engine::inline_four() };
        let engine = Engine {
            idle_rpm: 1_050.0 + 15.0 * normal(),
            idle_kpa: 41.0,
            barometer_kpa: 101.3 + 0.8 * normal(),
            ..base
        };
        let mut scenario = Scenario::new(engine, SECONDS, seed);
        for cylinder in 1..=self.craft.cylinders {
            scenario.cylinder(cylinder).plate = 1.0 + PLATE_SCATTER * normal();
        }
        let (cylinder, factor) = match self.craft.story {
            Story::Drifts { cylinder, per_visit } => (cylinder, 1.0 - per_visit * self.number as f64),
            Story::Leaks { cylinder, from, factor } if self.number >= from => (cylinder, factor),
            Story::Repaired { cylinder, before, factor } if self.number < before => (cylinder, factor),
            _ => return scenario,
        };
        scenario.cylinder(cylinder).plate *= factor;
        scenario
    }

    /// The recording as text, with machine, date and hours in its head, and what was true in it.
    ///
    /// # Errors
    /// [`ModelError`]; none for the machines of this module.
    pub fn record(&self) -> Result<(String, Truth), ModelError> {
        let scenario = self.scenario();
        let run: Run = simulate(&scenario)?;
        let biased = |c: usize| match self.craft.story {
            Story::Biased { cylinder, kpa } if cylinder == c => kpa,
            _ => 0.0,
        };
        let sensors =
            (1..=self.craft.cylinders).map(|c| Sensor { bias_kpa: biased(c), ..Sensor::default() }).collect();
        let log = run.log(&Logger::damped(20.0, 0.1).with_sensors(sensors), scenario.seed)?;
        let preamble = vec![
            format!("machine: {}", self.craft.id),
            format!("date: {}", self.date),
            format!("hours: {}", self.hours),
        ];
        Ok((log.to_csv(&CsvStyle { preamble, ..CsvStyle::default() }), run.truth(0.0, SECONDS)?))
    }
}

/// The workshop's list of recordings as `evenpull fleet --list` takes it; `folder` stands before each file name.
#[must_use]
pub fn list(folder: &str) -> String {
    let mut text = String::from("path,machine,date,hours,note\n");
    for visit in harrow_sound().iter().flat_map(Craft::visits) {
        text.push_str(&format!(
            "{folder}/{},{},{},{},{}\n",
            visit.file_name(),
            visit.craft.id,
            visit.date,
            visit.hours,
            visit.note
        ));
    }
    text
}
