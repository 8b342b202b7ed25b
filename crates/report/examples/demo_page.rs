//! Writes pages from hand-made results, to look at while the layout is worked on: `demo_page DIR`.
#![allow(clippy::unwrap_used, clippy::print_stdout, unreachable_pub)]

use evenpull_report::{PageOptions, review_page, terminal_summary, write};

mod demo;

fn main() {
    let dir = std::env::args().nth(1).unwrap_or_else(|| "target/demo".to_owned());
    let options = PageOptions::default();
    let mut all: Vec<_> =
        [demo::Spec::outboard(), demo::Spec::as_left(), demo::Spec::open(), demo::Spec::many(12)]
            .iter()
            .map(demo::build)
            .collect();
    all.push(demo::hostile());
    for analysis in &all {
        let start = std::time::Instant::now();
        let page = review_page(analysis, &options).unwrap();
        let took = start.elapsed();
        let files = write::review_set(std::path::Path::new(&dir), analysis, &page).unwrap();
        println!("{} {} kB, {took:?}, {} files", files[0].display(), page.html.len() / 1000, files.len());
        println!("{}", terminal_summary(analysis, &options));
    }
}
