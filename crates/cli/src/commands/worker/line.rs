//! Lines of the list: a path each, or what is wrong with them.

use std::io::{BufRead, Read};

use serde_json::Value;

/// Longest line, bytes; paths end long before (4,096 bytes on Linux). Without a limit a list that is none (one line of
/// a disk image) would fill the memory.
const LONGEST: usize = 1 << 16;

/// One line.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Line {
    /// As it was given; bytes that are no text replaced, a line that is too long cut.
    pub(crate) text: String,
    /// The path in it, or why there is none.
    pub(crate) path: Result<String, String>,
}

/// The next line without its end; `None` at the end of the list.
///
/// # Errors
/// The input's.
pub(crate) fn next(input: &mut Box<dyn BufRead + Send>) -> std::io::Result<Option<Line>> {
    let mut bytes = Vec::new();
    if input.by_ref().take(LONGEST as u64 + 1).read_until(b'\n', &mut bytes)? == 0 {
        return Ok(None);
    }
    if bytes.len() > LONGEST && !bytes.ends_with(b"\n") {
        input.skip_until(b'\n')?;
        let text = String::from_utf8_lossy(&bytes[..LONGEST]).into_owned();
        let why = format!("a line of more than {LONGEST} bytes: expected a path");
        return Ok(Some(Line { text, path: Err(why) }));
    }
    if bytes.ends_with(b"\n") {
        bytes.pop();
        if bytes.ends_with(b"\r") {
            bytes.pop();
        }
    }
    Ok(Some(match String::from_utf8(bytes) {
        Ok(text) => Line { path: path_of(&text), text },
        Err(e) => Line {
            text: String::from_utf8_lossy(e.as_bytes()).into_owned(),
            path: Err("not UTF-8: a record can only name paths that are".to_owned()),
        },
    }))
}

/// A line is a path, or an object with one.
fn path_of(line: &str) -> Result<String, String> {
    if line.is_empty() {
        return Err("an empty line: expected a path".to_owned());
    }
    if !line.starts_with('{') {
        return Ok(line.to_owned());
    }
    let object: Value =
        serde_json::from_str(line).map_err(|e| format!("expected a path or {{\"path\": ...}}: {e}"))?;
    match object.get("path").and_then(Value::as_str) {
        Some(path) if !path.is_empty() => Ok(path.to_owned()),
        _ => Err("expected {\"path\": ...} with a text that is not empty".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(list: &[u8]) -> Vec<Line> {
        let mut input: Box<dyn BufRead + Send> = Box::new(std::io::Cursor::new(list.to_owned()));
        std::iter::from_fn(|| next(&mut input).ok().flatten()).collect()
    }

    #[test]
    fn a_line_is_a_path_or_an_object_with_one() {
        assert_eq!(path_of("a b.csv").as_deref(), Ok("a b.csv"));
        assert_eq!(path_of(r#"{"path": "x\"y.csv", "more": 1}"#).as_deref(), Ok("x\"y.csv"));
        for wrong in ["", "{", r#"{"file": "a"}"#, r#"{"path": 3}"#, r#"{"path": ""}"#] {
            assert!(path_of(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn every_line_counts_whatever_is_in_it() {
        let long = "x".repeat(LONGEST + 1);
        let list = [b"a\r\n\n\xff.csv\n".as_slice(), long.as_bytes(), b"yy\nlast\r"].concat();
        let lines = all(&list);
        assert_eq!(lines.len(), 5);
        assert_eq!(lines[0].path.as_deref(), Ok("a"));
        assert!(lines[1..4].iter().all(|l| l.path.is_err()), "{:?}", &lines[1..3]);
        assert_eq!(lines[3].text.len(), LONGEST);
        // A carriage return that no line end follows belongs to the name.
        assert_eq!(lines[4].path.as_deref(), Ok("last\r"));
        let longest = &long[1..];
        assert_eq!(all(format!("{longest}\nb").as_bytes())[0].path.as_deref(), Ok(longest));
    }
}
