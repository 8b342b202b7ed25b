//! How the pages lie on a screen: no text over another one at three widths, nothing cut off, nothing too small, no
//! sideways scrolling; what a log says stays text; and what a page weighs.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::{PAGES, browse, chromium, page_of, pages_of_visits};
use crate::cli::program::Program;

/// A projector or laptop, a tablet, a telephone: CSS pixels.
const WIDTHS: [u32; 3] = [1280, 760, 390];

/// Most that a page may weigh, bytes: the goal of the project.
const MOST: u64 = 600_000;

/// What `probe.js` sees in one page at one width.
#[derive(Debug, Deserialize)]
pub(super) struct Seen {
    width: u32,
    texts: usize,
    overlaps: Vec<String>,
    figures: Vec<String>,
    sideways: i64,
    pub(super) words: Vec<String>,
    handlers: Vec<String>,
    tags: BTreeMap<String, usize>,
}

/// Looks at a page in frames of several widths.
pub(super) fn look(chromium: &Path, folder: &Path, page: &Path, widths: &[u32]) -> Vec<Seen> {
    let probe = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/browser/probe.js");
    let probe = std::fs::read_to_string(probe).expect("the probe");
    // A file name may hold what ends a string or a block in the page around it; as percent codes it does not.
    let address: String = page
        .to_string_lossy()
        .bytes()
        .map(|b| {
            if b.is_ascii_alphanumeric() || b"/-_.".contains(&b) {
                char::from(b).to_string()
            } else {
                format!("%{b:02X}")
            }
        })
        .collect();
    let around = folder.join("around.html");
    let html = format!(
        "<!doctype html><meta charset=\"utf-8\"><body><script>const PAGE=\"file://{address}\",WIDTHS={widths:?};\n{probe}</script>"
    );
    std::fs::write(&around, html).expect("the page around it");
    let arguments = ["--allow-file-access-from-files", "--virtual-time-budget=8000", "--dump-dom"];
    let (dom, err) = browse(chromium, folder, &around, &arguments);
    let json = dom.split_once("id=\"seen\">").and_then(|(_, rest)| rest.split_once("</script>"));
    let json = json.unwrap_or_else(|| panic!("{}: the probe saw nothing: {err}", page.display())).0;
    serde_json::from_str(json).expect("what the probe wrote")
}

fn all_pages(program: &[Program; 5]) -> Vec<PathBuf> {
    let mut pages: Vec<PathBuf> = PAGES.iter().zip(program).map(|(asked, p)| page_of(p, *asked)).collect();
    pages.extend(pages_of_visits(&program[4]));
    pages
}

#[test]
fn texts_lie_beside_each_other_at_every_width() {
    let Some(chromium) = chromium() else { return };
    let programs: [Program; 5] = std::array::from_fn(|_| Program::new());
    let mut pages = all_pages(&programs);
    pages.push(page_of(&programs[4], ("review", "hs-05-adjusting-session.csv", &[])));
    pages.push(page_of(&programs[4], ("review", "hs-03-four-polled.csv", &["--unit", "inHg"])));
    for page in pages {
        let size = std::fs::metadata(&page).expect("a page").len();
        assert!(size <= MOST, "{}: {size} bytes", page.display());
        for seen in look(&chromium, programs[4].folder(), &page, &WIDTHS) {
            let name = format!("{} at {} pixels", page.display(), seen.width);
            assert!(seen.texts > 100, "{name}: only {} texts", seen.texts);
            assert_eq!(seen.overlaps, [] as [String; 0], "{name}");
            assert_eq!(seen.figures, [] as [String; 0], "{name}");
            assert_eq!(seen.sideways, 0, "{name} scrolls sideways");
        }
    }
}

