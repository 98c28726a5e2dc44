//! Asking the index: the state of one moment, what it finds, and how a hit looks.

use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::{Arc, OnceLock};

use tantivy::TantivyDocument;
use tantivy::schema::{Field, Value};

use crate::keys;
use crate::plan::Planner;
use crate::query::{Node, Query};
use crate::resolve::{Learned, MOST_EXPANSIONS, Resolver, Vocabulary};
use crate::schema::{DATE_LETTER, DIMENSIONS, Fields, dimension_letter, exact};
use crate::search::{self, AliveStatistics, Order, Place, Rank};
use crate::values::Scale;
use crate::words::KEY_END;
use crate::writer::Catalogue;
use crate::{IndexError, QueryError, evaluate, parser, snippet};

/// The index at one point in time; cheap to clone, and untouched by later commits.
#[derive(Clone)]
pub struct Searcher {
    inner: Arc<Inner>,
}

struct Inner {
    searcher: tantivy::Searcher,
    fields: Fields,
    catalogue: Arc<Catalogue>,
    /// The words of all records, counted when a query first needs their number.
    words: OnceLock<u64>,
}

/// What a query found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Found {
    /// How many records match.
    pub total: usize,
    /// The first of them.
    pub hits: Vec<Hit>,
}

/// A record that a query found.
#[derive(Debug, Clone, PartialEq)]
pub struct Hit {
    /// The record's id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// The word of its kind.
    pub kind: String,
    /// How well it fits; 0 when the query asks for no whole word.
    pub score: f32,
    /// A piece of its text on one line.
    pub snippet: String,
    /// The bytes of the snippet that the query's words match, in order.
    pub marks: Vec<Range<usize>>,
}

impl Searcher {
    pub(crate) fn new(
        searcher: tantivy::Searcher,
        fields: Fields,
        catalogue: Arc<Catalogue>,
    ) -> Self {
        Self { inner: Arc::new(Inner { searcher, fields, catalogue, words: OnceLock::new() }) }
    }

    /// Understands a query.
    ///
    /// # Errors
    /// When it is not one; the error says what to write instead.
    pub fn parse(&self, text: &str) -> Result<Query, QueryError> {
        let resolver = Resolver::new(text, &self.inner.catalogue, &*self.inner);
        Ok(Query { node: parser::parse(text, &resolver)? })
    }

    /// Finds the records that match, the first `limit` of them with a snippet.
    ///
    /// A query that asks for a whole word puts first what fits it best, and equals by id;
    /// any other puts the newest date first, records without a date last, and equals by id.
    ///
    /// # Errors
    /// When the index can't be read.
    pub fn find(&self, query: &Query, limit: usize) -> Result<Found, IndexError> {
        self.inner
            .find(query, limit)
            .map_err(|error| IndexError::failed(None, "searching the index", error))
    }

    /// Gives the ids of all records that match, in order and without reading what a hit shows.
    ///
    /// # Errors
    /// As [`Searcher::find`].
    pub fn matching(&self, query: &Query) -> Result<Vec<String>, IndexError> {
        let planner = Planner { fields: &self.inner.fields, searcher: &self.inner.searcher };
        let ids = planner
            .yes(&query.node)
            .and_then(|plan| evaluate::ids(&self.inner.searcher, &self.inner.fields, &plan))
            .map_err(|error| IndexError::failed(None, "searching the index", error))?;
        let mut ids: Vec<String> = ids.into_iter().map(text_of).collect();
        ids.sort_unstable();
        Ok(ids)
    }

    /// Gives the ids of all records, in order.
    ///
    /// # Errors
    /// When the index can't be read.
    pub fn ids(&self) -> Result<Vec<String>, IndexError> {
        self.matching(&Query { node: Node::Everything })
    }

    /// The names of the segments that it reads.
    pub(crate) fn segments(&self) -> BTreeSet<String> {
        let readers = self.inner.searcher.segment_readers();
        readers.iter().map(|reader| reader.segment_id().uuid_string()).collect()
    }

    /// Says how many records there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.inner.searcher.segment_readers().iter().map(|reader| reader.num_docs() as usize).sum()
    }
}

fn text_of(id: Vec<u8>) -> String {
    String::from_utf8(id)
        .unwrap_or_else(|error| String::from_utf8_lossy(error.as_bytes()).into_owned())
}

