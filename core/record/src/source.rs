//! The bytes of a file as text, and the list of problems while a file is read.
//!
//! Nothing here knows YAML or markdown.

use std::borrow::Cow;

use crate::{Position, Problem, Span};

/// More problems than this are counted, not listed: nobody reads on, and a hostile file must not fill the memory.
const MOST_PROBLEMS: usize = 100;

/// The problems found so far, in the order of finding.
#[derive(Debug, Default)]
pub(crate) struct Problems {
    list: Vec<(Span, String)>,
    unlisted: usize,
}

impl Problems {
    /// Adds a problem about some bytes of the file.
    pub(crate) fn report(&mut self, span: Span, message: impl Into<String>) {
        if self.list.len() < MOST_PROBLEMS {
            self.list.push((span, message.into()));
        } else {
            self.unlisted += 1;
        }
    }

    /// Counts all that were reported, listed or not.
    pub(crate) fn count(&self) -> usize {
        self.list.len() + self.unlisted
    }

    /// Takes over what another list holds.
    pub(crate) fn append(&mut self, other: Self) {
        self.unlisted += other.unlisted;
        for (span, message) in other.list {
            self.report(span, message);
        }
    }

    /// Sorts them by place and works out lines and columns.
    pub(crate) fn finish(mut self, source: &str) -> Vec<Problem> {
        self.list.sort_by_key(|(span, _)| (span.start, span.end));
        self.list.dedup();
        if 0 < self.unlisted {
            let end = self.list.last().map_or(0, |(span, _)| span.end);
            let message =
                format!("{} more problems are not listed: mend those above first", self.unlisted);
            self.list.push((end..end, message));
        }
        let mut lines = Lines::new(source);
        let mut problems = Vec::with_capacity(self.list.len());
        for (span, message) in self.list {
            let start = floor_boundary(source, span.start);
            let end = floor_boundary(source, span.end).max(start);
            let position = lines.position(start);
            let mut ahead = lines.clone();
            problems.push(Problem {
                span: start..end,
                start: position,
                end: ahead.position(end),
                message,
            });
        }
        problems
    }
}

/// Finds lines and columns for places that are asked in rising order.
#[derive(Debug, Clone)]
struct Lines<'s> {
    source: &'s str,
    line: u32,
    line_start: usize,
}

impl<'s> Lines<'s> {
    fn new(source: &'s str) -> Self {
        Self { source, line: 1, line_start: 0 }
    }

    fn position(&mut self, at: usize) -> Position {
        while let Some(end) =
            self.source.as_bytes()[self.line_start..at].iter().position(|byte| *byte == b'\n')
        {
            self.line = self.line.saturating_add(1);
            self.line_start += end + 1;
        }
        let before = self.source[self.line_start..at].trim_start_matches('\u{feff}');
        let column = u32::try_from(before.chars().count()).unwrap_or(u32::MAX - 1);
        Position { line: self.line, column: column + 1 }
    }
}

/// The nearest place at or before `at` that does not split a character.
pub(crate) fn floor_boundary(source: &str, at: usize) -> usize {
    let mut at = at.min(source.len());
    while !source.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// Makes text of a file's bytes, byte for byte, so that every span stays what it was.
///
/// Bytes that are not UTF-8 become `?`, and control characters a space.
pub(crate) fn text<'b>(bytes: &'b [u8], problems: &mut Problems) -> Cow<'b, str> {
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(error) => {
            let first = error.valid_up_to();
            let message =
                format!("byte 0x{:02X} is not UTF-8: save the file as UTF-8", bytes[first]);
            problems.report(first..first + 1, message);
            Cow::Owned(with_question_marks(bytes))
        }
    };
    let text = match text.bytes().position(is_control) {
        Some(first) => {
            problems.report(first..first + 1, control_message(text.as_bytes()[first]));
            Cow::Owned(without_controls(&text))
        }
        None => text,
    };
    if has_lone_return(text.as_bytes()) { Cow::Owned(with_line_feeds(&text)) } else { text }
}

/// Control characters other than tab and the two that end a line.
fn is_control(byte: u8) -> bool {
    (byte < 0x20 && !matches!(byte, b'\t' | b'\n' | b'\r')) || byte == 0x7f
}

fn control_message(byte: u8) -> String {
    let name =
        if byte == 0 { "a NUL byte".to_owned() } else { format!("control character 0x{byte:02X}") };
    format!(
        "{name} stands in the text: take it out, or fetch the file from a copy if it was damaged"
    )
}

fn without_controls(text: &str) -> String {
    text.chars().map(|c| if u8::try_from(c).is_ok_and(is_control) { ' ' } else { c }).collect()
}

/// Tells whether a carriage return ends a line by itself, as very old editors write it.
fn has_lone_return(bytes: &[u8]) -> bool {
    let mut at = 0;
    while let Some(found) = bytes[at..].iter().position(|byte| *byte == b'\r') {
        at += found + 1;
        if bytes.get(at) != Some(&b'\n') {
            return true;
        }
    }
    false
}

fn with_line_feeds(text: &str) -> String {
    // No control character is left, so one can stand in for what must stay.
    text.replace("\r\n", "\u{1}\n").replace('\r', "\n").replace('\u{1}', "\r")
}

fn with_question_marks(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        text.push_str(chunk.valid());
        text.extend(chunk.invalid().iter().map(|_| '?'));
    }
    text
}

/// Puts what was written between backticks, on one line and not too long.
pub(crate) fn quoted(text: &str) -> String {
    format!("`{}`", shortened(text))
}

/// What was written, on one line and not too long.
pub(crate) fn shortened(text: &str) -> String {
    const MOST: usize = 60;
    let mut short = String::new();
    let mut count = 0;
    for word in text.split_whitespace() {
        if !short.is_empty() {
            short.push(' ');
            count += 1;
        }
        for c in word.chars() {
            if MOST <= count {
                short.push('…');
                return short;
            }
            short.push(c);
            count += 1;
        }
    }
    short
}
