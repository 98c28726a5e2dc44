//! The fields of the index, and how keys and numbers are named inside it.
//!
//! Nothing outside this crate sees these names; a change to any of them is a new [`VERSION`].

use tantivy::schema::{
    FAST, Field, IndexRecordOption, JsonObjectOptions, STORED, STRING, Schema, TextFieldIndexing,
    TextOptions,
};
use tantivy::tokenizer::{RAW_TOKENIZER_NAME, TextAnalyzer};
use taperbook_units::Dimension;

use crate::words::{KEY_END, WordTokenizer};
use crate::writer::Catalogue;

/// The version of what the index holds; an index of another version is made anew.
pub(crate) const VERSION: u32 = 3;

/// The fields of the index.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Fields {
    /// The record's id: what a new version of the record takes the place of, and what breaks ties.
    pub(crate) id: Field,
    /// The words of the record: title, file name, front matter, body.
    pub(crate) text: Field,
    /// The words of the front matter again, each with its key before it.
    pub(crate) keyed: Field,
    /// Things that are compared as a whole, each with what it is before it; see [`exact`].
    pub(crate) exact: Field,
    /// The numbers, a column to each key and dimension; see [`column`].
    pub(crate) numbers: Field,
    /// The record's date in days, for ordering.
    pub(crate) day: Field,
    /// The id of the card that the record's `blank` leads to, for asking the card.
    pub(crate) card: Field,
    /// The title, for showing.
    pub(crate) title: Field,
    /// The word of the kind, for showing.
    pub(crate) kind: Field,
    /// The front matter as lines of `key: text`, for snippets.
    pub(crate) front: Field,
    /// The body, for snippets.
    pub(crate) body: Field,
}

/// The names of columns that are asked for by name.
pub(crate) const ID: &str = "id";
/// See [`Fields::day`].
pub(crate) const DAY: &str = "day";
/// See [`Fields::card`].
pub(crate) const CARD: &str = "card";
const NUMBERS: &str = "numbers";

const WORDS: &str = "words";
const KEYED_WORDS: &str = "keyed_words";

/// Makes the schema and its fields.
pub(crate) fn schema() -> (Schema, Fields) {
    let words = |tokenizer: &str, norms: bool| {
        TextOptions::default().set_indexing_options(
            TextFieldIndexing::default()
                .set_tokenizer(tokenizer)
                .set_index_option(IndexRecordOption::WithFreqsAndPositions)
                .set_fieldnorms(norms),
        )
    };
    let exact = TextOptions::default().set_indexing_options(
        TextFieldIndexing::default()
            .set_tokenizer(RAW_TOKENIZER_NAME)
            .set_index_option(IndexRecordOption::Basic)
            .set_fieldnorms(false),
    );
    let column = TextOptions::default().set_fast(RAW_TOKENIZER_NAME);
    let mut builder = Schema::builder();
    let fields = Fields {
        id: builder.add_text_field(ID, (STRING | STORED).set_fast(RAW_TOKENIZER_NAME)),
        text: builder.add_text_field("text", words(WORDS, true)),
        keyed: builder.add_text_field("keyed", words(KEYED_WORDS, false)),
        exact: builder.add_text_field("exact", exact),
        numbers: builder
            .add_json_field(NUMBERS, JsonObjectOptions::default().set_fast(RAW_TOKENIZER_NAME)),
        day: builder.add_i64_field(DAY, FAST),
        card: builder.add_text_field(CARD, column),
        title: builder.add_text_field("title", STORED),
        kind: builder.add_text_field("kind", STORED),
        front: builder.add_text_field("front", STORED),
        body: builder.add_text_field("body", STORED),
    };
    (builder.build(), fields)
}

/// Gives an index the tokenizers that the schema names.
pub(crate) fn register_tokenizers(index: &tantivy::Index) {
    index.tokenizers().register(WORDS, TextAnalyzer::from(WordTokenizer::plain()));
    index.tokenizers().register(KEYED_WORDS, TextAnalyzer::from(WordTokenizer::keyed()));
}

/// Writes the first line of the commit's payload: what the index was made by and for.
pub(crate) fn header(catalogue: &Catalogue) -> String {
    let mut names: Vec<String> = catalogue
        .numbers
        .iter()
        .map(|spec| format!("{}{}", spec.key, dimension_letter(spec.dimension)))
        .chain(catalogue.flags.iter().map(|flag| format!("{flag}!")))
        .collect();
    names.sort_unstable();
    names.dedup();
    format!("taperbook-index {VERSION} {}\n", names.join(" "))
}

