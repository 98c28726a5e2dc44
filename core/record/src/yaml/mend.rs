//! What a builder writes in braces and YAML takes for something else without complaint.
//!
//! `{ tip_od: 2,4 mm }` is two keys to YAML, and so is `{ feel: fine, for now }`;
//! `{tip_od:2.4 mm}` is one key without a value.

use std::borrow::Cow;

use super::lines::key_without_space;
use super::{Entry, Node, Scalar, Style, Value};
use crate::source::{Problems, quoted, shortened};

/// Keys that may stand alone: taken for a flag that lacks its `yes`, never for the rest of a text.
const FLAGS: [&str; 2] = ["dressed", "keep"];

/// Puts the entries of a map in braces right.
pub(super) fn mend<'s>(
    source: &'s str,
    entries: Vec<Entry<'s>>,
    problems: &mut Problems,
) -> Vec<Entry<'s>> {
    if !entries.iter().any(|entry| has_no_colon(source, entry)) {
        return entries;
    }
    let mut mended: Vec<Entry<'s>> = Vec::with_capacity(entries.len());
    let mut split = Vec::new();
    for entry in entries {
        if !has_no_colon(source, &entry) {
            mended.push(entry);
        } else if let Some(apart) = split_at_colon(source, &entry) {
            split.push(mended.len());
            mended.push(apart);
        } else if !rejoin(source, mended.last_mut(), &entry) {
            mended.push(entry);
        }
    }
    // Reported last, when the text after a comma is back where it belongs: `tip_od:2,4 mm`.
    for idx in split {
        let span = mended[idx].span();
        report_missing_space(&source[span.clone()], span, problems);
    }
    mended
}

/// Tells whether a plain key stands without colon and value.
fn has_no_colon(source: &str, entry: &Entry<'_>) -> bool {
    entry.value.is_empty()
        && entry.value.span.is_empty()
        && !entry.key.is_empty()
        && !source[..entry.value.span.start].ends_with(':')
        && !source[entry.key_span.start..].starts_with(['"', '\''])
}

/// Takes `tip_od:2.4 mm` apart.
fn split_at_colon<'s>(source: &'s str, entry: &Entry<'s>) -> Option<Entry<'s>> {
    let written = &source[entry.key_span.clone()];
    let (key, value) = key_without_space(written)?;
    let start = entry.key_span.start;
    let value_span = start + value.start..start + value.end;
    let node = Node::scalar(&source[value_span.clone()], Style::Recovered, value_span);
    Some(Entry::new(
        &source[start + key.start..start + key.end],
        start + key.start..start + key.end,
        node,
    ))
}

/// Says how `tip_od:2.4 mm` is written.
pub(super) fn report_missing_space(written: &str, span: crate::Span, problems: &mut Problems) {
    let Some((key, value)) = key_without_space(written) else { return };
    let rest = &written[key.end..];
    let wrong = if !rest.starts_with(':') {
        "has `=` where a colon belongs"
    } else if rest[1..].starts_with(char::is_whitespace) {
        "has no plain space after the colon"
    } else {
        "has no space after the colon"
    };
    let (key, value) = (shortened(&written[key]), shortened(&written[value]));
    let message = format!("{} {wrong}: write `{key}: {value}`", quoted(written));
    problems.report(span, message);
}

/// Puts the text after a comma back to the value before it.
fn rejoin<'s>(source: &'s str, before: Option<&mut Entry<'s>>, entry: &Entry<'s>) -> bool {
    let Some(Entry { value: Node { span, value: Value::Scalar(scalar) }, .. }) = before else {
        return false;
    };
    let plain = matches!(scalar.style, Style::Plain | Style::Rejoined | Style::Recovered);
    if !plain || FLAGS.contains(&&*entry.key) {
        return false;
    }
    span.end = entry.key_span.end;
    *scalar = Scalar { text: Cow::Borrowed(&source[span.clone()]), style: Style::Rejoined };
    true
}
