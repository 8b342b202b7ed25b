//! Conformity, equivalence, agreement, ranking and orifice flow.

use evenpull_core::physics::{critical_ratio, psi, psi_choked};
use evenpull_core::stats::agreement::{bland_altman, icc};
use evenpull_core::stats::conformity::{conformance_probability, guard_band};
use evenpull_core::stats::equivalence::{Difference, two_one_sided};
use evenpull_core::stats::fleet::{benjamini_hochberg, james_stein};
use evenpull_core::stats::gauge_rr::gauge_study;
use evenpull_core::stats::moments::{Moments, moments};

use super::{Computed, Data};

fn conformity(out: &mut Computed) {
    let zener = conformance_probability(-5.47, 0.05, f64::NEG_INFINITY, -5.40).unwrap();
    let burst = conformance_probability(509.7, 8.6, 490.0, f64::INFINITY).unwrap();
    out.push(("jcgm106/examples", vec![zener, burst]));
    let cases = [(0.0, 0.5), (1.0, 0.5), (1.5, 0.5), (2.0, 0.5), (2.5, 0.5), (1.2, 1.0)];
    let two_sided = cases.iter().map(|(y, u)| conformance_probability(*y, *u, -2.0, 2.0).unwrap()).collect();
    out.push(("jcgm106/two_sided", two_sided));
    let guard = [0.80, 0.90, 0.95, 0.99, 0.999].iter().map(|p| guard_band(0.5, *p).unwrap()).collect();
    out.push(("jcgm106/guard", guard));
}

fn equivalence(data: &Data, out: &mut Computed) {
    let a = Moments { n: 95, missing: 0, mean: 5.25, sd: 0.95 };
    let b = Moments { n: 89, missing: 0, mean: 5.22, sd: 0.83 };
    let d = Difference::welch(&a, &b).unwrap();
    let e = two_one_sided(d, -0.384, 0.384, 0.05).unwrap();
    out.push(("toster/df", vec![d.df]));
    out.push(("toster/t", vec![e.lower.0, e.upper.0]));
    out.push(("toster/p", vec![e.lower.1, e.upper.1]));
    out.push(("toster/interval", vec![e.interval.0, e.interval.1]));
    let e = two_one_sided(Difference::pooled(&a, &b).unwrap(), -0.429, 0.429, 0.05).unwrap();
    out.push(("toster/pooled", vec![e.upper.0, e.upper.1]));
    let (a, b) = (moments(&data.series("ncss_a")).unwrap(), moments(&data.series("ncss_b")).unwrap());
    let e = two_one_sided(Difference::pooled(&a, &b).unwrap(), -110.0, 110.0, 0.05).unwrap();
    out.push(("ncss/pooled", vec![e.p, e.lower.1.min(e.upper.1)]));
    let d = Difference::welch(&a, &b).unwrap();
    let e = two_one_sided(d, -110.0, 110.0, 0.05).unwrap();
    out.push(("ncss/welch", vec![e.p, e.lower.1.min(e.upper.1)]));
    out.push(("ncss/df", vec![d.df]));
    let (v1, v2) = (data.series("clinic_1"), data.series("clinic_2"));
    let d: Vec<f64> = v1.iter().zip(&v2).map(|(a, b)| a - b).collect();
    let paired = Difference::paired(&moments(&d).unwrap()).unwrap();
    out.push(("clinic/paired", vec![two_one_sided(paired, -0.6, 0.6, 0.05).unwrap().p]));
    let welch = Difference::welch(&moments(&v1).unwrap(), &moments(&v2).unwrap()).unwrap();
    out.push(("clinic/welch", vec![two_one_sided(welch, -0.6, 0.6, 0.05).unwrap().p]));
}

fn agreement(data: &Data, out: &mut Computed) {
    let f = bland_altman(&data.series("wright"), &data.series("mini"), 2.0).unwrap();
    out.push(("bland_altman/bias_sd", vec![f.bias, f.sd]));
    out.push(("bland_altman/limits", vec![f.low, f.high]));
    let half = f.half_width(f.bias_se, 0.95);
    out.push(("bland_altman/bias_interval", vec![f.bias - half, f.bias + half]));
    let half = f.half_width(f.limit_se, 0.95);
    out.push(("bland_altman/lower_interval", vec![f.low - half, f.low + half]));
    let f = icc(&data.table("judges")).unwrap();
    out.push(("judges/mean_squares", f.mean_squares.to_vec()));
    out.push(("judges/icc", vec![f.one_way, f.agreement, f.consistency]));
    out.push(("judges/icc_means", f.of_means.to_vec()));
    let study: Vec<Vec<Vec<f64>>> = data.table("aiag").chunks(3).map(<[Vec<f64>]>::to_vec).collect();
    let f = gauge_study(&study, 0.25).unwrap();
    out.push(("aiag/components", vec![f.repeatability, f.reproducibility, f.gauge, f.part, f.total]));
    out.push(("aiag/interaction", vec![f.interaction.0, f.interaction.1]));
    out.push(("aiag/percent", vec![f.percent_of_study()]));
    out.push(("aiag/categories", vec![f.categories()]));
}

fn ranking(data: &Data, out: &mut Computed) {
    let y = data.series("batting");
    let m = moments(&y).unwrap().mean;
    let f = james_stein(&y, m * (1.0 - m) / 45.0).unwrap();
    out.push(("batting/shrink", vec![f.factors[0], f.estimates[0], f.estimates[17]]));
    let p = data.series("bh_p");
    let count = |v: &[f64], level: f64| v.iter().filter(|a| **a <= level).count() as f64;
    out.push(("bh/rejections", vec![count(&benjamini_hochberg(&p), 0.05), count(&p, 0.05 / p.len() as f64)]));
}

pub(super) fn compute(data: &Data) -> Computed {
    let mut out = Vec::new();
    conformity(&mut out);
    equivalence(data, &mut out);
    agreement(data, &mut out);
    ranking(data, &mut out);
    // Isentropic pressure ratio at a Mach number, then continuity.
    let area = |mach: f64| psi_choked(1.4) / psi((1.0 + 0.2 * mach * mach).powf(-3.5), 1.4);
    out.push(("naca1135/area_ratio", [0.3, 0.5, 0.8].map(area).to_vec()));
    out.push(("orifice/critical_ratio", vec![critical_ratio(1.4)]));
    out
}