/// The letter that stands for a dimension inside the index.
pub(crate) fn dimension_letter(dimension: Dimension) -> char {
    match dimension {
        Dimension::Length => 'l',
        Dimension::Mass => 'm',
        Dimension::Angle => 'a',
        Dimension::Frequency => 'f',
        Dimension::Pressure => 'p',
        Dimension::Density => 'd',
        Dimension::Force => 'n',
        Dimension::Fraction => 'r',
        Dimension::Count => 'c',
    }
}

/// The letter for a date, beside those of the dimensions.
pub(crate) const DATE_LETTER: char = 't';

/// All dimensions.
pub(crate) const DIMENSIONS: [Dimension; 9] = [
    Dimension::Length,
    Dimension::Mass,
    Dimension::Angle,
    Dimension::Frequency,
    Dimension::Pressure,
    Dimension::Density,
    Dimension::Force,
    Dimension::Fraction,
    Dimension::Count,
];

/// Which of the columns of a key it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    /// A plain number or date.
    Value,
    /// The lower end of a range.
    Low,
    /// The upper end of a range; the two ends have the same rows.
    High,
}

/// Names a column: the key, then a letter for the dimension and one for the side.
///
/// Dots and backslashes have a meaning in the names of columns, so all but letters, digits and `_` is written in hexadecimal.
pub(crate) fn column(key: &str, letter: char, side: Side) -> String {
    let mut name = String::with_capacity(key.len() + 4);
    for char in key.chars() {
        match char {
            'a'..='z' | '0'..='9' | '_' => name.push(char),
            '.' => name.push_str("-2e-"),
            _ => name.push_str(&format!("-{:x}-", u32::from(char))),
        }
    }
    name.push('-');
    name.push(letter);
    name.push(match side {
        Side::Value => 'v',
        Side::Low => 'l',
        Side::High => 'h',
    });
    name
}

/// Names a column as the fast-field reader wants it.
pub(crate) fn column_path(key: &str, letter: char, side: Side) -> String {
    format!("{NUMBERS}.{}", column(key, letter, side))
}

/// The terms of the field `exact`.
pub(crate) mod exact {
    use super::{Field, KEY_END};
    use tantivy::Term;

    /// A name by which the record may be called, folded.
    pub(crate) const RECORD: &str = "record";
    /// A kind of record.
    pub(crate) const KIND: &str = "kind";
    /// A flag of the record.
    pub(crate) const FLAG: &str = "flag";
    /// The verdict on a build.
    pub(crate) const VERDICT: &str = "verdict";
    /// A name by which the record's blank may be called, folded.
    pub(crate) const BLANK: &str = "blank";
    /// A name by which this record, a card, may be called, folded.
    pub(crate) const CARD: &str = "card";
    /// A key of the front matter, folded; what its values are follows in terms of their own.
    pub(crate) const KEY: &str = "key";

    /// What a value under a key of the front matter is when it is no number.
    pub(crate) const WORDS_LETTER: char = 'w';

    /// Writes a term's text.
    pub(crate) fn text(what: &str, value: &str) -> String {
        let mut text = String::with_capacity(what.len() + KEY_END.len_utf8() + value.len());
        write(&mut text, what, value);
        text
    }

    /// Adds a term's text to another.
    pub(crate) fn write(out: &mut String, what: &str, value: &str) {
        out.push_str(what);
        out.push(KEY_END);
        out.push_str(value);
    }

    /// Writes the text of the term that tells what a value under a key is.
    pub(crate) fn key_class(key: &str, letter: char) -> String {
        text(KEY, &classed(key, letter))
    }

    /// A key with what a value under it is.
    pub(crate) fn classed(key: &str, letter: char) -> String {
        format!("{key}{KEY_END}{letter}")
    }

    /// Makes a term.
    pub(crate) fn term(field: Field, text: &str) -> Term {
        Term::from_field_text(field, text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn different_keys_have_different_columns() {
        assert_eq!(column("limits.length", 'l', Side::Low), "limits-2e-length-ll");
        let keys = ["a.b", "a-b", "a b", "a_b", "ab", "a--b", "a-2e-b", "å", "a\\.b"];
        let mut names: Vec<String> = keys.iter().map(|key| column(key, 'l', Side::Value)).collect();
        assert!(names.iter().all(|name| {
            name.chars().all(|char| char.is_ascii_alphanumeric() || "_-".contains(char))
        }));
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), keys.len());
    }

    #[test]
    fn letters_are_different() {
        let mut letters: Vec<char> =
            DIMENSIONS.iter().map(|dimension| dimension_letter(*dimension)).collect();
        letters.extend([DATE_LETTER, exact::WORDS_LETTER]);
        letters.sort_unstable();
        letters.dedup();
        assert_eq!(letters.len(), DIMENSIONS.len() + 2);
    }
}
