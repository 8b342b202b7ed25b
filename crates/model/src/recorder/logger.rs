//! Loggers: how often, how damped, in which order the channels of a run are written.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use serde::{Deserialize, Serialize};

use super::log::{Column, Log, Quantity};
use super::sampling::{last_cycle, on_trace, pressures};
use super::sensor::Sensor;
use crate::engine::range;
use crate::error::ModelError;
use crate::run::Run;
use crate::scenario::named;

/// What a pressure reading stands for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sampling {
    /// The pressure at the row's time.
    Momentary,
    /// Behind a damped line or filter: first-order lag.
    Damped {
        /// Time constant, s.
        lag_s: f64,
    },
    /// A control unit's mean over the last whole engine cycle.
    CycleMean,
    /// A control unit's one reading per cycle at a fixed angle.
    CrankAngle {
        /// Degrees of crank after the cylinder's own firing dead centre.
        deg: f64,
    },
}

/// A mark on crank or camshaft, logged as 1 in the row in which it passed and 0 else.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mark {
    /// Once a revolution.
    Crank,
    /// Once an engine cycle.
    Cam,
}

/// Where the mark passes, degrees of crank after the firing dead centre of the engine's angle 0.
pub const MARK_DEG: f64 = 60.0;

/// Channels besides pressures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[allow(clippy::struct_excessive_bools)]
pub struct Extras {
    /// Engine speed.
    pub speed: bool,
    /// Coolant temperature.
    pub coolant: bool,
    /// Throttle opening.
    pub throttle: bool,
    /// Lambda per cylinder.
    pub lambda: bool,
    /// Barometer.
    pub barometer: bool,
}

impl Default for Extras {
    fn default() -> Self {
        Self { speed: true, coolant: false, throttle: false, lambda: false, barometer: false }
    }
}

/// A logger.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Logger {
    /// Rows a second.
    pub rate_hz: f64,
    /// What a pressure reading is.
    pub sampling: Sampling,
    /// Each row refreshes one channel in turn, the others repeat.
    pub polled: bool,
    /// Sensors, cylinder 1 first; the last one serves all further cylinders.
    pub sensors: Vec<Sensor>,
    /// Pairs of cylinders (from 1) whose hoses are exchanged: the column of one shows the other.
    pub swapped: Vec<(usize, usize)>,
    /// Standard deviation of the row times about their grid, s.
    pub jitter_s: f64,
    /// Share of rows that never arrive.
    pub missing_rows: f64,
    /// Resolution of the speed channel, rev/min; 0 = as fine as the number format.
    pub rpm_step: f64,
    /// Further channels.
    pub extras: Extras,
    /// A mark on crank or camshaft.
    #[serde(default)]
    pub mark: Option<Mark>,
    /// The speed channel follows the crank within the cycle; else it is that of the last whole cycle.
    #[serde(default)]
    pub momentary_speed: bool,
}

impl Logger {
    fn base(rate_hz: f64, sampling: Sampling) -> Self {
        Self {
            rate_hz,
            sampling,
            polled: false,
            sensors: vec![Sensor::default()],
            swapped: Vec::new(),
            jitter_s: 0.0,
            missing_rows: 0.0,
            rpm_step: 1.0,
            extras: Extras::default(),
            mark: None,
            momentary_speed: false,
        }
    }

    /// Undamped sensors read at `rate_hz`: a fast card, or (5 to 20 Hz) an aliased logger.
    #[must_use]
    pub fn momentary(rate_hz: f64) -> Self {
        Self::base(rate_hz, Sampling::Momentary)
    }

    /// Sensors behind a damped line.
    #[must_use]
    pub fn damped(rate_hz: f64, lag_s: f64) -> Self {
        Self::base(rate_hz, Sampling::Damped { lag_s })
    }

    /// The usual home recording: a control unit's cycle means over a diagnostic link, polled in turn, in
    /// whole hPa, with uneven row times.
    #[must_use]
    pub fn diagnostic_link(rate_hz: f64) -> Self {
        Self {
            polled: true,
            sensors: vec![Sensor { noise_kpa: 0.05, step_kpa: 0.1, ..Sensor::default() }],
            jitter_s: 0.02,
            rpm_step: 1.0,
            ..Self::base(rate_hz, Sampling::CycleMean)
        }
    }

