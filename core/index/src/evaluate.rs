//! The documents of one segment that a plan means.
//!
//! Sets are worked out whole and put together by machine words: tantivy gives the postings of words and phrases and
//! the columns of numbers, and is not asked to combine them. Deleted documents may be in a set; the caller leaves them out.

use std::collections::HashSet;

use tantivy::columnar::Column;
use tantivy::query::{EnableScoring, PhrasePrefixQuery, PhraseQuery, Query, TermQuery};
use tantivy::schema::{Field, IndexRecordOption};
use tantivy::termdict::{TermDictionary, TermStreamer};
use tantivy::{DocSet, Searcher, SegmentReader, TERMINATED, Term};

use crate::bits::Bits;
use crate::plan::Plan;
use crate::query::{Phrase, Test};
use crate::resolve::MOST_EXPANSIONS;
use crate::schema::{CARD, DATE_LETTER, Fields, ID, Side, column_path, dimension_letter, exact};
use crate::words::KEY_END;

/// Works out the documents that a plan means.
pub(crate) fn documents(
    reader: &SegmentReader,
    fields: &Fields,
    plan: &Plan,
) -> tantivy::Result<Bits> {
    Evaluation { reader, fields }.set(plan)
}

/// Gives the ids of all living records in a plan, in no order.
pub(crate) fn ids(
    searcher: &Searcher,
    fields: &Fields,
    plan: &Plan,
) -> tantivy::Result<Vec<Vec<u8>>> {
    let mut found = Vec::new();
    for reader in searcher.segment_readers() {
        let Some(ids) = reader.fast_fields().str(ID)? else { continue };
        let alive = reader.alive_bitset();
        let documents = documents(reader, fields, plan)?;
        let alive =
            documents.iter().filter(|document| alive.is_none_or(|alive| alive.is_alive(*document)));
        let mut ordinals: Vec<u64> =
            alive.filter_map(|document| ids.ords().first(document)).collect();
        ordinals.sort_unstable();
        ids.dictionary().sorted_ords_to_term_cb(&ordinals, |id| found.push(id.to_owned()))?;
    }
    Ok(found)
}

/// The query of tantivy for words beside each other, each with `before` before it; none for the beginning of one word.
pub(crate) fn phrase_query(field: Field, before: &str, phrase: &Phrase) -> Option<Box<dyn Query>> {
    let mut terms: Vec<Term> = phrase
        .words
        .iter()
        .map(|word| Term::from_field_text(field, &format!("{before}{word}")))
        .collect();
    Some(match (terms.len(), phrase.prefix) {
        (1, false) => Box::new(TermQuery::new(terms.remove(0), IndexRecordOption::WithFreqs)),
        (1, true) => return None,
        (_, false) => Box::new(PhraseQuery::new(terms)),
        (_, true) => {
            let mut query = PhrasePrefixQuery::new(terms);
            query.set_max_expansions(u32::try_from(MOST_EXPANSIONS).unwrap_or(u32::MAX));
            Box::new(query)
        }
    })
}

struct Evaluation<'a> {
    reader: &'a SegmentReader,
    fields: &'a Fields,
}

