//! Influence: how far each cylinder's pressure and the engine speed move for one turn of each screw, learned from rounds.
//!
//! # Method
//! Model `y = y0 + C w`: `w` turns of opening, `y` pressures less their mean, so every column of `C` adds up to 0. All plates
//! work on one crank: opening one raises the speed and with it lowers every runner's pressure alike. That shared part drops out of
//! the differences and stays in the speed's own row. Two models, the simpler first:
//! * *own cylinder*: a screw moves its own plate alone, `C_ij = (d_ij - 1/n) k_j`. One number a screw, by weighted least squares
//!   over all rounds and cylinders.
//! * *coupled*: where that leaves more than the noise explains (chi-square at 1 %) and more than a fifth of the movement, as
//!   with chained linkage, every entry of `C` is fitted. This needs as many different rounds as screws.
//!
//! Weights are `1 / (u^2 + turn error^2)`, the turn error being `k` times the uncertainty of a turn made by hand. The covariance
//! follows from these known uncertainties and grows with the reduced chi-square where that exceeds 1. Refused: a condition
//! number above 30, too few rounds, and a screw whose effect is not above twice its uncertainty or of the wrong sign.
//! The speed is fitted as one figure per kPa that is common to all screws.
//!
//! # Source
//! T. P. Goodman, J. Eng. Ind. 86 (1964) 273 (influence coefficients by least squares); E. B. Wilson, M. M. Hilferty, PNAS 17
//! (1931) 684 (chi-square limit). The limit of 30 is an own rule.

use super::rounds::Round;
use crate::stats::error::StatsError;
use crate::stats::linear::{condition_number, ridge};

/// How screws act.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Coupling {
    /// Each on its own cylinder only.
    OwnCylinder,
    /// On several cylinders.
    Coupled,
}

/// Effect of one turn of opening of one screw.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Cylinder of the screw.
    pub cylinder: u32,
    /// Own pressure against the mean of the other cylinders, kPa a turn.
    pub kpa_per_turn: f64,
    /// Its standard uncertainty.
    pub u_kpa_per_turn: f64,
    /// Pressure of every cylinder less the mean of all, kPa a turn; adds up to 0; as long as [`Influence::cylinders`].
    pub effect_kpa: Vec<f64>,
    /// Standard uncertainty of each entry where each was fitted; zeros in the own-cylinder model.
    pub u_effect_kpa: Vec<f64>,
    /// Speed and its standard uncertainty, rev/min a turn.
    pub rpm_per_turn: Option<(f64, f64)>,
}

/// What the screws of one machine do.
#[derive(Debug, Clone, PartialEq)]
pub struct Influence {
    /// Cylinders, in order.
    pub cylinders: Vec<u32>,
    /// How screws act.
    pub coupling: Coupling,
    /// One column for each screw that was turned and moved something.
    pub columns: Vec<Column>,
    /// Screws that were turned and showed no usable effect: cylinder, kPa a turn and its standard uncertainty.
    pub without_effect: Vec<(u32, f64, f64)>,
    /// Rounds used.
    pub rounds: usize,
    /// Condition number of the problem.
    pub condition: f64,
    /// Chi-square over its degrees of freedom; `None` where nothing is left over.
    pub misfit: Option<f64>,
}

/// Why nothing could be learned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum InfluenceError {
    /// No round at all.
    #[error("no turn was noted together with what it changed")]
    NoRound,
    /// Rounds speak of different cylinders.
    #[error("the rounds speak of different cylinders")]
    OtherCylinders,
    /// The turns cannot be told apart.
    #[error(
        "the turns made so far cannot be told apart (condition number {condition:.0}, at most {limit:.0})"
    )]
    IllConditioned {
        /// Condition number.
        condition: f64,
        /// Largest allowed.
        limit: f64,
    },
    /// The screws act on each other's cylinders and the rounds do not say how.
    #[error(
        "a screw moves more than its own cylinder, and {found} rounds do not say how {screws} screws act"
    )]
    TooFewRounds {
        /// Rounds at hand.
        found: usize,
        /// Screws turned.
        screws: usize,
        /// Screws of rounds in which nothing else was turned.
        alone: Vec<u32>,
    },
    /// No screw moved anything.
    #[error("no screw showed an effect above twice its uncertainty")]
    NoEffect,
    /// The fit failed.
    #[error("influence: {0}")]
    Fit(#[from] StatsError),
}

