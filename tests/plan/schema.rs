//! The schema of the plan: what the program writes is valid, what breaks the contract is not.
#![allow(clippy::unwrap_used)]

use serde_json::{Value, json};

use super::program::{MACHINE, plan_json};

fn schema() -> Value {
    serde_json::from_str(evenpull_core::schema::PLAN).unwrap()
}

fn complaints(instance: &Value) -> Vec<String> {
    let validator = jsonschema::draft202012::new(&schema()).unwrap();
    validator.iter_errors(instance).map(|e| format!("{}: {e}", e.instance_path())).collect()
}

/// Every key that an object of the schema names, so that no field is written that it does not know.
fn unknown_keys(schema: &Value, root: &Value, instance: &Value, path: &str, out: &mut Vec<String>) {
    let at = match schema["$ref"].as_str() {
        Some(name) => &root["$defs"][name.trim_start_matches("#/$defs/")],
        None => schema,
    };
    let at = match at["anyOf"].as_array() {
        Some(ways) if ways[0]["$ref"].is_string() && !instance.is_null() => {
            return unknown_keys(&ways[0], root, instance, path, out);
        }
        _ => at,
    };
    match instance {
        Value::Object(map) => {
            for (key, value) in map {
                match at["properties"].get(key) {
                    Some(part) => unknown_keys(part, root, value, &format!("{path}/{key}"), out),
                    None => out.push(format!("{path}/{key}")),
                }
            }
        }
        Value::Array(list) => {
            list.iter().for_each(|v| unknown_keys(&at["items"], root, v, &format!("{path}/0"), out));
        }
        _ => {}
    }
}

#[test]
fn plans_of_the_samples_are_valid_and_hold_nothing_else() {
    for (sample, machine) in [
        ("hs-01-four-out-of-balance.csv", Some(MACHINE)),
        ("hs-01-four-as-left.csv", Some(MACHINE)),
        ("hs-02-triple-leak.csv", None),
        ("hs-03-four-polled.csv", None),
        ("hs-04-twin-fast.csv", None),
        ("hs-05-adjusting-session.csv", None),
    ] {
        let plan = plan_json(sample, machine);
        assert_eq!(complaints(&plan), [] as [String; 0], "{sample}");
        let mut unknown = Vec::new();
        unknown_keys(&schema(), &schema(), &plan, "", &mut unknown);
        assert_eq!(unknown, [] as [String; 0], "{sample}");
    }
}

#[test]
fn what_breaks_the_contract_is_refused() {
    let plan = plan_json("hs-01-four-out-of-balance.csv", Some(MACHINE));
    for (path, wrong) in [
        ("/schema", json!("evenpull.plan/2")),
        ("/advice", json!("carry-on")),
        ("/turns/0/turns", json!(0)),
        ("/turns/0/turns", json!(null)),
        ("/turns/0/direction", json!(null)),
        ("/turns/0/rotation", json!("left")),
        ("/turns/0/cylinder", json!(0)),
        ("/expected/inside", json!(1.5)),
        ("/spread_kpa/u", json!(-0.1)),
        ("/accept_kpa", json!(0)),
        ("/cautions", json!([])),
        ("/because", json!([])),
        ("/left_alone/0/why", json!("tired")),
        ("/influence/per_turn/0/source", json!("guess")),
    ] {
        let mut broken = plan.clone();
        *broken.pointer_mut(path).expect(path) = wrong.clone();
        assert!(!complaints(&broken).is_empty(), "{path} = {wrong} passes");
    }
    // Turns that the advice forbids.
    let mut broken = plan.clone();
    broken["advice"] = json!("cause-first");
    assert!(!complaints(&broken).is_empty());
    for key in plan.as_object().unwrap().keys() {
        let mut broken = plan.clone();
        broken.as_object_mut().unwrap().remove(key);
        assert!(!complaints(&broken).is_empty(), "{key} may be missing");
    }
}
