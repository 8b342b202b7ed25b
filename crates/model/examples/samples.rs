//! Writes the sample recordings and their README into a folder.
//!
//! `cargo run -p evenpull-model --example samples -- data-samples`

use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use evenpull_model::samples::{COMPANIONS, Sample, harrow_sound};
use evenpull_model::{Run, Sampling};

const HEAD: &str = "\
# Sample recordings

Made by the engine model in `crates/model` (no real engine, person or boat stands behind them) with

```
cargo run -p evenpull-model --example samples -- data-samples
```

which also writes this file. The seeds are fixed, so the files come out the same. They belong to the invented
Harrow Sound harbour workshop. What is true is the time mean of each cylinder's runner pressure over whole engine
cycles (kPa absolute), before any sensor. Licence: that of the project.
";

fn main() -> Result<(), Box<dyn Error>> {
    let Some(folder) = std::env::args_os().nth(1).map(PathBuf::from) else {
        return Err("usage: samples FOLDER".into());
    };
    std::fs::create_dir_all(&folder)?;
    let mut readme = HEAD.to_owned();
    for sample in harrow_sound() {
        let (run, text) = sample.make()?;
        write_whole(&folder.join(sample.name), &text)?;
        describe(&sample, &run, &text, &mut readme)?;
    }
    readme.push_str("\n## Machine and visit files\n\n");
    for companion in COMPANIONS {
        write_whole(&folder.join(companion.name), companion.text)?;
        writeln!(readme, "- `{}`: {}", companion.name, companion.story)?;
    }
    write_whole(&folder.join("README.md"), &readme)?;
    Ok(())
}

/// Writes under a temporary name first, so that no half file is left behind.
fn write_whole(path: &Path, text: &str) -> std::io::Result<()> {
    let temporary = path.with_extension("tmp");
    std::fs::write(&temporary, text)?;
    std::fs::rename(&temporary, path)
}

fn describe(sample: &Sample, run: &Run, text: &str, out: &mut String) -> Result<(), Box<dyn Error>> {
    let logger = &sample.logger;
    let reading = match logger.sampling {
        Sampling::Momentary => "undamped".to_owned(),
        Sampling::Damped { lag_s } => format!("damped (lag {lag_s} s)"),
        Sampling::CycleMean => "control-unit cycle means".to_owned(),
        Sampling::CrankAngle { deg } => format!("one reading per cycle at {deg} degrees"),
    };
    let kind = if sample.style.vacuum { "vacuum" } else { "absolute" };
    let polled = if logger.polled { ", polled in turn" } else { "" };
    writeln!(out, "\n## {}\n\n{}\n", sample.name, sample.story)?;
    writeln!(out, "- Pressures: {} {kind}; {reading}{polled}.", sample.style.unit.symbol())?;
    writeln!(
        out,
        "- {} rows a second, {} s, {} kB, barometer {} kPa.",
        logger.rate_hz,
        sample.scenario.duration_s,
        text.len().div_ceil(1000),
        run.barometer_kpa
    )?;
    writeln!(out, "- What is odd: {}", sample.odd)?;
    for (what, from, to) in &sample.stretches {
        let truth = run.truth(*from, *to)?;
        let list = |values: &[f64], digits: usize| {
            values.iter().map(|v| format!("{v:.digits$}")).collect::<Vec<_>>().join(", ")
        };
        writeln!(
            out,
            "- True, {what} ({from} to {to} s): {:.0} rev/min; means {} kPa; spread {:.2} kPa; air ratios {}.",
            truth.rpm,
            list(&truth.mean_kpa, 2),
            truth.spread_kpa,
            list(&truth.air_ratio, 3)
        )?;
    }
    Ok(())
}
