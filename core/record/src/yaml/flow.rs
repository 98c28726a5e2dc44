//! Reads `{ … }` and `[ … ]` that are not YAML: unclosed, or with text that should stand in quotes.

use super::complaint::complained;
use super::lines::{colon, ends_a_key, without_comment};
use super::recover::TOO_DEEP;
use super::{Entry, List, ListItem, MOST_DEPTH, Map, Node, Value, mend};
use crate::Span;
use crate::source::{Problems, floor_boundary, quoted};

/// Reads a collection that starts at the stretch's first byte.
pub(super) fn read<'s>(
    source: &'s str,
    part: Span,
    depth: usize,
    problems: &mut Problems,
) -> Node<'s> {
    let before = problems.count();
    let mut flow = Flow { source, at: part.start, end: part.end, too_deep: false, problems };
    let node = flow.value(None, depth);
    if flow.too_deep {
        return node;
    }
    flow.skip_blank();
    let rest = flow.at..flow.end;
    if !rest.is_empty() {
        let message = format!(
            "{} stands after the closing bracket: take it out, or put it inside",
            quoted(&source[rest.clone()])
        );
        problems.report(rest, message);
    }
    if problems.count() == before {
        let message = format!(
            "{} cannot be read as it stands: put its texts in quotes",
            quoted(&source[part.clone()])
        );
        problems.report(part, message);
    }
    node
}

/// Reads entries that lack the braces around them: `at: 0 in, od: 11 mm`.
pub(super) fn read_without_braces<'s>(
    source: &'s str,
    part: Span,
    depth: usize,
    problems: &mut Problems,
) -> Node<'s> {
    let mut flow = Flow { source, at: part.start, end: part.end, too_deep: false, problems };
    let value = flow.map(depth);
    Node { span: part, value }
}

/// Tells whether text begins with `key: `, the key being one word.
pub(super) fn begins_with_entry(text: &str) -> bool {
    colon(text).is_some_and(|colon| is_word(&text[..colon]))
}

/// Tells whether a quantity is followed by a comma and `key: `, as in `0 in, od: 11 mm`.
pub(super) fn goes_on_with_entry(text: &str) -> bool {
    is_quantity(text) && text.split(',').skip(1).any(|part| begins_with_entry(part.trim_start()))
}

fn is_quantity(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit() || c == '.')
}

fn is_word(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_alphabetic())
        && text.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-'))
}

/// A text with more quotes inside its quotes is not looked through: thousands of such texts would take seconds.
const MOST_QUOTES: usize = 32;

struct Flow<'s, 'p> {
    source: &'s str,
    at: usize,
    end: usize,
    too_deep: bool,
    problems: &'p mut Problems,
}

