//! The averaged pulse: every reading of a cylinder sorted by crank phase and averaged over the cycles.
//!
//! # Method
//! Readings fall into bins of the engine cycle by the held phase (equivalent time: from four readings a cycle, many cycles
//! fill all bins). The recording is cut into blocks of whole cycles whose size hangs on the rows alone. Each block is read
//! from memory once: first the mean, the extremes and the number of readings of its cycles, then, without the rejected
//! cycles, sums per bin. Blocks are worked on in parallel and added in their order, so that the bytes of the result do not
//! hang on the number of threads. The slow level of the recording is not taken out: it is part of the band.
//!
//! A cycle is rejected as incomplete (holes, edge of a stretch) with less than 0.7 of the usual number of readings, and as
//! odd when its mean, lowest or highest reading lies more than six robust standard deviations from the middle of its block
//! (a spike, a drop-out that was filled).
//!
//! # Source
//! S. Braun, Acustica 32 (1975) 69: white noise of the averaged pulse falls as 1/sqrt(N). Cycle-to-cycle variation as in
//! J. B. Heywood (1988), section 9.4.2, on the per-cycle mean absolute pressure. The bounds of rejection are common
//! practice, no source.

use rayon::prelude::*;

use crate::stats::robust::median;

/// Cycles left out and why.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Rejected {
    /// Too few readings.
    pub incomplete: u64,
    /// Mean or extremes far from the others'.
    pub odd: u64,
    /// The odd cycles by their whole number, rising.
    pub odd_cycles: Vec<i64>,
}

/// Averaged pulse on a fixed grid.
///
/// # Shape
/// `mean`, `sd` and `count` have one value per bin; bin `b` is centred at `(b + 0.5) / bins` cycles.
#[derive(Debug, Clone, PartialEq)]
pub struct Folded {
    /// Mean pressure, kPa; `NaN` in an empty bin.
    pub mean: Vec<f64>,
    /// Standard deviation inside the bin, kPa: the band from cycle to cycle.
    pub sd: Vec<f64>,
    /// Readings in the bin.
    pub count: Vec<u32>,
    /// Cycles averaged.
    pub cycles: u64,
    /// Cycles left out.
    pub rejected: Rejected,
    /// Mean over the cycles of their mean pressure, kPa.
    pub level_kpa: f64,
    /// Standard deviation of that mean from cycle to cycle, kPa; `None` under 20 readings a cycle, where it would be that
    /// of the sampling.
    pub level_sd_kpa: Option<f64>,
}

/// Rows and cycles that a block holds at least.
const BLOCK_ROWS: usize = 16_384;
const BLOCK_CYCLES: usize = 64;
/// Share of the usual readings that a cycle must have.
const COMPLETE: f64 = 0.7;
/// Robust standard deviations beyond which a cycle is odd.
const ODD: f64 = 6.0;
/// Readings a cycle from which a cycle's own mean speaks of the cycle.
const MEAN_FROM: f64 = 20.0;

/// Bins for a number of readings a cycle.
#[must_use]
pub fn bins(per_cycle: f64) -> usize {
    if per_cycle < 20.0 { 60 } else { 180 }
}

/// Largest whole number not above `x`: the library's `floor` is a call on processors without a rounding instruction.
#[inline]
pub(super) fn whole(x: f64) -> f64 {
    let cut = x as i64 as f64;
    if cut > x { cut - 1.0 } else { cut }
}

/// Folds one cylinder's readings.
///
/// # Shape
/// `cycles`, `values`, `weights` share one length; `rows` are rising indices into them.
#[must_use]
pub fn fold(cycles: &[f64], values: &[f64], weights: &[f64], rows: &[usize], bins: usize) -> Folded {
    let data = Data { cycles, values, weights, bins };
    let shift = rows.iter().map(|&k| values[k]).find(|v| v.is_finite()).unwrap_or(0.0);
    let blocks = cut(cycles, rows);
    let sums: Vec<Sums> = blocks.into_par_iter().map(|(a, b)| data.block(&rows[a..b], shift)).collect();
    let mut all = Sums::new(bins);
    for s in sums {
        all.add(s);
    }
    all.finish(shift)
}

