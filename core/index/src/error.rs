//! What can go wrong with an index or a query, and how a query's error is shown.

use std::ops::Range;

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
    /// Something outside went wrong, such as a full disk.
    Failed {
        /// What was being done.
        doing: &'static str,
        /// What went wrong.
        source: Box<dyn std::error::Error + Send + Sync>,
    },
}

impl IndexError {
    /// Wraps what went wrong outside.
    pub(crate) fn failed(doing: &'static str) -> impl FnOnce(tantivy::TantivyError) -> Self {
        move |error| IndexError::Failed { doing, source: Box::new(error) }
    }
}

impl std::fmt::Display for IndexError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            IndexError::Unusable { why } => write!(f, "the index can't be used: {why}"),
            IndexError::Failed { doing, .. } => write!(f, "{doing} failed"),
        }
    }
}

impl std::error::Error for IndexError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            IndexError::Unusable { .. } => None,
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

        let before: Vec<char> = query[..start].chars().rev().map(printable).collect();
        let shown_before = fitting(&before, SHOWN / 2);
        let mut line: String = before[..shown_before].iter().rev().collect();
        if shown_before < before.len() {
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
