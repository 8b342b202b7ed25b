//! The only place that writes to standard output and standard error.
//!
//! A closed pipe (`evenpull explain | head -1`) is no failure: the rest of the text is dropped. Any other trouble
//! with standard output, a full disk for example, is one.

use std::io::{self, Write};

use evenpull_core::safe_text::one_line;

use crate::outcome::Failure;

/// Standard output and standard error.
#[derive(Debug)]
pub(crate) struct Terminal {
    /// Set when the reader of standard output went away.
    closed: bool,
}

impl Terminal {
    /// The streams of this process.
    pub(crate) fn standard() -> Self {
        Self { closed: false }
    }

    /// Writes text to standard output, with a line end after it where it has none.
    ///
    /// # Errors
    /// [`Failure::Output`] when standard output takes no more, other than by a closed pipe.
    pub(crate) fn say(&mut self, text: &str) -> Result<(), Failure> {
        let end = if text.ends_with('\n') { "" } else { "\n" };
        self.write(text.as_bytes())?;
        self.write(end.as_bytes())
    }

    /// Whether the reader of standard output went away.
    pub(crate) fn closed(&self) -> bool {
        self.closed
    }

    /// Writes bytes to standard output as they are.
    ///
    /// # Errors
    /// As [`Self::say`].
    fn write(&mut self, bytes: &[u8]) -> Result<(), Failure> {
        if self.closed {
            return Ok(());
        }
        let mut out = io::stdout().lock();
        match out.write_all(bytes).and_then(|()| out.flush()) {
            Err(cause) if cause.kind() == io::ErrorKind::BrokenPipe => self.closed = true,
            Err(cause) => return Err(Failure::Output { cause }),
            Ok(()) => {}
        }
        Ok(())
    }

    /// Writes about a failure to standard error. Trouble with standard error is ignored: there is
    /// nobody left to tell.
    pub(crate) fn complain(&mut self, failure: &Failure) {
        self.remark(&failure.to_string());
    }

    /// Writes lines to standard error, with hostile characters made visible.
    pub(crate) fn remark(&mut self, text: &str) {
        let mut err = io::stderr().lock();
        for line in text.lines() {
            let _ = writeln!(err, "{}", one_line(line));
        }
    }
}
