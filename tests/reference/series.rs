//! Change points, steadiness, trend, control charts and Allan deviation.

use evenpull_core::stats::allan::allan_deviation;
use evenpull_core::stats::change_points::{
    best_partitions, cusum_change, difference_sigma, partition, step_penalty, sup_f,
};
use evenpull_core::stats::control::{D2_PRINTED, EwmaPlan, cusum, ewma, individuals};
use evenpull_core::stats::dist::normal_two_sided;
use evenpull_core::stats::steady::{RFactors, bartels_rank, r_statistic, von_neumann};
use evenpull_core::stats::trend::{Forecast, forecast, theil_sen};

use super::{Computed, Data};

fn as_numbers(changes: &[usize]) -> Vec<f64> {
    changes.iter().map(|c| *c as f64).collect()
}

/// Levels 34.0 (20 samples), 32.5 (15), 33.2 (25) with a sawtooth made by the golden ratio.
fn steps() -> Vec<f64> {
    let levels = std::iter::repeat_n(34.0, 20)
        .chain(std::iter::repeat_n(32.5, 15))
        .chain(std::iter::repeat_n(33.2, 25));
    levels.zip(1..).map(|(m, i)| m + 0.8 * ((f64::from(i) * 0.618_033_988_749_894_9).fract() - 0.5)).collect()
}

fn jumps(data: &Data, out: &mut Computed) {
    let nile = data.series("nile");
    let all = best_partitions(&[&nile], 4, 15).unwrap();
    out.push(("nile/rss", all.iter().map(|p| p.sse).collect()));
    let ids = ["nile/breaks_1", "nile/breaks_2", "nile/breaks_3", "nile/breaks_4"];
    for (id, p) in ids.into_iter().zip(&all[1..]) {
        out.push((id, as_numbers(&p.changes)));
    }
    out.push(("nile/sup_f", vec![sup_f(&nile, 15).unwrap().statistic]));
    let variance = difference_sigma(&nile).unwrap().powi(2);
    for (id, factor) in [("nile/pelt_2", 2.0), ("nile/pelt_3", 3.0)] {
        let penalty = step_penalty(factor, variance, 1, 100, 0.0);
        let p = partition(&[&nile], penalty, 2).unwrap();
        out.push((id, [vec![penalty, p.objective], as_numbers(&p.changes)].concat()));
    }
    let c = cusum_change(&nile).unwrap();
    out.push(("nile/cusum", vec![c.index as f64, c.statistic]));
    let x = steps();
    let p = partition(&[&x], step_penalty(3.0, 0.64 / 12.0, 1, 60, 0.0), 2).unwrap();
    out.push(("steps/pelt", [as_numbers(&p.changes), vec![p.objective]].concat()));
}

fn steadiness(data: &Data, out: &mut Computed) {
    out.push(("nile/von_neumann", vec![von_neumann(&data.series("nile")).unwrap().ratio]));
    let b = bartels_rank(&data.series("tourists")).unwrap();
    out.push(("tourists/bartels_z", vec![b.z]));
    out.push(("tourists/bartels_p", vec![b.p]));
    out.push(("rising/r_statistic", r_statistic(&data.series("rising"), RFactors::default())[1..].to_vec()));
    let nbs14 = data.series("nbs14");
    out.push(("nbs14/allan", (1..=2).map(|m| allan_deviation(&nbs14, m).unwrap()).collect()));
}

fn trends(data: &Data, out: &mut Computed) {
    let f = theil_sen(&data.series("epa_17_6_t"), &data.series("epa_17_6_y"), 0.95).unwrap();
    out.push(("epa_17_6/s_variance", vec![f.trend.s as f64, f.trend.variance]));
    out.push(("epa_17_6/z", vec![f.trend.z]));
    out.push(("epa_17_6/p", vec![f.trend.p_normal]));
    out.push(("epa_17_6/tau", vec![f.trend.tau]));
    out.push(("epa_17_6/slope", vec![f.slope]));
    out.push(("epa_17_6/interval", vec![f.slope_low, f.slope_high]));
    out.push(("epa_17_6/intercept", vec![f.intercept]));
    let f = theil_sen(&data.series("epa_17_7_t"), &data.series("epa_17_7_y"), 0.95).unwrap();
    out.push(("epa_17_7/s_variance", vec![f.trend.s as f64, f.trend.variance]));
    out.push(("epa_17_7/z", vec![f.trend.z]));
    out.push(("epa_17_7/p", vec![f.trend.p_normal]));
    out.push(("epa_17_7/slope", vec![f.slope]));
    out.push(("epa_17_7/interval", vec![f.slope_low, f.slope_high]));
    out.push(("epa_17_7/intercept", vec![f.intercept]));
    let reached = match forecast(&f, 70.0, 0.05) {
        Forecast::At { t, low, high } => vec![t, low, high],
        _ => Vec::new(),
    };
    out.push(("epa_17_7/reaches_70", reached));
    let (t, y) = (data.series("sen_t"), data.series("sen_y"));
    // The published ends are the slopes number 4 and 18 of 21: C = 13, Var S = 133/3.
    let f = theil_sen(&t, &y, 1.0 - normal_two_sided(13.0 / (133.0f64 / 3.0).sqrt())).unwrap();
    out.push(("sen/slope", vec![f.slope]));
    out.push(("sen/interval", vec![f.slope_low, f.slope_high]));
    out.push(("sen/intercept", vec![f.intercept]));
}

fn charts(data: &Data, out: &mut Computed) {
    let c = individuals(&data.series("flow"), D2_PRINTED).unwrap();
    out.push(("nist/individuals", vec![c.mean, c.moving_range, c.high, c.low]));
    let c = individuals(&data.series("viscosity"), D2_PRINTED).unwrap();
    out.push(("montgomery/individuals", vec![c.mean, c.moving_range]));
    let plan = EwmaPlan { lambda: 0.3, target: 50.0, sigma: 2.0539, width: 3.0 };
    out.push(("nist/ewma", ewma(&data.series("ewma"), &plan).unwrap().iter().map(|p| p.z).collect()));
    out.push(("nist/ewma_limits", vec![50.0 + plan.half_width(None), 50.0 - plan.half_width(None)]));
    let points = cusum(&data.series("cusum"), 325.0, 0.3175, 4.1959).unwrap();
    out.push(("nist/cusum_above", points.iter().map(|p| p.above).collect()));
    out.push(("nist/cusum_below", points[..12].iter().map(|p| p.below).collect()));
    let first = points.iter().position(|p| p.signal).map_or(f64::NAN, |i| (i + 1) as f64);
    out.push(("nist/cusum_signal", vec![first]));
}

pub(super) fn compute(data: &Data) -> Computed {
    let mut out = Vec::new();
    jumps(data, &mut out);
    steadiness(data, &mut out);
    trends(data, &mut out);
    charts(data, &mut out);
    out
}
