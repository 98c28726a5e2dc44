//! Front matter as a small tree in which every node knows its bytes.
//!
//! The only module that names a YAML crate.
//! The tree keeps every scalar as it was written: no number, date or boolean is guessed here,
//! so nothing that YAML readers lose without a word (`.nan`, `0x1F`, `1_000`) is lost.
//! Which keys exist and what they mean is not known here.

mod complaint;
mod events;
mod flow;
mod lines;
mod mend;
mod recover;
mod typed;

pub(crate) use complaint::in_quotes;
pub(crate) use typed::{grew_by_one_item, whole_number};

use std::borrow::Cow;
use std::collections::BTreeSet;

use crate::Span;
use crate::source::Problems;

/// Deeper nesting is refused.
pub(crate) const MOST_DEPTH: usize = 32;

/// The keys of a map with so few entries are compared with each other, which needs no memory.
const FEW: usize = 16;

/// A node of the tree.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Node<'s> {
    pub(crate) span: Span,
    pub(crate) value: Value<'s>,
}

/// What a node holds.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value<'s> {
    /// Nothing, `~` or `null`.
    Empty,
    Scalar(Scalar<'s>),
    List(List<'s>),
    Map(Map<'s>),
}

/// Text with how it was written.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Scalar<'s> {
    pub(crate) text: Cow<'s, str>,
    pub(crate) style: Style,
}

/// How a scalar was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Style {
    Plain,
    Single,
    Double,
    /// `|` or `>`.
    Block,
    /// Plain text in braces that a comma cut in two; the tree holds it whole.
    Rejoined,
    /// Taken from a line that is not YAML; its problem is already reported.
    Recovered,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct List<'s> {
    /// Written in `[ ]`.
    pub(crate) flow: bool,
    pub(crate) items: Vec<ListItem<'s>>,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ListItem<'s> {
    /// Where its dash stands, or the item itself when there is none.
    pub(crate) start: usize,
    pub(crate) node: Node<'s>,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Map<'s> {
    /// Written in `{ }`.
    pub(crate) flow: bool,
    pub(crate) entries: Vec<Entry<'s>>,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Entry<'s> {
    pub(crate) key: Cow<'s, str>,
    pub(crate) key_span: Span,
    pub(crate) value: Node<'s>,
    /// An entry above it in the same map has the same key.
    pub(crate) repeated: bool,
}

impl<'s> Map<'s> {
    pub(crate) fn new(entries: Vec<Entry<'s>>, flow: bool) -> Self {
        let mut map = Self { flow, entries };
        map.mark_repeated();
        map
    }

    fn mark_repeated(&mut self) {
        if self.entries.len() <= FEW {
            for at in 0..self.entries.len() {
                let (before, after) = self.entries.split_at_mut(at);
                after[0].repeated = before.iter().any(|entry| entry.key == after[0].key);
            }
            return;
        }
        let mut seen = BTreeSet::new();
        let repeated: Vec<bool> =
            self.entries.iter().map(|entry| !seen.insert(&*entry.key)).collect();
        for (entry, repeated) in self.entries.iter_mut().zip(repeated) {
            entry.repeated = repeated;
        }
    }

    /// Finds the first entry of a key.
    pub(crate) fn get(&self, key: &str) -> Option<&Entry<'s>> {
        self.entries.iter().find(|entry| entry.key == key)
    }
}

impl ListItem<'_> {
    /// Where it ends: after its dash, when nothing follows that.
    fn end(&self, source: &str) -> usize {
        let dash = usize::from(source[self.start..].starts_with('-'));
        self.node.span.end.max(self.start + dash)
    }
}

impl<'s> Entry<'s> {
    fn new(key: impl Into<Cow<'s, str>>, key_span: Span, value: Node<'s>) -> Self {
        Self { key: key.into(), key_span, value, repeated: false }
    }

    /// The bytes from the key to the end of the value.
    pub(crate) fn span(&self) -> Span {
        self.key_span.start..self.value.span.end.max(self.key_span.end)
    }
}

impl<'s> Node<'s> {
    fn empty(at: usize) -> Self {
        Self { span: at..at, value: Value::Empty }
    }

    fn scalar(text: impl Into<Cow<'s, str>>, style: Style, span: Span) -> Self {
        Self { span, value: Value::Scalar(Scalar { text: text.into(), style }) }
    }

    /// Its text, when it is a scalar.
    pub(crate) fn text(&self) -> Option<&str> {
        match &self.value {
            Value::Scalar(scalar) => Some(&scalar.text),
            _ => None,
        }
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.value == Value::Empty
    }

    /// How many lists and maps are nested in it, its own counted.
    fn depth(&self) -> usize {
        match &self.value {
            Value::List(list) => {
                1 + list.items.iter().map(|item| item.node.depth()).max().unwrap_or(0)
            }
            Value::Map(map) => {
                1 + map.entries.iter().map(|entry| entry.value.depth()).max().unwrap_or(0)
            }
            _ => 0,
        }
    }

    /// Tells whether two nodes say the same, wherever and however they are written.
    pub(crate) fn says_the_same(&self, other: &Node<'_>) -> bool {
        match (&self.value, &other.value) {
            (Value::Empty, Value::Empty) => true,
            (Value::Scalar(one), Value::Scalar(two)) => one.text == two.text,
            (Value::List(one), Value::List(two)) => {
                one.items.len() == two.items.len()
                    && one.items.iter().zip(&two.items).all(|(a, b)| a.node.says_the_same(&b.node))
            }
            (Value::Map(one), Value::Map(two)) => {
                one.entries.len() == two.entries.len()
                    && (one.entries.iter().zip(&two.entries))
                        .all(|(a, b)| a.key == b.key && a.value.says_the_same(&b.value))
            }
            _ => false,
        }
    }
}

/// Reads the lines of a file that are YAML; what is not YAML is recovered line by line.
///
/// `maps` are the keys whose values are maps: there `cut: tip: 1 in` lacks braces, elsewhere quotes.
pub(crate) fn parse<'s>(
    source: &'s str,
    front: Span,
    maps: &[&str],
    problems: &mut Problems,
) -> Node<'s> {
    match events::tree(source, front.clone(), problems) {
        Ok(Some(node)) => node,
        Ok(None) => Node::empty(front.start),
        Err(refusal) => recover::recover(source, front, &refusal, maps, problems),
    }
}
