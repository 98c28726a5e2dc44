//! A query that was understood: plain data, no text and no index.

use taperbook_units::Dimension;

/// A query that was understood.
///
/// It is bound to no state of the index: what was parsed on one [`crate::Searcher`] may be asked of a later one.
#[derive(Debug, Clone)]
pub struct Query {
    pub(crate) node: Node,
}

/// A part of a query.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Node {
    /// Every record.
    Everything,
    /// All of these.
    And(Vec<Node>),
    /// Any of these.
    Or(Vec<Node>),
    /// Not this.
    Not(Box<Node>),
    /// These words anywhere in the record.
    Words(Phrase),
    /// Something under a key.
    Field(FieldTest),
    /// Something asked of the card that the record's `blank` leads to.
    Card(Box<Node>),
}

/// Words that stand beside each other.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Phrase {
    /// The folded words, at least one.
    pub(crate) words: Vec<String>,
    /// The last one is only the beginning of a word.
    pub(crate) prefix: bool,
}

/// A question about what stands under a key.
///
/// A record answers yes, no, or that it has nothing there; "no" and "nothing there" are different under a minus.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FieldTest {
    /// The answer is yes when any of these holds.
    pub(crate) any: Vec<Test>,
    /// There is something under the key when any of these holds.
    pub(crate) has: Vec<Test>,
}

/// A test of one record.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Test {
    /// Holds for every record.
    Always,
    /// A number under the key is inside the range, or a range under the key meets it.
    Number {
        /// The folded key.
        key: String,
        /// What it measures; `None` for a date, in days.
        dimension: Option<Dimension>,
        /// The lower end, which belongs to it.
        low: f64,
        /// The upper end, which belongs to it.
        high: f64,
    },
    /// The words stand under the key.
    Words {
        /// The folded key.
        key: String,
        /// The words.
        phrase: Phrase,
    },
    /// The record has this term among those that are compared as a whole.
    Exact(String),
}

impl Node {
    /// Gives the words that a hit holds and the key they stand under, for showing where they are.
    pub(crate) fn wanted(&self) -> Vec<(Option<&str>, &Phrase)> {
        let mut wanted = Vec::new();
        self.collect_wanted(&mut wanted);
        wanted
    }

    fn collect_wanted<'a>(&'a self, wanted: &mut Vec<(Option<&'a str>, &'a Phrase)>) {
        match self {
            Node::And(parts) | Node::Or(parts) => {
                parts.iter().for_each(|part| part.collect_wanted(wanted))
            }
            Node::Words(phrase) => wanted.push((None, phrase)),
            Node::Field(field) => wanted.extend(field.any.iter().filter_map(|test| match test {
                Test::Words { key, phrase } => Some((Some(key.as_str()), phrase)),
                _ => None,
            })),
            Node::Everything | Node::Not(_) | Node::Card(_) => {}
        }
    }

    /// Gives the whole words that make one hit fit better than another.
    pub(crate) fn ranking(&self) -> Vec<&Phrase> {
        self.wanted()
            .into_iter()
            .filter(|(key, phrase)| key.is_none() && !phrase.prefix)
            .map(|(_, phrase)| phrase)
            .collect()
    }
}