/// Half-open ranges of `rows`, cut where a cycle ends.
fn cut(cycles: &[f64], rows: &[usize]) -> Vec<(usize, usize)> {
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else { return Vec::new() };
    let per_cycle = rows.len() as f64 / (cycles[*last] - cycles[*first]).max(1.0);
    let size = BLOCK_ROWS.max((per_cycle * BLOCK_CYCLES as f64) as usize);
    let mut out = Vec::new();
    let mut start = 0;
    while start < rows.len() {
        let mut end = (start + size).min(rows.len());
        // A short rest joins the block before it.
        if rows.len() - end < size / 2 {
            end = rows.len();
        }
        while end < rows.len() && cycles[rows[end]].floor() == cycles[rows[end - 1]].floor() {
            end += 1;
        }
        out.push((start, end));
        start = end;
    }
    out
}

struct Data<'a> {
    cycles: &'a [f64],
    values: &'a [f64],
    weights: &'a [f64],
    bins: usize,
}

/// One cycle of a block.
#[derive(Clone, Copy)]
struct Cycle {
    number: f64,
    from: usize,
    to: usize,
    count: u32,
    sum: f64,
    low: f64,
    high: f64,
}

impl Cycle {
    fn mean(&self) -> f64 {
        self.sum / f64::from(self.count.max(1))
    }
}

impl Data<'_> {
    fn block(&self, rows: &[usize], shift: f64) -> Sums {
        let found = self.list(rows);
        let mut out = Sums::new(self.bins);
        let full: Vec<Cycle> = found.iter().copied().filter(|c| c.count > 0).collect();
        let usual = median(&full.iter().map(|c| f64::from(c.count)).collect::<Vec<_>>()).unwrap_or(0.0);
        let bounds = [Cycle::mean, |c: &Cycle| c.low, |c: &Cycle| c.high].map(|of| Bound::new(&full, of));
        for c in &full {
            if f64::from(c.count) < COMPLETE * usual {
                out.rejected.incomplete += 1;
                continue;
            }
            if bounds.iter().zip([c.mean(), c.low, c.high]).any(|(b, v)| (v - b.middle).abs() > b.reach) {
                out.rejected.odd += 1;
                out.rejected.odd_cycles.push(c.number as i64);
                continue;
            }
            out.cycles += 1;
            out.readings += u64::from(c.count);
            let level = c.mean() - shift;
            out.level += level;
            out.level2 += level * level;
            self.sort(&rows[c.from..c.to], shift, &mut out.cells);
        }
        out
    }

    /// The cycles of a block with their extremes.
    fn list(&self, rows: &[usize]) -> Vec<Cycle> {
        let mut out: Vec<Cycle> = Vec::new();
        for (at, &k) in rows.iter().enumerate() {
            let number = whole(self.cycles[k]);
            if out.last().is_none_or(|c| c.number != number) {
                let (low, high) = (f64::INFINITY, f64::NEG_INFINITY);
                out.push(Cycle { number, from: at, to: at, count: 0, sum: 0.0, low, high });
            }
            let Some(c) = out.last_mut() else { continue };
            c.to = at + 1;
            let v = self.values[k];
            if self.weights[k] > 0.0 && v.is_finite() {
                c.count += 1;
                c.sum += v;
                c.low = c.low.min(v);
                c.high = c.high.max(v);
            }
        }
        out
    }

    /// Adds the readings of one cycle to the bins.
    fn sort(&self, rows: &[usize], shift: f64, cells: &mut [[f64; 3]]) {
        let scale = self.bins as f64;
        for &k in rows {
            let v = self.values[k];
            if self.weights[k] <= 0.0 || !v.is_finite() {
                continue;
            }
            let x = self.cycles[k] - whole(self.cycles[k]);
            let b = ((x * scale) as usize).min(self.bins - 1);
            let d = v - shift;
            let cell = &mut cells[b];
            cell[0] += 1.0;
            cell[1] += d;
            cell[2] += d * d;
        }
    }
}

/// Middle of a feature over the cycles of a block, and how far from it a cycle may lie.
struct Bound {
    middle: f64,
    reach: f64,
}

impl Bound {
    fn new(cycles: &[Cycle], of: impl Fn(&Cycle) -> f64) -> Self {
        let v: Vec<f64> = cycles.iter().map(of).collect();
        let middle = median(&v).unwrap_or(0.0);
        let off: Vec<f64> = v.iter().map(|x| (x - middle).abs()).collect();
        let mad = median(&off).unwrap_or(0.0);
        // Steps of the values must not make their neighbours odd.
        Self { middle, reach: (ODD * 1.4826 * mad).max(1.0) }
    }
}

