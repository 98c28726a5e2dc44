//! Running a plan over the segments: how many records it means, and which come first.
//!
//! What is found, and in which order, depends on the records alone and not on the order in which they were put in:
//! the statistics leave deleted documents out, scores are added up in the order of the query, ties are broken by id.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use tantivy::query::{Bm25StatisticsProvider, EnableScoring, Scorer, Weight};
use tantivy::schema::{Field, IndexRecordOption};
use tantivy::{DocAddress, DocId, DocSet, Searcher, SegmentReader, TERMINATED, Term};

use crate::evaluate;
use crate::plan::Plan;
use crate::query::Phrase;
use crate::schema::{DAY, Fields, ID};

/// What comes first.
pub(crate) enum Order<'a> {
    /// What has the words best; equals by id.
    Fit(&'a [&'a Phrase], AliveStatistics<'a>),
    /// The newest date, records without one last; equals by id.
    Date,
}

/// A document that was found.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Place {
    /// Where it is.
    pub(crate) address: DocAddress,
    /// Its id.
    pub(crate) id: Vec<u8>,
    /// Its score, or its day.
    pub(crate) rank: Rank,
}

/// What documents are ordered by; the greatest comes first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Rank {
    /// A score.
    Score(f32),
    /// A day; none comes last.
    Day(Option<i64>),
}

impl Eq for Rank {}

impl Ord for Rank {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        match (self, other) {
            (Rank::Score(one), Rank::Score(other)) => one.total_cmp(other),
            (Rank::Day(one), Rank::Day(other)) => one.cmp(other),
            (Rank::Day(_), Rank::Score(_)) => std::cmp::Ordering::Less,
            (Rank::Score(_), Rank::Day(_)) => std::cmp::Ordering::Greater,
        }
    }
}

impl PartialOrd for Rank {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

/// Counts what a plan means and gives the first `limit` places.
pub(crate) fn find(
    searcher: &Searcher,
    fields: &Fields,
    plan: &Plan,
    order: &Order,
    limit: usize,
) -> tantivy::Result<(usize, Vec<Place>)> {
    let weights: Vec<Box<dyn Weight>> = match order {
        Order::Date => Vec::new(),
        Order::Fit(phrases, statistics) => phrases
            .iter()
            .filter_map(|phrase| evaluate::phrase_query(fields.text, "", phrase))
            .map(|query| {
                query.weight(EnableScoring::enabled_from_statistics_provider(statistics, searcher))
            })
            .collect::<tantivy::Result<_>>()?,
    };
    let mut total = 0;
    let mut places = Vec::new();
    for (segment, reader) in (0..).zip(searcher.segment_readers()) {
        let ranking = match order {
            Order::Date => Ranking::Days(reader.fast_fields().column_opt::<i64>(DAY)?),
            Order::Fit(..) => Ranking::Scores(
                weights
                    .iter()
                    .map(|weight| weight.scorer(reader, 1.0))
                    .collect::<tantivy::Result<_>>()?,
            ),
        };
        total += find_in(reader, segment, fields, plan, ranking, limit, &mut places)?;
    }
    places.sort_unstable_by(|a, b| b.rank.cmp(&a.rank).then_with(|| a.id.cmp(&b.id)));
    places.truncate(limit);
    Ok((total, places))
}

/// Gives the ranks of the documents of one segment, which are asked for in order.
enum Ranking {
    Days(Option<tantivy::columnar::Column<i64>>),
    Scores(Vec<Box<dyn Scorer>>),
}

impl Ranking {
    fn of(&mut self, document: DocId) -> Rank {
        match self {
            Ranking::Days(days) => Rank::Day(days.as_ref().and_then(|days| days.first(document))),
            Ranking::Scores(scorers) => Rank::Score(
                scorers
                    .iter_mut()
                    .map(|scorer| {
                        let mut at = scorer.doc();
                        if at < document {
                            // Mostly the next one is asked for, which a search for it would find later.
                            at = scorer.advance();
                        }
                        if at < document {
                            at = scorer.seek(document);
                        }
                        if at == document { scorer.score() } else { 0.0 }
                    })
                    .sum(),
            ),
        }
    }
}

/// A document of one segment; the greatest is the one that comes last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Candidate {
    rank: Reverse<Rank>,
    /// The place of its id among the segment's ids, which are sorted.
    id_ordinal: u64,
    document: DocId,
}

