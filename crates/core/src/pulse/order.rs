//! Does each channel's pulse sit at its own cylinder's crank angle?
//!
//! # Method
//! The phase of the first harmonic places each pulse in the cycle. The machine file's firing angles say where they
//! should be, up to one common turn. Every common turn that puts a channel onto some place is tried; where all channels land
//! on places, one each, within a third of the smallest distance between places, the channels that landed on somebody
//! else's place are counted. The turn with the fewest such channels explains the recording; several may do so equally well.
//!
//! # Source
//! Firing angles: crank geometry. The intake of every cylinder lags its firing by the same angle, so the turn is common.

/// What the crank angles say.
#[derive(Debug, Clone, PartialEq)]
pub enum Order {
    /// Every pulse is where the machine file puts it.
    AsFiled,
    /// Pulses sit at each other's places; each entry is one way to explain it, as pairs (or longer rings) of positions.
    Swapped(Vec<Vec<usize>>),
    /// No turn puts every pulse onto a place.
    DoesNotFit,
}

/// Firing angles as the pulses alone show them.
#[derive(Debug, Clone, PartialEq)]
pub struct Inferred {
    /// Positions of the cylinders in the order in which they pull, from the first.
    pub order: Vec<usize>,
    /// Angle of each cylinder after the first, degrees of the cycle.
    pub deg: Vec<f64>,
    /// Every pulse is within 8 % of the cycle share of the next of equal distances.
    pub even: bool,
}

/// Order and angles from the phases of the pulses, in the crank's own sense. What the first cylinder's own angle is, and
/// in a four-stroke which of two turns is the firing one, the pulses cannot say.
///
/// # Shape
/// `phase` (cycles) has one value per cylinder.
#[must_use]
pub fn infer(phase: &[f64], cycle_deg: f64) -> Inferred {
    let first = phase.first().copied().unwrap_or(0.0);
    // A hair before the first is still the first.
    let deg: Vec<f64> =
        phase.iter().map(|p| ((p - first + 1e-9).rem_euclid(1.0) * cycle_deg).max(0.0)).collect();
    let mut order: Vec<usize> = (0..phase.len()).collect();
    order.sort_by(|&a, &b| deg[a].total_cmp(&deg[b]));
    let step = cycle_deg / phase.len().max(1) as f64;
    let even =
        order.iter().enumerate().all(|(k, &i)| (deg[i] - step * k as f64).abs() < 0.08 * step.max(60.0));
    Inferred { order, deg, even }
}

/// Compares measured pulse phases with firing angles.
///
/// # Shape
/// `phase` (cycles) and `firing_deg` have one value per cylinder, in the same order.
/// # Units
/// Cycles; degrees of the engine cycle, `cycle_deg` of them (720 or 360).
#[must_use]
pub fn compare(phase: &[f64], firing_deg: &[f64], cycle_deg: f64) -> Order {
    let n = phase.len();
    let place: Vec<f64> = firing_deg.iter().map(|d| (d / cycle_deg).rem_euclid(1.0)).collect();
    let nearest = smallest_distance(&place);
    let tolerance = (nearest / 3.0).min(0.06);
    let mut fewest = usize::MAX;
    let mut found: Vec<Vec<usize>> = Vec::new();
    for slot in 0..n {
        let turn = place[slot] - phase[0];
        let Some(seats) = seats(phase, &place, turn, tolerance) else { continue };
        let moved: Vec<usize> = (0..n).filter(|&i| distance(place[seats[i]], place[i]) > 1e-6).collect();
        if moved.len() < fewest {
            fewest = moved.len();
            found.clear();
        }
        if moved.len() == fewest && !found.contains(&moved) {
            found.push(moved);
        }
    }
    match fewest {
        usize::MAX => Order::DoesNotFit,
        0 => Order::AsFiled,
        _ => Order::Swapped(found),
    }
}

