//! The event pass: a YAML parser's events into the tree.
//!
//! It stops at the first thing that is not plain YAML; mending that is not its business.

use std::borrow::Cow;

use saphyr_parser::{Event, Parser, ScalarStyle};

use super::{Entry, List, ListItem, MOST_DEPTH, Map, Node, Style, Value, mend};
use crate::Span;
use crate::source::Problems;

/// Why the events were not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Refusal {
    /// Where in the file.
    pub(super) at: usize,
}

/// A collection that is still open.
struct Open<'s> {
    start: usize,
    /// What stands before this belongs to something else.
    floor: usize,
    flow: bool,
    kind: OpenKind<'s>,
}

enum OpenKind<'s> {
    List(Vec<ListItem<'s>>),
    Map(Vec<Entry<'s>>, Option<(Cow<'s, str>, Span)>),
}

/// Builds the tree of one stretch of the file.
pub(super) fn tree<'s>(
    source: &'s str,
    part: Span,
    problems: &mut Problems,
) -> Result<Option<Node<'s>>, Refusal> {
    let places = Places::new(&source[part.clone()], part.start);
    let mut builder =
        Builder { source, part: part.clone(), open: Vec::new(), root: None, problems };
    for event in Parser::new_from_str(&source[part.clone()]) {
        // The iterator gives errors for ever, so the first one ends the pass.
        let (event, span) =
            event.map_err(|error| Refusal { at: places.byte(error.marker().index()) })?;
        let span = places.byte(span.start.index())..places.byte(span.end.index());
        builder.take(event, span)?;
    }
    Ok(builder.root)
}

/// The parser counts characters; this turns its places into bytes of the file.
struct Places {
    start: usize,
    /// Byte of each character, unless they are all one byte long.
    bytes: Option<Vec<usize>>,
    end: usize,
}

impl Places {
    fn new(text: &str, start: usize) -> Self {
        let bytes = (!text.is_ascii()).then(|| text.char_indices().map(|(at, _)| at).collect());
        Self { start, bytes, end: text.len() }
    }

    fn byte(&self, character: usize) -> usize {
        let at = match &self.bytes {
            Some(bytes) => bytes.get(character).copied().unwrap_or(self.end),
            None => character.min(self.end),
        };
        self.start + at
    }
}

struct Builder<'s, 'p> {
    source: &'s str,
    part: Span,
    open: Vec<Open<'s>>,
    root: Option<Node<'s>>,
    problems: &'p mut Problems,
}

