//! The page in a real headless Chromium: it opens without a console message or a request, shows its verdict, prints on few
//! pages, and fits a phone. Without Chromium these tests say so and pass; with CI=true they fail, since `.ci/run` installs it.

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