/// The one channel whose pulse comes early or late against all the others, and by how many cycles (positive = late).
///
/// The others must agree within 0.02 cycle on one common turn, the odd one be off by more than 0.03. `None` with fewer than
/// three channels, or where nobody or more than one stands out.
#[must_use]
pub fn odd_one(phase: &[f64], firing_deg: &[f64], cycle_deg: f64) -> Option<(usize, f64)> {
    const TOGETHER: f64 = 0.02;
    const APART: f64 = 0.03;
    let n = phase.len();
    if n < 3 || firing_deg.len() != n {
        return None;
    }
    let turn: Vec<f64> = phase.iter().zip(firing_deg).map(|(p, d)| p - d / cycle_deg).collect();
    let mut found = None;
    for i in 0..n {
        let rest: Vec<f64> = (0..n).filter(|&k| k != i).map(|k| turn[k]).collect();
        let (s, c) = rest.iter().fold((0.0, 0.0), |(s, c), t| {
            let (a, b) = (std::f64::consts::TAU * t).sin_cos();
            (s + a, c + b)
        });
        let common = s.atan2(c) / std::f64::consts::TAU;
        let agree = rest.iter().all(|t| distance(*t, common) <= TOGETHER);
        let late = signed(turn[i] - common);
        if agree && late.abs() > APART {
            if found.is_some() {
                return None;
            }
            found = Some((i, late));
        }
    }
    found
}

/// Place of each channel after a turn, one each; `None` when two share one or one has none.
fn seats(phase: &[f64], place: &[f64], turn: f64, tolerance: f64) -> Option<Vec<usize>> {
    let mut taken = vec![false; place.len()];
    let mut out = Vec::with_capacity(phase.len());
    // Channel 0 defines the turn within the tolerance of the whole; centre the turn on all of them.
    let mut centred = turn;
    for _ in 0..2 {
        let mut rest = 0.0;
        for p in phase {
            let at = p + centred;
            let k = (0..place.len())
                .min_by(|&a, &b| distance(at, place[a]).total_cmp(&distance(at, place[b])))?;
            rest += signed(place[k] - at);
        }
        centred += rest / phase.len() as f64;
    }
    for p in phase {
        let at = p + centred;
        let k = (0..place.len())
            .filter(|&k| !taken[k])
            .min_by(|&a, &b| distance(at, place[a]).total_cmp(&distance(at, place[b])))?;
        if distance(at, place[k]) > tolerance {
            return None;
        }
        taken[k] = true;
        out.push(k);
    }
    Some(out)
}

fn signed(x: f64) -> f64 {
    x - x.round()
}

fn distance(a: f64, b: f64) -> f64 {
    signed(a - b).abs()
}

