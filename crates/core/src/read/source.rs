//! Where the bytes come from: a file or a stream, hashed while they are read and never more than is allowed.

use std::fs::File;
use std::io::{self, Cursor, Read};
use std::path::Path;
use std::sync::{Arc, Mutex};

use sha2::{Digest, Sha256};

use super::decode::{self, Bounded, MOST_HELD};
use super::error::{ReadError, Trouble, plain};

/// Bytes from the start that a format is known by.
const HEAD: usize = 1 << 20;

/// The file's own name, without its folder.
pub(crate) fn file_name(path: &Path) -> String {
    path.file_name()
        .map_or_else(|| path.to_string_lossy().into_owned(), |name| name.to_string_lossy().into_owned())
}

/// Opens a regular file.
///
/// # Errors
/// A file that cannot be opened, or is none (folder, device, pipe).
pub(crate) fn open(path: &Path, name: &str) -> Result<File, ReadError> {
    let failed = |error: io::Error| ReadError::Open { name: plain(name, 200), reason: error.to_string() };
    // Asked before opening: opening a pipe nobody writes to would wait for ever.
    let facts = std::fs::metadata(path).map_err(failed)?;
    if !facts.is_file() {
        let found = if facts.is_dir() { "a folder" } else { "a pipe or device" };
        let advice = "copy the recording into a file, or hand it over on standard input as -";
        return Err(Trouble::new(found, "a file", advice).in_file(name));
    }
    File::open(path).map_err(failed)
}

type Hash = Arc<Mutex<Sha256>>;

/// Hashes what passes.
struct Tap<R> {
    inner: R,
    hash: Hash,
}

impl<R: Read> Read for Tap<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let got = self.inner.read(buffer)?;
        if let Ok(mut hash) = self.hash.lock() {
            hash.update(&buffer[..got]);
        }
        Ok(got)
    }
}

/// A source with its beginning looked at.
pub(crate) struct Feed<'a> {
    /// The first bytes of the unpacked content; all of it when `whole`.
    pub(crate) head: Vec<u8>,
    pub(crate) whole: bool,
    rest: Box<dyn Read + Send + 'a>,
    hash: Hash,
}

impl<'a> Feed<'a> {
    /// Unpacks and reads the beginning.
    ///
    /// # Errors
    /// Unreadable content.
    pub(crate) fn new(source: impl Read + Send + 'a, layout: &mut Vec<String>) -> Result<Self, Trouble> {
        let hash: Hash = Arc::default();
        let tap = Tap { inner: Bounded { inner: source, taken: 0 }, hash: Arc::clone(&hash) };
        let unpacked = decode::unpack(Box::new(tap), layout)?;
        let mut rest = Box::new(Bounded { inner: unpacked, taken: 0 });
        let mut head = Vec::new();
        Read::by_ref(&mut rest)
            .take(HEAD as u64)
            .read_to_end(&mut head)
            .map_err(|error| decode::unreadable(&error))?;
        Ok(Self { whole: head.len() < HEAD, head, rest, hash })
    }

    /// The whole content from its beginning, to be read once.
    pub(crate) fn stream(&mut self) -> impl Read + Send + '_ {
        Cursor::new(&self.head).chain(&mut self.rest)
    }

    /// The whole content, held.
    ///
    /// # Errors
    /// More than [`MOST_HELD`] bytes.
    pub(crate) fn hold(&mut self) -> Result<Vec<u8>, Trouble> {
        let mut all = std::mem::take(&mut self.head);
        Read::by_ref(&mut self.rest)
            .take(MOST_HELD + 1)
            .read_to_end(&mut all)
            .map_err(|error| decode::unreadable(&error))?;
        if all.len() as u64 > MOST_HELD {
            return Err(Trouble::new(
                "over 256 MiB in a layout that has to be read as a whole",
                "at most 256 MiB, or a plain table in UTF-8 with one row per moment",
                "cut out the part to be judged",
            ));
        }
        Ok(all)
    }

    /// SHA-256 of the bytes as they came, hex; reads what is left of them first.
    ///
    /// # Errors
    /// The rest cannot be read.
    ///
    /// # Source
    /// FIPS 180-4.
    pub(crate) fn digest(mut self) -> Result<String, Trouble> {
        io::copy(&mut self.rest, &mut io::sink()).map_err(|error| decode::unreadable(&error))?;
        let hash = self.hash.lock().map(|hash| hash.clone()).unwrap_or_default();
        Ok(hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_hash_is_that_of_fips_180() {
        // FIPS 180-4 example: the three bytes "abc".
        let feed = Feed::new(&b"abc"[..], &mut Vec::new()).unwrap();
        let want = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(feed.digest().unwrap(), want);
    }
}
