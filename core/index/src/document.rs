//! A record into what the index keeps of it.
//!
//! The words of a record are those of its title, its file name, its front matter (values, not keys) and its body.
//! Its numbers are those of the plugins; a front-matter number stands in where no plugin gives one of that key.

use std::borrow::Cow;

use tantivy::TantivyDocument;
use tantivy::schema::OwnedValue;
use taperbook_plugin::NumberSet;
use taperbook_record::{Date, Field, FieldNumber, Kind, Record};
use taperbook_units::Interval;

use crate::keys::{self, Shape};
use crate::schema::{DATE_LETTER, Fields, Side, column, dimension_letter, exact};
use crate::words::fold;
use crate::writer::Catalogue;

/// How often the title is taken into the text, so that a word in it counts for more.
///
/// Repeating a field before the frequencies are taken is the weighted-field extension of BM25
/// (Robertson, Zaragoza and Taylor, "Simple BM25 extension to multiple weighted fields", CIKM 2004).
const TITLE_WEIGHT: usize = 3;

/// One record as the index takes it.
#[derive(Debug, Clone, Copy)]
pub struct Document<'a> {
    /// The record.
    pub record: &'a Record,
    /// Every leaf of its front matter.
    pub fields: &'a [Field],
    /// The words of its body.
    pub body: &'a str,
    /// What the plugins worked out, SI.
    pub numbers: &'a NumberSet,
    /// The names of its flags.
    pub flags: &'a [String],
    /// The id of the card that a build's `blank` leads to.
    pub blank: Option<&'a str>,
}

/// Counts days from 1970-01-01.
pub(crate) fn day_number(date: Date) -> i64 {
    i64::from(Date::constant(1970, 1, 1).until(date).map_or(0, |span| span.get_days()))
}

/// A record as an index takes it.
pub struct Ready {
    pub(crate) id: String,
    pub(crate) document: TantivyDocument,
}

impl Ready {
    pub(crate) fn new(document: &Document, fields: &Fields, catalogue: &Catalogue) -> Self {
        let id = document.record.id.clone();
        Self { id, document: make(document, fields, catalogue) }
    }
}

/// Makes the document that the index takes.
fn make(document: &Document, fields: &Fields, catalogue: &Catalogue) -> TantivyDocument {
    let record = document.record;
    let mut out = TantivyDocument::with_capacity(room(document));
    out.add_text(fields.id, &record.id);
    out.add_text(fields.title, &record.title);
    out.add_text(fields.kind, record.kind().word());
    out.add_text(fields.body, document.body);
    for _ in 0..TITLE_WEIGHT {
        out.add_text(fields.text, &record.title);
    }
    out.add_text(fields.text, record.stem());
    out.add_text(fields.text, document.body);
    let mut out = Out { document: out, text: String::new() };
    out.add_under(fields.keyed, keys::TITLE, &record.title);

    let leaves: Vec<Keyed> = document.fields.iter().map(Keyed::of).collect();
    add_exact(&mut out, document, fields, &leaves);
    let columns = add_front_matter(&mut out, document, fields, catalogue, &leaves);
    if !columns.is_empty() {
        out.document.add_field_value(fields.numbers, &OwnedValue::Object(columns));
    }
    if let Some(day) = first_date(&leaves) {
        out.document.add_i64(fields.day, day);
    }
    out.document
}

/// A document that is being made.
struct Out {
    document: TantivyDocument,
    /// Where the next text is put together.
    text: String,
}

impl Out {
    /// Adds a text with what it is, or the key that it stands under, before it.
    fn add_under(&mut self, field: tantivy::schema::Field, what: &str, text: &str) {
        self.text.clear();
        exact::write(&mut self.text, what, text);
        self.document.add_text(field, &self.text);
    }
}

/// About how many bytes the document takes, so that it is not moved again and again while it grows.
fn room(document: &Document) -> usize {
    const OF_A_NUMBER: usize = 64;
    const OF_NAMES: usize = 1024;
    let leaf = |field: &Field| 3 * field.text.len() + 2 * field.key.len() + OF_A_NUMBER;
    OF_NAMES + 2 * document.body.len() + document.fields.iter().map(leaf).sum::<usize>()
}

/// A leaf of the front matter with what its key is.
struct Keyed<'a> {
    field: &'a Field,
    key: Cow<'a, str>,
    shape: Option<Shape>,
}

impl<'a> Keyed<'a> {
    fn of(field: &'a Field) -> Self {
        // The keys of the record format are mostly written as they are folded.
        if let Some(shape) = keys::known(&field.key) {
            return Self { field, key: Cow::from(&field.key), shape: Some(shape) };
        }
        let key = fold(&field.key);
        Self { field, shape: keys::known(&key), key: key.into() }
    }
}

