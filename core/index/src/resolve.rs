//! A comparison as it is written into tests of a record: the key is looked up and the value read with its unit.
//!
//! Keys of plugins come first, then those of the record format, then those that some record has.

use std::cell::Cell;
use std::ops::Range;

use crate::QueryError;
use crate::error::quoted;
use crate::keys::{self, Closed, Shape};
use crate::lexer::{Comparison, Operator, Value};
use crate::query::{FieldTest, Node, Phrase, Test};
use crate::schema::exact;
use crate::values::{self, Scale};
use crate::words::{fold, folded_words};
use crate::writer::Catalogue;
use taperbook_record::{Kind, Verdict};

/// How many different words all the `word*` of a query may stand for together.
pub(crate) const MOST_EXPANSIONS: usize = 4096;

/// What the records say about keys and words; the searcher knows.
pub(crate) trait Vocabulary {
    /// What stands under a folded key in the records; `None` when no record has it.
    fn learned(&self, key: &str) -> Option<Learned>;
    /// All keys that records have, without those of the record format.
    fn learned_keys(&self) -> Vec<String>;
    /// Is true when a card can be called by this folded name.
    fn names_card(&self, name: &str) -> bool;
    /// Counts the different words that begin so, up to one more than [`MOST_EXPANSIONS`].
    fn count_words(&self, key: Option<&str>, beginning: &str) -> usize;
}

/// What stands under a key that a shop invented.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Learned {
    /// The numbers and dates.
    pub(crate) scales: Vec<Scale>,
    /// Some record has there what is no number.
    pub(crate) has_words: bool,
}

/// Understands comparisons.
pub(crate) struct Resolver<'a> {
    query: &'a str,
    catalogue: &'a Catalogue,
    vocabulary: &'a dyn Vocabulary,
    /// How many words the `word*` read so far stand for.
    n_expansions: Cell<usize>,
}

/// What a key before a dot asks: the card that the record's `blank` leads to.
const OF_CARD: &str = "blank.";

impl<'a> Resolver<'a> {
    /// Makes one for a query, with what plugins and what records add.
    pub(crate) fn new(
        query: &'a str,
        catalogue: &'a Catalogue,
        vocabulary: &'a dyn Vocabulary,
    ) -> Self {
        Self { query, catalogue, vocabulary, n_expansions: Cell::new(0) }
    }

    /// Understands one comparison that stands at `at`.
    pub(crate) fn comparison(
        &self,
        comparison: &Comparison,
        at: &Range<usize>,
    ) -> Result<Node, QueryError> {
        let key = fold(&self.query[comparison.key.clone()]);
        if let Some(key) = key.strip_prefix(OF_CARD) {
            if key.starts_with(OF_CARD) {
                return Err(QueryError {
                    message: "a card has no card of its own: write `blank.` once".to_owned(),
                    at: comparison.key.clone(),
                });
            }
            return Ok(Node::Card(Box::new(Node::Field(self.field(key, comparison, at)?))));
        }
        self.field(&key, comparison, at).map(Node::Field)
    }

    /// Refuses a beginning that stands for too many words.
    pub(crate) fn check_prefix(
        &self,
        key: Option<&str>,
        phrase: &Phrase,
        at: &Range<usize>,
    ) -> Result<(), QueryError> {
        let Some(last) = phrase.words.last().filter(|_| phrase.prefix) else { return Ok(()) };
        let before = self.n_expansions.get();
        let together = before + self.vocabulary.count_words(key, last);
        self.n_expansions.set(together);
        if together <= MOST_EXPANSIONS {
            return Ok(());
        }
        let others = if before == 0 { "" } else { ", with the others in the query" };
        let message = format!(
            "more than {MOST_EXPANSIONS} different words begin with {}{others}: write more of it",
            quoted(last)
        );
        Err(QueryError { message, at: at.clone() })
    }

