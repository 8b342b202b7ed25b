//! The sample recordings of the invented Harrow Sound harbour workshop.
//!
//! Each sample is a scenario, a logger and a dialect with fixed seeds, so the files can be made again to the
//! byte and their truth can be asked from the model. Machines, people and figures are invented.

use crate::engine::{Engine, Valve};
use crate::error::ModelError;
use crate::recorder::csv::{CsvStyle, HeaderStyle, PressureUnit, TimeStyle};
use crate::recorder::logger::{Extras, Logger};
use crate::recorder::sensor::Sensor;
use crate::run::Run;
use crate::scenario::{Coolant, Event, Ringing, Scenario};
use crate::sim::simulate;

/// One sample recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// File name.
    pub name: &'static str,
    /// Where it comes from in the workshop's story.
    pub story: &'static str,
    /// What is odd in it.
    pub odd: &'static str,
    /// Engine, faults and events.
    pub scenario: Scenario,
    /// Who wrote it down.
    pub logger: Logger,
    /// In which dialect.
    pub style: CsvStyle,
    /// Steady stretches worth asking the truth of: (what, from s, to s).
    pub stretches: Vec<(&'static str, f64, f64)>,
}

impl Sample {
    /// Runs the engine and writes the recording as text.
    ///
    /// # Errors
    /// [`ModelError`]; none for the samples of this module.
    pub fn make(&self) -> Result<(Run, String), ModelError> {
        let run = simulate(&self.scenario)?;
        let text = run.log(&self.logger, self.scenario.seed)?.to_csv(&self.style);
        Ok((run, text))
    }
}

/// A file that goes with samples: what the machine is, or what was done at a visit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Companion {
    /// File name.
    pub name: &'static str,
    /// What it is, for the README.
    pub story: &'static str,
    /// Its text (TOML).
    pub text: &'static str,
}

/// Files that go with the samples, in the order of their names.
pub const COMPANIONS: [Companion; 2] = [
    Companion {
        name: "hs-01.toml",
        story: "Machine file of HS-01 for `evenpull plan`: the limit of its invented manual, three adjusters with what a turn does, \
                cylinder 4 sealed. The model knows no screws, so the 3 kPa a turn are an assumption.",
        text: HS_01,
    },
    Companion {
        name: "hs-05-visit.toml",
        story: "Visit file of `hs-05-adjusting-session.csv`: the three turns as a hand would note them, to about a second. With it \
                `evenpull plan` learns what a turn does. The turns are invented; what they did is the model's.",
        text: HS_05_VISIT,
    },
];

const HS_01: &str = r#"# Outboard four of the harbour patrol boat (invented)
id = "HS-01"
cylinders = 4
firing_deg = [0, 540, 180, 360]
limit_kpa = 1.3                # from its invented manual
fuelling = "shared"
idle_rpm = [900, 1050]
warm_c = 60                    # cooled by raw water

[[adjuster]]
cylinder = 1
opens = "anticlockwise"
range_turns = 2
kpa_per_turn = 3.0

[[adjuster]]
cylinder = 2
opens = "anticlockwise"
range_turns = 2
kpa_per_turn = 3.0

[[adjuster]]
cylinder = 3
opens = "anticlockwise"
range_turns = 2
kpa_per_turn = 3.0

[[adjuster]]
cylinder = 4
sealed = true
"#;

const HS_05_VISIT: &str = r#"# What was turned during hs-05-adjusting-session.csv; positive opens the plate
date = "2026-03-21"
conditions = "12 degrees C, dry, afloat"

[[turns]]
time_s = 82
cylinder = 2
turns = 0.75

[[turns]]
time_s = 104
cylinder = 1
turns = -0.75

[[turns]]
time_s = 126
cylinder = 3
turns = -0.5
"#;

/// All samples in the order of their names.
#[must_use]
pub fn harrow_sound() -> Vec<Sample> {
    vec![
        outboard_as_found(),
        outboard_as_left(),
        triple_leak(),
        four_polled(),
        twin_fast(),
        adjusting_session(),
    ]
}

