//! What can go wrong with an index or a query, and how a query's error is shown.

use std::ops::Range;
use std::path::{Path, PathBuf};

use tantivy::TantivyError;
use unicode_width::UnicodeWidthChar;

use crate::words::char_start;

/// What went wrong with an index.
#[derive(Debug)]
pub enum IndexError {
    /// The index is missing, damaged, or made by another version or for other plugins: make a new one.
    Unusable {
        /// Why, as a lower-case fragment.
        why: String,
    },
    /// The disk that holds it is full.
    NoRoom {
        /// Where the index is.
        dir: PathBuf,
    },
    /// It may not be written to.
    NotWritable {
        /// Where the index is.
        dir: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Something else outside went wrong.
    Failed {
        /// What was being done.
        doing: &'static str,
        /// What went wrong.
        source: Box<dyn std::error::Error + Send + Sync>,
    },
}

/// A disk with less room than this in bytes is as good as full: a commit writes several files.
const LEAST_ROOM: u64 = 256 * 1024;

impl IndexError {
    /// Says what went wrong outside; what the search library says of it is seldom for the builder, and an error in
    /// one of its threads has lost its cause, so the disk itself is asked first.
    pub(crate) fn failed(
        dir: Option<&Path>,
        doing: &'static str,
        error: impl std::error::Error + Send + Sync + 'static,
    ) -> Self {
        if let Some(dir) = dir {
            let room = rustix::fs::statvfs(dir).map(|disk| disk.f_bavail * disk.f_frsize);
            if room.is_ok_and(|room| room < LEAST_ROOM) {
                return Self::NoRoom { dir: dir.to_owned() };
            }
            if let Err(source) = rustix::fs::access(dir, rustix::fs::Access::WRITE_OK) {
                return Self::NotWritable { dir: dir.to_owned(), source: source.into() };
            }
        }
        let known = (&error as &dyn std::any::Any).downcast_ref::<TantivyError>();
        if known.is_some_and(is_damage) {
            let why = "some of its files were damaged or taken away; it is made again".to_owned();
            return Self::Unusable { why };
        }
        Self::Failed { doing, source: Box::new(error) }
    }
}

/// Whether files of the index are not what was written.
fn is_damage(error: &TantivyError) -> bool {
    use TantivyError::{DataCorruption, IncompatibleIndex, OpenReadError};
    matches!(error, DataCorruption(_) | IncompatibleIndex(_) | OpenReadError(_))
}

impl std::fmt::Display for IndexError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            IndexError::Unusable { why } => write!(f, "the index can't be used: {why}"),
            IndexError::NoRoom { dir } => write!(
                f,
                "the disk that holds the index is full: free some space for `{}`",
                dir.display()
            ),
            IndexError::NotWritable { dir, .. } => write!(
                f,
                "`{}` can't be written to: see that it is there and yours, and its disk not read-only",
                dir.display()
            ),
            IndexError::Failed { doing, .. } => write!(f, "{doing} failed"),
        }
    }
}

impl std::error::Error for IndexError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            IndexError::Unusable { .. } | IndexError::NoRoom { .. } => None,
            IndexError::NotWritable { source, .. } => Some(source),
            IndexError::Failed { source, .. } => Some(&**source),
        }
    }
}

/// Why a query was not understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QueryError {
    /// A lower-case fragment that quotes what was written and says what to write instead.
    pub message: String,
    /// The bytes of the query that it is about; they lie in the query and don't cut a character.
    pub at: Range<usize>,
}

/// The most columns of a query that are shown.
const SHOWN: usize = 72;

impl QueryError {
    /// Renders the message, the query below it, and carets under what is wrong.
    ///
    /// The text ends without a line break. Of a long query only the part around the fault is shown.
    #[must_use]
    pub fn render(&self, query: &str) -> String {
        let start = char_start(query, self.at.start.min(query.len()));
        let end = char_start(query, self.at.end.clamp(start, query.len()));

        // Characters without a width would all fit, so there are also no more of them than there are columns.
        let before: Vec<char> = query[..start].chars().rev().map(printable).take(SHOWN).collect();
        let shown_before = fitting(&before, SHOWN / 2);
        let mut line: String = before[..shown_before].iter().rev().collect();
        if line.chars().count() < query[..start].chars().count() {
            line.insert(0, '…');
        }
        let indent = width(&line);

        let room = SHOWN.saturating_sub(indent).max(1);
        let rest: Vec<char> = query[start..].chars().take(SHOWN + 1).map(printable).collect();
        let shown = fitting(&rest, room);
        let wrong = query[start..end].chars().take(shown).count();
        let carets = rest[..wrong].iter().map(|char| columns(*char)).sum::<usize>().max(1);
        line.extend(&rest[..shown]);
        if shown < rest.len() {
            line.push('…');
        }
        format!(
            "{}\n  {}\n  {}{}",
            self.message,
            line.trim_end(),
            " ".repeat(indent),
            "^".repeat(carets)
        )
    }
}

/// Counts how many of the characters fit into a number of columns.
fn fitting(chars: &[char], columns_left: usize) -> usize {
    let mut used = 0;
    chars
        .iter()
        .take_while(|char| {
            used += columns(**char);
            used <= columns_left
        })
        .count()
}

fn width(text: &str) -> usize {
    text.chars().map(columns).sum()
}

fn columns(char: char) -> usize {
    char.width().unwrap_or(0)
}

/// Replaces what would break the line or turn its direction.
pub(crate) fn printable(char: char) -> char {
    match char {
        '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => '\u{fffd}',
        _ if char.is_whitespace() || char.is_control() => ' ',
        _ => char,
    }
}

/// Puts what was written in backticks, on one line, cut short when it is long.
pub(crate) fn quoted(text: &str) -> String {
    const MOST: usize = 48;
    let shown: String = text.chars().take(MOST).map(printable).collect();
    let rest = if text.chars().nth(MOST).is_some() { "…" } else { "" };
    format!("`{shown}{rest}`")
}

impl std::fmt::Display for QueryError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)
    }
}
impl std::error::Error for QueryError {}
