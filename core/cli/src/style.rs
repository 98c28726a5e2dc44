//! How words look on a screen: styles, tables of plain columns, wrapping and cleaning.
//!
//! It knows nothing of answers, and prints nothing.

use anstyle::{AnsiColor, Style};
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// A heading, a name, a matched word.
pub(crate) const STRONG: Style = Style::new().bold();
/// What is there to be skipped.
pub(crate) const FAINT: Style = Style::new().dimmed();
/// A flag, an error.
pub(crate) const BAD: Style = AnsiColor::Red.on_default();
/// A caution, a hint.
pub(crate) const CARE: Style = AnsiColor::Yellow.on_default();
/// What is as it should be.
pub(crate) const GOOD: Style = AnsiColor::Green.on_default();
/// No style.
pub(crate) const PLAIN: Style = Style::new();

/// How wide prose is set; a table or a message is never broken.
const PROSE_WIDTH: usize = 80;

/// Puts a text between the escapes of a style.
pub(crate) fn paint(style: Style, text: &str) -> String {
    if text.is_empty() || style.is_plain() {
        return text.to_owned();
    }
    format!("{style}{text}{style:#}")
}

/// Makes one line of a text from a record or a file name that is safe on a terminal.
///
/// A record may hold escapes that would move the cursor or retitle the window.
pub(crate) fn clean(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\t' | '\n' => ' ',
            c if is_unsafe(c) => char::REPLACEMENT_CHARACTER,
            c => c,
        })
        .collect()
}

/// Makes one word of a command that is shown to be typed: what a shell would split or change stands in quotes.
pub(crate) fn typed(word: &str) -> String {
    let word = clean(word);
    let is_plain = |c: char| c.is_alphanumeric() || "-_./".contains(c);
    if !word.is_empty() && word.chars().all(is_plain) {
        return word;
    }
    format!("'{}'", word.replace('\'', r"'\''"))
}

/// Makes a text of several lines safe on a terminal; tabs become four spaces, so that columns stay.
pub(crate) fn clean_lines(text: &str) -> String {
    let mut cleaned = String::with_capacity(text.len());
    for c in text.replace("\r\n", "\n").chars() {
        match c {
            '\n' => cleaned.push('\n'),
            '\t' => cleaned.push_str("    "),
            c if is_unsafe(c) => cleaned.push(char::REPLACEMENT_CHARACTER),
            c => cleaned.push(c),
        }
    }
    cleaned
}

/// Tells whether a terminal would act on a character, or show the ones after it in another order.
fn is_unsafe(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Tells how many columns a text takes.
pub(crate) fn width(text: &str) -> usize {
    UnicodeWidthStr::width(text)
}

/// Cuts a text to a number of columns, with `…` for what is lost.
pub(crate) fn shortened(text: &str, columns: usize) -> String {
    if width(text) <= columns {
        return text.to_owned();
    }
    let mut used = 0;
    let mut kept: String = text
        .chars()
        .take_while(|c| {
            used += c.width().unwrap_or(0);
            used < columns
        })
        .collect();
    kept.truncate(kept.trim_end().len());
    kept + "…"
}

/// Breaks prose into lines, each after an indent, and ends it with a line break.
pub(crate) fn wrapped(text: &str, indent: &str) -> String {
    let mut lines = String::new();
    for paragraph in text.lines() {
        let mut line = indent.to_owned();
        for word in paragraph.split_whitespace() {
            if line.len() > indent.len() && width(&line) + 1 + width(word) > PROSE_WIDTH {
                lines.push_str(&line);
                lines.push('\n');
                line = indent.to_owned();
            }
            if line.len() > indent.len() {
                line.push(' ');
            }
            line.push_str(word);
        }
        lines.push_str(line.trim_end());
        lines.push('\n');
    }
    lines
}

/// One cell of a table.
pub(crate) struct Cell {
    text: String,
    style: Style,
}

impl Cell {
    pub(crate) fn new(text: impl AsRef<str>, style: Style) -> Self {
        Self { text: clean(text.as_ref()), style }
    }
}

impl<T: AsRef<str>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self::new(text, PLAIN)
    }
}

/// Rows of cells that print as columns with spaces between, and lines that stand under a row across all of them.
#[derive(Default)]
pub(crate) struct Table {
    rows: Vec<Row>,
}

