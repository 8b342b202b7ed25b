//! Times the page of a hand-made result of ten minutes at 50 rows a second: best of several runs.
#![allow(clippy::unwrap_used, clippy::print_stdout, unreachable_pub, dead_code)]

use std::time::Instant;

use evenpull_report::{PageOptions, review_page};

mod demo;

fn main() {
    let spec = demo::Spec { duration_s: 600.0, ..demo::Spec::outboard() };
    let analysis = demo::build(&spec);
    for without_png in [true, false] {
        let options = PageOptions { without_png, ..PageOptions::default() };
        let mut best = f64::INFINITY;
        let mut size = 0;
        for _ in 0..8 {
            let start = Instant::now();
            size = review_page(&analysis, &options).unwrap().html.len();
            best = best.min(start.elapsed().as_secs_f64());
        }
        println!(
            "{} rows, PNG {}: {:.1} ms, page {} kB",
            analysis.traces.time_s.len(),
            !without_png,
            best * 1e3,
            size / 1000
        );
    }
}