/// Sums of a block, or of all.
struct Sums {
    cells: Vec<[f64; 3]>,
    cycles: u64,
    readings: u64,
    rejected: Rejected,
    level: f64,
    level2: f64,
}

impl Sums {
    fn new(bins: usize) -> Self {
        Self {
            cells: vec![[0.0; 3]; bins],
            cycles: 0,
            readings: 0,
            rejected: Rejected::default(),
            level: 0.0,
            level2: 0.0,
        }
    }

    fn add(&mut self, other: Self) {
        for (a, b) in self.cells.iter_mut().zip(other.cells) {
            (0..3).for_each(|i| a[i] += b[i]);
        }
        self.cycles += other.cycles;
        self.readings += other.readings;
        self.rejected.incomplete += other.rejected.incomplete;
        self.rejected.odd += other.rejected.odd;
        self.rejected.odd_cycles.extend(other.rejected.odd_cycles);
        self.level += other.level;
        self.level2 += other.level2;
    }

    fn finish(self, shift: f64) -> Folded {
        let spread = |n: f64, s: f64, q: f64| {
            if n > 1.0 { ((q - s * s / n).max(0.0) / (n - 1.0)).sqrt() } else { f64::NAN }
        };
        let n = self.cycles as f64;
        let speaks = self.readings as f64 >= MEAN_FROM * n && n > 1.0;
        Folded {
            mean: self
                .cells
                .iter()
                .map(|c| if c[0] > 0.0 { shift + c[1] / c[0] } else { f64::NAN })
                .collect(),
            sd: self.cells.iter().map(|c| spread(c[0], c[1], c[2])).collect(),
            count: self.cells.iter().map(|c| c[0] as u32).collect(),
            cycles: self.cycles,
            rejected: self.rejected,
            level_kpa: if n > 0.0 { shift + self.level / n } else { f64::NAN },
            level_sd_kpa: speaks.then(|| spread(n, self.level, self.level2)),
        }
    }
}

impl Folded {
    /// Share of bins that hold at least one reading.
    #[must_use]
    pub fn filled(&self) -> f64 {
        self.count.iter().filter(|c| **c > 0).count() as f64 / self.count.len().max(1) as f64
    }

    /// Bin with the lowest mean; `None` when all are empty.
    #[must_use]
    pub fn dip(&self) -> Option<usize> {
        (0..self.mean.len())
            .filter(|&b| self.mean[b].is_finite())
            .min_by(|&a, &b| self.mean[a].total_cmp(&self.mean[b]))
    }

    /// Lowest point: phase in cycles and pressure in kPa, by a parabola through the lowest bin and its neighbours.
    #[must_use]
    pub fn lowest(&self) -> Option<(f64, f64)> {
        Some(self.vertex(self.dip()?))
    }

    /// Highest point, as [`Self::lowest`].
    #[must_use]
    pub fn highest(&self) -> Option<(f64, f64)> {
        let b = (0..self.mean.len())
            .filter(|&b| self.mean[b].is_finite())
            .max_by(|&a, &b| self.mean[a].total_cmp(&self.mean[b]))?;
        Some(self.vertex(b))
    }

    fn vertex(&self, b: usize) -> (f64, f64) {
        let n = self.mean.len();
        let (l, m, r) = (self.mean[(b + n - 1) % n], self.mean[b], self.mean[(b + 1) % n]);
        let bend = l - 2.0 * m + r;
        let off = if bend.abs() > 1e-12 { (0.5 * (l - r) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        let off = if off.is_finite() { off } else { 0.0 };
        let height = if l.is_finite() && r.is_finite() { m - 0.25 * (l - r) * off } else { m };
        (((b as f64 + 0.5 + off) / n as f64).rem_euclid(1.0), height)
    }

    /// Cycle-to-cycle variation of the mean pressure, per cent.
    #[must_use]
    pub fn variation_pct(&self) -> Option<f64> {
        self.level_sd_kpa.map(|s| 100.0 * s / self.level_kpa).filter(|v| v.is_finite())
    }

    /// Standard error of the mean in a bin, kPa: readings of one cycle in one bin are not independent.
    #[must_use]
    pub fn standard_error(&self, bin: usize) -> f64 {
        let n = f64::from(self.count[bin]).min(self.cycles as f64).max(1.0);
        self.sd[bin] / n.sqrt()
    }
}

#[cfg(test)]
#[path = "fold_tests.rs"]
mod tests;
