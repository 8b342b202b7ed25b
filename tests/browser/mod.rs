//! The pages in a real headless Chromium. Here: a page opens without a console message or a request, shows its verdict, prints on few
//! pages, and fits a phone. Without Chromium these tests say so and pass; with CI=true they fail, since `.ci/run` installs it.

mod axe;
mod look;
mod numbers;
mod words;

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::cli::program::Program;

/// Command, sample, further arguments.
type Asked = (&'static str, &'static str, &'static [&'static str]);

const PAGES: [Asked; 4] = [
    ("review", "hs-01-four-out-of-balance.csv", &[]),
    ("review", "hs-02-triple-leak.csv", &[]),
    ("plan", "hs-01-four-out-of-balance.csv", &["--machine", "hs-01.toml"]),
    ("plan", "hs-02-triple-leak.csv", &[]),
];

/// The browser, or `None` with a word about it.
fn chromium() -> Option<PathBuf> {
    let names = ["chromium", "chromium-browser", "google-chrome"];
    let folders: Vec<PathBuf> =
        std::env::split_paths(&std::env::var_os("PATH").unwrap_or_default()).collect();
    let found = names.iter().flat_map(|n| folders.iter().map(move |f| f.join(n))).find(|p| p.is_file());
    if found.is_none() {
        assert!(std::env::var("CI").as_deref() != Ok("true"), "CI needs Chromium; .ci/run installs it");
        skipped("no Chromium on this machine");
    }
    found
}

#[allow(clippy::print_stderr)]
fn skipped(why: &str) {
    eprintln!("skipped: {why}");
}

/// Runs Chromium on a page and returns its standard output and error.
fn browse(chromium: &Path, folder: &Path, page: &Path, arguments: &[&str]) -> (String, String) {
    let profile = tempfile::tempdir_in(folder).expect("a profile folder");
    let out = Command::new(chromium)
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"])
        .args(["--disable-background-networking", "--disable-component-update", "--disable-sync"])
        .args(["--hide-scrollbars", "--enable-logging=stderr", "--v=0"])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .args(arguments)
        .arg(format!("file://{}", page.display()))
        .stdin(Stdio::null())
        .output()
        .expect("Chromium starts");
    (String::from_utf8_lossy(&out.stdout).into_owned(), String::from_utf8_lossy(&out.stderr).into_owned())
}

fn page_of(program: &Program, (command, sample, more): Asked) -> PathBuf {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data-samples");
    let mut all = vec![command.into(), samples.join(sample).into_os_string(), "--out".into()];
    all.push(program.folder().as_os_str().to_owned());
    let path = |a: &&str| if a.contains('.') { samples.join(a).into_os_string() } else { (*a).into() };
    all.extend(more.iter().map(path));
    let run = program.run(&all);
    assert_eq!(run.code, 0, "{}", run.err);
    let tail = if command == "plan" { "-plan.html" } else { ".html" };
    program.folder().join(sample.replace(".csv", tail))
}

#[test]
fn pages_open_without_a_console_message_or_a_request() {
    let Some(chromium) = chromium() else { return };
    for asked in PAGES {
        let (program, sample) = (Program::new(), format!("{} of {}", asked.0, asked.1));
        let page = page_of(&program, asked);
        let log = program.folder().join("net.json");
        let log_argument = format!("--log-net-log={}", log.display());
        let (dom, err) = browse(&chromium, program.folder(), &page, &["--dump-dom", &log_argument]);
        assert!(dom.contains("<h1"), "{sample}: no heading in the page");
        let console: Vec<&str> = err.lines().filter(|l| l.contains("CONSOLE")).collect();
        assert!(console.is_empty(), "{sample}: {console:?}");
        let net = std::fs::read_to_string(&log).expect("the network log");
        // Chromium asks its maker for the time and for accounts by itself; that is not the page's doing.
        let own = |l: &&str| l.contains(".google.com/") || l.contains(".googleapis.com/");
        let asked: Vec<&str> =
            net.lines().filter(|l| l.contains("\"url\":\"http")).filter(|l| !own(l)).collect();
        assert!(asked.is_empty(), "{sample} asked the network: {asked:?}");
    }
}

#[test]
fn pages_print_on_few_sheets() {
    let Some(chromium) = chromium() else { return };
    for asked in PAGES {
        let (program, sample) = (Program::new(), format!("{} of {}", asked.0, asked.1));
        let page = page_of(&program, asked);
        let pdf = program.folder().join("page.pdf");
        let print = format!("--print-to-pdf={}", pdf.display());
        browse(&chromium, program.folder(), &page, &["--no-pdf-header-footer", &print]);
        let bytes = std::fs::read(&pdf).expect("the printed page");
        let text = String::from_utf8_lossy(&bytes);
        let sheets = text.matches("/Type /Page\n").count().max(text.matches("/Type/Page/").count());
        assert!((1..=10).contains(&sheets), "{sample}: {sheets} sheets");
    }
}

