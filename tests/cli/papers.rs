//! The papers against the program: what README and DEVELOPERS name exists.

use std::path::{Path, PathBuf};

use super::program::Program;

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn paper(name: &str) -> String {
    std::fs::read_to_string(top().join(name)).expect(name)
}

#[test]
fn every_link_leads_to_a_file() {
    let mut links = 0;
    for name in ["README.md", "DEVELOPERS.md", "CHANGELOG.md"] {
        let text = paper(name);
        for (at, _) in text.match_indices("](") {
            let target: String = text[at + 2..].chars().take_while(|c| *c != ')').collect();
            if !target.contains("://") {
                links += 1;
                assert!(top().join(&target).exists(), "{name} links to {target}");
            }
        }
    }
    assert!(links >= 5, "only {links} links found");
}

#[test]
fn every_command_is_in_the_table_and_every_option_in_the_text() {
    let readme = paper("README.md");
    let program = Program::new();
    for command in ["review", "plan", "add", "compare", "fleet", "verify", "lesson", "inspect", "explain"] {
        assert!(readme.contains(&format!("| `evenpull {command}")), "{command}");
    }
    let help = ["review", "plan", "verify", "lesson"].map(|c| program.run(&[c, "--help"]).out).concat();
    let options = help.split_whitespace().filter(|w| w.starts_with("--") && w.len() > 3);
    for option in options.filter(|o| *o != "--help") {
        let option: String = option.chars().take_while(|c| c.is_ascii_lowercase() || *c == '-').collect();
        assert!(readme.contains(&option), "README says nothing of {option}");
    }
}

#[test]
fn the_two_commands_of_the_readme_are_the_ones_that_are_checked() {
    let readme = paper("README.md");
    let log = "data-samples/hs-01-four-out-of-balance.csv";
    assert!(readme.contains(&format!("\ncargo run --release -- review {log}\n")));
    assert!(top().join(log).exists());
    // The README's test command is the first that the check of a change runs.
    assert!(readme.contains("\ncargo test --workspace\n"));
    let check = paper(".ci/run");
    let steps: Vec<&str> = check.lines().filter(|l| l.starts_with("step cargo")).collect();
    assert!(steps.first().is_some_and(|s| s.starts_with("step cargo test --workspace")), "{steps:?}");
    for wanted in
        ["cargo fmt --all --check", "cargo clippy --workspace --all-targets --locked -- -D warnings"]
    {
        assert!(check.contains(wanted), "{wanted}");
    }
}

#[test]
fn the_readme_says_what_was_checked_and_warns() {
    let readme = paper("README.md").replace('\n', " ");
    let said = "Checked on simulated engines; no open per-cylinder recording with known truth exists";
    assert!(readme.contains(said));
    for word in [
        "carbon monoxide",
        "Hands, hair and clothes",
        "Neutral",
        "propeller clear",
        "bilge blower",
        "spit flame",
        "No flammable spray",
        "overheats",
        "Fuel vapour",
        "hearing",
        "snaps shut",
        "cable play",
        "refitted",
        "emission-related",
        "maker's manual",
        "local codes",
        "licensed practice",
    ] {
        assert!(readme.contains(word), "no caution about: {word}");
    }
}
