//! When the spread reaches its limit if a drifting cylinder goes on as it did, or why that is not said.
//!
//! The spread is highest minus lowest. A cylinder that moves down meets the limit when it stands `limit - e` below the
//! median of the others, where `e` is by how much the highest of the others stands above that median (and the other
//! way round). The crossing of the Theil-Sen line and its interval are those of `stats::trend::forecast`: five visits or more since
//! the last change, a significant trend, never further ahead than the span seen.

use super::calendar::date_of;
use super::comparison::{Forecast, Place};
use super::levels::Levels;
use super::trend::{ALPHA, Line, Trends};
use crate::stats::robust::median;
use crate::stats::trend::{FEWEST_FOR_TREND, Forecast as Crossing, TheilSen, forecast};

/// What visits run over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Axis {
    /// Operating hours.
    Hours,
    /// Distance, km.
    Km,
    /// Days since 1970-01-01.
    Date,
    /// The order of the visits alone.
    Order,
}

impl Axis {
    /// Name in results.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Hours => "hours",
            Self::Km => "km",
            Self::Date => "date",
            Self::Order => "order",
        }
    }

    /// Unit of slopes and how many axis units it is.
    pub(crate) fn per(self) -> (&'static str, f64) {
        match self {
            Self::Hours => ("100 h", 100.0),
            Self::Km => ("1000 km", 1000.0),
            Self::Date | Self::Order => ("year", super::calendar::DAYS_PER_YEAR),
        }
    }

    fn place(self, t: f64) -> Option<Place> {
        match self {
            _ if !t.is_finite() => None,
            Self::Date => date_of(t).map(Place::Date),
            _ => Some(Place::Number(t)),
        }
    }
}

/// The forecast, or the reason in plain words.
pub(crate) fn reach(
    levels: &Levels,
    trends: &Trends,
    t: &[f64],
    axis: Axis,
    limit_kpa: f64,
) -> Result<Forecast, String> {
    if axis == Axis::Order {
        return Err("the visits have neither hours nor distance nor date".to_owned());
    }
    let shown: Vec<usize> = (0..trends.lines.len()).filter(|&i| trends.lines[i].significant).collect();
    if shown.is_empty() {
        return Err(no_trend(&levels.numbers, &trends.lines));
    }
    let mut reasons: Vec<String> = Vec::new();
    let mut best: Option<(f64, Forecast)> = None;
    for i in shown {
        match crossing(levels, trends, t, i, limit_kpa) {
            Ok((at, low, high, last)) => {
                let made = Forecast {
                    cylinder: levels.numbers[i],
                    unit: axis.name().to_owned(),
                    at: axis.place(at).unwrap_or(Place::Number(at)),
                    low: axis.place(low.max(last)),
                    high: axis.place(high),
                };
                if best.as_ref().is_none_or(|(b, _)| at < *b) {
                    best = Some((at, made));
                }
            }
            Err(reason) => reasons.push(format!("cylinder {}: {reason}", levels.numbers[i])),
        }
    }
    best.map(|b| b.1).ok_or_else(|| reasons.join("; "))
}

fn no_trend(numbers: &[u32], lines: &[Line]) -> String {
    let too_few: Vec<(u32, usize)> = numbers
        .iter()
        .zip(lines)
        .filter(|(_, l)| l.visits < FEWEST_FOR_TREND)
        .map(|(n, l)| (*n, l.visits))
        .collect();
    if too_few.len() == lines.len() {
        let most = too_few.iter().map(|t| t.1).max().unwrap_or(0);
        return format!("too few visits since the last change ({most}, five are needed)");
    }
    let mut text = "no cylinder shows a trend".to_owned();
    if lines.iter().any(|l| l.too_small) {
        text.push_str(" larger than what visits differ by anyway");
    }
    for (cylinder, visits) in too_few {
        text.push_str(&format!(
            "; cylinder {cylinder} has too few visits since its last change ({visits}, five are needed)"
        ));
    }
    text
}

/// Crossing with interval and the last place seen, in axis units.
fn crossing(
    levels: &Levels,
    trends: &Trends,
    t: &[f64],
    i: usize,
    limit_kpa: f64,
) -> Result<(f64, f64, f64, f64), String> {
    let line = &trends.lines[i];
    let fit = line.fit.as_ref().ok_or("no line could be fitted")?;
    let others: Vec<usize> = (0..levels.numbers.len()).filter(|j| *j != i).collect();
    let steady: Vec<usize> = others.iter().copied().filter(|j| !trends.drifting.contains(j)).collect();
    let against = if steady.is_empty() { &others } else { &steady };
    let (mut offset, mut reach_up, mut reach_down) = (Vec::new(), Vec::new(), Vec::new());
    for (v, at) in t.iter().enumerate().skip(line.since) {
        let Some((d, _)) = levels.deviation(v, i, against) else { continue };
        let live: Vec<f64> = against.iter().map(|&j| levels.x[v][j]).filter(|x| x.is_finite()).collect();
        let middle = median(&live).unwrap_or(f64::NAN);
        offset.push(d - fit.at(*at));
        reach_up.push(live.iter().copied().fold(f64::NEG_INFINITY, f64::max) - middle);
        reach_down.push(middle - live.iter().copied().fold(f64::INFINITY, f64::min));
    }
    let mid = |v: &[f64]| median(v).unwrap_or(0.0);
    // The line runs on levels without their usual offset; the deviation is the line plus that offset.
    let actual =
        TheilSen { intercept: fit.intercept + mid(&offset), y_median: fit.y_median + mid(&offset), ..*fit };
    let bound = if fit.slope > 0.0 { limit_kpa - mid(&reach_down) } else { mid(&reach_up) - limit_kpa };
    match forecast(&actual, bound, ALPHA) {
        Crossing::At { t, low, high } => Ok((t, low, high, fit.t_last)),
        Crossing::TooFew { n } => Err(format!("too few visits since its last change ({n})")),
        Crossing::NoTrend { .. } => Err("no significant trend".to_owned()),
        Crossing::Reached => Err("the spread has reached its limit already".to_owned()),
        Crossing::Never => Err("it moves away from the limit".to_owned()),
        Crossing::BeyondReach { .. } => {
            Err("the limit lies further ahead than the visits reach back, which is as far as a trend can be trusted".to_owned())
        }
    }
}