fn add_exact(out: &mut Out, document: &Document, fields: &Fields, leaves: &[Keyed]) {
    let record = document.record;
    // One that is added twice is the same as one.
    let mut add = |what: &str, value: &str| out.add_under(fields.exact, what, value);
    let (id, stem) = (fold(&record.id), fold(record.stem()));
    // The slash tells the whole id of a record at the top of the folder from the file name of another.
    add(exact::RECORD, &format!("/{id}"));
    add(exact::RECORD, &stem);
    add(exact::KIND, record.kind().word());
    document.flags.iter().for_each(|flag| add(exact::FLAG, flag));
    if matches!(record.kind(), Kind::Blank | Kind::Offcut) {
        add(exact::CARD, &id);
        add(exact::CARD, &stem);
    }
    if let Some(verdict) = record.build().and_then(|build| build.verdict.as_ref()) {
        add(exact::VERDICT, verdict.value.word());
        add(exact::KEY, keys::VERDICT);
    }
    if let Some(card) = document.blank {
        let stem = card.rsplit('/').next().unwrap_or(card);
        add(exact::BLANK, &fold(card));
        add(exact::BLANK, &fold(stem));
        add(exact::KEY, keys::BLANK);
    }
    for Keyed { field, key, shape } in leaves {
        match shape {
            Some(Shape::Number(_) | Shape::Date | Shape::Name | Shape::Closed(_)) => {}
            Some(Shape::Words) => add(exact::KEY, key),
            None => {
                let letter = match field.number {
                    Some(FieldNumber::One(quantity)) => dimension_letter(quantity.dimension),
                    Some(FieldNumber::Range(interval)) => dimension_letter(interval.dimension),
                    Some(FieldNumber::Date(_)) => DATE_LETTER,
                    None => exact::WORDS_LETTER,
                };
                add(exact::KEY, &exact::classed(key, letter));
                add(exact::KEY, key);
            }
        }
    }
    if let Some(card) = document.blank {
        out.document.add_text(fields.card, card);
        out.add_under(fields.keyed, keys::BLANK, card);
    }
}

/// Adds words and lines of the front matter and gives the columns of all numbers.
fn add_front_matter(
    out: &mut Out,
    document: &Document,
    fields: &Fields,
    catalogue: &Catalogue,
    leaves: &[Keyed],
) -> Vec<(String, OwnedValue)> {
    let mut columns = Columns::default();
    for spec in &catalogue.numbers {
        if let Some(value) = document.numbers.get(&spec.key).and_then(|number| number.value()) {
            columns.value(&fold(&spec.key), dimension_letter(spec.dimension), value);
        }
    }
    let mut front = String::new();
    for Keyed { field, key, shape } in leaves {
        if key == keys::KIND {
            // Every record has a kind: as a word it would find them all.
            continue;
        }
        out.document.add_text(fields.text, &field.text);
        front.push_str(key);
        front.push_str(": ");
        for (at, line) in field.text.split('\n').enumerate() {
            front.push_str(if at == 0 { "" } else { " " });
            front.push_str(line);
        }
        front.push('\n');
        if !matches!(shape, Some(Shape::Number(_) | Shape::Date)) {
            out.add_under(fields.keyed, key, &field.text);
        }
        // A plugin's number wins over the front matter, also when it only says that something is missing.
        if document.numbers.get(&field.key).is_none() {
            match field.number {
                Some(FieldNumber::One(quantity)) => {
                    columns.value(key, dimension_letter(quantity.dimension), quantity.si);
                }
                Some(FieldNumber::Range(interval)) => columns.range(key, &interval),
                Some(FieldNumber::Date(date)) => columns.value(key, DATE_LETTER, days(date)),
                None => {}
            }
        }
    }
    if !front.is_empty() {
        out.document.add_text(fields.front, front);
    }
    columns.0
}

#[expect(
    clippy::cast_precision_loss,
    reason = "dates are within ten thousand years, far below 2^53 days"
)]
fn days(date: Date) -> f64 {
    day_number(date) as f64
}

/// The values of all columns of one record, in the order in which they came.
#[derive(Default)]
struct Columns(Vec<(String, OwnedValue)>);

impl Columns {
    fn value(&mut self, key: &str, letter: char, value: f64) {
        if value.is_finite() {
            self.0.push((column(key, letter, Side::Value), OwnedValue::F64(value)));
        }
    }

    fn range(&mut self, key: &str, interval: &Interval) {
        let letter = dimension_letter(interval.dimension);
        let low = interval.low.map_or(f64::MIN, |low| low.si);
        let high = interval.high.map_or(f64::MAX, |high| high.si);
        // Both or none, so that the rows of the two columns stay beside each other.
        if low.is_finite() && high.is_finite() {
            self.0.push((column(key, letter, Side::Low), OwnedValue::F64(low)));
            self.0.push((column(key, letter, Side::High), OwnedValue::F64(high)));
        }
    }
}

/// The date that orders records: the first `date` of the front matter.
fn first_date(leaves: &[Keyed]) -> Option<i64> {
    leaves.iter().find_map(|leaf| match leaf.field.number {
        Some(FieldNumber::Date(date)) if leaf.key == keys::DATE => Some(day_number(date)),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_count_from_1970() {
        // 2000-01-01 is day 10957: 30 years of 365 days and the 7 leap days of 1972 to 1996.
        assert_eq!(day_number(Date::constant(2000, 1, 1)), 30 * 365 + 7);
        assert_eq!(day_number(Date::constant(1970, 1, 1)), 0);
        assert_eq!(day_number(Date::constant(1969, 12, 31)), -1);
    }
}
