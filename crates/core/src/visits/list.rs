//! The list of a fleet's recordings: a table with the columns path, machine, date, hours, distance_km, note.
//!
//! Delimited by commas, semicolons or tabs, whichever the header uses. Only `path` must be there; empty cells are
//! unknown. A bad row is an error of its own and does not spoil the others; a bad header is one of the whole list.

use super::types::VisitFacts;

/// Columns of a list; `distance` may be written for `distance_km`.
pub const LIST_COLUMNS: [&str; 6] = ["path", "machine", "date", "hours", "distance_km", "note"];

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct ListRow {
    /// Line in the list, from 1.
    pub line: u64,
    /// Path as written.
    pub path: String,
    /// Machine id.
    pub machine: Option<String>,
    /// Date, hours, distance, note.
    pub facts: VisitFacts,
}

/// What is wrong with a list or a row of it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ListError {
    /// The header is not understood.
    #[error("{name}:1: {message}")]
    Header {
        /// The list's name.
        name: String,
        /// What was found and what is allowed.
        message: String,
    },
    /// A row is not understood.
    #[error("{name}:{line}: {message}")]
    Row {
        /// The list's name.
        name: String,
        /// Line, from 1.
        line: u64,
        /// What was found and what is allowed.
        message: String,
    },
}

/// Reads a list; `name` is its name for errors.
///
/// # Errors
/// [`ListError::Header`] for the whole list, [`ListError::Row`] in the place of a row.
pub fn parse_list(name: &str, text: &str) -> Result<Vec<Result<ListRow, ListError>>, ListError> {
    let text = text.trim_start_matches('\u{feff}');
    let first = text.lines().next().unwrap_or("");
    let delimiter = [b';', b'\t', b','].into_iter().find(|d| first.as_bytes().contains(d)).unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let header = |message: String| ListError::Header { name: name.to_owned(), message };
    let columns = reader.headers().map_err(|e| header(e.to_string()))?.clone();
    let mut places = [None; 6];
    for (at, column) in columns.iter().enumerate().filter(|(_, c)| !c.is_empty()) {
        let known = if column == "distance" { "distance_km" } else { column };
        match LIST_COLUMNS.iter().position(|c| *c == known) {
            Some(k) if places[k].is_none() => places[k] = Some(at),
            Some(_) => return Err(header(format!("the column `{column}` comes twice"))),
            None => {
                let allowed = LIST_COLUMNS.join(", ");
                return Err(header(format!("found the column `{column}`, expected one of: {allowed}")));
            }
        }
    }
    if places[0].is_none() {
        return Err(header("found no column `path`".to_owned()));
    }
    Ok(reader.records().map(|record| row(name, record, &places)).collect())
}

fn row(
    name: &str,
    record: Result<csv::StringRecord, csv::Error>,
    places: &[Option<usize>; 6],
) -> Result<ListRow, ListError> {
    let bad = |line: u64, message: String| ListError::Row { name: name.to_owned(), line, message };
    let record = record.map_err(|e| bad(e.position().map_or(0, csv::Position::line), e.to_string()))?;
    let line = record.position().map_or(0, csv::Position::line);
    let cell =
        |k: usize| places[k].and_then(|at| record.get(at)).filter(|c| !c.is_empty()).map(str::to_owned);
    let number = |k: usize| -> Result<Option<f64>, ListError> {
        let Some(text) = cell(k) else { return Ok(None) };
        let parsed = text
            .parse()
            .map_err(|_| bad(line, format!("`{}`: found {text}, expected a number", LIST_COLUMNS[k])))?;
        Ok(Some(parsed))
    };
    let facts = VisitFacts {
        date: cell(2),
        hours: number(3)?,
        distance_km: number(4)?,
        note: cell(5),
        ..VisitFacts::default()
    };
    facts.check().map_err(|e| bad(line, e.to_string()))?;
    let path = cell(0).ok_or_else(|| bad(line, "`path` is empty".to_owned()))?;
    Ok(ListRow { line, path, machine: cell(1), facts })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_read_and_bad_ones_placed() {
        let text = "\u{feff}path;machine;date;hours;note\na.csv;HS-01;2025-04-10;210,5;x\nb.csv;HS-01;10.4.2025;;\n\
                    c.csv;;;;\n;HS-02;;;\n\"d;e.csv\";HS-02;2025-04-11;12.5;\"two; words\"\n";
        let rows = parse_list("list.csv", text).unwrap();
        assert_eq!(rows.len(), 5);
        let text_of = |k: usize| rows[k].clone().unwrap_err().to_string();
        assert!(text_of(0).starts_with("list.csv:2: `hours`: found 210,5"), "{}", text_of(0));
        assert!(text_of(1).starts_with("list.csv:3: date: found 10.4.2025"), "{}", text_of(1));
        assert!(text_of(3).starts_with("list.csv:5: `path` is empty"));
        let c = rows[2].clone().unwrap();
        assert_eq!((c.path.as_str(), c.machine, c.facts), ("c.csv", None, VisitFacts::default()));
        let d = rows[4].clone().unwrap();
        assert_eq!(
            (d.path.as_str(), d.facts.hours, d.facts.note.as_deref()),
            ("d;e.csv", Some(12.5), Some("two; words"))
        );
    }

    #[test]
    fn a_header_that_is_not_understood_is_an_error_of_the_list() {
        for (text, part) in [
            ("path,mashine\n", "mashine"),
            ("machine,date\n", "no column `path`"),
            ("path,path\n", "twice"),
            ("", "path"),
        ] {
            assert!(parse_list("l", text).unwrap_err().to_string().contains(part), "{text}");
        }
    }
}