/// HS-01: outboard four of the harbour patrol boat, cooled by raw water (60 degrees when warm).
fn patrol_outboard(seed: u64) -> Scenario {
    let engine = Engine {
        displacement_cc: 430.0,
        runner_cc: 260.0,
        idle_rpm: 980.0,
        idle_kpa: 41.0,
        barometer_kpa: 101.6,
        air_c: 19.0,
        ..Engine::inline_four()
    };
    let mut scenario = Scenario::new(engine, 90.0, seed);
    scenario.start_s = 12.0;
    scenario.coolant = Coolant { start_c: 60.5, warm_c: 60.5, ..Coolant::default() };
    scenario
}

fn biased(biases_kpa: &[f64], noise_kpa: f64) -> Vec<Sensor> {
    biases_kpa.iter().map(|&bias_kpa| Sensor { bias_kpa, noise_kpa, ..Sensor::default() }).collect()
}

fn patrol_logger() -> Logger {
    Logger {
        extras: Extras { coolant: true, ..Extras::default() },
        ..Logger::damped(50.0, 0.05).with_sensors(biased(&[0.22, -0.14, 0.08, -0.27], 0.05))
    }
}

fn outboard_as_found() -> Sample {
    let mut scenario = patrol_outboard(101);
    scenario.cylinder(1).plate = 1.01;
    scenario.cylinder(3).plate = 0.92;
    scenario.cylinder(4).plate = 0.995;
    Sample {
        name: "hs-01-four-out-of-balance.csv",
        story: "HS-01, four-cylinder outboard of the patrol boat, before adjusting.",
        odd: "The throttle plate of cylinder 3 is 8 % too far closed. Sensors differ by up to half a kPa at rest \
              (engine off until 12 s). Raw-water cooled: 60 degrees C is warm.",
        scenario,
        logger: patrol_logger(),
        style: CsvStyle::default(),
        stretches: vec![("idle", 20.0, 90.0)],
    }
}

fn outboard_as_left() -> Sample {
    let mut scenario = patrol_outboard(102);
    scenario.cylinder(1).plate = 1.004;
    scenario.cylinder(2).plate = 0.998;
    scenario.cylinder(3).plate = 0.996;
    Sample {
        name: "hs-01-four-as-left.csv",
        story: "HS-01 after adjusting, same sensors, same day.",
        odd: "Nothing: even within half a kPa once the sensor differences are taken out.",
        scenario,
        logger: patrol_logger(),
        style: CsvStyle::default(),
        stretches: vec![("idle", 20.0, 90.0)],
    }
}

fn triple_leak() -> Sample {
    let engine = Engine { idle_kpa: 45.0, barometer_kpa: 100.9, ..Engine::triple() };
    let mut scenario = Scenario::new(engine, 120.0, 201);
    scenario.cylinder(2).leak_mm2 = 0.45;
    scenario.event(Event::Blip { at_s: 66.0, length_s: 0.8, opening: 0.14 });
    scenario.event(Event::Raised { from_s: 80.0, to_s: 115.0, rpm: 2_700.0 });
    Sample {
        name: "hs-02-triple-leak.csv",
        story: "HS-02, three-cylinder rescue craft with a carburettor per cylinder.",
        odd: "A cracked boot behind the carburettor of cylinder 2. Vacuum in mmHg, positive downwards. A blip at 66 s, \
              then a raised steady speed, where the leak matters less.",
        scenario,
        logger: Logger::damped(25.0, 0.12).with_sensors(biased(&[0.0], 0.06)),
        style: CsvStyle {
            vacuum: true,
            header: HeaderStyle::Short,
            ..CsvStyle::default().in_unit(PressureUnit::Mmhg, 1)
        },
        stretches: vec![("idle", 0.0, 65.0), ("raised", 92.0, 114.0)],
    }
}

