//! The sample recordings: as described, small, and the committed files are what the model makes.

use std::path::PathBuf;

use evenpull_model::samples::{Sample, harrow_sound};

fn sample(name: &str) -> Sample {
    harrow_sound().into_iter().find(|s| s.name == name).unwrap()
}

#[test]
fn the_samples_are_small() {
    let sizes: Vec<usize> = harrow_sound().iter().map(|s| s.make().unwrap().1.len()).collect();
    assert!(sizes.iter().all(|s| *s < 700_000), "{sizes:?}");
    assert!(sizes.iter().sum::<usize>() < 2_500_000);
}

/// The stories hold: 1.3 kPa is the usual limit of the spread (common practice, no source).
#[test]
fn the_samples_are_what_their_stories_say() {
    let truth = |name: &str, k: usize| {
        let s = sample(name);
        let (_, from, to) = s.stretches[k];
        s.make().unwrap().0.truth(from, to).unwrap()
    };
    assert!(truth("hs-01-four-out-of-balance.csv", 0).deviation_kpa()[2] < -2.0);
    assert!(truth("hs-01-four-as-left.csv", 0).spread_kpa < 0.5);
    let (idle, raised) = (truth("hs-02-triple-leak.csv", 0), truth("hs-02-triple-leak.csv", 1));
    assert!(idle.spread_kpa > 2.0 && raised.air_ratio[1] - 1.0 < 0.5 * (idle.air_ratio[1] - 1.0));
    assert!(truth("hs-03-four-polled.csv", 0).spread_kpa > 1.5);
    let twin = truth("hs-04-twin-fast.csv", 0);
    assert!(
        twin.mean_kpa[1] - twin.mean_kpa[0] > 1.3 && (twin.air_mg[1] / twin.air_mg[0] - 1.0).abs() < 0.005
    );
    assert!(truth("hs-05-adjusting-session.csv", 0).spread_kpa > 3.0);
    assert!(truth("hs-05-adjusting-session.csv", 1).spread_kpa < 0.6);
}

/// Cell by cell; the tolerance is for other machines' sine and exponential functions.
#[test]
fn the_committed_files_are_what_the_model_makes() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../data-samples");
    for sample in harrow_sound() {
        let stored = std::fs::read_to_string(folder.join(sample.name)).unwrap();
        let made = sample.make().unwrap().1;
        assert_eq!(stored.lines().count(), made.lines().count(), "{}", sample.name);
        for (line, (a, b)) in stored.lines().zip(made.lines()).enumerate() {
            let number = |c: &str| c.replace(',', ".").parse::<f64>().ok();
            for (x, y) in a.split(sample.style.delimiter).zip(b.split(sample.style.delimiter)) {
                match (number(x), number(y)) {
                    (Some(x), Some(y)) => assert!((x - y).abs() <= 1.01, "{}:{}", sample.name, line + 1),
                    _ => assert_eq!(x, y, "{}:{}", sample.name, line + 1),
                }
            }
        }
    }
}