/// Share of the largest movement that must be left over before screws count as coupled.
const CHAIN_SHARE: f64 = 0.2;

/// Settings of the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearnOptions {
    /// Standard uncertainty of one turn made by hand, turns; the default is the root mean square of a motion lost somewhere
    /// between nothing and 1/16 turn of play.
    pub u_turn: f64,
    /// Largest condition number.
    pub condition_limit: f64,
}

impl Default for LearnOptions {
    fn default() -> Self {
        Self { u_turn: 0.036, condition_limit: 30.0 }
    }
}

/// Learns from rounds, over as many sessions of one machine as there are.
///
/// # Errors
/// [`InfluenceError`]: nothing to learn from, or too little.
pub fn learn(rounds: &[Round], options: &LearnOptions) -> Result<Influence, InfluenceError> {
    let Some(first) = rounds.first() else { return Err(InfluenceError::NoRound) };
    if rounds.iter().any(|r| r.cylinders != first.cylinders || r.change_kpa.len() != r.cylinders.len()) {
        return Err(InfluenceError::OtherCylinders);
    }
    let mut screws: Vec<u32> = rounds.iter().flat_map(|r| r.turns.iter().map(|t| t.0)).collect();
    screws.sort_unstable();
    screws.dedup();
    let fit = Fit { rounds, cylinders: &first.cylinders, screws: &screws, options };
    let own = fit.own_cylinder()?;
    let mut influence = match own.fits {
        true => own.influence,
        false => fit.coupled().map_err(|e| fit.too_few(e))?,
    };
    let speed = fit.speed(&influence.columns);
    for c in &mut influence.columns {
        c.rpm_per_turn =
            speed.map(|(g, u)| (g * c.kpa_per_turn, (u * c.kpa_per_turn).hypot(g * c.u_kpa_per_turn)));
    }
    let (sound, idle): (Vec<Column>, Vec<Column>) =
        influence.columns.into_iter().partition(|c| c.kpa_per_turn > 2.0 * c.u_kpa_per_turn);
    influence.columns = sound;
    influence.without_effect = idle.iter().map(|c| (c.cylinder, c.kpa_per_turn, c.u_kpa_per_turn)).collect();
    if influence.columns.is_empty() { Err(InfluenceError::NoEffect) } else { Ok(influence) }
}

/// Columns of `C` from plain tables.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// By screw, then reading.
    pub columns: Vec<Vec<f64>>,
    /// By screw: variance of its entries for readings of unit variance.
    pub variance: Vec<f64>,
    /// Condition number of the turns.
    pub condition: f64,
}

/// Columns of `C` by least squares: `turns[j][r]` of screw `j` in round `r`, `change[i][r]` of reading `i`.
///
/// # Errors
/// [`InfluenceError::IllConditioned`], [`InfluenceError::TooFewRounds`] or [`InfluenceError::Fit`].
pub fn least_squares(
    turns: &[Vec<f64>],
    change: &[Vec<f64>],
    weights: Option<&[f64]>,
    condition_limit: f64,
) -> Result<Table, InfluenceError> {
    let rounds = turns.first().map_or(0, Vec::len);
    if rounds < turns.len() || turns.is_empty() {
        return Err(InfluenceError::TooFewRounds { found: rounds, screws: turns.len(), alone: Vec::new() });
    }
    let condition = condition_number(turns)?;
    well_conditioned(condition, condition_limit)?;
    let open = vec![f64::INFINITY; turns.len()];
    let mut columns = vec![Vec::with_capacity(change.len()); turns.len()];
    let mut variance = vec![0.0; turns.len()];
    for reading in change {
        let fit = ridge(turns, reading, weights, &open, 1.0)?;
        for (j, column) in columns.iter_mut().enumerate() {
            column.push(fit.mean[j]);
            variance[j] = fit.covariance[j][j];
        }
    }
    Ok(Table { columns, variance, condition })
}

fn well_conditioned(condition: f64, limit: f64) -> Result<(), InfluenceError> {
    let fine = condition.is_finite() && condition <= limit;
    if fine { Ok(()) } else { Err(InfluenceError::IllConditioned { condition, limit }) }
}

