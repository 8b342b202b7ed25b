//! Regression, analysis of variance and influence coefficients.

use evenpull_core::adjust::turns::even_out;
use evenpull_core::stats::agreement::icc;
use evenpull_core::stats::linear::{
    bounded_least_squares, minimum_norm, multi_regression, ridge, simple_regression, to_reference,
};

use super::{Computed, Data};

fn regression(data: &Data, out: &mut Computed) {
    let f = simple_regression(&data.series("norris_x"), &data.series("norris_y")).unwrap();
    out.push(("nist/norris/intercept", vec![f.intercept]));
    out.push(("nist/norris/intercept_se", vec![f.intercept_se]));
    out.push(("nist/norris/slope", vec![f.slope]));
    out.push(("nist/norris/slope_se", vec![f.slope_se]));
    out.push(("nist/norris/residual_sd", vec![f.residual_sd]));
    out.push(("nist/norris/r2", vec![f.r2]));
    out.push(("nist/norris/f", vec![f.t * f.t]));
    let columns: Vec<Vec<f64>> = (1..7).map(|i| data.series(&format!("longley_{i}"))).collect();
    let f = multi_regression(&columns, &data.series("longley_y"), None).unwrap();
    out.push(("nist/longley/coefficients", f.coefficients));
    out.push(("nist/longley/se", f.se));
    out.push(("nist/longley/residual_sd", vec![f.residual_sd]));
    out.push(("nist/longley/r2", vec![f.r2]));
    let times: Vec<f64> = (0..12).map(|i| 0.5 * f64::from(i)).collect();
    let f = simple_regression(&times, &data.series("rising")).unwrap();
    out.push(("rising/line", vec![f.slope, f.slope_se, f.p]));
}

/// Nine treatments of 21 values, all digits after a common base: the rule of SmLs01 to SmLs09.
fn simon_lesage(base: f64) -> Vec<Vec<f64>> {
    [4, 3, 5, 3, 5, 3, 5, 3, 5]
        .iter()
        .map(|level| {
            let value = |tenths: i32| base + f64::from(tenths) / 10.0;
            std::iter::once(value(*level))
                .chain((0..20).map(|i| value(level + if i % 2 == 0 { -1 } else { 1 })))
                .collect()
        })
        .collect()
}

fn variance(data: &Data, out: &mut Computed) {
    let [b, w, ..] = icc(&data.table("si_rstv")).unwrap().mean_squares;
    out.push(("nist/si_rstv/mean_squares", vec![b, w]));
    out.push(("nist/si_rstv/f", vec![b / w]));
    let [b, w, ..] = icc(&data.table("atm_wt_ag")).unwrap().mean_squares;
    out.push(("nist/atm_wt_ag/mean_squares", vec![b, w]));
    out.push(("nist/atm_wt_ag/f", vec![b / w]));
    for (id, base) in [("nist/smls01/f", 1.0), ("nist/smls04/f", 1e6), ("nist/smls07/f", 1e12)] {
        let [b, w, ..] = icc(&simon_lesage(base)).unwrap().mean_squares;
        out.push((id, vec![b / w]));
    }
}

/// A complex number as (real, imaginary), from size and degrees.
fn polar(size: f64, deg: f64) -> (f64, f64) {
    let (s, c) = deg.to_radians().sin_cos();
    (size * c, size * s)
}

/// Real columns `[re; im]` and `[-im; re]` of complex columns, and the stacked start.
fn real_form(columns: &[Vec<(f64, f64)>], y: &[(f64, f64)]) -> (Vec<Vec<f64>>, Vec<f64>) {
    let mut out = Vec::new();
    for c in columns {
        out.push(c.iter().map(|v| v.0).chain(c.iter().map(|v| v.1)).collect());
        out.push(c.iter().map(|v| -v.1).chain(c.iter().map(|v| v.0)).collect());
    }
    (out, y.iter().map(|v| v.0).chain(y.iter().map(|v| v.1)).collect())
}

