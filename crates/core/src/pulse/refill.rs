//! Refill rate: how fast a runner fills through its plate while the intake valve is shut.
//!
//! # Method
//! Below 0.528 of the barometer the plate is choked and the pressure of a shut runner rises in a straight line whose
//! slope is proportional to plate (and leak) area over runner volume, whatever the valve does later. The straight part is
//! found on the averaged pulse: rising, under 0.515 of the barometer, local slope within 6 % of its median (with few readings
//! a bin, a longer reach and up to 10 %). Readings are gated
//! by their phase, never by their own pressure (that would select on noise). One line is fitted through the gated readings; a
//! quadratic through them tells the curvature. Scatter of the logarithm of the slope comes from a jackknife over 16 blocks of
//! time. Trapped air is the slope times the mean of psi(p/p0)/psi(choked) over the averaged pulse.
//!
//! A runner that fills beyond the critical pressure early (slow engine, long gap between intakes) has a short choked part. There
//! the pressure is first stretched to what it would be behind a plate that stayed choked, `T(p) = p` below the critical
//! pressure and `dT = dp / (psi/psi_choked)` above it, up to 0.85 of the barometer; `T` rises in a straight line again.
//!
//! Refused where the gate is shorter than 0.22 cycle or the slope changes by more than 8 % along it: then a lag, a hose or a
//! crossover shapes the rise and the slope is no area.
//!
//! # Source
//! Orifice flow: J. B. Heywood, Internal Combustion Engine Fundamentals (1988), appendix C. The use of the slope is own
//! derivation, checked on the engine model.

use crate::physics::psi_over_choked;

use super::fold::{Folded, whole};

/// Standard uncertainty of a ratio from what the jackknife cannot see (ends of the gate, phase held to a thousandth of a
/// cycle), as a share: half of the largest error of the engine model's grid at 500 Hz and more.
pub const METHOD_SHARE: f64 = 0.0007;

/// Why a refill rate is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refusal {
    /// No rising part under the critical pressure is long enough.
    ShortStraightPart,
    /// The rise is bent.
    Curved,
    /// Too few readings.
    TooFewReadings,
    /// The rise is not one slope while the valve should be shut.
    Step,
}

impl Refusal {
    /// The reason in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::ShortStraightPart => "the straight part of the rise is too short",
            Self::Curved => "the rise is bent (sensor lag, hose or crossover)",
            Self::TooFewReadings => "too few readings",
            Self::Step => {
                "its rise is not one slope while the intake valve should be shut: the line is damped, or gas comes or goes besides the plate"
            }
        }
    }
}

/// Refill rate of one cylinder.
#[derive(Debug, Clone, PartialEq)]
pub struct Refill {
    /// Slope of the straight part, kPa per engine cycle.
    pub slope: f64,
    /// Slope with one of the time blocks left out, kPa per cycle.
    pub without: Vec<f64>,
    /// Relative change of the slope along the gate.
    pub curvature: f64,
    /// Start of the gate, cycles.
    pub from: f64,
    /// Length of the gate, cycles.
    pub length: f64,
    /// Mean of psi(p/p0)/psi(choked) over the averaged pulse.
    pub flow_share: f64,
}

const TIME_BLOCKS: usize = 16;
const SHORTEST: f64 = 0.22;
const BENT: f64 = 0.08;
const CAP: f64 = 0.515;
const STRETCHED_CAP: f64 = 0.85;
/// Reach of the local slope, in parts of a cycle, and the band about its median: the sharpest first. With few readings in
/// a bin the slope between near bins is noise; a longer reach and a wider band then find the straight part, and the
/// curvature of the readings themselves still decides whether it is one.
const LOOKS: [(usize, f64); 3] = [(30, 0.06), (20, 0.08), (12, 0.10)];

/// Readings of one cylinder with their phase.
#[derive(Debug, Clone, Copy)]
pub struct Readings<'a> {
    /// Phase, engine cycles.
    pub cycles: &'a [f64],
    /// Pressure, kPa absolute.
    pub values: &'a [f64],
    /// Weights, 0 = not used.
    pub weights: &'a [f64],
    /// Rows to use.
    pub rows: &'a [usize],
}

/// Measures the refill rate of one cylinder.
///
/// # Errors
/// The reason of a refusal.
pub fn refill(readings: Readings<'_>, folded: &Folded, barometer_kpa: f64) -> Result<Refill, Refusal> {
    let mut first = None;
    let stretch = Stretch::new(barometer_kpa);
    if stepped(folded, barometer_kpa, &stretch) {
        return Err(Refusal::Step);
    }
    for look in LOOKS {
        for stretch in [None, Some(&stretch)] {
            match measure(readings, folded, barometer_kpa, stretch, look) {
                Ok(found) => return Ok(found),
                Err(refusal) => first = first.or(Some(refusal)),
            }
        }
    }
    Err(first.unwrap_or(Refusal::ShortStraightPart))
}