/// The problem at hand.
struct Fit<'a> {
    rounds: &'a [Round],
    cylinders: &'a [u32],
    screws: &'a [u32],
    options: &'a LearnOptions,
}

struct Own {
    influence: Influence,
    fits: bool,
}

impl Fit<'_> {
    fn turned(&self, round: &Round, screw: u32) -> f64 {
        round.turns.iter().find(|t| t.0 == screw).map_or(0.0, |t| t.1)
    }

    /// Share of cylinder `i` in the movement of a screw that moves its own cylinder alone.
    fn share(&self, i: usize, screw: u32) -> f64 {
        f64::from(u8::from(self.cylinders[i] == screw)) - 1.0 / self.cylinders.len() as f64
    }

    /// One figure for each screw.
    fn own_cylinder(&self) -> Result<Own, InfluenceError> {
        let n = self.cylinders.len();
        let y: Vec<f64> = self.rounds.iter().flat_map(|r| r.change_kpa.iter().copied()).collect();
        let x: Vec<Vec<f64>> = self
            .screws
            .iter()
            .map(|&s| {
                let of = |r: &Round| -> Vec<f64> {
                    (0..n).map(|i| self.share(i, s) * self.turned(r, s)).collect()
                };
                self.rounds.iter().flat_map(of).collect()
            })
            .collect();
        let condition = condition_number(&x)?;
        well_conditioned(condition, self.options.condition_limit)?;
        let open = vec![f64::INFINITY; x.len()];
        let mut k = ridge(&x, &y, Some(&self.weights(&[])), &open, 1.0)?;
        for _ in 0..3 {
            k = ridge(&x, &y, Some(&self.weights(&k.mean)), &open, 1.0)?;
        }
        let weights = self.weights(&k.mean);
        let chi2: f64 = (0..y.len())
            .map(|r| weights[r] * (y[r] - (0..x.len()).map(|j| x[j][r] * k.mean[j]).sum::<f64>()).powi(2))
            .sum();
        let told = self.rounds.iter().map(|r| if r.own_only { 1 } else { n - 1 }).sum::<usize>();
        let df = told.saturating_sub(self.screws.len());
        let misfit = (df > 0).then(|| chi2 / df as f64);
        let grow = misfit.unwrap_or(1.0).max(1.0).sqrt();
        let columns = self
            .screws
            .iter()
            .enumerate()
            .map(|(j, &cylinder)| Column {
                cylinder,
                kpa_per_turn: k.mean[j],
                u_kpa_per_turn: grow * k.covariance[j][j].max(0.0).sqrt(),
                effect_kpa: (0..n).map(|i| self.share(i, cylinder) * k.mean[j]).collect(),
                u_effect_kpa: vec![0.0; n],
                rpm_per_turn: None,
            })
            .collect();
        let influence = self.influence(Coupling::OwnCylinder, columns, self.rounds.len(), condition, misfit);
        let rest = |r: usize| y[r] - (0..x.len()).map(|j| x[j][r] * k.mean[j]).sum::<f64>();
        let worst = (0..y.len()).fold(0.0_f64, |a, r| a.max(rest(r).abs()));
        let moved = y.iter().fold(0.0_f64, |a, v| a.max(v.abs()));
        // A tenth of the movement left over is a screw that is not linear, or an engine that wandered; a chain leaves half.
        let small = worst < CHAIN_SHARE * moved;
        Ok(Own { influence, fits: df == 0 || small || chi2 <= chi_square_limit(df as f64) })
    }

    /// `1/variance` of every row of the stacked problem; `k` the effect of each screw, empty on the first pass.
    fn weights(&self, k: &[f64]) -> Vec<f64> {
        let row = |r: &Round, i: usize| {
            let hand: f64 = k
                .iter()
                .zip(self.screws)
                .filter(|(_, s)| self.turned(r, **s) != 0.0)
                .map(|(k, s)| (self.share(i, *s) * k * self.options.u_turn).powi(2))
                .sum();
            1.0 / (r.u_kpa * r.u_kpa + hand)
        };
        self.rounds.iter().flat_map(|r| (0..self.cylinders.len()).map(move |i| row(r, i))).collect()
    }

    /// The screws act on each other and cannot be told apart yet: which of them were turned alone.
    fn too_few(&self, error: InfluenceError) -> InfluenceError {
        if !matches!(error, InfluenceError::TooFewRounds { .. } | InfluenceError::IllConditioned { .. }) {
            return error;
        }
        let whole: Vec<&Round> = self.rounds.iter().filter(|r| !r.own_only).collect();
        let mut alone: Vec<u32> = whole.iter().filter(|r| r.turns.len() == 1).map(|r| r.turns[0].0).collect();
        alone.sort_unstable();
        alone.dedup();
        InfluenceError::TooFewRounds { found: whole.len(), screws: self.screws.len(), alone }
    }

    /// Every entry.
    fn coupled(&self) -> Result<Influence, InfluenceError> {
        let rounds: Vec<&Round> = self.rounds.iter().filter(|r| !r.own_only).collect();
        let n = self.cylinders.len();
        let turns: Vec<Vec<f64>> =
            self.screws.iter().map(|&s| rounds.iter().map(|r| self.turned(r, s)).collect()).collect();
        let change: Vec<Vec<f64>> =
            (0..n).map(|i| rounds.iter().map(|r| r.change_kpa[i]).collect()).collect();
        // A turn's own error moves all entries of its column alike: its size is taken from a first fit.
        let first = least_squares(&turns, &change, None, self.options.condition_limit)?;
        let size = first.columns.iter().flatten().fold(0.0_f64, |a, v| a.max(v.abs()));
        let hand = |r: &Round| r.turns.len() as f64 * (size * self.options.u_turn).powi(2);
        let weights: Vec<f64> = rounds.iter().map(|r| 1.0 / (r.u_kpa * r.u_kpa + hand(r))).collect();
        let Table { columns, variance, condition } =
            least_squares(&turns, &change, Some(&weights), self.options.condition_limit)?;
        let df = (rounds.len() - self.screws.len()) * (n - 1);
        let rest = |i: usize, r: usize| {
            change[i][r] - (0..turns.len()).map(|j| columns[j][i] * turns[j][r]).sum::<f64>()
        };
        let chi2: f64 = (0..n)
            .flat_map(|i| (0..rounds.len()).map(move |r| (i, r)))
            .map(|(i, r)| weights[r] * rest(i, r).powi(2))
            .sum();
        let misfit = (df > 0).then(|| chi2 / df as f64);
        let grow = misfit.unwrap_or(1.0).max(1.0).sqrt();
        let scale = n as f64 / (n as f64 - 1.0);
        let columns = columns
            .into_iter()
            .zip(self.screws)
            .zip(variance)
            .filter_map(|((effect_kpa, &cylinder), v)| {
                let own = self.cylinders.iter().position(|c| *c == cylinder)?;
                let u = grow * v.max(0.0).sqrt();
                Some(Column {
                    cylinder,
                    kpa_per_turn: scale * effect_kpa[own],
                    u_kpa_per_turn: scale * u,
                    u_effect_kpa: vec![u; n],
                    effect_kpa,
                    rpm_per_turn: None,
                })
            })
            .collect();
        Ok(self.influence(Coupling::Coupled, columns, rounds.len(), condition, misfit))
    }

    fn influence(
        &self,
        coupling: Coupling,
        columns: Vec<Column>,
        rounds: usize,
        condition: f64,
        misfit: Option<f64>,
    ) -> Influence {
        let cylinders = self.cylinders.to_vec();
        Influence { cylinders, coupling, columns, without_effect: Vec::new(), rounds, condition, misfit }
    }

    /// Speed per kPa of a screw's own effect, common to all screws.
    fn speed(&self, columns: &[Column]) -> Option<(f64, f64)> {
        let (mut sxx, mut sxy) = (0.0, 0.0);
        for r in self.rounds {
            let Some((rpm, u)) = r.change_rpm else { continue };
            let x: f64 = columns.iter().map(|c| c.kpa_per_turn * self.turned(r, c.cylinder)).sum();
            sxx += x * x / (u * u);
            sxy += x * rpm / (u * u);
        }
        (sxx > 0.0).then(|| (sxy / sxx, sxx.sqrt().recip()))
    }
}

/// Upper 1 % point of chi-square by the cube-root approximation.
fn chi_square_limit(df: f64) -> f64 {
    let a = 2.0 / (9.0 * df);
    df * (1.0 - a + 2.326 * a.sqrt()).powi(3)
}

#[cfg(test)]
#[path = "influence_tests.rs"]
mod tests;
