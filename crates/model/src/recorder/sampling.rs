//! What one sensor shows at the times of the rows: momentary, damped, cycle mean or at a crank angle.

use super::logger::Sampling;
use crate::run::Run;

/// A quantity on the uniform trace, by straight lines between samples; the ends are held.
pub(crate) fn on_trace(trace: &[f32], hz: f64, t: f64) -> f64 {
    let Some(last) = trace.len().checked_sub(1) else { return f64::NAN };
    let x = (t * hz).clamp(0.0, last as f64);
    let cell = (x as usize).min(last);
    let next = (cell + 1).min(last);
    let a = f64::from(trace[cell]);
    a + (f64::from(trace[next]) - a) * (x - cell as f64)
}

/// First-order lag of a trace, exact for a piecewise linear input; starts at the mean of the first second
/// (a gauge line that has been connected for a while).
pub(crate) fn lagged(trace: &[f32], hz: f64, lag_s: f64) -> Vec<f32> {
    if lag_s <= 0.0 || trace.is_empty() {
        return trace.to_vec();
    }
    let decay = (-1.0 / (hz * lag_s)).exp();
    let ramp = hz * lag_s * (1.0 - decay);
    let first = trace.len().min(hz.max(1.0) as usize);
    let mut y = trace[..first].iter().map(|v| f64::from(*v)).sum::<f64>() / first as f64;
    let mut last = f64::from(trace[0]);
    trace
        .iter()
        .map(|&v| {
            let x = f64::from(v);
            y = decay * y + (ramp - decay) * last + (1.0 - ramp) * x;
            last = x;
            y as f32
        })
        .collect()
}

/// The last whole engine cycle that ended at or before `t`, unless the engine has stopped since.
pub(crate) fn last_cycle(run: &Run, t: f64) -> Option<usize> {
    let k = run.cycles.partition_point(|c| c.end_s <= t).checked_sub(1)?;
    let cycle = &run.cycles[k];
    (t - cycle.end_s <= 3.0 * (cycle.end_s - cycle.start_s)).then_some(k)
}

/// Readings of cylinder `i` (from 0) at `times`, before the sensor's own errors, kPa absolute.
pub(crate) fn pressures(run: &Run, i: usize, times: &[f64], sampling: Sampling, lag_s: f64) -> Vec<f64> {
    let trace = &run.pressure_kpa[i];
    match sampling {
        Sampling::Momentary => {
            let smooth = lagged(trace, run.hz, lag_s);
            times.iter().map(|&t| on_trace(&smooth, run.hz, t)).collect()
        }
        Sampling::Damped { lag_s: own } => {
            let smooth = lagged(&lagged(trace, run.hz, own), run.hz, lag_s);
            times.iter().map(|&t| on_trace(&smooth, run.hz, t)).collect()
        }
        Sampling::CycleMean => times
            .iter()
            .map(|&t| match last_cycle(run, t) {
                Some(k) => {
                    let c = &run.cycles[k];
                    c.pressure_kpa_s[i] / (c.end_s - c.start_s)
                }
                None => on_trace(trace, run.hz, t),
            })
            .collect(),
        Sampling::CrankAngle { deg } => {
            let smooth = lagged(trace, run.hz, lag_s);
            times.iter().map(|&t| on_trace(&smooth, run.hz, passed(run, i, deg, t))).collect()
        }
    }
}

/// When the crank last stood `deg` after the firing dead centre of cylinder `i`, at or before `t`.
fn passed(run: &Run, i: usize, deg: f64, t: f64) -> f64 {
    let Some(last) = run.crank_deg.len().checked_sub(1) else { return t };
    let now = ((t * run.hz).max(0.0) as usize).min(last);
    let offset = run.firing_deg[i] + deg;
    let target = ((run.crank_deg[now] - offset) / run.cycle_deg).floor() * run.cycle_deg + offset;
    let after = run.crank_deg[..=now].partition_point(|&d| d < target);
    if after == 0 {
        return t;
    }
    let (a, b) = (run.crank_deg[after - 1], run.crank_deg[after.min(last)]);
    let f = if b > a { (target - a) / (b - a) } else { 1.0 };
    // A crank that has stood still since shows what the sensor feels now.
    let at = (after as f64 - 1.0 + f) / run.hz;
    if t - at > 1.0 { t } else { at }
}
