//! The contract of a result on every sample recording: valid by the schema, no word outside the lists, a page that
//! is one file of bearable size.

use evenpull_core::codes;
use serde_json::Value;

use super::program::Program;

/// Sample recordings of the repository.
fn samples() -> Vec<std::path::PathBuf> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data-samples");
    let entries = |f: &std::path::Path| -> Vec<std::path::PathBuf> {
        std::fs::read_dir(f).expect("the samples").map(|e| e.expect("an entry").path()).collect()
    };
    let mut found: Vec<_> = entries(&folder)
        .into_iter()
        .chain(entries(&folder.join("open")))
        .filter(|p| p.extension().is_some_and(|e| ["csv", "log", "parquet", "arrow"].iter().any(|x| e == *x)))
        .collect();
    found.sort();
    found
}

/// Every text under a key of the entries of a list.
fn words<'a>(result: &'a Value, list: &str, key: &str) -> Vec<&'a str> {
    let entries = result[list].as_array().expect(list);
    entries.iter().map(|e| e[key].as_str().expect(key)).collect()
}

#[test]
fn every_sample_keeps_the_contract() {
    let schema: Value = serde_json::from_str(evenpull_core::schema::REVIEW).expect("JSON");
    let validator = jsonschema::draft202012::new(&schema).expect("a sound schema");
    let samples = samples();
    assert!(samples.len() >= 6, "only {} samples found", samples.len());
    for sample in samples {
        let name = sample.file_name().expect("a name").to_string_lossy().into_owned();
        let run =
            Program::new().run(&["review".as_ref(), sample.as_os_str(), "--json".as_ref(), "-".as_ref()]);
        assert_eq!((run.code, run.err.as_str()), (0, ""), "{name}");
        let result: Value = serde_json::from_str(&run.out).expect("nothing but JSON");
        let complaints: Vec<String> =
            validator.iter_errors(&result).map(|e| format!("{}: {e}", e.instance_path())).collect();
        assert_eq!(complaints, [] as [String; 0], "{name}");
        for (list, key, allowed) in [
            ("notices", "code", codes::ALL),
            ("excluded", "reason", codes::EXCLUSIONS),
            ("recorded", "part", codes::PARTS),
        ] {
            for word in words(&result, list, key) {
                assert!(allowed.contains(&word), "{name}: {list} says {word}");
            }
        }
    }
}

#[test]
fn every_page_is_one_file_under_600_kilobytes() {
    for sample in samples() {
        let program = Program::new();
        let run = program.run(&["review".as_ref(), sample.as_os_str()]);
        assert_eq!(run.code, 0, "{}: {}", sample.display(), run.err);
        let entries = std::fs::read_dir(program.folder().join("reports")).expect("reports");
        let page =
            entries.map(|e| e.expect("an entry").path()).find(|p| p.extension().is_some_and(|e| e == "html"));
        let page = std::fs::read_to_string(page.expect("a page")).expect("the page");
        assert!(page.len() < 600_000, "{}: {} bytes", sample.display(), page.len());
        // Self-contained: nothing is fetched when it is opened.
        for fetched in ["src=\"http", "href=\"http", "url(http", "@import", "src=\"//"] {
            assert!(!page.contains(fetched), "{}: {fetched}", sample.display());
        }
    }
}

/// A log larger than the blocks that are read ahead and than the parts that threads take: 260,000 rows at 500 a second, one
/// row torn and one with a letter of an eight-bit text.
fn large(path: &std::path::Path) {
    let mut text: Vec<u8> = b"time_s,map1_kpa,map2_kpa,rpm,note\n".to_vec();
    for k in 0..260_000u32 {
        let t = f64::from(k) * 0.002;
        let pulse = |shift: f64| {
            45.0 + 12.0 * (std::f64::consts::TAU * (t * 8.0 + shift)).cos() + f64::from(k * 7 % 13) * 0.05
        };
        text.extend(format!("{t:.3},{:.2},{:.2},{},", pulse(0.0), pulse(0.5) + 0.8, 958 + k % 5).bytes());
        match k {
            90_000 => text.extend(b"\xe9\n"),
            170_000 => text.extend(b"x,1,torn\n"),
            _ => text.push(b'\n'),
        }
    }
    std::fs::write(path, text).expect("the log is written");
}

#[test]
fn the_result_does_not_depend_on_the_number_of_threads() {
    let program = crate::cli::program::Program::new();
    let samples = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data-samples");
    let names = ["hs-01-four-out-of-balance.csv", "hs-04-twin-fast.csv", "hs-05-adjusting-session.csv"];
    let long = program.folder().join("long.csv");
    large(&long);
    for log in names.iter().map(|name| samples.join(name)).chain([long]) {
        let with = |threads: &str| {
            let out = program
                .command()
                .env("RAYON_NUM_THREADS", threads)
                .env("POLARS_MAX_THREADS", threads)
                .args(["review".as_ref(), log.as_os_str(), "--json".as_ref(), "-".as_ref()])
                .output()
                .expect("the program runs");
            assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
            out.stdout
        };
        assert_eq!(with("1"), with("8"), "{}", log.display());
    }
}
