//! A stream of bytes as blocks of whole lines of text.

use std::io::Read;

use super::decode;
use super::error::Trouble;
use super::sniff::LONGEST_LINE;

/// Bytes read at a time.
pub(crate) const BLOCK: usize = 4 << 20;

/// Whole lines of a text, with the number of the first.
#[derive(Debug)]
pub(crate) struct Block {
    pub(crate) text: String,
    pub(crate) first_line: u64,
}

/// What comes next in a stream.
#[derive(Debug)]
pub(crate) enum Next {
    Lines(Block),
    /// A line too long to be kept: its number and its bytes.
    LongLine(u64, u64),
    End,
}

/// Cuts a stream into blocks.
pub(crate) struct Blocks<'a> {
    source: Box<dyn Read + Send + 'a>,
    /// Bytes not handed out yet.
    buffer: Vec<u8>,
    /// A buffer that came back.
    spare: Vec<u8>,
    line: u64,
    /// Line end: LF, or CR in texts without LF.
    end: u8,
    /// Bytes that are no UTF-8 are Windows-1252.
    eight_bit: bool,
    finished: bool,
    pub(crate) eight_bit_seen: bool,
}

impl std::fmt::Debug for Blocks<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Blocks").field("line", &self.line).finish_non_exhaustive()
    }
}

impl<'a> Blocks<'a> {
    /// Starts at the first line; `head` is the beginning of the text, for its line ends and encoding.
    pub(crate) fn new(source: impl Read + Send + 'a, head: &[u8]) -> Self {
        let end = if head.contains(&b'\n') || !head.contains(&b'\r') { b'\n' } else { b'\r' };
        Self {
            source: Box::new(source),
            buffer: Vec::new(),
            spare: Vec::new(),
            line: 1,
            end,
            eight_bit: decode::is_eight_bit(head),
            finished: false,
            eight_bit_seen: false,
        }
    }

    /// The next whole lines.
    ///
    /// # Errors
    /// The stream cannot be read.
    pub(crate) fn next(&mut self) -> Result<Next, Trouble> {
        let mut searched = 0;
        loop {
            if let Some(at) = self.buffer[searched..].iter().rposition(|b| *b == self.end) {
                if self.buffer.len() >= BLOCK || self.finished {
                    return Ok(self.hand_out(searched + at + 1));
                }
            } else if self.buffer.len() > BLOCK + LONGEST_LINE {
                return self.skip_line();
            }
            if self.finished {
                let rest = self.buffer.len();
                return Ok(if rest == 0 { Next::End } else { self.hand_out(rest) });
            }
            if self.buffer.len() >= BLOCK {
                searched = self.buffer.len();
            }
            self.fill()?;
        }
    }

    fn fill(&mut self) -> Result<(), Trouble> {
        let want = BLOCK.saturating_sub(self.buffer.len()).max(1 << 16);
        let start = self.buffer.len();
        let got = Read::by_ref(&mut self.source)
            .take(want as u64)
            .read_to_end(&mut self.buffer)
            .map_err(|error| decode::unreadable(&error))?;
        debug_assert_eq!(self.buffer.len(), start + got);
        self.finished = got < want;
        Ok(())
    }

    fn hand_out(&mut self, length: usize) -> Next {
        let mut next = std::mem::take(&mut self.spare);
        next.clear();
        next.extend_from_slice(&self.buffer[length..]);
        let mut bytes = std::mem::replace(&mut self.buffer, next);
        bytes.truncate(length);
        let first_line = self.line;
        self.line += memchr::memchr_iter(self.end, &bytes).count() as u64;
        let text = String::from_utf8(bytes).unwrap_or_else(|error| {
            self.eight_bit_seen = true;
            decode::block(error.as_bytes(), self.eight_bit).into_owned()
        });
        Next::Lines(Block { text, first_line })
    }

    /// Takes the memory of a block back, for one to come.
    pub(crate) fn take_back(&mut self, block: Block) {
        self.spare = block.text.into_bytes();
    }

    /// Reads on to the end of a line without keeping it.
    fn skip_line(&mut self) -> Result<Next, Trouble> {
        let mut bytes = self.buffer.len() as u64;
        loop {
            self.buffer.clear();
            self.fill()?;
            if let Some(at) = self.buffer.iter().position(|b| *b == self.end) {
                self.buffer.drain(..=at);
                bytes += at as u64;
                break;
            }
            bytes += self.buffer.len() as u64;
            if self.finished {
                self.buffer.clear();
                break;
            }
        }
        self.line += 1;
        Ok(Next::LongLine(self.line - 1, bytes))
    }
}
