//! Every figure at both widths: texts keep clear of each other and stay on the paper.
#![allow(clippy::unwrap_used)]

use evenpull_core::Analysis;
use evenpull_core::recording::PressureKind;

use crate::demo::{Spec, build};
use crate::figure::canvas::{Drawing, Rect};
use crate::figure::{deviations, pulse, timeline, trace};
use crate::style::{NARROW, WIDE};
use crate::units::{DisplayUnit, PageUnit};
use crate::view::figures;

fn all(analysis: &Analysis, unit: &DisplayUnit) -> Vec<Drawing> {
    let mut out = Vec::new();
    for width in [WIDE, NARROW] {
        out.extend(figures::deviations(analysis, unit).map(|d| deviations::figure(&d, width).unwrap()));
        out.extend(
            crate::view::timeline::timeline(analysis, unit).map(|d| timeline::figure(&d, width).unwrap()),
        );
        out.extend(crate::view::trace::trace(analysis, unit).map(|d| trace::figure(&d, width).unwrap()));
        out.extend(figures::pulses(analysis, unit).map(|(d, _)| pulse::figure(&d, width).unwrap()));
    }
    out
}

fn check(drawing: &Drawing, what: &str) {
    let paper = Rect { x0: -0.5, y0: -0.5, x1: drawing.width + 0.5, y1: drawing.height + 0.5 };
    for (i, (text, a)) in drawing.texts.iter().enumerate() {
        let inside = a.x0 >= paper.x0 && a.y0 >= paper.y0 && a.x1 <= paper.x1 && a.y1 <= paper.y1;
        assert!(inside, "{what}, {} wide: \u{201c}{text}\u{201d} leaves the paper: {a:?}", drawing.width);
        for (other, b) in &drawing.texts[i + 1..] {
            assert!(
                !a.overlaps(b),
                "{what}, {} wide: \u{201c}{text}\u{201d} on \u{201c}{other}\u{201d}",
                drawing.width
            );
        }
    }
}

fn unit(analysis: &Analysis, asked: Option<PageUnit>) -> DisplayUnit {
    DisplayUnit::choose(asked, &analysis.context, analysis.review.barometer_kpa)
}

#[test]
fn one_to_twelve_cylinders() {
    for n in 1..=12 {
        let analysis = build(&Spec::many(n));
        let adjusted = build(&Spec { adjusted: true, ..Spec::many(n) });
        for d in all(&analysis, &unit(&analysis, None)).iter().chain(&all(&adjusted, &unit(&adjusted, None)))
        {
            check(d, &format!("{n} cylinders"));
        }
    }
}

#[test]
fn every_unit_and_kind() {
    for kind in [PressureKind::Absolute, PressureKind::Vacuum, PressureKind::Gauge] {
        for name in ["kPa", "hPa", "mbar", "bar", "Pa", "mmHg", "cmHg", "inHg", "inH2O", "psi"] {
            let spec = Spec { unit: ("kPa", kind), ..Spec::outboard() };
            let analysis = build(&spec);
            for d in all(&analysis, &unit(&analysis, PageUnit::parse(name))) {
                check(&d, &format!("{name} {kind:?}"));
            }
        }
    }
}

#[test]
fn five_seconds_to_eight_hours() {
    for duration_s in [5.0, 42.0, 299.0, 301.0, 3600.0, 10_900.0, 8.0 * 3600.0] {
        for adjusted in [true, false] {
            let spec = Spec { duration_s, adjusted, rate_hz: 4.0, pulses: false, ..Spec::outboard() };
            let analysis = build(&spec);
            for d in all(&analysis, &unit(&analysis, None)) {
                check(&d, &format!("{duration_s} s"));
            }
        }
    }
}

#[test]
fn a_spread_between_a_thousandth_and_a_hundred_kilopascal() {
    for size in [1e-3, 0.05, 1.0, 20.0, 100.0] {
        let spec = Spec { deviations: vec![0.0, -size, size, 0.2 * size], u: size * 0.1, ..Spec::outboard() };
        let analysis = build(&spec);
        for d in all(&analysis, &unit(&analysis, None)) {
            check(&d, &format!("spread {size}"));
        }
    }
}

/// Infinite and missing values are left out or refused, never drawn: an axis with an infinite bound would not end.
#[test]
fn values_that_are_not_finite_never_reach_an_axis() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e308, -1e308] {
        let mut analysis = build(&Spec::outboard());
        for c in &mut analysis.review.cylinders[1..3] {
            c.deviation_kpa = Some(evenpull_core::result::Measured { value: bad, u: bad });
        }
        let rows = analysis.traces.level_time_s.len();
        analysis.traces.level_kpa[0].1 = vec![bad; rows];
        analysis.traces.rpm.iter_mut().step_by(3).for_each(|v| *v = bad);
        analysis.pulses[0].mean_kpa.iter_mut().for_each(|v| *v = bad);
        analysis.pulses[1].sd_kpa.iter_mut().for_each(|v| *v = bad);
        analysis.review.windows[0].end_s = bad;
        let page = crate::review_page(&analysis, &crate::PageOptions::default());
        if let Ok(page) = page {
            for f in &page.figures {
                assert!(!f.svg.contains("NaN") && !f.svg.contains("inf"), "{bad}");
            }
        }
    }
}
