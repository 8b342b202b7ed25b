//! Normal, Student, Fisher and beta probabilities, so that no other room talks to the distribution library.
//!
//! The values come from `statrs`. Student quantiles are polished by Newton steps; above 20 000 degrees of freedom the
//! normal approximation of Abramowitz & Stegun 26.7.5 / 26.7.8 is used (error of order `1/df^2`). A NaN argument, or a
//! parameter outside its range, gives NaN.

use statrs::distribution::{Beta, Continuous, ContinuousCDF, FisherSnedecor, Normal, StudentsT};

const LARGE_DF: f64 = 2e4;

/// `P(Z <= z)` of the standard normal.
pub fn normal_cdf(z: f64) -> f64 {
    if z.is_nan() { z } else { Normal::standard().cdf(z) }
}

/// `P(Z > z)` of the standard normal, accurate in the tail.
pub fn normal_sf(z: f64) -> f64 {
    if z.is_nan() { z } else { Normal::standard().sf(z) }
}

/// Two-sided `P(|Z| >= |z|)`.
pub fn normal_two_sided(z: f64) -> f64 {
    (2.0 * normal_sf(z.abs())).min(1.0)
}

/// The `z` with `P(Z <= z) = p`; infinite at 0 and 1, NaN outside.
pub fn normal_quantile(p: f64) -> f64 {
    if p == 0.0 {
        f64::NEG_INFINITY
    } else if p == 1.0 {
        f64::INFINITY
    } else if p > 0.0 && p < 1.0 {
        Normal::standard().inverse_cdf(p)
    } else {
        f64::NAN
    }
}

fn student(df: f64) -> Option<StudentsT> {
    if df > 0.0 { StudentsT::new(0.0, 1.0, df).ok() } else { None }
}

/// `P(T > t)` of Student's t with `df` degrees of freedom.
pub fn student_sf(t: f64, df: f64) -> f64 {
    if t.is_nan() {
        return t;
    }
    if df > LARGE_DF {
        let z = if df.is_infinite() { t } else { t * (1.0 - 0.25 / df) / (1.0 + 0.5 * t * t / df).sqrt() };
        return normal_sf(z);
    }
    student(df).map_or(f64::NAN, |d| d.sf(t))
}

/// Two-sided `P(|T| >= |t|)`.
pub fn student_two_sided(t: f64, df: f64) -> f64 {
    (2.0 * student_sf(t.abs(), df)).min(1.0)
}

/// The `t` with `P(T <= t) = p`, `0 < p < 1`.
pub fn student_quantile(p: f64, df: f64) -> f64 {
    if !(p > 0.0 && p < 1.0) {
        return f64::NAN;
    }
    if p < 0.5 {
        return -student_quantile(1.0 - p, df);
    }
    if df > LARGE_DF {
        let z = normal_quantile(p);
        return if df.is_infinite() { z } else { z + (z.powi(3) + z) / (4.0 * df) };
    }
    let Some(d) = student(df) else { return f64::NAN };
    let mut t = d.inverse_cdf(p);
    for _ in 0..3 {
        let step = ((1.0 - p) - d.sf(t)) / d.pdf(t);
        if !step.is_finite() {
            break;
        }
        t -= step;
    }
    t
}

/// `P(F > f)` of Fisher's F with `df1` and `df2` degrees of freedom.
pub fn fisher_sf(f: f64, df1: f64, df2: f64) -> f64 {
    if f.is_nan() {
        return f;
    }
    FisherSnedecor::new(df1, df2).map_or(f64::NAN, |d| if f <= 0.0 { 1.0 } else { d.sf(f) })
}

/// `P(X <= x)` of the beta distribution on 0..1.
pub fn beta_cdf(x: f64, a: f64, b: f64) -> f64 {
    if x.is_nan() {
        return x;
    }
    Beta::new(a, b).map_or(f64::NAN, |d| d.cdf(x.clamp(0.0, 1.0)))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{close, close_rel};

    #[test]
    fn printed_tables() {
        // Percentage points as printed in every t and normal table (from memory), three decimals.
        close(student_quantile(0.95, 5.0), 2.015, 5e-4);
        close(student_quantile(0.975, 10.0), 2.228, 5e-4);
        close(student_quantile(0.995, 1.0), 63.657, 5e-4);
        close(normal_quantile(0.975), 1.960, 5e-4);
        close(normal_two_sided(3.0), 0.0027, 5e-5);
    }

    #[test]
    fn closed_forms_of_student() {
        // df 1: P(T > t) = 1/2 - atan(t)/pi; df 2: P(T > t) = 1/2 - t / (2 sqrt(2 + t^2)).
        for t in [0.1f64, 1.0, 3.0, 20.0] {
            close_rel(student_sf(t, 1.0), 0.5 - t.atan() / std::f64::consts::PI, 1e-11);
            close_rel(student_sf(t, 2.0), 0.5 - t / (2.0 * (2.0 + t * t).sqrt()), 1e-11);
        }
        close_rel(student_quantile(0.9, 2.0), 0.8 * (2.0f64 / (1.0 - 0.64)).sqrt(), 1e-12);
        close_rel(student_quantile(0.1, 2.0), -0.8 * (2.0f64 / (1.0 - 0.64)).sqrt(), 1e-12);
    }

    #[test]
    fn large_degrees_of_freedom_join_smoothly() {
        // Both sides of the switch, and the normal limit.
        let (below, above) = (student_sf(2.0, 1.999e4), student_sf(2.0, 2.001e4));
        close_rel(below, above, 1e-6);
        close_rel(student_quantile(0.95, 1.999e4), student_quantile(0.95, 2.001e4), 1e-7);
        close_rel(student_sf(1.0, f64::INFINITY), normal_sf(1.0), 1e-15);
    }

    #[test]
    fn fisher_is_the_square_of_student() {
        // F(1, df) at t^2 has the two-sided t probability.
        close_rel(fisher_sf(2.5f64.powi(2), 1.0, 7.0), student_two_sided(2.5, 7.0), 1e-10);
    }

    #[test]
    fn nothing_panics_outside_the_range() {
        for v in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 2.0] {
            for df in [f64::NAN, -1.0, 0.0, 3.0, f64::INFINITY] {
                let _ = (
                    normal_cdf(v),
                    normal_sf(v),
                    normal_quantile(v),
                    student_sf(v, df),
                    student_quantile(v, df),
                );
                let _ = (fisher_sf(v, df, df), beta_cdf(v, df, df));
            }
        }
        assert!(student_sf(1.0, -1.0).is_nan() && normal_quantile(1.5).is_nan());
    }
}