    /// A control unit that reads once per cycle at a fixed angle.
    #[must_use]
    pub fn crank_angle(rate_hz: f64, deg: f64) -> Self {
        Self::base(rate_hz, Sampling::CrankAngle { deg })
    }

    /// Gives every cylinder its own sensor.
    #[must_use]
    pub fn with_sensors(self, sensors: Vec<Sensor>) -> Self {
        Self { sensors, ..self }
    }

    fn check(&self, cylinders: usize, duration_s: f64) -> Result<(), ModelError> {
        range("rate_hz", self.rate_hz, 0.1, 20_000.0, "0.1 to 20000")?;
        range("rows", duration_s * self.rate_hz, 0.0, 2e7, "at most 2e7 rows")?;
        range("sensors", self.sensors.len() as f64, 1.0, 64.0, "1 to 64")?;
        range("jitter_s", self.jitter_s, 0.0, 10.0, "0 to 10")?;
        range("missing_rows", self.missing_rows, 0.0, 1.0, "0 to 1")?;
        range("rpm_step", self.rpm_step, 0.0, 500.0, "0 to 500")?;
        match self.sampling {
            Sampling::Damped { lag_s } => range("lag_s", lag_s, 0.0, 60.0, "0 to 60")?,
            Sampling::CrankAngle { deg } => range("deg", deg, -720.0, 720.0, "-720 to 720")?,
            Sampling::Momentary | Sampling::CycleMean => {}
        }
        for &(a, b) in &self.swapped {
            named("swapped", a, cylinders)?;
            named("swapped", b, cylinders)?;
        }
        self.sensors.iter().try_for_each(Sensor::check)
    }

    fn sensor(&self, i: usize) -> &Sensor {
        &self.sensors[i.min(self.sensors.len() - 1)]
    }

    fn row_times(&self, duration_s: f64, noise: &mut ChaCha8Rng) -> Vec<f64> {
        let rows = (duration_s * self.rate_hz + 1e-9).floor() as usize + 1;
        let mut last = f64::NEG_INFINITY;
        (0..rows)
            .filter_map(|k| {
                let shift: f64 = noise.sample(StandardNormal);
                let lost = noise.random::<f64>() < self.missing_rows;
                let grid = k as f64 / self.rate_hz;
                let t = (grid + self.jitter_s * shift.clamp(-3.0, 3.0)).clamp(0.0, duration_s);
                let t = t.max(last + 0.2 / self.rate_hz);
                last = t;
                (!lost && t <= duration_s).then_some(t)
            })
            .collect()
    }
}

impl Run {
    /// Records the run with a logger. The same run may be recorded by many; `seed` drives noise and jitter.
    ///
    /// # Errors
    /// [`ModelError`] if the logger has figures without meaning or names a cylinder the engine does not have.
    pub fn log(&self, logger: &Logger, seed: u64) -> Result<Log, ModelError> {
        let n = self.cylinders();
        logger.check(n, self.duration_s())?;
        let time_s = logger.row_times(self.duration_s(), &mut stream(seed, 0));
        let mut hose: Vec<usize> = (0..n).collect();
        for &(a, b) in &logger.swapped {
            hose.swap(a - 1, b - 1);
        }
        let mut columns = Vec::new();
        for (i, &on) in hose.iter().enumerate() {
            let sensor = logger.sensor(i);
            let mut noise = stream(seed, 1 + i as u64);
            let values = pressures(self, on, &time_s, logger.sampling, sensor.lag_s)
                .into_iter()
                .map(|p| sensor.read(p, self.barometer_kpa, noise.sample(StandardNormal)))
                .collect();
            columns.push(Column { quantity: Quantity::Pressure(i + 1), values, decimals: 2 });
        }
        columns.extend(self.extra_columns(logger, &time_s, seed));
        if logger.polled {
            poll(&mut columns);
        }
        for (i, column) in columns.iter_mut().take(n).enumerate() {
            logger.sensor(i).spoil(&time_s, &mut column.values);
        }
        Ok(Log { time_s, columns, barometer_kpa: self.barometer_kpa })
    }

