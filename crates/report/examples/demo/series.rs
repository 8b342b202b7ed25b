//! Drawn series for the hand-made results.

use evenpull_core::analysis::{AveragedPulse, Traces};

use super::{BAROMETER, MEAN, Spec};

/// A small generator with a fixed seed (numerical recipes' constants, from memory), -1 to 1.
struct Noise(u32);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(self.0 >> 8) / f64::from(1u32 << 23) - 1.0
    }
}

fn level(spec: &Spec, i: usize, t: f64, noise: &mut Noise) -> f64 {
    let x = t / spec.duration_s;
    if !(0.04..0.95).contains(&x) {
        return BAROMETER + 0.02 * noise.next();
    }
    let warm = 3.0 * (-(x - 0.04) * 18.0).exp();
    let found = if spec.adjusted && i == 2 && x < 0.475 {
        2.1
    } else if spec.adjusted && i == 2 && x < 0.5 {
        0.9
    } else {
        0.0
    };
    let raised = if (0.8..0.95).contains(&x) { -6.0 } else { 0.0 };
    let blip = if !spec.adjusted && (0.48..0.49).contains(&x) { 35.0 } else { 0.0 };
    MEAN + spec.deviations[i] + warm + found + raised + blip + 0.4 * (t * 0.21).sin() + 0.12 * noise.next()
}

pub(super) fn traces(spec: &Spec) -> Traces {
    let rows = (spec.duration_s * spec.rate_hz) as usize;
    let time_s: Vec<f64> = (0..rows).map(|i| i as f64 / spec.rate_hz).collect();
    let mut noise = Noise(7);
    let rpm = time_s
        .iter()
        .map(|t| {
            let x = t / spec.duration_s;
            match x {
                _ if !(0.04..0.95).contains(&x) => 0.0,
                _ if x >= 0.8 => 2710.0 + 12.0 * noise.next(),
                _ if !spec.adjusted && (0.48..0.49).contains(&x) => 2900.0,
                _ => 912.0 + 240.0 * (-(x - 0.04) * 16.0).exp() + 9.0 * noise.next(),
            }
        })
        .collect();
    let mut pressure_kpa = Vec::new();
    let mut level_kpa = Vec::new();
    let level_time_s: Vec<f64> = (0..(spec.duration_s * 2.0) as usize).map(|i| i as f64 * 0.5).collect();
    for i in 0..spec.deviations.len() {
        let mut noise = Noise(11 + i as u32);
        let raw = time_s.iter().map(|t| {
            let l = level(spec, i, *t, &mut noise);
            let phase = (t * 7.6 + i as f64 * 0.25).fract();
            if spec.pulses && l < 90.0 { l + saw(phase) } else { l }
        });
        pressure_kpa.push((i as u32 + 1, raw.collect()));
        let mut noise = Noise(111 + i as u32);
        level_kpa.push((i as u32 + 1, level_time_s.iter().map(|t| level(spec, i, *t, &mut noise)).collect()));
    }
    Traces { time_s, rpm, coolant_c: vec![], pressure_kpa, level_time_s, level_kpa }
}

/// A saw-tooth with mean zero: dip in the first quarter, then a straight rise.
fn saw(phase: f64) -> f64 {
    if phase < 0.25 { 21.0 - 42.0 * (phase * 4.0) } else { -21.0 + 42.0 * (phase - 0.25) / 0.75 }
}

pub(super) fn pulses(spec: &Spec) -> Vec<AveragedPulse> {
    if !spec.pulses {
        return vec![];
    }
    (0..spec.deviations.len())
        .map(|i| {
            let shift = i as f64 / spec.deviations.len() as f64;
            let phase_deg: Vec<f64> = (0..120).map(|k| 3.0 + 6.0 * f64::from(k)).collect();
            let steep = 1.0 + spec.deviations[i] * 0.06;
            let mean = phase_deg.iter().map(|p| MEAN + saw((p / 720.0 + shift).fract()) * steep).collect();
            let start = ((0.27 - shift).rem_euclid(1.0)) * 720.0;
            AveragedPulse {
                cylinder: i as u32 + 1,
                mean_kpa: mean,
                sd_kpa: phase_deg.iter().map(|p| 0.8 + 0.5 * (p / 90.0).sin().abs()).collect(),
                phase_deg,
                refill_deg: Some((start, start + 300.0)),
                refill_kpa_per_s: Some(520.0),
                cycles: 1200,
                rejected: 14,
            }
        })
        .collect()
}
