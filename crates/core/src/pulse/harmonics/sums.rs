//! Weighted sums of waves and readings over many rows.
//!
//! The products of two waves that a regression needs are waves of the sum and the difference of their numbers
//! (prosthaphaeresis), so that twice as many sums of single waves stand for the whole square of them. Rows are taken in
//! tiles; where all channels have their readings in the same rows, with the same weights, they share the sums of the waves.
//! The tiles are worked through with the widest registers that the processor has; the order of the sums is the same on all.

// By index throughout: what an iterator is made of is not always taken into a loop for wide registers.
#![allow(clippy::needless_range_loop)]

use pulp::{Arch, NullaryFnOnce};

use super::tile::{Part, Tile};
use super::turns::{Lane, ROWS, turn};
use super::{MOST, Readings};

pub(super) const SIZE: usize = 2 * MOST + 1;

/// How far the sums go.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reach {
    /// Highest wave that is summed by itself, at most twice [`MOST`].
    pub(super) waves: usize,
    /// Highest wave that is summed with the readings, not above `waves`.
    pub(super) readings: usize,
}

/// Sums of one channel.
#[derive(Debug, Clone)]
pub(super) struct Sums {
    /// Sums of the weighted waves, cosines and sines from 0 on.
    pub(super) cos: [f64; SIZE],
    pub(super) sin: [f64; SIZE],
    /// Sums of the weighted readings with each column of the design.
    pub(super) xy: [f64; SIZE],
    pub(super) yy: f64,
    pub(super) w: f64,
    pub(super) w2: f64,
    pub(super) rows: usize,
}

impl Sums {
    pub(super) const NONE: Self =
        Self { cos: [0.0; SIZE], sin: [0.0; SIZE], xy: [0.0; SIZE], yy: 0.0, w: 0.0, w2: 0.0, rows: 0 };

    pub(super) fn add(&mut self, other: &Self) {
        let lists = [(&mut self.cos, &other.cos), (&mut self.sin, &other.sin), (&mut self.xy, &other.xy)];
        for (own, others) in lists {
            own.iter_mut().zip(others).for_each(|(a, b)| *a += b);
        }
        self.yy += other.yy;
        self.w += other.w;
        self.w2 += other.w2;
        self.rows += other.rows;
    }
}

/// The sums of one channel while they grow: one for each place of a tile, so that rows never wait for each other.
#[derive(Clone)]
struct Growing {
    cos: [Lane; SIZE],
    sin: [Lane; SIZE],
    xy: [Lane; SIZE],
    yy: Lane,
    w2: Lane,
    rows: Lane,
}

impl Growing {
    const NONE: Self = Self {
        cos: [[0.0; ROWS]; SIZE],
        sin: [[0.0; ROWS]; SIZE],
        xy: [[0.0; ROWS]; SIZE],
        yy: [0.0; ROWS],
        w2: [0.0; ROWS],
        rows: [0.0; ROWS],
    };

    /// Adds the waves of a tile.
    #[inline(always)]
    fn waves(&mut self, most: usize, weights: &Lane, waves: &Waves) {
        add(&mut self.w2, weights, weights);
        for m in 0..=most.min(SIZE - 1) {
            add(&mut self.cos[m], weights, &waves.cos[m]);
            add(&mut self.sin[m], weights, &waves.sin[m]);
        }
    }

    /// Adds the readings of a tile, less the level that the sums are taken from.
    #[inline(always)]
    fn readings(&mut self, most: usize, part: &Part, waves: &Waves) {
        add(&mut self.xy[0], &part.weighted, &[1.0; ROWS]);
        for m in 1..=most.min(MOST) {
            add(&mut self.xy[2 * m - 1], &part.weighted, &waves.cos[m]);
            add(&mut self.xy[2 * m], &part.weighted, &waves.sin[m]);
        }
        add(&mut self.yy, &part.weighted, &part.rest);
        add(&mut self.rows, &part.reads, &[1.0; ROWS]);
    }