impl Evaluation<'_> {
    fn set(&self, plan: &Plan) -> tantivy::Result<Bits> {
        match plan {
            Plan::All(parts) => {
                let mut all: Option<Bits> = None;
                for part in parts {
                    let part = self.set(part)?;
                    let both = match all {
                        None => part,
                        Some(all) => all.and(&part),
                    };
                    if both.is_empty() {
                        return Ok(both);
                    }
                    all = Some(both);
                }
                Ok(all.unwrap_or_else(|| Bits::all(self.reader.max_doc())))
            }
            Plan::Any(parts) => {
                let mut any: Option<Bits> = None;
                for part in parts {
                    let part = self.set(part)?;
                    any = Some(match any {
                        None => part,
                        Some(any) => any.or(&part),
                    });
                }
                Ok(any.unwrap_or_else(|| self.none()))
            }
            Plan::Except(part) => Ok(self.set(part)?.opposite()),
            Plan::Words(phrase) => self.phrase(self.fields.text, "", phrase),
            Plan::Test(test) => self.test(test),
            Plan::BuildsOf(cards) => self.builds_of(cards),
        }
    }

    fn none(&self) -> Bits {
        Bits::none(self.reader.max_doc())
    }

    fn test(&self, test: &Test) -> tantivy::Result<Bits> {
        match test {
            Test::Always => Ok(Bits::all(self.reader.max_doc())),
            Test::Number { key, dimension, low, high } => {
                let letter = dimension.map_or(DATE_LETTER, dimension_letter);
                self.numbers(key, letter, *low, *high)
            }
            Test::Exact(text) => {
                let mut found = self.none();
                let term = exact::term(self.fields.exact, text);
                let index = self.reader.inverted_index(self.fields.exact)?;
                if let Some(postings) = index.read_postings(&term, IndexRecordOption::Basic)? {
                    add_all(&mut found, postings);
                }
                Ok(found)
            }
            Test::Words { key, phrase } => {
                self.phrase(self.fields.keyed, &format!("{key}{KEY_END}"), phrase)
            }
        }
    }

    fn phrase(&self, field: Field, before: &str, phrase: &Phrase) -> tantivy::Result<Bits> {
        let mut found = self.none();
        match phrase_query(field, before, phrase) {
            Some(query) => {
                let weight =
                    query.weight(EnableScoring::disabled_from_schema(self.reader.schema()))?;
                weight.for_each_no_score(self.reader, &mut |documents| {
                    documents.iter().for_each(|document| found.insert(*document));
                })?;
            }
            None => {
                self.add_beginning(field, &format!("{before}{}", phrase.words[0]), &mut found)?
            }
        }
        Ok(found)
    }

    fn add_beginning(
        &self,
        field: Field,
        beginning: &str,
        found: &mut Bits,
    ) -> tantivy::Result<()> {
        let index = self.reader.inverted_index(field)?;
        let mut terms = terms_from(index.terms(), beginning)?;
        while terms.advance() && terms.key().starts_with(beginning.as_bytes()) {
            add_all(
                found,
                index.read_postings_from_terminfo(terms.value(), IndexRecordOption::Basic)?,
            );
        }
        Ok(())
    }

    /// Finds the numbers under a key that are inside `low..=high`, and the ranges that have some value in common with it.
    fn numbers(&self, key: &str, letter: char, low: f64, high: f64) -> tantivy::Result<Bits> {
        let mut found = self.none();
        if high < low {
            return Ok(found);
        }
        let open =
            |side| self.reader.fast_fields().column_opt::<f64>(&column_path(key, letter, side));
        if let Some(values) = open(Side::Value)? {
            let rows = rows_within(&values, low, high);
            add_rows(&mut found, &values, rows);
        }
        if let (Some(lows), Some(highs)) = (open(Side::Low)?, open(Side::High)?) {
            // The two ends of a range were put in together, so they stand in the same row of their columns.
            let mut rows = rows_within(&lows, f64::MIN, high);
            rows.retain(|row| low <= highs.values.get_val(*row));
            add_rows(&mut found, &lows, rows);
        }
        Ok(found)
    }

    fn builds_of(&self, cards: &HashSet<Vec<u8>>) -> tantivy::Result<Bits> {
        let mut found = self.none();
        let Some(column) = self.reader.fast_fields().str(CARD)? else { return Ok(found) };
        let mut wanted = Vec::with_capacity(column.num_terms());
        let mut terms = column.dictionary().stream()?;
        while terms.advance() {
            wanted.push(cards.contains(terms.key()));
        }
        for document in 0..self.reader.max_doc() {
            let card =
                column.ords().first(document).and_then(|ordinal| usize::try_from(ordinal).ok());
            if card.and_then(|card| wanted.get(card)).is_some_and(|wanted| *wanted) {
                found.insert(document);
            }
        }
        Ok(found)
    }
}

/// Finds the rows whose value is inside a range.
fn rows_within(column: &Column<f64>, low: f64, high: f64) -> Vec<u32> {
    let mut rows = Vec::new();
    // Below its least value a column of tantivy 0.27 takes the range to end at that value, and gives the rows that have it.
    if column.min_value() <= high && low <= column.max_value() {
        column.values.get_row_ids_for_value_range(
            low..=high,
            0..column.values.num_vals(),
            &mut rows,
        );
    }
    rows
}

fn add_rows(found: &mut Bits, column: &Column<f64>, mut rows: Vec<u32>) {
    column.index.select_batch_in_place(0, &mut rows);
    rows.into_iter().for_each(|document| found.insert(document));
}

fn add_all(found: &mut Bits, mut documents: impl DocSet) {
    while documents.doc() != TERMINATED {
        found.insert(documents.doc());
        documents.advance();
    }
}

/// Goes through the terms from `beginning` on; the caller stops at the first that begins otherwise.
pub(crate) fn terms_from<'a>(
    terms: &'a TermDictionary,
    beginning: &str,
) -> tantivy::Result<TermStreamer<'a>> {
    Ok(terms.range().ge(beginning.as_bytes()).into_stream()?)
}
