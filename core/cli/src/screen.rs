//! Where words go: standard output and standard error, with colour on a terminal alone.
//!
//! It is the only file of the program that writes to them.

use std::io::{self, IsTerminal, Write};

use anstream::{AutoStream, ColorChoice};
use serde::Serialize;
use serde_json::json;

use crate::failure::Failure;

/// The two streams and what they can show.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Screen {
    out: ColorChoice,
    err: ColorChoice,
    /// Standard output is a terminal.
    is_terminal: bool,
    /// Standard error is a terminal.
    err_is_terminal: bool,
}

impl Screen {
    /// Looks at the streams and at `NO_COLOR`.
    pub(crate) fn new() -> Self {
        let (out, err) = (io::stdout(), io::stderr());
        let choice = |is_terminal: bool, auto: ColorChoice| {
            if is_terminal { auto } else { ColorChoice::Never }
        };
        Self {
            out: choice(out.is_terminal(), AutoStream::choice(&out)),
            err: choice(err.is_terminal(), AutoStream::choice(&err)),
            is_terminal: out.is_terminal(),
            err_is_terminal: err.is_terminal(),
        }
    }

    /// Tells whether standard output shows colour.
    pub(crate) fn has_colour(&self) -> bool {
        self.out != ColorChoice::Never
    }

    /// Tells whether a progress bar would be seen.
    pub(crate) fn shows_progress(&self) -> bool {
        self.err_is_terminal
    }

    /// Writes to standard output; a reader that went away is not an error.
    pub(crate) fn print(&self, text: &str) -> Result<(), Failure> {
        wrote(AutoStream::new(io::stdout().lock(), self.out), text)
    }

    /// Writes a page for another program, as it is or as the `text` of an answer.
    pub(crate) fn print_page(&self, is_json: bool, bytes: &[u8]) -> Result<(), Failure> {
        if is_json {
            return self.print_json(&json!({ "text": String::from_utf8_lossy(bytes) }));
        }
        self.print_raw(bytes)
    }

    fn print_raw(&self, bytes: &[u8]) -> Result<(), Failure> {
        let mut out = io::stdout().lock();
        forgiven(out.write_all(bytes).and_then(|()| out.flush()))
    }

    /// Writes a value as JSON: one line in a pipe, spread out on a terminal.
    pub(crate) fn print_json(&self, value: &impl Serialize) -> Result<(), Failure> {
        let text = if self.is_terminal {
            serde_json::to_string_pretty(value)
        } else {
            serde_json::to_string(value)
        };
        let text = text.map_err(|error| {
            Failure::new(format!("the answer could not be written as JSON: {error}"))
        })?;
        self.print_raw(format!("{text}\n").as_bytes())
    }

    /// Writes to standard error; when that fails there is nobody left to tell.
    pub(crate) fn note(&self, text: &str) {
        let _ = wrote(AutoStream::new(io::stderr().lock(), self.err), text);
    }
}

fn wrote(mut stream: impl Write, text: &str) -> Result<(), Failure> {
    forgiven(stream.write_all(text.as_bytes()).and_then(|()| stream.flush()))
}

/// Takes a reader that went away, as `head` does, for one that has seen enough.
fn forgiven(result: io::Result<()>) -> Result<(), Failure> {
    match result {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::new(format!("the answer could not be written: {error}")))
        }
        _ => Ok(()),
    }
}
