//! The statistics against numbers from outside: `values.json` holds data, expected values, tolerance, source and recipe;
//! every check in it is computed here and compared. What belongs here: numbers that somebody else published or that a
//! named library gives. Behaviour, refusals and gaps are tested beside the code.

#![allow(clippy::unwrap_used)]

mod decisions;
mod lines;
mod series;
mod univariate;

use std::collections::BTreeMap;

use serde_json::Value;

const VALUES: &str = include_str!("values.json");

/// Computed values by the id of the check.
type Computed = Vec<(&'static str, Vec<f64>)>;

/// The data sets of `values.json`.
struct Data(Value);

impl Data {
    fn series(&self, name: &str) -> Vec<f64> {
        numbers(&self.0["data"][name]["values"])
    }

    fn table(&self, name: &str) -> Vec<Vec<f64>> {
        self.0["data"][name]["values"].as_array().unwrap().iter().map(numbers).collect()
    }
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn load() -> Data {
    Data(serde_json::from_str(VALUES).unwrap())
}

fn compute(data: &Data) -> BTreeMap<&'static str, Vec<f64>> {
    let mut all = univariate::compute(data);
    all.extend(lines::compute(data));
    all.extend(series::compute(data));
    all.extend(decisions::compute(data));
    let count = all.len();
    let map: BTreeMap<_, _> = all.into_iter().collect();
    assert_eq!(map.len(), count, "an id is computed twice");
    map
}

/// Why the computed values miss the expected ones, if they do.
fn miss(got: &[f64], check: &Value) -> Option<String> {
    let expected = numbers(&check["expected"]);
    if got.len() != expected.len() {
        return Some(format!("{} values instead of {}", got.len(), expected.len()));
    }
    let tolerance = check["tolerance"].as_f64().unwrap();
    let relative = check["relative"].as_bool().unwrap_or(false);
    got.iter().zip(&expected).enumerate().find_map(|(i, (g, w))| {
        let allowed = if relative { tolerance * w.abs() } else { tolerance };
        // Written so that NaN misses.
        let fits = (g - w).abs() <= allowed;
        (!fits).then(|| format!("value {i}: got {g}, expected {w} within {allowed}"))
    })
}

#[test]
fn every_value_is_met() {
    let data = load();
    let computed = compute(&data);
    let mut misses = Vec::new();
    for (id, check) in data.0["checks"].as_object().unwrap() {
        let problem = match computed.get(id.as_str()) {
            Some(got) => miss(got, check),
            None => Some("nothing computes it".to_owned()),
        };
        if let Some(p) = problem {
            misses.push(format!("{id}: {p} ({})", check["source"].as_str().unwrap()));
        }
    }
    assert!(misses.is_empty(), "{} of the checks fail:\n{}", misses.len(), misses.join("\n"));
}

#[test]
fn nothing_is_computed_without_a_source() {
    let data = load();
    let checks = data.0["checks"].as_object().unwrap();
    for id in compute(&data).keys() {
        assert!(checks.contains_key(*id), "{id} has no entry in values.json");
    }
    for (id, check) in checks {
        for field in ["source", "recipe", "kind"] {
            assert!(check[field].as_str().is_some_and(|s| !s.is_empty()), "{id} lacks {field}");
        }
        let kind = check["kind"].as_str().unwrap();
        assert!(["published", "memory", "library", "formula"].contains(&kind), "{id}: kind {kind}");
        assert!(check["tolerance"].as_f64().unwrap() >= 0.0);
    }
}

#[test]
fn most_checks_rest_on_published_numbers() {
    let data = load();
    let checks = data.0["checks"].as_object().unwrap();
    let published = checks.values().filter(|c| c["kind"] == "published").count();
    assert!(published >= 40, "{published} published checks");
    assert!(2 * published > checks.len());
}

#[test]
fn the_comparison_can_fail() {
    let check = serde_json::json!({ "expected": [1.0, 2.0], "tolerance": 0.1 });
    assert_eq!(miss(&[1.05, 1.95], &check), None);
    assert!(miss(&[1.05, 2.15], &check).is_some());
    assert!(miss(&[1.0], &check).is_some());
    assert!(miss(&[1.0, f64::NAN], &check).is_some());
    let relative = serde_json::json!({ "expected": [1000.0], "tolerance": 0.1, "relative": true });
    assert_eq!(miss(&[1090.0], &relative), None);
    assert!(miss(&[1110.0], &relative).is_some());
}
