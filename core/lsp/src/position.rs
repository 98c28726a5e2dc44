//! Lines and columns of a text as the protocol counts them: from 0, columns in UTF-16 units.

use lsp_types::{Position, Range};

/// The lines of a text.
pub(crate) struct Lines<'t>(Vec<&'t str>);

impl<'t> Lines<'t> {
    pub(crate) fn of(text: &'t str) -> Self {
        Self(text.split('\n').collect())
    }

    /// Gives the place of a line and column that are counted from 1, the column in characters.
    pub(crate) fn position(&self, line: u32, column: u32) -> Position {
        let line = line.saturating_sub(1);
        let text = self.0.get(line as usize).copied().unwrap_or_default();
        let units: usize =
            text.chars().take(column.saturating_sub(1) as usize).map(char::len_utf16).sum();
        Position { line, character: u32::try_from(units).unwrap_or(u32::MAX) }
    }

    /// Gives the range from a place to the end of its line.
    pub(crate) fn rest_of_line(&self, line: u32, column: u32) -> Range {
        Range { start: self.position(line, column), end: self.position(line, u32::MAX) }
    }
}