    fn settled(&self) -> Sums {
        let all = |lists: &[Lane; SIZE]| lists.map(|lane| lane.iter().sum::<f64>());
        let cos = all(&self.cos);
        Sums {
            cos,
            sin: all(&self.sin),
            xy: all(&self.xy),
            yy: self.yy.iter().sum(),
            w: cos[0],
            w2: self.w2.iter().sum(),
            rows: self.rows.iter().sum::<f64>() as usize,
        }
    }
}

/// Adds products, each at its own place.
#[inline(always)]
fn add(sums: &mut Lane, a: &Lane, b: &Lane) {
    for j in 0..ROWS {
        sums[j] += a[j] * b[j];
    }
}

/// Cosines and sines of 0 and more times the phases of a tile.
struct Waves {
    cos: [Lane; SIZE],
    sin: [Lane; SIZE],
}

impl Waves {
    fn new() -> Self {
        let mut waves = Self { cos: [[0.0; ROWS]; SIZE], sin: [[0.0; ROWS]; SIZE] };
        waves.cos[0] = [1.0; ROWS];
        waves
    }

    #[inline(always)]
    fn set(&mut self, phases: &Lane, most: usize) {
        if most == 0 {
            return;
        }
        turn(phases, &mut self.sin[1], &mut self.cos[1]);
        // From halves, so that each waits for few before it.
        for m in 2..=most.min(SIZE - 1) {
            let (cos, cos_m) = self.cos.split_at_mut(m);
            let (sin, sin_m) = self.sin.split_at_mut(m);
            let (a, b) = (m / 2, m - m / 2);
            let (ca, cb, sa, sb) = (&cos[a], &cos[b], &sin[a], &sin[b]);
            for j in 0..ROWS {
                cos_m[0][j] = ca[j] * cb[j] - sa[j] * sb[j];
                sin_m[0][j] = sa[j] * cb[j] + ca[j] * sb[j];
            }
        }
    }
}

/// Sums of every channel over some rows, each less its level.
///
/// # Shape
/// One sum for each channel, in their order; `rows` rise.
pub(super) fn gather(
    reach: Reach,
    cycles: &[f64],
    channels: &[(Readings<'_>, f64)],
    rows: impl Iterator<Item = usize>,
) -> Vec<Sums> {
    Arch::new().dispatch(Gather { reach, cycles, channels, rows })
}

struct Gather<'a, R> {
    reach: Reach,
    cycles: &'a [f64],
    channels: &'a [(Readings<'a>, f64)],
    rows: R,
}

impl<R: Iterator<Item = usize>> NullaryFnOnce for Gather<'_, R> {
    type Output = Vec<Sums>;

    #[inline(always)]
    fn call(self) -> Vec<Sums> {
        let Self { reach, cycles, channels, mut rows } = self;
        let mut sums = vec![Growing::NONE; channels.len()];
        let mut parts = vec![Part::NONE; channels.len()];
        let (mut waves, mut shared) = (Waves::new(), Growing::NONE);
        let mut tile = Tile::NONE;
        let mut phases = [0.0; ROWS];
        loop {
            tile.fill(&mut rows);
            if tile.used == 0 {
                break;
            }
            let mut readings = 0.0;
            for i in 0..parts.len() {
                parts[i].set(&channels[i].0, channels[i].1, &tile);
                readings += parts[i].count();
            }
            if readings == 0.0 {
                continue;
            }
            tile.take(cycles, &mut phases);
            waves.set(&phases, reach.waves);
            let mut together = true;
            for i in 1..parts.len() {
                together &= parts[i].weighs_as(&parts[0]);
            }
            if together {
                shared.waves(reach.waves, &parts[0].weights, &waves);
            }
            for i in 0..parts.len() {
                sums[i].readings(reach.readings, &parts[i], &waves);
                if !together {
                    sums[i].waves(reach.waves, &parts[i].weights, &waves);
                }
            }
        }
        let shared = shared.settled();
        let mut settled: Vec<Sums> = sums.iter().map(Growing::settled).collect();
        settled.iter_mut().for_each(|sum| sum.add(&shared));
        settled
    }
}