/// Whether the rise between 0.14 and 0.46 cycle after the lowest point is more than one slope. There every valve of a
/// healthy cylinder is shut, whatever its timing: the dip lies near bottom dead centre, the intake opens 0.7 cycle later.
/// Behind a plate (and any leak to the air) the stretched pressure is straight there. A leaking intake valve pushes gas back
/// when the cylinder fires, half-way; a crossover lets another runner's dip through.
///
/// Four slopes of 0.08 cycle against their median; a step departs by more than 30 % and by five times its own scatter.
fn stepped(folded: &Folded, barometer_kpa: f64, stretch: &Stretch) -> bool {
    let n = folded.mean.len();
    let Some(dip) = folded.dip() else { return false };
    let part = (0.08 * n as f64).round() as usize;
    let first = dip + (0.14 * n as f64).round() as usize;
    // Line through the bins of a part: slope a bin and its standard uncertainty.
    let slope = |from: usize| {
        let (mut xx, mut xy, mut var) = (0.0, 0.0, 0.0);
        let middle = 0.5 * part as f64;
        for k in 0..=part {
            let (b, x) = ((from + k) % n, k as f64 - middle);
            let p = folded.mean[b];
            let se = folded.standard_error(b);
            let gain = 1.0 / psi_over_choked(p / barometer_kpa).max(0.05);
            xx += x * x;
            xy += x * stretch.of(p);
            var += (x * se * gain).powi(2);
        }
        (xy / xx, var.sqrt() / xx)
    };
    let usable =
        |from: usize| (0..=part).all(|k| folded.mean[(from + k) % n] < STRETCHED_CAP * barometer_kpa);
    let found: Vec<(f64, f64)> =
        (0..4).map(|k| first + k * part).filter(|&from| usable(from)).map(slope).collect();
    let Some(middle) = crate::stats::robust::median(&found.iter().map(|s| s.0).collect::<Vec<_>>()) else {
        return false;
    };
    found.len() >= 2
        && middle > 0.0
        && found.iter().any(|(s, u)| (s - middle).abs() > (STEP * middle).max(5.0 * u))
}

/// Departure of a part's slope that is a step.
const STEP: f64 = 0.3;

fn measure(
    readings: Readings<'_>,
    folded: &Folded,
    barometer_kpa: f64,
    stretch: Option<&Stretch>,
    look: (usize, f64),
) -> Result<Refill, Refusal> {
    let of = |p: f64| stretch.map_or(p, |s| s.of(p));
    let shape: Vec<f64> = folded.mean.iter().map(|p| of(*p)).collect();
    let cap = of(if stretch.is_some() { STRETCHED_CAP } else { CAP } * barometer_kpa);
    let (start, bins) = gate(&shape, cap, look).ok_or(Refusal::ShortStraightPart)?;
    let n = shape.len();
    let (from, length) = (start as f64 / n as f64, bins as f64 / n as f64);
    if length < SHORTEST {
        return Err(Refusal::ShortStraightPart);
    }
    let mut sums = vec![Moments::default(); TIME_BLOCKS];
    let total = readings.rows.len().max(1);
    for (b, sum) in sums.iter_mut().enumerate() {
        for &k in
            &readings.rows[b * total / TIME_BLOCKS..((b + 1) * total / TIME_BLOCKS).min(readings.rows.len())]
        {
            let y = readings.values[k];
            let x = readings.cycles[k] - from;
            let x = x - whole(x);
            if x < length && readings.weights[k] > 0.0 && y.is_finite() {
                sum.add(x / length - 0.5, of(y));
            }
        }
    }
    let all = sums.iter().fold(Moments::default(), |a, b| a.plus(b, 1.0));
    if all.n < 64.0 {
        return Err(Refusal::TooFewReadings);
    }
    let slope = all.slope().ok_or(Refusal::TooFewReadings)? / length;
    let bend = all.bend().ok_or(Refusal::TooFewReadings)?;
    let curvature = bend / (slope * length);
    if curvature.abs() > BENT {
        return Err(Refusal::Curved);
    }
    let without = sums
        .iter()
        .filter(|s| s.n > 0.0)
        .filter_map(|s| all.plus(s, -1.0).slope())
        .map(|s| s / length)
        .collect();
    Ok(Refill { slope, without, curvature, from, length, flow_share: flow_share(folded, barometer_kpa) })
}

fn flow_share(folded: &Folded, barometer_kpa: f64) -> f64 {
    let known: Vec<f64> = folded.mean.iter().copied().filter(|p| p.is_finite()).collect();
    known.iter().map(|p| psi_over_choked(p / barometer_kpa)).sum::<f64>() / known.len().max(1) as f64
}

/// Pressure behind a plate that stays choked, as a table over the real pressure.
struct Stretch {
    step: f64,
    table: Vec<f64>,
}

impl Stretch {
    fn new(barometer_kpa: f64) -> Self {
        let cells = 512usize;
        let step = 0.98 * barometer_kpa / cells as f64;
        let mut sum = 0.0;
        let mut table = vec![0.0];
        for k in 0..cells {
            sum += step / psi_over_choked((k as f64 + 0.5) * step / barometer_kpa).max(0.05);
            table.push(sum);
        }
        Self { step, table }
    }