fn four_polled() -> Sample {
    let engine = Engine { idle_rpm: 1_150.0, idle_kpa: 39.0, barometer_kpa: 101.1, ..Engine::inline_four() };
    let mut scenario = Scenario::new(engine, 240.0, 301);
    scenario.cylinder(2).plate = 1.07;
    Sample {
        name: "hs-03-four-polled.csv",
        story: "HS-03, four-cylinder tender, recorded over the diagnostic link with a telephone.",
        odd: "About four rows a second; each row refreshes one channel, the others repeat. The values are the control \
              unit's cycle averages in whole hPa: they barely scatter and are not aliased. Cylinder 2 is 7 % too far \
              open. Clock times, semicolons.",
        scenario,
        logger: Logger::diagnostic_link(4.0),
        style: CsvStyle {
            delimiter: ';',
            time: TimeStyle::Clock,
            header: HeaderStyle::Short,
            ..CsvStyle::default().in_unit(PressureUnit::Hpa, 0)
        },
        stretches: vec![("idle", 0.0, 240.0)],
    }
}

fn twin_fast() -> Sample {
    let mut scenario = Scenario::new(Engine { idle_kpa: 44.0, ..Engine::twin_270() }, 20.0, 401);
    let intake = scenario.engine.intake;
    scenario.engine.intake = Valve { open_deg: intake.open_deg + 4.0, ..intake };
    scenario.cylinder(2).intake_close_shift_deg = 34.0;
    scenario.ringing = Some(Ringing { hz: 85.0, damping: 0.12, gain: 0.05 });
    Sample {
        name: "hs-04-twin-fast.csv",
        story: "HS-04, workshop twin (firing 270 and 450 degrees apart) with fast undamped sensors.",
        odd: "The intake valve of cylinder 2 closes 34 degrees late: its mean is higher, its refill rate and its air are \
              not. The pulse is fully resolved, with a little ringing.",
        scenario,
        logger: Logger::momentary(500.0).with_sensors(biased(&[0.0], 0.08)),
        style: CsvStyle { header: HeaderStyle::Snake, ..CsvStyle::default() },
        stretches: vec![("idle", 0.0, 20.0)],
    }
}

fn adjusting_session() -> Sample {
    let engine = Engine { idle_rpm: 1_020.0, idle_kpa: 42.0, barometer_kpa: 100.4, ..Engine::inline_four() };
    let mut scenario = Scenario::new(engine, 225.0, 501);
    scenario.start_s = 12.0;
    scenario.stop_s = Some(215.0);
    scenario.cylinder(1).plate = 1.08;
    scenario.cylinder(2).plate = 0.93;
    scenario.cylinder(3).plate = 1.05;
    for (at_s, cylinder, factor) in [(82.0, 2, 1.077), (104.0, 1, 0.924), (126.0, 3, 0.955)] {
        scenario.event(Event::Screw { at_s, cylinder, factor });
    }
    scenario.event(Event::Blip { at_s: 146.0, length_s: 0.7, opening: 0.12 });
    scenario.coolant = Coolant { start_c: 78.0, warm_c: 81.0, tau_s: 60.0 };
    Sample {
        name: "hs-05-adjusting-session.csv",
        story: "HS-05, four-cylinder pilot boat: engine off, as found, three screws turned, blip, as left, engine off.",
        odd: "Screw of cylinder 2 opened at 82 s, of 1 closed at 104 s, of 3 closed at 126 s; cylinder 4 has no adjuster. \
              A blip at 146 s. Decimal commas.",
        scenario,
        logger: Logger {
            extras: Extras { coolant: true, ..Extras::default() },
            ..Logger::damped(20.0, 0.15).with_sensors(biased(&[0.1, -0.1, 0.05, 0.0], 0.05))
        },
        style: CsvStyle { header: HeaderStyle::Words, ..CsvStyle::semicolon_comma() },
        stretches: vec![("as found", 22.0, 81.0), ("as left", 152.0, 214.0)],
    }
}