#[test]
fn pages_have_a_picture_at_desktop_and_phone_width() {
    let Some(chromium) = chromium() else { return };
    let program = Program::new();
    let sizes = [("desktop", "1280,1600"), ("phone", "500,1600")];
    for (asked, (name, size)) in [PAGES[0], PAGES[2]].into_iter().flat_map(|p| sizes.map(|s| (p, s))) {
        let page = page_of(&program, asked);
        let shot = program.folder().join(format!("{name}.png"));
        let arguments = [format!("--window-size={size}"), format!("--screenshot={}", shot.display())];
        browse(&chromium, program.folder(), &page, &[&arguments[0], &arguments[1]]);
        let size = std::fs::metadata(&shot).map(|m| m.len()).unwrap_or(0);
        // An empty sheet of that size packs into far less.
        assert!(size > 30_000, "{name}: {size} bytes");
    }
}

/// Pages of a comparison of two and of many visits, of a ranking with its machine's page and of a lesson, in one folder.
fn pages_of_visits(program: &Program) -> Vec<PathBuf> {
    use evenpull_model::workshop::{Craft, harrow_sound};
    let folder = program.folder();
    let logs = folder.join("logs");
    std::fs::create_dir_all(&logs).expect("a folder");
    let told: Vec<Craft> =
        harrow_sound().into_iter().filter(|c| matches!(c.id.as_str(), "HS-03" | "HS-08")).collect();
    for visit in told.iter().flat_map(Craft::visits) {
        std::fs::write(logs.join(visit.file_name()), visit.record().expect("a log").0).expect("a log");
    }
    let run = program.run(&[
        "fleet".as_ref(),
        logs.as_os_str(),
        "--out".as_ref(),
        folder.join("fleet").as_os_str(),
        "--pages".as_ref(),
        "machines".as_ref(),
    ]);
    assert_eq!(run.code, 0, "{}", run.err);
    let (before, after) = (logs.join("hs-08-2024-07-11.csv"), logs.join("hs-08-2024-10-11.csv"));
    let run = program.run(&[
        "compare".as_ref(),
        before.as_os_str(),
        after.as_os_str(),
        "--out".as_ref(),
        folder.join("pair").as_os_str(),
    ]);
    assert_eq!(run.code, 0, "{}", run.err);
    let run = program.run(&["lesson", "leak-at-idle", "--out", "lesson"]);
    assert_eq!(run.code, 0, "{}", run.err);
    vec![
        folder.join("fleet/fleet.html"),
        folder.join("lesson/lesson-07-001-worksheet.html"),
        folder.join("lesson/lesson-07-001-key.html"),
        folder.join("fleet/machines/HS-03-visits.html"),
        folder.join("pair/hs-08-2024-07-11-to-hs-08-2024-10-11.html"),
    ]
}

#[test]
fn pages_of_visits_open_quietly_link_each_other_and_print() {
    let Some(chromium) = chromium() else { return };
    let program = Program::new();
    let pages = pages_of_visits(&program);
    for page in &pages {
        let name = page.display();
        let log = program.folder().join("net.json");
        let log_argument = format!("--log-net-log={}", log.display());
        let (dom, err) = browse(&chromium, program.folder(), page, &["--dump-dom", &log_argument]);
        assert!(dom.contains("<h1"), "{name}: no heading in the page");
        let console: Vec<&str> = err.lines().filter(|l| l.contains("CONSOLE")).collect();
        assert!(console.is_empty(), "{name}: {console:?}");
        let net = std::fs::read_to_string(&log).expect("the network log");
        let own = |l: &&str| l.contains(".google.com/") || l.contains(".googleapis.com/");
        let asked: Vec<&str> =
            net.lines().filter(|l| l.contains("\"url\":\"http")).filter(|l| !own(l)).collect();
        assert!(asked.is_empty(), "{name} asked the network: {asked:?}");
        for link in dom.split("href=\"").skip(1).filter_map(|l| l.split('"').next()) {
            assert!(page.parent().expect("a folder").join(link).is_file(), "{name} links to {link}");
        }
        let pdf = program.folder().join("page.pdf");
        let print = format!("--print-to-pdf={}", pdf.display());
        browse(&chromium, program.folder(), page, &["--no-pdf-header-footer", &print]);
        let bytes = std::fs::read(&pdf).expect("the printed page");
        let text = String::from_utf8_lossy(&bytes);
        let sheets = text.matches("/Type /Page\n").count().max(text.matches("/Type/Page/").count());
        assert!((1..=8).contains(&sheets), "{name}: {sheets} sheets");
    }
    let index = std::fs::read_to_string(&pages[0]).expect("the index").replace("&#x2f;", "/");
    assert!(index.contains("machines/HS-03-visits.html"), "the index links no machine");
}
