//! The averaged pulse: every reading of a cylinder sorted by crank phase and averaged.
//!
//! # Method
//! Readings fall into bins of the engine cycle by the held phase (equivalent time: a few readings a cycle are enough when
//! there are many cycles). Mean and standard deviation per bin are accumulated in one pass (Welford). The slow level of
//! the recording is not taken out: it is part of the band.
//!
//! # Source
//! S. Braun, Acustica 32 (1975) 69: white noise of the averaged pulse falls as 1/sqrt(N).

/// Averaged pulse on a fixed grid.
///
/// # Shape
/// `mean`, `sd` and `count` have one value per bin; bin `b` is centred at `(b + 0.5) / bins` cycles.
#[derive(Debug, Clone, PartialEq)]
pub struct Folded {
    /// Mean pressure, kPa; `NaN` in an empty bin.
    pub mean: Vec<f64>,
    /// Standard deviation inside the bin, kPa.
    pub sd: Vec<f64>,
    /// Readings in the bin.
    pub count: Vec<u32>,
}

/// Bins for a number of readings a cycle.
#[must_use]
pub fn bins(per_cycle: f64) -> usize {
    if per_cycle < 20.0 { 60 } else { 180 }
}

/// Folds one cylinder's readings.
///
/// # Shape
/// `cycles`, `values`, `weights` share one length; `rows` are indices into them.
#[must_use]
pub fn fold(cycles: &[f64], values: &[f64], weights: &[f64], rows: &[usize], bins: usize) -> Folded {
    let mut out = Folded { mean: vec![0.0; bins], sd: vec![0.0; bins], count: vec![0; bins] };
    for &k in rows {
        let v = values[k];
        if weights[k] <= 0.0 || !v.is_finite() {
            continue;
        }
        let x = cycles[k] - cycles[k].floor();
        let b = ((x * bins as f64) as usize).min(bins - 1);
        out.count[b] += 1;
        let d = v - out.mean[b];
        out.mean[b] += d / f64::from(out.count[b]);
        out.sd[b] += d * (v - out.mean[b]);
    }
    for b in 0..bins {
        let n = f64::from(out.count[b]);
        out.sd[b] = if n > 1.0 { (out.sd[b] / (n - 1.0)).sqrt() } else { f64::NAN };
        if n < 1.0 {
            out.mean[b] = f64::NAN;
        }
    }
    out
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
}