fn sizes(w: &[f64]) -> Vec<f64> {
    w.chunks(2).map(|c| c[0].hypot(c[1])).collect()
}

fn planes(out: &mut Computed) {
    let w = minimum_norm(&[[3.0, 5.0, 5.0], [-2.0, -2.0, -3.0]], &[1.0, -1.0, 0.0]).unwrap().w;
    out.push(("goodman/weights", w.clone()));
    out.push(("goodman/exact", w));
    let start = [polar(170.0, 112.0), polar(53.0, 78.0)];
    let trials = [[polar(235.0, 94.0), polar(58.0, 68.0)], [polar(185.0, 115.0), polar(77.0, 104.0)]];
    let effect = |a: (f64, f64), b: (f64, f64)| ((a.0 - b.0) / 1.15, (a.1 - b.1) / 1.15);
    let columns: Vec<Vec<(f64, f64)>> =
        trials.iter().map(|t| t.iter().zip(&start).map(|(a, b)| effect(*a, *b)).collect()).collect();
    let size = |c: usize, r: usize| columns[c][r].0.hypot(columns[c][r].1);
    out.push(("two_plane/influence", vec![size(0, 0), size(1, 0), size(0, 1), size(1, 1)]));
    let (a, y) = real_form(&columns, &start);
    let w = minimum_norm(&a, &y).unwrap().w;
    out.push(("two_plane/weights", sizes(&w)));
    let angles = w.chunks(2).map(|c| c[1].atan2(c[0]).to_degrees().rem_euclid(360.0)).collect();
    out.push(("two_plane/angles", angles));
    let columns = vec![
        vec![polar(1.41, 45.0), polar(3.16, 72.0), polar(2.83, 45.0), polar(3.16, 18.0)],
        vec![polar(2.24, 27.0), polar(4.47, 27.0), polar(2.24, 27.0), polar(3.61, 34.0)],
        vec![polar(3.61, 34.0), polar(2.24, 27.0), polar(5.0, 37.0), polar(4.47, 27.0)],
    ];
    let y = [polar(3.16, 72.0), polar(3.16, 18.0), polar(4.12, 14.0), polar(5.39, 68.0)];
    let (a, y) = real_form(&columns, &y);
    out.push(("darlow/weights", sizes(&minimum_norm(&a, &y).unwrap().w)));
}

fn influence(data: &Data, out: &mut Computed) {
    let rows = data.table("influence");
    let columns: Vec<Vec<f64>> = (0..4).map(|j| rows.iter().map(|r| r[j]).collect()).collect();
    let y = data.series("influence_y");
    out.push(("influence/bounded", bounded_least_squares(&columns, &y, &[-0.5; 4], &[0.5; 4]).unwrap().w));
    let target: Vec<f64> = y.iter().map(|v| -v).collect();
    out.push(("influence/ridge", ridge(&columns, &target, None, &[1.0 / 0.3; 4], 1.0).unwrap().mean));
    let (c, d) = to_reference(&columns, &y, 0).unwrap();
    let (low, high) = (f64::NEG_INFINITY, f64::INFINITY);
    let fixed = bounded_least_squares(&c, &d, &[0.0, low, low, low], &[0.0, high, high, high]).unwrap();
    out.push(("influence/reference", fixed.w[1..].to_vec()));
    let bounded = even_out(&columns, &y, &[0.0, 0.8, 0.8, 0.8], 0).unwrap();
    out.push(("influence/reference_bounded", bounded.w[1..].to_vec()));
    out.push(("influence/smallest", minimum_norm(&c, &d).unwrap().w));
}

pub(super) fn compute(data: &Data) -> Computed {
    let mut out = Vec::new();
    regression(data, &mut out);
    variance(data, &mut out);
    planes(&mut out);
    influence(data, &mut out);
    out
}
