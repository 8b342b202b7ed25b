//! Bytes into text: compression by content, then the encoding.

use std::borrow::Cow;
use std::io::{self, Cursor, Read};

use super::error::Trouble;

/// Most bytes that a compressed file may grow to.
pub(crate) const MOST_UNPACKED: u64 = 1 << 30;

/// Most bytes of a text that has to be held as a whole.
pub(crate) const MOST_HELD: u64 = 256 << 20;

/// Undoes gzip (all members) and zstd (all frames) where the content starts with their mark, twice at most.
///
/// # Errors
/// Unreadable content, or archives inside archives.
pub(crate) fn unpack<'a>(
    source: Box<dyn Read + Send + 'a>,
    layout: &mut Vec<String>,
) -> Result<Box<dyn Read + Send + 'a>, Trouble> {
    let mut source = source;
    for _ in 0..3 {
        let mut mark = Vec::new();
        Read::by_ref(&mut source).take(4).read_to_end(&mut mark).map_err(|error| unreadable(&error))?;
        let gzip = mark.starts_with(&[0x1f, 0x8b]);
        let zstd = mark == [0x28, 0xb5, 0x2f, 0xfd];
        let whole = Cursor::new(mark).chain(source);
        if gzip {
            layout.push("compressed with gzip".to_owned());
            source = Box::new(Packed { inner: flate2::read::MultiGzDecoder::new(whole), what: "gzip" });
        } else if zstd {
            layout.push("compressed with zstd".to_owned());
            source = Box::new(Packed {
                inner: Frames { source: Some(Pushed { byte: None, inner: Box::new(whole) }), decoder: None },
                what: "zstd",
            });
        } else {
            return Ok(Box::new(whole));
        }
    }
    Err(Trouble::new("an archive inside an archive", "a log, packed at most twice", "unpack it first"))
}

/// A decoder whose errors name its kind.
struct Packed<R> {
    inner: R,
    what: &'static str,
}

impl<R: Read> Read for Packed<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.inner.read(buffer).map_err(|error| {
            io::Error::new(io::ErrorKind::InvalidData, format!("{} archive: {error}", self.what))
        })
    }
}

type ZstdDecoder<'a> = ruzstd::decoding::StreamingDecoder<Pushed<'a>, ruzstd::decoding::FrameDecoder>;

/// A stream with one byte put back.
struct Pushed<'a> {
    byte: Option<u8>,
    inner: Box<dyn Read + Send + 'a>,
}

impl Read for Pushed<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match (self.byte, buffer.first_mut()) {
            (Some(byte), Some(slot)) => {
                *slot = byte;
                self.byte = None;
                Ok(1)
            }
            _ => self.inner.read(buffer),
        }
    }
}

/// One zstd frame after the other.
struct Frames<'a> {
    source: Option<Pushed<'a>>,
    decoder: Option<ZstdDecoder<'a>>,
}

impl Read for Frames<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        loop {
            if let Some(decoder) = &mut self.decoder {
                let got = decoder.read(buffer)?;
                if got > 0 || buffer.is_empty() {
                    return Ok(got);
                }
                self.source = self.decoder.take().map(ruzstd::decoding::StreamingDecoder::into_inner);
            }
            let Some(mut source) = self.source.take() else { return Ok(0) };
            let mut first = [0u8; 1];
            if source.read(&mut first)? == 0 {
                return Ok(0);
            }
            source.byte = Some(first[0]);
            let decoder = ruzstd::decoding::StreamingDecoder::new(source)
                .map_err(|error| io::Error::new(io::ErrorKind::InvalidData, error.to_string()))?;
            self.decoder = Some(decoder);
        }
    }
}

/// An error of the stream in words.
pub(crate) fn unreadable(error: &io::Error) -> Trouble {
    if error.kind() == io::ErrorKind::FileTooLarge {
        return Trouble::new(
            "content of over 1 GiB",
            "a log of at most 1 GiB",
            "cut out the part to be judged",
        );
    }
    let reason = super::error::plain(&error.to_string(), 160);
    Trouble::new(
        format!("content that cannot be read to its end ({reason})"),
        "a whole file",
        "copy it again from the logger",
    )
}

/// A stream that ends with an error after [`MOST_UNPACKED`] bytes.
pub(crate) struct Bounded<R> {
    pub(crate) inner: R,
    pub(crate) taken: u64,
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let got = self.inner.read(buffer)?;
        self.taken += got as u64;
        if self.taken > MOST_UNPACKED {
            return Err(io::Error::new(io::ErrorKind::FileTooLarge, "over 1 GiB"));
        }
        Ok(got)
    }
}

/// Whether bytes of a text that are no UTF-8 are to be read as Windows-1252, judged by its beginning.
///
/// A beginning with more whole UTF-8 characters than broken ones is UTF-8 with damage; one in plain ASCII says
/// nothing, and Windows-1252 is then the likelier.
pub(crate) fn is_eight_bit(head: &[u8]) -> bool {
    if head.is_ascii() {
        return true;
    }
    let head = match std::str::from_utf8(head) {
        Ok(_) => return false,
        // A character cut by the end of the beginning is no damage.
        Err(error) if error.error_len().is_none() => return false,
        Err(_) => String::from_utf8_lossy(head),
    };
    let broken = head.matches('\u{fffd}').count();
    head.chars().filter(|c| !c.is_ascii() && *c != '\u{fffd}').count() <= broken
}

/// Lines as text: UTF-8; else Windows-1252 where the whole text is, or with the damage shown as U+FFFD.
pub(crate) fn block(bytes: &[u8], eight_bit: bool) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) if eight_bit => encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes).0,
        Err(_) => Cow::Owned(String::from_utf8_lossy(bytes).into_owned()),
    }
}

/// The text of bytes held as a whole: UTF-16, UTF-8 or Windows-1252.
pub(crate) fn text(bytes: &[u8]) -> Cow<'_, str> {
    match sixteen(bytes) {
        Some(wide) => wide.decode(bytes).0,
        None => block(bytes.strip_prefix(MARK).unwrap_or(bytes), is_eight_bit(bytes)),
    }
}

/// Byte order mark of UTF-8.
pub(crate) const MARK: &[u8] = &[0xef, 0xbb, 0xbf];

/// How a text is encoded, by its beginning, for `inspect`; `None` for plain UTF-8 or ASCII.
pub(crate) fn encoding(head: &[u8]) -> Option<String> {
    if let Some(wide) = sixteen(head) {
        return Some(format!("encoded as {}", wide.name()));
    }
    if head.starts_with(MARK) {
        return Some("UTF-8 with byte order mark".to_owned());
    }
    let broken = std::str::from_utf8(head).is_err_and(|error| error.error_len().is_some());
    match (broken, is_eight_bit(head)) {
        (true, true) => Some("encoded as Windows-1252".to_owned()),
        (true, false) => Some("UTF-8 with damaged characters".to_owned()),
        _ => None,
    }
}

/// Refuses content that is no text, by its beginning.
///
/// # Errors
/// Says what it is.
pub(crate) fn check_text(head: &[u8]) -> Result<(), Trouble> {
    match not_text(head).filter(|_| !is_wide(head)) {
        Some(found) => Err(Trouble::new(
            found,
            "a log as text, Parquet or Arrow",
            "export the recording as CSV from the logger",
        )),
        None => Ok(()),
    }
}

/// Whether a text is UTF-16.
pub(crate) fn is_wide(bytes: &[u8]) -> bool {
    sixteen(bytes).is_some()
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