enum Row {
    Cells(Vec<Cell>),
    Across(String),
}

impl Table {
    /// Adds a row of plain cells.
    pub(crate) fn row<const N: usize>(&mut self, cells: [&str; N]) {
        self.rows.push(Row::Cells(cells.into_iter().map(Cell::from).collect()));
    }

    /// Adds a row of headings.
    pub(crate) fn heading<const N: usize>(&mut self, cells: [&str; N]) {
        self.rows.push(Row::Cells(cells.into_iter().map(|text| Cell::new(text, FAINT)).collect()));
    }

    /// Adds a row of cells with a style each.
    pub(crate) fn cells<const N: usize>(&mut self, cells: [Cell; N]) {
        self.rows.push(Row::Cells(cells.into()));
    }

    /// Adds a text under the last row, which no column has to make room for.
    pub(crate) fn under(&mut self, text: &str) {
        self.rows.push(Row::Across(clean(text)));
    }

    /// Prints the rows, each after an indent; columns that are empty throughout are left out.
    pub(crate) fn print(&self, indent: &str) -> String {
        let all_cells = || {
            self.rows.iter().filter_map(|row| match row {
                Row::Cells(cells) => Some(cells),
                Row::Across(_) => None,
            })
        };
        let n_columns = all_cells().map(Vec::len).max().unwrap_or(0);
        let column_width = |at: usize| {
            all_cells()
                .filter_map(|row| row.get(at))
                .map(|cell| width(&cell.text))
                .max()
                .unwrap_or(0)
        };
        let widths: Vec<usize> = (0..n_columns).map(column_width).collect();
        let print = |row: &Row| match row {
            Row::Cells(cells) => line(indent, cells, &widths),
            Row::Across(text) => wrapped(text, &format!("{indent}    ")),
        };
        self.rows.iter().map(print).collect()
    }
}

/// Prints the cells of one row under those of the others.
fn line(indent: &str, cells: &[Cell], widths: &[usize]) -> String {
    let mut line = String::from(indent);
    // Spaces are owed and not written, so that no line ends in them.
    let mut owed = 0;
    for (cell, column_width) in cells.iter().zip(widths).filter(|(_, width)| **width > 0) {
        if !cell.text.is_empty() {
            line.extend(std::iter::repeat_n(' ', owed));
            line.push_str(&paint(cell.style, &cell.text));
            owed = 0;
        }
        owed += column_width - width(&cell.text) + 2;
    }
    line.truncate(line.trim_end().len());
    line + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_shown_to_be_typed_is_one_word() {
        assert_eq!(typed("builds/jörg-heron"), "builds/jörg-heron");
        assert_eq!(typed("my blank.md"), "'my blank.md'");
        assert_eq!(typed("Greta's"), r"'Greta'\''s'");
        assert_eq!(typed("a;b"), "'a;b'");
        assert_eq!(typed(""), "''");
    }

    #[test]
    fn a_table_lines_up_wide_characters_and_ends_no_line_in_spaces() {
        let mut table = Table::default();
        table.row(["a", "", "bb"]);
        table.row(["竿竿", "", ""]);
        table.under("across all of them");
        table.row(["Søren", "", "c"]);
        assert_eq!(
            table.print("  "),
            "  a      bb\n  竿竿\n      across all of them\n  Søren  c\n"
        );
    }

    #[test]
    fn escapes_in_a_record_do_not_reach_the_terminal() {
        assert_eq!(clean("a\u{1b}[2Jb\tc\u{9b}d\u{202e}e"), "a\u{fffd}[2Jb c\u{fffd}d\u{fffd}e");
        assert_eq!(clean_lines("a\r\n\tb\rc\u{7}"), "a\n    b\u{fffd}c\u{fffd}");
    }

    #[test]
    fn prose_is_wrapped_at_words_and_a_long_word_stands_alone() {
        let long = "x".repeat(90);
        assert_eq!(wrapped(&format!("one {long} two"), "  "), format!("  one\n  {long}\n  two\n"));
    }

    #[test]
    fn a_shortened_text_has_at_most_the_columns_asked_for() {
        assert_eq!(shortened("short", 5), "short");
        assert_eq!(shortened("any stiffer and", 12), "any stiffer…");
        assert_eq!(shortened("竿竿竿", 4), "竿…");
    }
}