fn find_in(
    reader: &SegmentReader,
    segment: u32,
    fields: &Fields,
    plan: &Plan,
    mut ranking: Ranking,
    limit: usize,
    places: &mut Vec<Place>,
) -> tantivy::Result<usize> {
    let Some(ids) = reader.fast_fields().str(ID)? else { return Ok(0) };
    let alive = reader.alive_bitset();
    let mut total = 0;
    let mut best: BinaryHeap<Candidate> = BinaryHeap::new();
    for document in evaluate::documents(reader, fields, plan)?.iter() {
        if alive.is_some_and(|alive| !alive.is_alive(document)) {
            continue;
        }
        total += 1;
        let rank = Reverse(ranking.of(document));
        let is_full = limit <= best.len();
        if is_full && best.peek().is_none_or(|last| last.rank < rank) {
            continue;
        }
        let id_ordinal = ids.ords().first(document).unwrap_or(u64::MAX);
        let candidate = Candidate { rank, id_ordinal, document };
        if !is_full {
            best.push(candidate);
        } else if best.peek().is_some_and(|last| candidate < *last) {
            best.pop();
            best.push(candidate);
        }
    }
    for candidate in best {
        let mut id = Vec::new();
        ids.ord_to_bytes(candidate.id_ordinal, &mut id)?;
        let address = DocAddress::new(segment, candidate.document);
        places.push(Place { address, id, rank: candidate.rank.0 });
    }
    Ok(total)
}

/// Is true when some living document has the term.
pub(crate) fn is_alive(searcher: &Searcher, term: &Term) -> tantivy::Result<bool> {
    for reader in searcher.segment_readers() {
        if let Some(mut postings) =
            reader.inverted_index(term.field())?.read_postings(term, IndexRecordOption::Basic)?
        {
            while postings.doc() != TERMINATED {
                if reader.alive_bitset().is_none_or(|alive| alive.is_alive(postings.doc())) {
                    return Ok(true);
                }
                postings.advance();
            }
        }
    }
    Ok(false)
}

/// The statistics of BM25 over the living documents alone.
///
/// Tantivy's own count deleted documents until a merge drops them, which would make the order of hits depend on history.
pub(crate) struct AliveStatistics<'a> {
    /// The state of the index.
    pub(crate) searcher: &'a Searcher,
    /// The words of all living documents, see [`count_words`].
    pub(crate) words: u64,
}

/// Counts the words of all living documents in a field, as coarsely as their lengths are kept.
pub(crate) fn count_words(searcher: &Searcher, field: Field) -> tantivy::Result<u64> {
    let mut words = 0;
    for reader in searcher.segment_readers() {
        let lengths = reader.get_fieldnorms_reader(field)?;
        words += reader
            .doc_ids_alive()
            .map(|document| u64::from(lengths.fieldnorm(document)))
            .sum::<u64>();
    }
    Ok(words)
}

impl Bm25StatisticsProvider for AliveStatistics<'_> {
    fn total_num_tokens(&self, _: Field) -> tantivy::Result<u64> {
        // Only words of the text are scored, and a record without any must not make the mean length zero.
        Ok(self.words.max(1))
    }

    fn total_num_docs(&self) -> tantivy::Result<u64> {
        Ok(self.searcher.num_docs().max(1))
    }

    fn doc_freq(&self, term: &Term) -> tantivy::Result<u64> {
        let mut count = 0;
        for reader in self.searcher.segment_readers() {
            let index = reader.inverted_index(term.field())?;
            count +=
                match (reader.alive_bitset(), index.read_postings(term, IndexRecordOption::Basic)?)
                {
                    (_, None) => 0,
                    (None, Some(postings)) => u64::from(postings.doc_freq()),
                    (Some(alive), Some(mut postings)) => u64::from(postings.count(alive)),
                };
        }
        Ok(count)
    }
}