    fn field(
        &self,
        key: &str,
        comparison: &Comparison,
        at: &Range<usize>,
    ) -> Result<FieldTest, QueryError> {
        let of_plugin = self.catalogue.numbers.iter().find(|spec| fold(&spec.key) == key);
        match of_plugin.map(|spec| Shape::Number(spec.dimension)).or_else(|| keys::known(key)) {
            Some(Shape::Number(dimension)) => {
                self.number(key, Scale::Quantity(dimension), comparison)
            }
            Some(Shape::Date) => self.number(key, Scale::Date, comparison),
            Some(Shape::Words) => self.words(key, comparison, at),
            Some(Shape::Name) => self.name(key, comparison),
            Some(Shape::Closed(closed)) => self.closed(key, closed, comparison),
            None => match self.vocabulary.learned(key) {
                Some(learned) => self.learned(key, &learned, comparison, at),
                None => Err(self.unknown_key(key, comparison)),
            },
        }
    }

    fn number(
        &self,
        key: &str,
        scale: Scale,
        comparison: &Comparison,
    ) -> Result<FieldTest, QueryError> {
        let (low, high) = values::range(self.query, comparison, scale)?;
        Ok(FieldTest {
            any: vec![number_test(key, scale, low, high)],
            has: vec![number_test(key, scale, f64::MIN, f64::MAX)],
        })
    }

    fn words(
        &self,
        key: &str,
        comparison: &Comparison,
        at: &Range<usize>,
    ) -> Result<FieldTest, QueryError> {
        if comparison.operator != Operator::Is {
            return Err(QueryError {
                message: format!(
                    "{} holds words, and no word is more than another: write `{key}:` and the word",
                    quoted(key)
                ),
                at: at.clone(),
            });
        }
        let (text, star) = self.word_value(comparison);
        let words = folded_words(text);
        if words.is_empty() {
            let message = format!(
                "{} has no letter and no digit to search for",
                quoted(&self.query[comparison.whole.clone()])
            );
            return Err(QueryError { message, at: comparison.whole.clone() });
        }
        let has = if key == keys::TITLE {
            Test::Always
        } else {
            Test::Exact(exact::text(exact::KEY, key))
        };
        // The name of a card means that card; `heron-704` is then not also `heron-704-long`.
        let name = fold(text);
        if key == keys::BLANK && !star && self.vocabulary.names_card(&name) {
            return Ok(FieldTest {
                any: vec![Test::Exact(exact::text(exact::BLANK, &name))],
                has: vec![has],
            });
        }
        let phrase = Phrase { words, prefix: star };
        self.check_prefix(Some(key), &phrase, at)?;
        Ok(FieldTest { any: vec![Test::Words { key: key.to_owned(), phrase }], has: vec![has] })
    }

    /// The id of a record or the name of its file, with or without `.md`.
    fn name(&self, key: &str, comparison: &Comparison) -> Result<FieldTest, QueryError> {
        let (text, star) = self.word_value(comparison);
        if comparison.operator != Operator::Is || star {
            return Err(QueryError {
                message: format!(
                    "{} names one record whole: write `{key}:ilse-heron` or `{key}:builds/ilse-heron`",
                    quoted(key)
                ),
                at: comparison.key.start..comparison.whole.end,
            });
        }
        let name = fold(text.trim());
        let name = name.strip_suffix(".md").unwrap_or(&name);
        let name = match name.contains('/') {
            true => format!("/{}", name.trim_start_matches('/')),
            false => name.to_owned(),
        };
        Ok(FieldTest {
            any: vec![Test::Exact(exact::text(exact::RECORD, &name))],
            has: vec![Test::Always],
        })
    }

