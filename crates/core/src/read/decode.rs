//! Bytes into text: compression by content, then the encoding.

use std::borrow::Cow;
use std::io::Read;

use super::error::Trouble;

/// Most bytes that a compressed file may grow to.
pub(crate) const MOST_UNPACKED: u64 = 1 << 30;

/// Undoes gzip (all members) and zstd (all frames) where the content starts with their mark; remarks go to `layout`.
///
/// # Errors
/// A cut or damaged archive, or one that grows over [`MOST_UNPACKED`].
pub(crate) fn unpack<'a>(bytes: &'a [u8], layout: &mut Vec<String>) -> Result<Cow<'a, [u8]>, Trouble> {
    let mut current = Cow::Borrowed(bytes);
    for _ in 0..3 {
        let unpacked = if current.starts_with(&[0x1f, 0x8b]) {
            layout.push("compressed with gzip".to_owned());
            drain(flate2::read::MultiGzDecoder::new(current.as_ref()), "gzip")?
        } else if current.starts_with(&[0x28, 0xb5, 0x2f, 0xfd]) {
            layout.push("compressed with zstd".to_owned());
            zstd_frames(&current)?
        } else {
            return Ok(current);
        };
        current = Cow::Owned(unpacked);
    }
    Err(Trouble::new(
        "an archive inside an archive inside an archive",
        "a log, packed at most twice",
        "unpack it first",
    ))
}

fn zstd_frames(bytes: &[u8]) -> Result<Vec<u8>, Trouble> {
    let mut all = Vec::new();
    let mut rest = bytes;
    while rest.starts_with(&[0x28, 0xb5, 0x2f, 0xfd]) {
        let mut decoder = ruzstd::decoding::StreamingDecoder::new(&mut rest)
            .map_err(|error| damaged("zstd", &error.to_string()))?;
        let left = MOST_UNPACKED - all.len() as u64;
        let got = drain_up_to(&mut decoder, "zstd", left)?;
        all.extend_from_slice(&got);
    }
    Ok(all)
}

fn drain(reader: impl Read, what: &str) -> Result<Vec<u8>, Trouble> {
    drain_up_to(reader, what, MOST_UNPACKED)
}

fn drain_up_to(reader: impl Read, what: &str, most: u64) -> Result<Vec<u8>, Trouble> {
    let mut out = Vec::new();
    reader.take(most + 1).read_to_end(&mut out).map_err(|error| damaged(what, &error.to_string()))?;
    if out.len() as u64 > most {
        return Err(Trouble::new(
            format!("a {what} archive that grows over 1 GiB"),
            "a log of at most 1 GiB",
            "unpack it and cut out the part to be judged",
        ));
    }
    Ok(out)
}

fn damaged(what: &str, reason: &str) -> Trouble {
    Trouble::new(
        format!("a damaged or cut {what} archive ({reason})"),
        "a whole archive",
        "copy it again from the logger",
    )
}

/// The text of a file, by byte order mark, by the pattern of zero bytes (UTF-16), else UTF-8, else Windows-1252.
///
/// # Errors
/// Content that is no text.
pub(crate) fn text<'a>(bytes: Cow<'a, [u8]>, layout: &mut Vec<String>) -> Result<Cow<'a, str>, Trouble> {
    if let Some(rest) = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]) {
        layout.push("UTF-8 with byte order mark".to_owned());
        return Ok(Cow::Owned(lossy(rest)));
    }
    if let Some(wide) = sixteen(&bytes) {
        let (text, _, _) = wide.decode(&bytes);
        layout.push(format!("encoded as {}", wide.name()));
        return Ok(Cow::Owned(text.into_owned()));
    }
    if let Some(found) = not_text(&bytes) {
        return Err(Trouble::new(
            found,
            "a log as text, Parquet or Arrow",
            "export the recording as CSV from the logger",
        ));
    }
    match bytes {
        Cow::Borrowed(raw) => match std::str::from_utf8(raw) {
            Ok(text) => Ok(Cow::Borrowed(text)),
            Err(_) => Ok(Cow::Owned(eight_bit(raw, layout))),
        },
        Cow::Owned(raw) => match String::from_utf8(raw) {
            Ok(text) => Ok(Cow::Owned(text)),
            Err(error) => Ok(Cow::Owned(eight_bit(error.as_bytes(), layout))),
        },
    }
}

/// Mostly valid UTF-8 with a few damaged bytes stays UTF-8 (the damage shows as U+FFFD); else it is Windows-1252.
fn eight_bit(raw: &[u8], layout: &mut Vec<String>) -> String {
    let lossy = String::from_utf8_lossy(raw);
    let broken = lossy.matches('\u{fffd}').count();
    let whole = lossy.chars().filter(|c| !c.is_ascii() && *c != '\u{fffd}').count();
    if whole > broken {
        layout.push("UTF-8 with damaged characters".to_owned());
        return lossy.into_owned();
    }
    layout.push("encoded as Windows-1252".to_owned());
    encoding_rs::WINDOWS_1252.decode_without_bom_handling(raw).0.into_owned()
}

fn lossy(raw: &[u8]) -> String {
    String::from_utf8_lossy(raw).into_owned()
}

/// UTF-16 by its mark, or by zero bytes on one side of nearly every pair.
fn sixteen(bytes: &[u8]) -> Option<&'static encoding_rs::Encoding> {
    match bytes {
        [0xff, 0xfe, ..] => return Some(encoding_rs::UTF_16LE),
        [0xfe, 0xff, ..] => return Some(encoding_rs::UTF_16BE),
        _ => {}
    }
    let head = &bytes[..bytes.len().min(4096) & !1];
    if head.len() < 8 {
        return None;
    }
    let pairs = head.len() / 2;
    let zeros = |side: usize| head.iter().skip(side).step_by(2).filter(|b| **b == 0).count();
    let (first, second) = (zeros(0), zeros(1));
    if second * 10 >= pairs * 9 && first * 10 < pairs {
        Some(encoding_rs::UTF_16LE)
    } else if first * 10 >= pairs * 9 && second * 10 < pairs {
        Some(encoding_rs::UTF_16BE)
    } else {
        None
    }
}

/// Known marks of files that are no logs.
const MARKS: &[(&[u8], &str)] = &[
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive or a spreadsheet file"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet file"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"\xfd7zXZ", "an xz archive"),
    (b"BZh", "a bzip2 archive"),
    (b"SQLite format 3", "an SQLite database"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
    (b"RIFF", "a sound or video file"),
    (b"MDF     ", "an ASAM MDF measurement file"),
];

/// Says what a content is that is no text; `None` for text.
fn not_text(bytes: &[u8]) -> Option<String> {
    if bytes.is_empty() {
        return Some("an empty file".to_owned());
    }
    if bytes.iter().all(|b| b.is_ascii_whitespace()) {
        return Some("only blanks".to_owned());
    }
    let head = &bytes[..bytes.len().min(65_536)];
    let control =
        head.iter().filter(|b| **b < 32 && !matches!(**b, b'\t' | b'\n' | b'\r' | 0x0c | 0x1a)).count();
    for (mark, name) in MARKS {
        if bytes.starts_with(mark) && (control > 0 || mark.len() > 3) {
            return Some((*name).to_owned());
        }
    }
    (control * 100 > head.len()).then(|| "binary data".to_owned())
}