impl<'s> Builder<'s, '_> {
    fn take(&mut self, event: Event<'s>, span: Span) -> Result<(), Refusal> {
        let refusal = |at| Err(Refusal { at });
        match event {
            Event::Alias(_) => refusal(span.start),
            Event::Scalar(_, _, anchor, ref tag) if anchor != 0 || tag.is_some() => {
                refusal(span.start)
            }
            Event::SequenceStart(anchor, ref tag) | Event::MappingStart(anchor, ref tag)
                if anchor != 0 || tag.is_some() =>
            {
                refusal(span.start)
            }
            Event::Scalar(text, style, ..) => self.scalar(text, style, span),
            Event::SequenceStart(..) => self.begin(OpenKind::List(Vec::new()), span.start),
            Event::MappingStart(..) => self.begin(OpenKind::Map(Vec::new(), None), span.start),
            Event::SequenceEnd | Event::MappingEnd => self.end(span),
            // A second document in one block: what follows would be lost.
            Event::DocumentStart(_) if self.root.is_some() => refusal(span.start),
            _ => Ok(()),
        }
    }

    fn begin(&mut self, kind: OpenKind<'s>, start: usize) -> Result<(), Refusal> {
        if self.open.len() == MOST_DEPTH {
            return Err(Refusal { at: start });
        }
        let inside = self.open.last().is_some_and(|open| open.flow);
        let flow = inside || self.source[start..].starts_with(['[', '{']);
        let floor = match self.open.last() {
            Some(Open { kind: OpenKind::Map(_, Some((_, key_span))), .. }) => key_span.end,
            Some(open) => open.start,
            None => self.part.start,
        };
        self.open.push(Open { start, floor: floor.min(start), flow, kind });
        Ok(())
    }

    fn end(&mut self, span: Span) -> Result<(), Refusal> {
        let Some(open) = self.open.pop() else {
            return Err(Refusal { at: span.start });
        };
        // A single pair in a list, `[a: b]`, is a map without braces of its own.
        let braced = self.source[open.start..].starts_with(['[', '{']) && span.start < span.end;
        let mut start = open.start;
        let (last, value) = match open.kind {
            OpenKind::List(items) => {
                // The start of a list at the column of its key is reported after its first dash.
                start = items.first().map_or(start, |first| first.start.min(start));
                let last = items.last().map(|item| item.end(self.source));
                (last, Value::List(List { flow: open.flow, items }))
            }
            OpenKind::Map(entries, _) => {
                let last = entries.last().map(|entry| entry.span().end);
                let entries = if open.flow {
                    mend::mend(self.source, entries, self.problems)
                } else {
                    entries
                };
                (last, Value::Map(Map::new(entries, open.flow)))
            }
        };
        // The end of a block collection is reported where the next thing starts, so its last child says it better.
        let end = if open.flow && braced { span.end } else { last.unwrap_or(span.end) };
        self.add(Node { span: start..end.max(start), value })
    }

    fn scalar(
        &mut self,
        text: Cow<'s, str>,
        style: ScalarStyle,
        span: Span,
    ) -> Result<(), Refusal> {
        let style = match style {
            ScalarStyle::Plain => Style::Plain,
            ScalarStyle::SingleQuoted => Style::Single,
            ScalarStyle::DoubleQuoted => Style::Double,
            ScalarStyle::Literal | ScalarStyle::Folded => Style::Block,
        };
        if style == Style::Plain && text.is_empty() {
            let at = self.empty_place(span.start);
            return self.add(Node::empty(at));
        }
        let written = self.source[span.clone()].trim_end().len();
        let span = span.start..span.start + written;
        if style == Style::Plain && !self.wants_key() && super::typed::is_null(&text) {
            return self.add(Node { span, value: Value::Empty });
        }
        self.add(Node::scalar(text, style, span))
    }

    fn wants_key(&self) -> bool {
        matches!(self.open.last(), Some(Open { kind: OpenKind::Map(_, None), .. }))
    }

    /// Where a value that was left out would stand: after its colon, or after its key or dash.
    fn empty_place(&self, reported: usize) -> usize {
        match self.open.last() {
            Some(Open { kind: OpenKind::Map(_, Some((_, key_span))), .. }) => {
                let rest = &self.source[key_span.end..self.part.end];
                let gap = rest.len() - rest.trim_start().len();
                if rest[gap..].starts_with(':') { key_span.end + gap + 1 } else { key_span.end }
            }
            _ => reported,
        }
    }

    fn add(&mut self, node: Node<'s>) -> Result<(), Refusal> {
        let Some(open) = self.open.last_mut() else {
            self.root = Some(node);
            return Ok(());
        };
        match &mut open.kind {
            OpenKind::List(items) => {
                let since = items.last().map_or(open.floor, |item| item.end(self.source));
                let start = if open.flow {
                    node.span.start
                } else {
                    dash(self.source, since, node.span.start)
                };
                items.push(ListItem { start, node });
            }
            OpenKind::Map(entries, key) => match key.take() {
                Some((key, key_span)) => entries.push(Entry::new(key, key_span, node)),
                None => match node.value {
                    Value::Scalar(scalar) => *key = Some((scalar.text, node.span)),
                    Value::Empty => *key = Some((Cow::Borrowed(""), node.span)),
                    // A list or a map as a key says nothing here.
                    _ => return Err(Refusal { at: node.span.start }),
                },
            },
        }
        Ok(())
    }
}

/// Finds the dash before a block list's item.
fn dash(source: &str, since: usize, node_start: usize) -> usize {
    let before = source.get(since.min(node_start)..node_start).unwrap_or("");
    let mut at = before.len();
    for (start, line) in lines_backward(before) {
        let trimmed = line.trim_start();
        if trimmed.starts_with('-') {
            at = start + line.len() - trimmed.len();
            break;
        }
    }
    // `- - a` nests lists on one line; the last dash is the item's own.
    let marks = before[at..].bytes().take_while(|byte| matches!(byte, b'-' | b' ')).count();
    let own = before[at..at + marks].rfind('-').unwrap_or(0);
    since.min(node_start) + at + own
}

fn lines_backward(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let mut end = Some(text.len());
    std::iter::from_fn(move || {
        let stop = end?;
        let start = text[..stop].rfind('\n').map_or(0, |at| at + 1);
        end = start.checked_sub(1);
        Some((start, &text[start..stop]))
    })
}
