//! Splits a file into front matter and body, by hand.
//!
//! YAML is not read here, only the lines around it.

use crate::Span;
use crate::source::{Problems, floor_boundary, quoted};

/// The longest front matter that is read.
pub(crate) const MOST_FRONT_BYTES: usize = 64 * 1024;

/// Where the two parts of a file stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Split {
    /// The lines between the `---` lines, with their line ends.
    pub(crate) front: Option<Span>,
    /// What follows.
    pub(crate) body: Span,
}

/// Gives what stands below the front matter of a markdown file, as it is written.
///
/// ```
/// assert_eq!(taperbook_record::body_of("---\nkind: build\n---\n# Ilse\n"), "# Ilse\n");
/// assert_eq!(taperbook_record::body_of("no front matter"), "no front matter");
/// ```
pub fn body_of(source: &str) -> &str {
    &source[split(source, &mut Problems::default()).body]
}

/// Splits a markdown file.
pub(crate) fn split(source: &str, problems: &mut Problems) -> Split {
    let start = if source.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    let whole = Split { front: None, body: start..source.len() };
    let Some(opening) = opening(source, start, problems) else { return whole };
    let mut at = opening;
    while at < source.len() {
        let line = line(source, at);
        if is_rule(&source[line.clone()]) {
            return Split {
                front: Some(capped(source, opening..at, problems)),
                body: line.end..source.len(),
            };
        }
        at = line.end;
    }
    let end = plausible_end(source, opening);
    if end == opening {
        // A file may well begin with a thematic break: without a single `key:` below it, that is what it is.
        return whole;
    }
    let first = line(source, start);
    if opening == first.start {
        // That both lines are missing is already reported.
        return Split {
            front: Some(capped(source, opening..end, problems)),
            body: end..source.len(),
        };
    }
    problems.report(
        first.start..floor_boundary(source, first.start + source[first].trim_end().len()),
        "the front matter is not closed: write a line `---` after its last line",
    );
    Split { front: Some(capped(source, opening..end, problems)), body: end..source.len() }
}

/// Takes the whole file for YAML, as `shop.yaml` is; a `---` line around it does no harm.
pub(crate) fn bare(source: &str, problems: &mut Problems) -> Span {
    let mut start = if source.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    let first = line(source, start);
    if is_rule(&source[first.clone()]) {
        start = first.end;
    }
    let mut end = source.trim_end().len().max(start);
    let last_start = source[start..end].rfind('\n').map_or(start, |at| start + at + 1);
    if is_rule(&source[last_start..end]) {
        end = last_start;
    } else {
        end = source.len();
    }
    capped(source, start..end, problems)
}

/// Gives where the first line of the front matter starts, if there is front matter.
fn opening(source: &str, start: usize, problems: &mut Problems) -> Option<usize> {
    let text = &source[start..];
    let blank = text.len() - text.trim_start().len();
    // Indentation before the first words is no blank line.
    let first_start = start + text[..blank].rfind('\n').map_or(0, |at| at + 1);
    let first = line(source, first_start);
    let written = source[first.clone()].trim();
    let next = next_line(source, first.end);
    if is_rule(&source[first.clone()]) {
        if first_start != start {
            if !looks_like_entry(next) {
                return None;
            }
            problems.report(start..first_start, "the front matter must begin on the first line: take out the empty lines above `---`");
        }
        return Some(first.end);
    }
    let dashes = |c: char| matches!(c, '-' | '–' | '—' | '―' | '−');
    if !written.is_empty() && written.chars().all(dashes) && looks_like_entry(next) && is_kind(next)
    {
        let span = first.start..first.start + source[first.clone()].trim_end().len();
        problems.report(
            span,
            format!(
                "{} does not open the front matter: write three hyphens, `---`",
                quoted(written)
            ),
        );
        return Some(first.end);
    }
    if is_kind(written) {
        let span = first.start..first.start + source[first.clone()].trim_end().len();
        problems.report(
            span,
            "the front matter has no line above it: write a line `---` above and one below",
        );
        return Some(first.start);
    }
    None
}

/// Tells whether a line is `---`.
fn is_rule(line: &str) -> bool {
    line.trim_end() == "---"
}

fn is_kind(line: &str) -> bool {
    line.strip_prefix("kind:").is_some_and(|rest| rest.starts_with(' '))
}

/// The line at `at` with its line end.
fn line(source: &str, at: usize) -> Span {
    at..source[at..].find('\n').map_or(source.len(), |end| at + end + 1)
}

/// The next line that is not empty.
fn next_line(source: &str, mut at: usize) -> &str {
    while at < source.len() {
        let next = line(source, at);
        if !source[next.clone()].trim().is_empty() {
            return &source[next];
        }
        at = next.end;
    }
    ""
}

/// Tells whether a line reads `key: …` from its first column.
fn looks_like_entry(line: &str) -> bool {
    let key = line
        .find(|c: char| !(c.is_alphanumeric() || matches!(c, '_' | '-' | ' ')))
        .unwrap_or(line.len());
    0 < key && !line.starts_with([' ', '-']) && key <= 40 && line[key..].starts_with(':')
}

/// How far unclosed front matter may go: as long as the lines look like it.
fn plausible_end(source: &str, opening: usize) -> usize {
    let mut at = opening;
    let mut end = opening;
    while at < source.len() {
        let next = line(source, at);
        let text = source[next.clone()].trim_end();
        at = next.end;
        let goes_on = end != opening && text.starts_with([' ', '\t', '-', '}', ']']);
        if goes_on || looks_like_entry(text) {
            end = at;
        } else if !text.is_empty() && !text.starts_with('#') {
            break;
        }
    }
    end
}

fn capped(source: &str, front: Span, problems: &mut Problems) -> Span {
    if front.len() <= MOST_FRONT_BYTES {
        return front;
    }
    let limit = floor_boundary(source, front.start + MOST_FRONT_BYTES);
    let end = source[front.start..limit].rfind('\n').map_or(front.start, |at| front.start + at + 1);
    let message = "the front matter is longer than 64 KiB: what follows here is not read; long text belongs below the `---`";
    problems.report(end..limit, message);
    front.start..end
}