fn smallest_distance(place: &[f64]) -> f64 {
    let mut least = 1.0_f64;
    for (i, a) in place.iter().enumerate() {
        for b in &place[i + 1..] {
            let d = distance(*a, *b);
            if d > 1e-6 {
                least = least.min(d);
            }
        }
    }
    least
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    const FOUR: [f64; 4] = [0.0, 540.0, 180.0, 360.0];

    fn phases(firing: &[f64], turn: f64) -> Vec<f64> {
        firing.iter().map(|d| (d / 720.0 + turn + 0.003).rem_euclid(1.0)).collect()
    }

    #[test]
    fn an_inline_four_as_filed() {
        // Inline-four firing order 1-3-4-2, intervals of 180 degrees: crank geometry.
        assert_eq!(compare(&phases(&FOUR, 0.31), &FOUR, 720.0), Order::AsFiled);
    }

    #[test]
    fn two_and_three_exchanged_look_like_one_and_four_exchanged() {
        let swapped = [0.0, 180.0, 540.0, 360.0];
        // A turn by 360 degrees makes the same picture: both pairs must be named.
        assert_eq!(
            compare(&phases(&swapped, 0.77), &FOUR, 720.0),
            Order::Swapped(vec![vec![1, 2], vec![0, 3]])
        );
    }

    #[test]
    fn an_even_twin_cannot_show_a_swap() {
        assert_eq!(compare(&phases(&[0.0, 360.0], 0.1), &[0.0, 360.0], 720.0), Order::AsFiled);
        assert_eq!(compare(&phases(&[360.0, 0.0], 0.1), &[0.0, 360.0], 720.0), Order::AsFiled);
    }

    #[test]
    fn an_odd_firing_twin_shows_it() {
        // 90 degree V-twin: 270-450.
        assert_eq!(
            compare(&phases(&[270.0, 0.0], 0.4), &[0.0, 270.0], 720.0),
            Order::Swapped(vec![vec![0, 1]])
        );
    }

    #[test]
    fn a_late_channel_is_named_and_a_swap_is_not_lateness() {
        let mut p = phases(&FOUR, 0.2);
        p[2] += 0.08;
        // A naive check of each channel against cylinder 1 would blame 1 when 1 is the late one.
        assert!(odd_one(&p, &FOUR, 720.0).is_some_and(|(i, late)| i == 2 && (late - 0.08).abs() < 1e-9));
        p[2] -= 0.08;
        p[0] += 0.05;
        assert!(odd_one(&p, &FOUR, 720.0).is_some_and(|(i, late)| i == 0 && (late - 0.05).abs() < 1e-9));
        assert_eq!(odd_one(&phases(&FOUR, 0.2), &FOUR, 720.0), None);
        assert_eq!(odd_one(&phases(&[0.0, 180.0, 540.0, 360.0], 0.2), &FOUR, 720.0), None);
    }

    #[test]
    fn the_order_is_read_from_the_pulses() {
        // Crank geometry: inline-four 1-3-4-2 every 180 degrees; cross-plane four 270-180-90-180; 90 degree V-twin 270-450;
        // inline-five every 144. The turn of the whole does not matter.
        for turn in [0.0, 0.31, 0.87] {
            let four = infer(&phases(&FOUR, turn), 720.0);
            assert_eq!((four.order.as_slice(), four.even), ([0, 2, 3, 1].as_slice(), true));
            let crossplane = infer(&phases(&[0.0, 450.0, 270.0, 540.0], turn), 720.0);
            assert_eq!((crossplane.order.as_slice(), crossplane.even), ([0, 2, 1, 3].as_slice(), false));
            let vee = infer(&phases(&[0.0, 270.0], turn), 720.0);
            assert!((vee.deg[1] - 270.0).abs() < 1e-6 && !vee.even);
            let five = infer(&phases(&[0.0, 576.0, 144.0, 432.0, 288.0], turn), 720.0);
            assert_eq!(five.order, [0, 2, 4, 3, 1]);
        }
        // Naive: sorting the dips within the cycle as it happens to be cut starts with another cylinder.
        let cut = phases(&FOUR, 0.87);
        let first = (0..4).min_by(|&a, &b| cut[a].total_cmp(&cut[b])).unwrap();
        assert_ne!(first, 0);
        // A two-stroke triple within 360 degrees.
        let triple: Vec<f64> = [0.0, 240.0, 120.0].iter().map(|d| d / 360.0 + 0.4).collect();
        assert_eq!(infer(&triple, 360.0).order, [0, 2, 1]);
        assert_eq!(infer(&[0.3], 720.0).order, [0]);
        for n in 1..=12usize {
            let all: Vec<f64> = (0..n).map(|k| k as f64 / n as f64 + 0.63).collect();
            let found = infer(&all, 720.0);
            assert_eq!(found.order, (0..n).collect::<Vec<_>>());
            assert!(found.even);
        }
    }

    #[test]
    fn other_angles_do_not_fit() {
        assert_eq!(compare(&phases(&[0.0, 100.0, 180.0, 360.0], 0.0), &FOUR, 720.0), Order::DoesNotFit);
    }
}
