//! What axe-core (Deque Systems, an accessibility checker after WCAG) finds in the pages: nothing serious. `.ci/run` installs
//! it and names it in EVENPULL_AXE; without it this test says so and passes, with CI=true it fails.

use std::path::Path;

use serde::Deserialize;

use super::{PAGES, browse, chromium, page_of, pages_of_visits, skipped};
use crate::cli::program::Program;

#[derive(Debug, Deserialize)]
struct Found {
    checked: usize,
    violations: Vec<Violation>,
}

#[derive(Debug, Deserialize)]
struct Violation {
    id: String,
    impact: Option<String>,
    help: String,
    nodes: Vec<String>,
}

const RUN: &str = r#"
addEventListener("load", async () => {
  const result = await axe.run(document, { resultTypes: ["violations"] });
  const found = {
    checked: result.passes.length,
    violations: result.violations.map(v => ({ id: v.id, impact: v.impact, help: v.help, nodes: v.nodes.map(n => n.html.slice(0, 200)) })),
  };
  const out = document.createElement("script");
  out.type = "application/json";
  out.id = "found";
  out.textContent = JSON.stringify(found).replace(/[<>&]/g, c => `\\u${c.charCodeAt(0).toString(16).padStart(4, "0")}`);
  document.body.append(out);
});
"#;

/// The text of axe-core, or `None` with a word about it.
fn axe() -> Option<String> {
    let Some(path) = std::env::var_os("EVENPULL_AXE") else {
        assert!(std::env::var("CI").as_deref() != Ok("true"), "CI needs axe-core; .ci/run installs it");
        skipped("no axe-core: set EVENPULL_AXE to its axe.min.js");
        return None;
    };
    Some(std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("EVENPULL_AXE {}: {e}", path.display())))
}

/// Findings in a copy of a page whose content policy, which would keep the checker out, is taken off.
fn find(chromium: &Path, folder: &Path, html: &str, axe: &str) -> Found {
    let copy = folder.join("checked.html");
    let start = html.find("<meta http-equiv=\"Content-Security-Policy\"");
    let html = match start.and_then(|at| html[at..].find('>').map(|end| (at, at + end + 1))) {
        Some((at, end)) => format!("{}{}", &html[..at], &html[end..]),
        None => html.to_owned(),
    };
    let html = html.replacen("</body>", &format!("<script>{axe}</script><script>{RUN}</script></body>"), 1);
    std::fs::write(&copy, html).expect("the copy");
    let (dom, err) = browse(chromium, folder, &copy, &["--virtual-time-budget=20000", "--dump-dom"]);
    let json = dom.rsplit_once("id=\"found\">").and_then(|(_, rest)| rest.split_once("</script>"));
    serde_json::from_str(json.unwrap_or_else(|| panic!("axe-core found no end: {err}")).0)
        .expect("its findings")
}

fn serious(found: Found) -> Vec<Violation> {
    let heavy = |v: &Violation| matches!(v.impact.as_deref(), Some("serious" | "critical"));
    found.violations.into_iter().filter(heavy).collect()
}

#[test]
fn axe_has_no_serious_finding() {
    let (Some(axe), Some(chromium)) = (axe(), chromium()) else { return };
    let program = Program::new();
    let mut pages =
        vec![page_of(&program, PAGES[0]), page_of(&program, PAGES[1]), page_of(&program, PAGES[2])];
    pages.extend(pages_of_visits(&program));
    for page in pages {
        let html = std::fs::read_to_string(&page).expect("a page");
        let found = find(&chromium, program.folder(), &html, &axe);
        assert!(found.checked >= 10, "{}: only {} rules applied", page.display(), found.checked);
        let said: Vec<String> =
            serious(found).iter().map(|v| format!("{}: {} at {:?}", v.id, v.help, v.nodes)).collect();
        assert_eq!(said, [] as [String; 0], "{}", page.display());
    }
    // A page with a picture without words and pale text: the checker is awake.
    let faulty = "<!doctype html><html><head><title>x</title></head><body><img src=\"data:,\">\
        <p style=\"color:#bbb;background:#fff\">pale</p></body></html>";
    let ids: Vec<String> =
        serious(find(&chromium, program.folder(), faulty, &axe)).into_iter().map(|v| v.id).collect();
    for id in ["image-alt", "color-contrast", "html-has-lang"] {
        assert!(ids.iter().any(|i| i == id), "{ids:?}");
    }
}
