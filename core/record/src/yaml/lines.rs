//! Lines of a block, and what one line looks like when YAML has given up on it.

use std::ops::Range;

use crate::Span;

/// A line without its indentation and line end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Line {
    /// Where its first word stands.
    pub(super) start: usize,
    /// Where its last word ends.
    pub(super) end: usize,
    /// The columns before the first word.
    pub(super) indent: usize,
    /// Where the line after it starts.
    pub(super) next: usize,
    /// What stands in the indentation and is no plain space.
    pub(super) odd: Option<char>,
}

/// The mark that begins an item of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Mark {
    /// Its bytes.
    pub(super) len: usize,
    /// It is a dash and a space, as YAML wants it.
    pub(super) good: bool,
}

impl Line {
    pub(super) fn text(self, source: &str) -> &str {
        &source[self.start..self.end]
    }

    pub(super) fn is_blank(self, source: &str) -> bool {
        self.start == self.end || self.text(source).starts_with('#')
    }

    /// The mark of an item; a dash without its space and what an editor makes of a dash count when a key follows.
    pub(super) fn mark(self, source: &str) -> Option<Mark> {
        let text = self.text(source);
        let first = text.chars().next()?;
        let len = first.len_utf8();
        let rest = &text[len..];
        if first == '-' && (rest.is_empty() || rest.starts_with([' ', '\t'])) {
            return Some(Mark { len, good: true });
        }
        let spaced = matches!(first, '–' | '—' | '−' | '•' | '*' | '+')
            && rest.starts_with(char::is_whitespace);
        let tight =
            first == '-' && rest.starts_with(|c: char| c.is_ascii_alphabetic() || c == '\u{a0}');
        ((spaced || tight) && key(rest.trim_start()).is_some()).then_some(Mark { len, good: false })
    }

    pub(super) fn is_item(self, source: &str) -> bool {
        self.mark(source).is_some()
    }

    /// The same line from a later word on, as if all before it were indentation.
    pub(super) fn from(self, source: &str, start: usize) -> Self {
        let gap = source[start..self.end].len() - source[start..self.end].trim_start().len();
        let start = (start + gap).min(self.end);
        Self { start, indent: self.indent + source[self.start..start].chars().count(), ..self }
    }
}

/// The lines of a stretch of the file.
pub(super) fn lines(source: &str, part: Span) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut at = part.start;
    while at < part.end {
        let next = source[at..part.end].find('\n').map_or(part.end, |end| at + end + 1);
        let line = &source[at..next];
        let gap = &line[..line.len() - line.trim_start_matches(is_indentation).len()];
        let start = at + gap.len();
        let end = start.max(at + line.trim_end().len());
        let odd = gap.chars().find(|c| *c != ' ');
        lines.push(Line { start, end, indent: gap.chars().count(), next, odd });
        at = next;
    }
    lines
}

/// Spaces, and what looks like them.
fn is_indentation(c: char) -> bool {
    c.is_whitespace() && !matches!(c, '\n' | '\r')
}

/// A line's key and where the rest of it starts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Keyed {
    pub(super) key: Range<usize>,
    pub(super) rest: usize,
    /// The key without quotes around it.
    pub(super) quoted: bool,
}

/// Splits `key: rest`, giving places inside the text.
pub(super) fn key(text: &str) -> Option<Keyed> {
    if let Some(quote) = text.chars().next().filter(|c| matches!(c, '"' | '\'')) {
        let end = 1 + text[1..].find(quote)?;
        let colon = end + 1;
        let rest = &text[colon..];
        return (rest == ":" || rest.starts_with(": ")).then_some(Keyed {
            key: 1..end,
            rest: colon + 1,
            quoted: true,
        });
    }
    let colon = colon(text)?;
    let key = text[..colon].trim_end();
    let fits = !key.is_empty() && key.len() <= 64 && !key.contains(['{', '}', '[', ']', '#', ',']);
    (fits && !key.starts_with(['-', '&', '*', '!', '|', '>', '%', '@', '`', '?']))
        .then_some(Keyed { key: 0..key.len(), rest: colon + 1, quoted: false })
}

/// The first colon that ends a key: a space or the line's end follows it.
pub(super) fn colon(text: &str) -> Option<usize> {
    text.match_indices(':').map(|(at, _)| at).find(|at| ends_a_key(&text[at + 1..]))
}

/// Tells whether a colon ends a key, by what follows it.
pub(super) fn ends_a_key(after: &str) -> bool {
    after.is_empty() || after.starts_with([' ', '\t', '\r', '\n'])
}

/// Splits `key:value` or `key = value`, giving places inside the text.
pub(super) fn key_without_space(text: &str) -> Option<(Range<usize>, Range<usize>)> {
    let end = text
        .find(|c: char| !(c.is_ascii_alphanumeric() || c == '_' || c == '-'))
        .unwrap_or(text.len());
    if !text.starts_with(|c: char| c.is_ascii_alphabetic()) {
        return None;
    }
    let rest = &text[end..];
    let sign = match rest.strip_prefix(':') {
        // An address such as `http://…` is no key.
        Some(value) if !value.starts_with('/') => end,
        Some(_) => return None,
        None => {
            end + (rest
                .trim_start()
                .starts_with('=')
                .then(|| rest.len() - rest.trim_start().len())?)
        }
    };
    let value = &text[sign + 1..];
    let start = sign + 1 + (value.len() - value.trim_start().len());
    let stop = text.trim_end().len();
    (start < stop).then_some((0..end, start..stop))
}

/// Where a comment starts in the rest of a line, or the line's end.
pub(super) fn without_comment(text: &str) -> &str {
    let bytes = text.as_bytes();
    let comment = (0..bytes.len())
        .find(|at| bytes[*at] == b'#' && (*at == 0 || matches!(bytes[at - 1], b' ' | b'\t')));
    text[..comment.unwrap_or(text.len())].trim_end()
}