    fn of(&self, p: f64) -> f64 {
        if !p.is_finite() {
            return p;
        }
        let x = (p / self.step).clamp(0.0, (self.table.len() - 2) as f64);
        let k = x.floor() as usize;
        self.table[k] + (x - k as f64) * (self.table[k + 1] - self.table[k])
    }
}

/// Longest straight rise under the cap: first bin and number of bins (the run may wrap around the end of the cycle).
fn gate(shape: &[f64], cap: f64, look: (usize, f64)) -> Option<(usize, usize)> {
    let n = shape.len();
    let reach = (n / look.0).max(1);
    let p = |b: usize| shape[b % n];
    let slope: Vec<f64> = (0..n).map(|b| (p(b + reach) - p(b + n - reach)) / (2 * reach) as f64).collect();
    let low = shape.iter().copied().filter(|v| v.is_finite()).fold(f64::INFINITY, f64::min);
    let fits = |b: usize| p(b) < cap && slope[b % n] > 0.0 && p(b) > low;
    let mut best: Option<(usize, usize)> = None;
    let (start, length) = longest(n, fits)?;
    // Inside the rise, keep what has the slope of its middle.
    let inner: Vec<f64> = (start..start + length).map(|b| slope[b % n]).collect();
    let mut middle = crate::stats::robust::median(&inner)?;
    for _ in 0..3 {
        let straight = |b: usize| fits(b) && (slope[b % n] / middle - 1.0).abs() <= look.1;
        let found = longest(n, straight)?;
        let inner: Vec<f64> = (found.0..found.0 + found.1).map(|b| slope[b % n]).collect();
        middle = crate::stats::robust::median(&inner)?;
        best = Some(found);
    }
    best
}

/// Longest circular run of bins for which `is` holds, allowing single exceptions.
fn longest(n: usize, is: impl Fn(usize) -> bool) -> Option<(usize, usize)> {
    let held: Vec<bool> = (0..n).map(&is).collect();
    let ok = |b: usize| held[b % n] || (held[(b + 1) % n] && held[(b + n - 1) % n]);
    if (0..n).all(ok) {
        return Some((0, n));
    }
    let mut best = (0, 0);
    for start in (0..n).filter(|&b| ok(b) && !ok(b + n - 1)) {
        let length = (0..n).take_while(|&k| ok(start + k)).count();
        if length > best.1 {
            best = (start, length);
        }
    }
    (best.1 > 0).then_some(best)
}

/// Sums for a line and a parabola over a gate scaled to -0.5 .. 0.5.
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    n: f64,
    x: [f64; 4],
    y: [f64; 3],
}

impl Moments {
    fn add(&mut self, x: f64, y: f64) {
        self.n += 1.0;
        let x2 = x * x;
        self.x[0] += x;
        self.x[1] += x2;
        self.x[2] += x2 * x;
        self.x[3] += x2 * x2;
        self.y[0] += y;
        self.y[1] += x * y;
        self.y[2] += x2 * y;
    }

    fn plus(mut self, other: &Self, sign: f64) -> Self {
        self.n += sign * other.n;
        self.x.iter_mut().zip(&other.x).for_each(|(a, b)| *a += sign * b);
        self.y.iter_mut().zip(&other.y).for_each(|(a, b)| *a += sign * b);
        self
    }

    fn slope(&self) -> Option<f64> {
        let det = self.n * self.x[1] - self.x[0] * self.x[0];
        (det > 0.0).then(|| (self.n * self.y[1] - self.x[0] * self.y[0]) / det)
    }

    /// Change of slope along the gate: twice the quadratic coefficient over a gate of length 1.
    fn bend(&self) -> Option<f64> {
        let a = nalgebra::Matrix3::new(
            self.n, self.x[0], self.x[1], self.x[0], self.x[1], self.x[2], self.x[1], self.x[2], self.x[3],
        );
        let b = nalgebra::Vector3::new(self.y[0], self.y[1], self.y[2]);
        a.lu().solve(&b).map(|c| 2.0 * c[2])
    }
}

/// Jackknife standard uncertainty of the logarithm of a quantity from its leave-one-out values.
#[must_use]
pub fn jackknife_log(without: &[f64]) -> f64 {
    jackknife(&without.iter().map(|v| v.abs().max(1e-12).ln()).collect::<Vec<_>>())
}

/// Jackknife standard uncertainty of a quantity from its leave-one-out values; infinite with fewer than two.
///
/// # Source
/// B. Efron and C. Stein, Annals of Statistics 9 (1981) 586: `(n-1)/n sum (v - mean)^2`.
#[must_use]
pub fn jackknife(without: &[f64]) -> f64 {
    let n = without.len() as f64;
    if n < 2.0 {
        return f64::INFINITY;
    }
    let mean = without.iter().sum::<f64>() / n;
    ((n - 1.0) / n * without.iter().map(|l| (l - mean) * (l - mean)).sum::<f64>()).sqrt()
}
