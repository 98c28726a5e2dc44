//! A mistake in how a record is written.

/// Bytes of the file, from the start of the file (a byte-order mark counts).
pub type Span = std::ops::Range<usize>;

/// A place as an editor shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Position {
    /// The line, from 1.
    pub line: u32,
    /// The column in characters, from 1.
    pub column: u32,
}

/// A mistake in how a record is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The bytes that it is about.
    pub span: Span,
    /// Where the span starts.
    pub start: Position,
    /// Where the span ends.
    pub end: Position,
    /// A lower-case fragment that quotes what was written and says what to write instead.
    pub message: String,
}