#[test]
fn the_probe_sees_what_lies_over_each_other_is_cut_or_small() {
    let Some(chromium) = chromium() else { return };
    let program = Program::new();
    let faulty = "<!doctype html><meta charset=\"utf-8\"><body style=\"margin:0\"><p>plain words</p>\
        <div style=\"position:relative;height:40px\"><span style=\"position:absolute;left:0\">under it</span>\
        <span style=\"position:absolute;left:20px;top:3px\">over it</span></div>\
        <svg viewBox=\"0 0 100 50\" width=\"100\" height=\"50\"><text x=\"80\" y=\"20\">reaches out</text>\
        <text x=\"2\" y=\"40\" font-size=\"6\">tiny</text></svg>\
        <div style=\"width:900px\">wide</div><a onclick=\"x()\" href=\"javascript:x()\">link</a>";
    let page = program.file("faulty.html", faulty);
    let seen = look(&chromium, program.folder(), &page, &[390]);
    let seen = &seen[0];
    assert_eq!(seen.overlaps.len(), 1, "{:?}", seen.overlaps);
    assert!(seen.overlaps[0].contains("under it") && seen.overlaps[0].contains("over it"));
    assert!(seen.figures.iter().any(|f| f.contains("reaches out")), "{:?}", seen.figures);
    assert!(seen.figures.iter().any(|f| f.contains("tiny")), "{:?}", seen.figures);
    assert!(seen.sideways >= 500, "{}", seen.sideways);
    assert_eq!(seen.handlers.len(), 2, "{:?}", seen.handlers);
}

/// Names that would be markup, in a file name and in headers, and a note that would end the data block.
fn hostile_log(program: &Program) -> PathBuf {
    let sample =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data-samples/hs-01-four-out-of-balance.csv");
    let log = std::fs::read_to_string(sample).expect("the sample");
    let evil = "<img src=x onerror=alert(1)>";
    let log = log
        .replacen("Cyl 1 pressure", &format!("Cyl 1 pressure {evil}</script><script>alert(2)</script>"), 1)
        .replacen("Coolant temperature", "Coolant temperature <svg onload=alert(3)><!--", 1);
    assert!(log.contains("onload=alert(3)"), "the sample has other headers now");
    program.file(format!("{evil}&amp;\u{202e}<b>.csv"), log)
}

#[test]
fn what_a_log_says_never_becomes_markup() {
    let Some(chromium) = chromium() else { return };
    let program = Program::new();
    let log = hostile_log(&program);
    let folder = program.folder().join("out");
    let twin = program.folder().join("<i>twin</i>.csv");
    // `/` cannot stand in a file name; the twin's name is `<i>twin<`, a folder of that name comes before it.
    std::fs::create_dir_all(twin.parent().expect("a folder")).expect("a folder");
    std::fs::copy(&log, &twin).expect("a copy");
    let out = folder.as_os_str();
    for all in [
        vec!["review".as_ref(), log.as_os_str(), "--out".as_ref(), out],
        vec!["plan".as_ref(), log.as_os_str(), "--out".as_ref(), out],
        vec!["compare".as_ref(), log.as_os_str(), twin.as_os_str(), "--out".as_ref(), out],
        vec![
            "fleet".as_ref(),
            program.folder().as_os_str(),
            "--out".as_ref(),
            out,
            "--pages".as_ref(),
            "logs".as_ref(),
        ],
    ] {
        let run = program.run(&all);
        assert_eq!(run.code, 0, "{all:?}: {}", run.err);
    }
    let mut pages: Vec<PathBuf> = Vec::new();
    for folder in [folder.clone(), folder.join("logs")] {
        let Ok(entries) = std::fs::read_dir(folder) else { continue };
        pages.extend(
            entries
                .map(|e| e.expect("an entry").path())
                .filter(|p| p.extension().is_some_and(|e| e == "html")),
        );
    }
    assert!(pages.len() >= 4, "{pages:?}");
    let mut shown = 0;
    for page in pages {
        let seen = look(&chromium, program.folder(), &page, &[1280]);
        let (seen, name) = (&seen[0], page.display());
        assert_eq!(seen.handlers, [] as [String; 0], "{name}");
        // One block of data and one script of our own.
        assert_eq!(seen.tags.get("script"), Some(&2), "{name}: {:?}", seen.tags);
        for tag in ["img", "iframe", "object", "form", "i"] {
            assert_eq!(seen.tags.get(tag), None, "{name}");
        }
        shown += usize::from(seen.words.iter().any(|l| l.contains("<img src=x onerror=alert(1)>")));
    }
    // The pages of the log itself show what it says, as text.
    assert!(shown >= 2, "only {shown} pages show the name");
}