impl Inner {
    fn find(&self, query: &Query, limit: usize) -> tantivy::Result<Found> {
        let plan = Planner { fields: &self.fields, searcher: &self.searcher }.yes(&query.node)?;
        let ranking = query.node.ranking();
        let order = match ranking.as_slice() {
            [] => Order::Date,
            phrases => Order::Fit(
                phrases,
                AliveStatistics { searcher: &self.searcher, words: self.words()? },
            ),
        };
        let (total, places) = search::find(&self.searcher, &self.fields, &plan, &order, limit)?;
        let wanted = query.node.wanted();
        let hits = places
            .into_iter()
            .map(|place| self.hit(place, &wanted))
            .collect::<tantivy::Result<_>>()?;
        Ok(Found { total, hits })
    }

    fn words(&self) -> tantivy::Result<u64> {
        match self.words.get() {
            Some(words) => Ok(*words),
            None => {
                let words = search::count_words(&self.searcher, self.fields.text)?;
                Ok(*self.words.get_or_init(|| words))
            }
        }
    }

    fn hit(&self, place: Place, wanted: &snippet::Wanted) -> tantivy::Result<Hit> {
        let document: TantivyDocument = self.searcher.doc(place.address)?;
        let stored = |field: Field| {
            document.get_first(field).and_then(|value| value.as_str()).unwrap_or_default()
        };
        let title = stored(self.fields.title);
        let snippet =
            snippet::make(title, stored(self.fields.front), stored(self.fields.body), wanted);
        Ok(Hit {
            id: text_of(place.id),
            title: title.to_owned(),
            kind: stored(self.fields.kind).to_owned(),
            score: match place.rank {
                Rank::Score(score) => score,
                Rank::Day(_) => 0.0,
            },
            snippet: snippet.text,
            marks: snippet.marks,
        })
    }

    fn has_exact(&self, text: &str) -> bool {
        // A query is refused for what records don't have; when they can't be read, searching says so.
        search::is_alive(&self.searcher, &exact::term(self.fields.exact, text)).unwrap_or(false)
    }

    /// Calls back with the terms of a field that begin so, of all segments, until the callback returns false.
    fn terms_beginning(
        &self,
        field: Field,
        beginning: &str,
        mut see: impl FnMut(&[u8]) -> bool,
    ) -> tantivy::Result<()> {
        for reader in self.searcher.segment_readers() {
            let index = reader.inverted_index(field)?;
            let mut terms = evaluate::terms_from(index.terms(), beginning)?;
            while terms.advance() && terms.key().starts_with(beginning.as_bytes()) {
                if !see(terms.key()) {
                    return Ok(());
                }
            }
        }
        Ok(())
    }
}

impl Vocabulary for Inner {
    fn learned(&self, key: &str) -> Option<Learned> {
        let has = |letter| self.has_exact(&exact::key_class(key, letter));
        let mut scales: Vec<Scale> = DIMENSIONS
            .into_iter()
            .filter(|dimension| has(dimension_letter(*dimension)))
            .map(Scale::Quantity)
            .collect();
        if has(DATE_LETTER) {
            scales.push(Scale::Date);
        }
        let has_words = has(exact::WORDS_LETTER);
        (has_words || !scales.is_empty()).then_some(Learned { scales, has_words })
    }

    fn learned_keys(&self) -> Vec<String> {
        let beginning = exact::text(exact::KEY, "");
        let mut classes = BTreeSet::new();
        // As in `has_exact`, what can't be read is not suggested.
        let _ = self.terms_beginning(self.fields.exact, &beginning, |term| {
            classes.extend(std::str::from_utf8(term).ok().map(str::to_owned));
            true
        });
        let mut keys: Vec<String> = classes
            .iter()
            .filter_map(|class| {
                let (key, _letter) = class.strip_prefix(&beginning)?.rsplit_once(KEY_END)?;
                (keys::known(key).is_none() && self.has_exact(class)).then(|| key.to_owned())
            })
            .collect();
        keys.dedup();
        keys
    }

    fn names_card(&self, name: &str) -> bool {
        self.has_exact(&exact::text(exact::CARD, name))
    }

    fn count_words(&self, key: Option<&str>, beginning: &str) -> usize {
        let (field, beginning) = match key {
            None => (self.fields.text, beginning.to_owned()),
            Some(key) => (self.fields.keyed, format!("{key}{KEY_END}{beginning}")),
        };
        let mut words = BTreeSet::new();
        // As in `has_exact`, what can't be read is found out by the search.
        let _ = self.terms_beginning(field, &beginning, |term| {
            words.insert(term.to_owned());
            words.len() <= MOST_EXPANSIONS
        });
        words.len()
    }
}
