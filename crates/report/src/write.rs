//! The only place that writes files: a temporary name in the same folder, then a rename, so that a reader never
//! meets half a file.

use std::io::Write;
use std::path::{Path, PathBuf};

use evenpull_core::Analysis;
use evenpull_core::adjust::plan_result::Plan;

use crate::error::ReportError;
use crate::page::{Page, plan_json, review_json};
use crate::slug::{slug, stem};

/// Writes one file whole or not at all.
///
/// # Errors
/// [`ReportError::Write`] with the path.
pub fn file(path: &Path, bytes: &[u8]) -> Result<(), ReportError> {
    let fail = |source| ReportError::Write { path: path.to_owned(), source };
    let folder = match path.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    };
    std::fs::create_dir_all(folder).map_err(fail)?;
    let mut temporary = tempfile::Builder::new().prefix(".evenpull-").tempfile_in(folder).map_err(fail)?;
    temporary.write_all(bytes).map_err(fail)?;
    readable(temporary.as_file()).map_err(fail)?;
    temporary.persist(path).map_err(|e| fail(e.error))?;
    Ok(())
}

/// A temporary file is private; a report is for handing on.
#[cfg(unix)]
fn readable(file: &std::fs::File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn readable(_: &std::fs::File) -> std::io::Result<()> {
    Ok(())
}

/// Writes `DIR/<name>.html`, `DIR/<name>-<figure>.png` and `DIR/<name>.json`; returns their paths in that order.
///
/// `<name>` is the recording's own name without suffix, made safe.
///
/// # Errors
/// [`ReportError::Write`] or [`ReportError::Json`].
pub fn review_set(folder: &Path, analysis: &Analysis, page: &Page) -> Result<Vec<PathBuf>, ReportError> {
    let json = review_json(&analysis.review)?;
    page_set(folder, stem(&analysis.review.source.name), page, Some(&json))
}

/// Writes `DIR/<name>-plan.html`, `DIR/<name>-plan-<figure>.png` and `DIR/<name>-plan.json`; returns their paths in that order.
///
/// `<name>` is that of the recording, or of the machine when the plan was made from a book.
///
/// # Errors
/// [`ReportError::Write`] or [`ReportError::Json`].
pub fn plan_set(folder: &Path, name: &str, plan: &Plan, page: &Page) -> Result<Vec<PathBuf>, ReportError> {
    page_set(folder, &format!("{}-plan", stem(name)), page, Some(&plan_json(plan)?))
}

/// Writes `DIR/<name>.html`, its figures beside it and, where `json` is given, `DIR/<name>.json`; returns the paths in
/// that order. `name` is made safe.
///
/// # Errors
/// [`ReportError::Write`].
pub fn page_set(
    folder: &Path,
    name: &str,
    page: &Page,
    json: Option<&str>,
) -> Result<Vec<PathBuf>, ReportError> {
    let name = slug(name);
    let mut written = vec![folder.join(format!("{name}.html"))];
    file(&written[0], page.html.as_bytes())?;
    for figure in page.figures.iter().filter(|f| !f.png.is_empty()) {
        let path = folder.join(format!("{name}-{}.png", figure.name));
        file(&path, &figure.png)?;
        written.push(path);
    }
    if let Some(json) = json {
        let path = folder.join(format!("{name}.json"));
        file(&path, json.as_bytes())?;
        written.push(path);
    }
    Ok(written)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_file_is_replaced_whole_and_nothing_else_is_left() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("deep").join("a.html");
        file(&path, b"one").unwrap();
        file(&path, b"two").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"two");
        assert_eq!(std::fs::read_dir(path.parent().unwrap()).unwrap().count(), 1);
    }

    #[test]
    fn an_error_names_the_path() {
        let dir = tempfile::tempdir().unwrap();
        let blocked = dir.path().join("file");
        file(&blocked, b"x").unwrap();
        let error = file(&blocked.join("below.html"), b"y").unwrap_err();
        assert!(error.to_string().contains("below.html"), "{error}");
    }
}