impl<'s> Flow<'s, '_> {
    fn rest(&self) -> &'s str {
        &self.source[self.at..self.end]
    }

    fn skip_blank(&mut self) {
        loop {
            let rest = self.rest();
            self.at += rest.len() - rest.trim_start().len();
            // `#6` is more likely a size than a comment, and it must not swallow the brackets behind it.
            let rest = self.rest();
            if !rest.starts_with('#') || rest[1..].starts_with(char::is_alphanumeric) {
                return;
            }
            self.at += self.rest().find('\n').unwrap_or(self.rest().len());
        }
    }

    /// Reads a value up to the comma or bracket that ends it.
    fn value(&mut self, closer: Option<char>, depth: usize) -> Node<'s> {
        self.skip_blank();
        let start = self.at;
        let Some(opener) = self.rest().chars().next() else { return Node::empty(start) };
        if !matches!(opener, '{' | '[') {
            let span = self.scalar_span(closer, false);
            return if span.is_empty() {
                Node::empty(start)
            } else {
                complained_once(self.source, span, self.problems)
            };
        }
        if MOST_DEPTH <= depth {
            self.problems.report(start..start + 1, TOO_DEEP);
            self.too_deep = true;
            self.at = self.end;
            return Node::empty(start);
        }
        self.at += 1;
        let value = if opener == '{' { self.map(depth) } else { self.list(depth) };
        let closer = if opener == '{' { '}' } else { ']' };
        if self.rest().starts_with(closer) {
            self.at += 1;
        } else if !self.too_deep {
            let message = format!("this `{opener}` is not closed: write `{closer}` at its end");
            self.problems.report(start..start + 1, message);
        }
        Node { span: start..self.at, value }
    }

    fn list(&mut self, depth: usize) -> Value<'s> {
        let mut items = Vec::new();
        while self.more(']') {
            let node = self.value(Some(']'), depth + 1);
            items.push(ListItem { start: node.span.start, node });
            self.comma(']');
        }
        Value::List(List { flow: true, items })
    }

    fn map(&mut self, depth: usize) -> Value<'s> {
        let mut entries = Vec::new();
        while self.more('}') {
            let start = self.at;
            let key_span = self.scalar_span(Some('}'), true);
            let written = &self.source[key_span.clone()];
            let quote = written.chars().next().filter(|c| matches!(c, '"' | '\''));
            let bare = quote.and_then(|quote| written[1..].strip_suffix(quote));
            let key_span =
                if bare.is_some() { key_span.start + 1..key_span.end - 1 } else { key_span };
            self.skip_blank();
            let value = if self.rest().starts_with(':') {
                self.at += 1;
                let colon_end = self.at;
                let value = self.value(Some('}'), depth + 1);
                if value.is_empty() { Node::empty(colon_end) } else { value }
            } else {
                Node::empty(key_span.end)
            };
            if !key_span.is_empty() || !value.is_empty() {
                entries.push(Entry::new(&self.source[key_span.clone()], key_span, value));
            }
            self.comma('}');
            if self.at == start {
                // Something that neither begins nor ends anything; without this step it would be read for ever.
                self.at += self.rest().chars().next().map_or(0, char::len_utf8);
            }
        }
        let entries = mend::mend(self.source, entries, self.problems);
        Value::Map(Map::new(entries, true))
    }

    fn more(&mut self, closer: char) -> bool {
        self.skip_blank();
        !self.rest().is_empty() && !self.rest().starts_with(closer)
    }

    /// Goes over the comma after an entry or an item.
    fn comma(&mut self, closer: char) {
        self.skip_blank();
        let rest = self.rest();
        if rest.starts_with(',') {
            self.at += 1;
        } else if !rest.is_empty() && !rest.starts_with([closer, '}', ']']) {
            // No further than a message shows.
            let near = &rest[..floor_boundary(rest, 80)];
            let next = near.find([',', closer]).map_or(near, |end| &near[..end]).trim_end();
            let message = format!("{} has no comma before it: write `, ` there", quoted(next));
            self.problems.report(self.at..self.at + next.len(), message);
        }
    }

    /// Goes over text up to the comma, the closer or, for a key, the colon.
    fn scalar_span(&mut self, closer: Option<char>, key: bool) -> Span {
        let start = self.at;
        if let Some(end) = self.quoted_end(closer, key) {
            self.at = end;
            return start..end;
        }
        let rest = self.rest();
        let stop = self.scalar_end(closer, key);
        self.at = start + stop;
        let text = rest[..stop].trim_end();
        let own = without_comment(text);
        let touching = text[own.len()..].trim_start()[..]
            .strip_prefix('#')
            .is_some_and(|rest| rest.starts_with(char::is_alphanumeric));
        start..start + if touching { text.len() } else { own.len() }
    }

    /// Where text ends, in one pass, since a hostile line has thousands of keys.
    fn scalar_end(&self, closer: Option<char>, key: bool) -> usize {
        let rest = self.rest();
        for (at, c) in rest.char_indices() {
            if c == ',' || Some(c) == closer {
                return at;
            }
            if c != ':' || !ends_a_key(&rest[at + 1..]) {
                continue;
            }
            if key {
                return at;
            }
            // `2.4 mm power: 212 g`: the next key begins where a comma was forgotten.
            if is_quantity(rest)
                && let Some(start) = next_key(&rest[..at])
            {
                return start;
            }
        }
        rest.len()
    }

    /// The end of a quoted text that is well closed.
    fn quoted_end(&self, closer: Option<char>, key: bool) -> Option<usize> {
        let rest = self.rest();
        let quote = rest.chars().next().filter(|c| matches!(c, '"' | '\''))?;
        for (at, _) in rest[1..].match_indices(quote).take(MOST_QUOTES) {
            let end = at + 2;
            let after = rest[end..].trim_start();
            let ends = after.is_empty()
                || after.starts_with(',')
                || closer.is_some_and(|closer| after.starts_with(closer));
            if ends || (key && after.starts_with(':')) {
                return Some(self.at + end);
            }
        }
        None
    }
}

/// Where the last word before a colon begins, if other words stand before it.
fn next_key(text: &str) -> Option<usize> {
    let start = text.rfind(char::is_whitespace)? + 1;
    text.get(start..).filter(|word| is_word(word)).map(|_| start)
}

/// A scalar in brackets; well-closed quotes without quotes inside are no problem.
fn complained_once<'s>(source: &'s str, span: Span, problems: &mut Problems) -> Node<'s> {
    let written = &source[span.clone()];
    let quote = written.chars().next().filter(|c| matches!(c, '"' | '\''));
    if let Some(inner) = quote
        .and_then(|quote| written[1..].strip_suffix(quote).filter(|inner| !inner.contains(quote)))
    {
        let style = if quote == Some('"') { super::Style::Double } else { super::Style::Single };
        return Node::scalar(inner, style, span);
    }
    complained(source, span, problems)
}
