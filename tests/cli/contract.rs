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

#[test]
fn the_result_does_not_depend_on_the_number_of_threads() {
    let program = crate::cli::program::Program::new();
    for sample in ["hs-01-four-out-of-balance.csv", "hs-04-twin-fast.csv", "hs-05-adjusting-session.csv"] {
        let log = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data-samples").join(sample);
        let with = |threads: &str| {
            let out = program
                .command()
                .env("RAYON_NUM_THREADS", threads)
                .env("POLARS_MAX_THREADS", threads)
                .args(["review".as_ref(), log.as_os_str(), "--json".as_ref(), "-".as_ref()])
                .output()
                .expect("the program runs");
            assert!(out.status.success());
            out.stdout
        };
        assert_eq!(with("1"), with("8"), "{sample}");
    }
}
