//! Two results of the same recording, field by field.

use serde_json::{Number, Value};

/// One field that is not the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// Where: a JSON Pointer, list entries counted from 0.
    ///
    /// # Source
    /// RFC 6901.
    pub path: String,
    /// What stood there; `None` where the field was missing.
    pub then: Option<Value>,
    /// What stands there now; `None` where the field is missing.
    pub now: Option<Value>,
}

/// Every field that differs, in the order of the older result, fields that only the newer one has behind those of their object.
///
/// Numbers are equal when they are the same double: a result is written with all digits, so nothing less is the same. Whole
/// and broken spelling (`2`, `2.0`) are one number.
#[must_use]
pub fn differences(then: &Value, now: &Value) -> Vec<Difference> {
    let mut found = Vec::new();
    compare(then, now, &mut String::new(), &mut found);
    found
}

fn compare(then: &Value, now: &Value, at: &mut String, found: &mut Vec<Difference>) {
    match (then, now) {
        (Value::Object(a), Value::Object(b)) => {
            for (key, old) in a {
                step(at, &escaped(key), Some(old), b.get(key), found);
            }
            for (key, new) in b.iter().filter(|(key, _)| !a.contains_key(*key)) {
                step(at, &escaped(key), None, Some(new), found);
            }
        }
        (Value::Array(a), Value::Array(b)) => {
            for i in 0..a.len().max(b.len()) {
                step(at, &i.to_string(), a.get(i), b.get(i), found);
            }
        }
        (Value::Number(a), Value::Number(b)) if same_number(a, b) => {}
        _ if then == now => {}
        _ => found.push(Difference { path: at.clone(), then: Some(then.clone()), now: Some(now.clone()) }),
    }
}

/// One step down, or the end of one where only one side goes on.
fn step(at: &mut String, name: &str, then: Option<&Value>, now: Option<&Value>, found: &mut Vec<Difference>) {
    let length = at.len();
    at.push('/');
    at.push_str(name);
    match (then, now) {
        (Some(then), Some(now)) => compare(then, now, at, found),
        _ => found.push(Difference { path: at.clone(), then: then.cloned(), now: now.cloned() }),
    }
    at.truncate(length);
}

fn same_number(a: &Number, b: &Number) -> bool {
    a == b || ((a.is_f64() || b.is_f64()) && a.as_f64() == b.as_f64())
}

/// RFC 6901, section 3: `~` and `/` in a name.
fn escaped(key: &str) -> String {
    key.replace('~', "~0").replace('/', "~1")
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn paths(then: &Value, now: &Value) -> Vec<String> {
        differences(then, now).into_iter().map(|d| d.path).collect()
    }

    #[test]
    fn every_field_is_named_by_its_pointer() {
        // The keys are those of the example in RFC 6901, section 5.
        let then = json!({"foo": ["bar", "baz"], "": 0, "a/b": 1, "m~n": 8, "gone": null, "s": {"t": 1}});
        let now =
            json!({"foo": ["bar", "bay", 3], "": 1, "a/b": 2, "m~n": 9, "s": {"t": 1, "u": 2}, "new": 1});
        let found = paths(&then, &now);
        assert_eq!(found, ["/foo/1", "/foo/2", "/", "/a~1b", "/m~0n", "/gone", "/s/u", "/new"]);
        for d in differences(&then, &now) {
            assert_eq!(then.pointer(&d.path), d.then.as_ref(), "{}", d.path);
            assert_eq!(now.pointer(&d.path), d.now.as_ref(), "{}", d.path);
        }
        assert!(paths(&then, &then.clone()).is_empty());
    }

    #[test]
    fn the_last_bit_of_a_number_counts_and_its_spelling_does_not() {
        let double = 0.1_f64 + 0.2; // 0.30000000000000004, IEEE 754
        assert_eq!(paths(&json!({"x": double}), &json!({"x": 0.3})), ["/x"]);
        assert!(paths(&json!([2, -0.0]), &json!([2.0, 0])).is_empty());
        // A comparison by doubles alone takes these two for one; 2^53 + 1 has no double of its own.
        assert_eq!(paths(&json!(9_007_199_254_740_993_u64), &json!(9_007_199_254_740_992_u64)), [""]);
        assert_eq!(paths(&json!([null]), &json!([0])), ["/0"]);
    }
}
