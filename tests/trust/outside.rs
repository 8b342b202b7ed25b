//! Published values that go through `review` on a file: `tests/reference/through_review.json`, by id.

use serde::Deserialize;

const VALUES: &str = include_str!("../reference/through_review.json");
const USERS: [&str; 3] = [
    include_str!("published_data.rs"),
    include_str!("published_physics.rs"),
    include_str!("published_units.rs"),
];

/// One published example.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Outside {
    kind: String,
    source: String,
    recipe: String,
    #[serde(default)]
    pub(super) labels: Vec<String>,
    values: serde_json::Value,
    /// What the naive way gives or uses.
    #[serde(default)]
    pub(super) naive: Vec<f64>,
    #[serde(default)]
    pub(super) verdicts: Vec<String>,
    #[serde(default)]
    pub(super) levels: Vec<f64>,
}

impl Outside {
    /// A list of values.
    pub(super) fn values(&self) -> Vec<f64> {
        serde_json::from_value(self.values.clone()).unwrap()
    }

    /// A table of values.
    pub(super) fn rows(&self) -> Vec<Vec<f64>> {
        serde_json::from_value(self.values.clone()).unwrap()
    }

    fn count(&self) -> usize {
        self.values.as_array().unwrap().len()
    }
}

fn all() -> std::collections::BTreeMap<String, Outside> {
    let whole: serde_json::Value = serde_json::from_str(VALUES).unwrap();
    serde_json::from_value(whole["checks"].clone()).unwrap()
}

/// The example of that id.
pub(super) fn outside(id: &str) -> Outside {
    all().remove(id).unwrap_or_else(|| panic!("{id} is not in through_review.json"))
}

#[test]
fn every_example_is_used_and_says_where_it_comes_from() {
    for (id, check) in all() {
        assert!(USERS.iter().any(|text| text.contains(&format!("outside(\"{id}\")"))), "{id} is not used");
        assert!(!check.source.is_empty() && !check.recipe.is_empty() && check.count() > 0, "{id}");
        assert!(["published", "memory", "library", "formula"].contains(&check.kind.as_str()), "{id}");
    }
}

#[test]
fn most_values_were_published_and_not_remembered() {
    let published: usize = all().values().filter(|c| c.kind == "published").map(Outside::count).sum();
    assert!(published >= 40, "{published} published values go through review");
    assert!(all().values().filter(|c| c.kind == "published").count() >= 8);
}