    fn extra_columns(&self, logger: &Logger, time_s: &[f64], seed: u64) -> Vec<Column> {
        let column = |quantity, decimals, f: &mut dyn FnMut(f64) -> f64| Column {
            quantity,
            values: time_s.iter().map(|&t| f(t)).collect(),
            decimals,
        };
        let extras = logger.extras;
        let mut columns = Vec::new();
        if extras.speed {
            let whole = logger.rpm_step >= 1.0;
            columns.push(column(Quantity::Speed, usize::from(!whole), &mut |t| {
                let rpm =
                    if logger.momentary_speed { on_trace(&self.rpm, self.hz, t) } else { self.speed_rpm(t) };
                stepped(rpm, logger.rpm_step)
            }));
        }
        if let Some(mark) = logger.mark {
            let period = match mark {
                Mark::Crank => 360.0,
                Mark::Cam => self.cycle_deg,
            };
            let mut last = f64::INFINITY;
            columns.push(column(Quantity::Mark(mark), 0, &mut |t| {
                let turns = ((self.crank_at(t) - MARK_DEG) / period).floor();
                let passed = turns > last;
                last = turns;
                f64::from(u8::from(passed))
            }));
        }
        if extras.coolant {
            columns
                .push(column(Quantity::Coolant, 0, &mut |t| on_trace(&self.coolant_c, self.hz, t).round()));
        }
        if extras.throttle {
            columns.push(column(Quantity::Throttle, 1, &mut |t| on_trace(&self.throttle_pct, self.hz, t)));
        }
        for i in 0..if extras.lambda { self.cylinders() } else { 0 } {
            let mut noise = stream(seed, 100 + i as u64);
            columns.push(column(Quantity::Lambda(i + 1), 3, &mut |t| {
                self.measured_lambda(i, t) + 0.003 * noise.sample::<f64, _>(StandardNormal)
            }));
        }
        if extras.barometer {
            columns.push(column(Quantity::Barometer, 1, &mut |_| self.barometer_kpa));
        }
        columns
    }

    /// Crank angle since the simulation began, degrees.
    #[must_use]
    pub fn crank_at(&self, t: f64) -> f64 {
        let Some(last) = self.crank_deg.len().checked_sub(1) else { return f64::NAN };
        let x = (t * self.hz).clamp(0.0, last as f64);
        let (cell, next) = (x as usize, (x as usize + 1).min(last));
        self.crank_deg[cell] + (self.crank_deg[next] - self.crank_deg[cell]) * (x - cell as f64)
    }

    /// Engine speed over the last whole cycle, or the momentary one while there is none, rev/min.
    #[must_use]
    pub fn speed_rpm(&self, t: f64) -> f64 {
        match last_cycle(self, t) {
            Some(k) => self.cycle_deg / 6.0 / (self.cycles[k].end_s - self.cycles[k].start_s),
            None => on_trace(&self.rpm, self.hz, t),
        }
    }

    /// Lambda probe of cylinder `i` (from 0): mean of the last four cycles; 2.0, its rail, in plain air.
    fn measured_lambda(&self, i: usize, t: f64) -> f64 {
        let Some(k) = last_cycle(self, t) else { return 2.0 };
        let from = k.saturating_sub(3);
        let reading = |v: f64| if v.is_finite() { v.clamp(0.6, 2.0) } else { 2.0 };
        self.cycles[from..=k].iter().map(|c| reading(c.lambda[i])).sum::<f64>() / (k - from + 1) as f64
    }
}

/// Row r keeps the fresh value of channel r mod channels only; the first row is read as a whole.
fn poll(columns: &mut [Column]) {
    let turn = columns.len();
    for (c, column) in columns.iter_mut().enumerate() {
        let mut held = f64::NAN;
        for (row, cell) in column.values.iter_mut().enumerate() {
            if row == 0 || row % turn == c {
                held = *cell;
            }
            *cell = held;
        }
    }
}

fn stepped(value: f64, step: f64) -> f64 {
    if step > 0.0 { (value / step).round() * step } else { value }
}

fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(1_000 + number);
    rng
}
