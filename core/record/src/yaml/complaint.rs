//! Text that is not YAML: why not, and how to write it.

use super::lines::colon;
use super::{Node, Style};
use crate::Span;
use crate::source::{Problems, quoted, shortened};

/// Takes one line's text, with the problem that it has.
pub(super) fn complained<'s>(source: &'s str, span: Span, problems: &mut Problems) -> Node<'s> {
    let (text, message) = complaint(&source[span.clone()]);
    if let Some(message) = message {
        problems.report(span.clone(), message);
    }
    let start = span.start + source[span].find(text).unwrap_or(0);
    let span = start..start + text.len();
    if text.contains('\n') {
        let words: Vec<&str> = text.split_whitespace().collect();
        return Node::scalar(words.join(" "), Style::Recovered, span);
    }
    Node::scalar(text, Style::Recovered, span)
}

/// Gives what text means, and why it is not YAML.
pub(super) fn complaint(written: &str) -> (&str, Option<String>) {
    const INDICATORS: &str = "&*!%@`|>{}[],?-#";
    let first = written.chars().next().unwrap_or(' ');
    if matches!(first, '"' | '\'') {
        let (text, message) = quotes(written, first);
        return (text, Some(message));
    }
    let wrong = if colon(written).is_some() {
        "has a second colon".to_owned()
    } else if INDICATORS.contains(first) {
        format!("begins with `{first}`")
    } else if written.contains(" #") {
        "ends before ` #`, which begins a comment".to_owned()
    } else {
        return (written, None);
    };
    (
        written,
        Some(format!(
            "{} {wrong}: put the text in quotes, {}",
            quoted(written),
            in_quotes(written)
        )),
    )
}

/// Quotes that do not enclose the whole text.
fn quotes(written: &str, quote: char) -> (&str, String) {
    let inner = &written[1..];
    match inner.strip_suffix(quote) {
        Some(inner) if !inner.is_empty() => (
            inner,
            format!(
                "{} has quotes inside its quotes: write {} without the outer ones",
                quoted(written),
                quoted(inner)
            ),
        ),
        _ if inner.contains(quote) => (
            written,
            format!(
                "{} has text after its quotes: put all of it in quotes, {}",
                quoted(written),
                in_quotes(written)
            ),
        ),
        _ => (
            inner,
            format!("{} has a quote that is not closed: write {}", quoted(written), quoted(inner)),
        ),
    }
}

/// The text as YAML reads it back.
pub(crate) fn in_quotes(text: &str) -> String {
    let text = shortened(text);
    if text.contains('"') {
        format!("`'{}'`", text.replace('\'', "''"))
    } else {
        format!("`\"{text}\"`")
    }
}
