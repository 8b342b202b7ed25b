//! What the stamps of frames count from: a fixed moment (`-t a`, `-t z`, `-t A`, `-l`), or the frame before (`-t d`).

use super::frame::frame;
use crate::read::lines::Lines;

/// Frames that the stamps are judged by.
const SAMPLE: usize = 2000;

/// Fewest falling stamps that make differences of them.
const FEWEST_FALLS: usize = 4;

/// Turns stamps into times.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Stamps {
    /// They count from one moment.
    Moment,
    /// Each is the time since the frame before; the sum so far, seconds.
    Difference(f64),
}

impl Stamps {
    /// Judges the beginning of a log.
    ///
    /// Stamps that count from one moment rise, but for a restart here and there. Times between frames rise and fall
    /// about as often: where a fall comes to four rises or fewer, and no stamp reaches a minute, they are differences.
    pub(super) fn judge(head: &str) -> Self {
        let stamps: Vec<f64> = Lines::new(head)
            .filter_map(|line| frame(line.text.get(..400).unwrap_or(line.text)).ok().flatten())
            .map(|frame| frame.time_s)
            .take(SAMPLE)
            .collect();
        let falls = stamps.windows(2).filter(|w| w[1] < w[0]).count();
        let rises = stamps.windows(2).filter(|w| w[1] > w[0]).count();
        let small = stamps.iter().all(|s| *s < 60.0);
        if small && falls >= FEWEST_FALLS && falls * 4 >= rises {
            Self::Difference(0.0)
        } else {
            Self::Moment
        }
    }

    /// Time of the next frame, seconds.
    pub(super) fn time_s(&mut self, stamp: f64) -> f64 {
        match self {
            Self::Moment => stamp,
            Self::Difference(sum) => {
                *sum += stamp;
                *sum
            }
        }
    }

    /// What `inspect` says of them.
    pub(super) fn remark(self) -> Option<String> {
        matches!(self, Self::Difference(_))
            .then(|| "each stamp is the time since the frame before; they are added up".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(stamps: &[f64]) -> Stamps {
        let lines: Vec<String> =
            stamps.iter().map(|s| format!("({s:.6}) can0 7E8#04410C1AF8AAAAAA")).collect();
        Stamps::judge(&lines.join("\n"))
    }

    #[test]
    fn differences_and_moments_are_told_apart() {
        assert_eq!(
            judged(&[0.0, 0.01, 0.012, 0.009, 0.011, 0.008, 0.012, 0.007, 0.01, 0.006, 0.009]),
            Stamps::Difference(0.0)
        );
        assert_eq!(judged(&[0.0, 0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.07]), Stamps::Moment);
        // A log that was started three times over counts from a moment.
        let restarts: Vec<f64> = (0..60).map(|i| f64::from(i % 15) * 0.01).collect();
        assert_eq!(judged(&restarts), Stamps::Moment);
        // Figures above a minute are no time between frames of a running engine.
        assert_eq!(judged(&[100.0, 90.0, 110.0, 90.0, 110.0, 90.0, 110.0, 90.0]), Stamps::Moment);
    }

    #[test]
    fn differences_add_up() {
        let mut stamps = Stamps::Difference(0.0);
        let times: Vec<f64> = [0.0, 0.25, 0.5].into_iter().map(|s| stamps.time_s(s)).collect();
        assert_eq!(times, [0.0, 0.25, 0.75]);
    }
}