    fn closed(
        &self,
        key: &str,
        closed: Closed,
        comparison: &Comparison,
    ) -> Result<FieldTest, QueryError> {
        let (what, term, words): (_, _, Vec<&str>) = match closed {
            Closed::Kind => ("kind of record", exact::KIND, Kind::ALL.map(Kind::word).to_vec()),
            Closed::Flag => {
                ("flag", exact::FLAG, self.catalogue.flags.iter().map(String::as_str).collect())
            }
            Closed::Verdict => {
                ("verdict", exact::VERDICT, Verdict::ALL.map(Verdict::word).to_vec())
            }
        };
        if comparison.operator != Operator::Is {
            return Err(QueryError {
                message: format!(
                    "{} is one of a few words: write `{key}:` and the word",
                    quoted(key)
                ),
                at: comparison.key.start..comparison.whole.end,
            });
        }
        let (text, star) = self.word_value(comparison);
        let text = fold(text.trim());
        let any: Vec<Test> = words
            .iter()
            .filter(|word| **word == text || (star && word.starts_with(&text)))
            .map(|word| Test::Exact(exact::text(term, word)))
            .collect();
        if any.is_empty() {
            let instead = match keys::nearest(&text, words.iter().copied()) {
                Some(word) => format!("did you mean `{word}`?"),
                None if words.is_empty() => "there is none".to_owned(),
                None => format!("write one of `{}`", words.join("`, `")),
            };
            let message = format!("{} is no {what}: {instead}", quoted(&text));
            return Err(QueryError { message, at: comparison.whole.clone() });
        }
        // Every record has a kind and a set of flags, which may be empty; a verdict may be missing.
        let has = match closed {
            Closed::Kind | Closed::Flag => Test::Always,
            Closed::Verdict => Test::Exact(exact::text(exact::KEY, key)),
        };
        Ok(FieldTest { any, has: vec![has] })
    }

    /// A key that only records know: its value is read as each kind of number that records have there, else as words.
    fn learned(
        &self,
        key: &str,
        learned: &Learned,
        comparison: &Comparison,
        at: &Range<usize>,
    ) -> Result<FieldTest, QueryError> {
        let is_word = matches!(&comparison.value, Value::One(piece) if piece.star)
            && comparison.operator == Operator::Is;
        if learned.scales.is_empty() || is_word {
            return self.words(key, comparison, at);
        }
        let (mut any, mut has) = (Vec::new(), Vec::new());
        let mut first_error = None;
        for scale in &learned.scales {
            match values::range(self.query, comparison, *scale) {
                Ok((low, high)) => {
                    any.push(number_test(key, *scale, low, high));
                    has.push(number_test(key, *scale, f64::MIN, f64::MAX));
                }
                Err(error) => first_error = first_error.or(Some(error)),
            }
        }
        if comparison.operator == Operator::Is && learned.has_words {
            let mut words = self.words(key, comparison, at)?;
            words.any.extend(any);
            return Ok(words);
        }
        match first_error {
            Some(error) if any.is_empty() => Err(error),
            _ => Ok(FieldTest { any, has }),
        }
    }

    /// The text of a value that is words; two dots in it are then only dots.
    fn word_value(&self, comparison: &Comparison) -> (&str, bool) {
        match &comparison.value {
            Value::One(piece) => (&self.query[piece.at.clone()], piece.star),
            Value::Ends(..) => (&self.query[comparison.whole.clone()], false),
        }
    }

    fn unknown_key(&self, key: &str, comparison: &Comparison) -> QueryError {
        let mut candidates: Vec<String> =
            self.catalogue.numbers.iter().map(|spec| spec.key.clone()).collect();
        candidates.extend(keys::all_known());
        candidates.extend(self.vocabulary.learned_keys());
        let mut names = candidates.iter().map(String::as_str);
        let nested =
            names.clone().find(|name| name.rsplit_once('.').is_some_and(|(_, last)| last == key));
        let instead = match nested.or_else(|| keys::nearest(key, &mut names)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "to search for the words, put them in quotes".to_owned(),
        };
        QueryError {
            message: format!("no record has a field {}: {instead}", quoted(key)),
            at: comparison.key.clone(),
        }
    }
}

fn number_test(key: &str, scale: Scale, low: f64, high: f64) -> Test {
    let dimension = match scale {
        Scale::Quantity(dimension) => Some(dimension),
        Scale::Date => None,
    };
    Test::Number { key: key.to_owned(), dimension, low, high }
}
