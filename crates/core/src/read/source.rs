//! Bytes of a file, bounded, and their hash.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use sha2::{Digest, Sha256};

use super::error::{ReadError, Trouble, plain};

/// Largest file that is read.
const MOST_BYTES: u64 = 1 << 30;

/// The file's own name, without its folder.
pub(crate) fn file_name(path: &Path) -> String {
    path.file_name()
        .map_or_else(|| path.to_string_lossy().into_owned(), |name| name.to_string_lossy().into_owned())
}

/// All bytes of a regular file.
///
/// # Errors
/// A file that cannot be opened, is none (folder, device, pipe), or is too large.
pub(crate) fn bytes(path: &Path, name: &str) -> Result<Vec<u8>, ReadError> {
    let open = |error: std::io::Error| ReadError::Open { name: plain(name, 200), reason: error.to_string() };
    // Asked before opening: opening a pipe nobody writes to would wait for ever.
    let facts = std::fs::metadata(path).map_err(open)?;
    if !facts.is_file() {
        let found = if facts.is_dir() { "a folder" } else { "a pipe or device" };
        return Err(Trouble::new(
            found,
            "a file",
            "copy the recording into a file, or hand it over on standard input as -",
        )
        .in_file(name));
    }
    if facts.len() > MOST_BYTES {
        return Err(too_large(name));
    }
    let mut all = Vec::with_capacity(usize::try_from(facts.len()).unwrap_or(0));
    File::open(path).map_err(open)?.take(MOST_BYTES + 1).read_to_end(&mut all).map_err(open)?;
    if all.len() as u64 > MOST_BYTES { Err(too_large(name)) } else { Ok(all) }
}

fn too_large(name: &str) -> ReadError {
    Trouble::new("a file over 1 GiB", "a log of at most 1 GiB", "cut out the part to be judged").in_file(name)
}

/// SHA-256 of the bytes, hex.
///
/// # Source
/// FIPS 180-4.
pub(crate) fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_hash_is_that_of_fips_180() {
        // FIPS 180-4 example: the three bytes "abc".
        let want = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(super::sha256(b"abc"), want);
    }
}
