//! Questions answered by a plain walk over the records, as the design states the language.
//!
//! It shares no code with the index; of the units crate it uses the reading of a quantity.

use std::collections::BTreeMap;

use taperbook_record::{Date, FieldNumber, Kind};
use taperbook_units::Dimension;

use crate::generated::folded;
use crate::shop::{Entry, leaf_number};

/// The answer of one record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Answer {
    Yes,
    No,
    Nothing,
}

impl Answer {
    fn of(yes: bool) -> Self {
        if yes { Answer::Yes } else { Answer::No }
    }
}

/// A generated question, as text and as what it means.
#[derive(Debug, Clone)]
pub(crate) enum Ask {
    Words {
        folded: Vec<String>,
        prefix: bool,
    },
    Number {
        key: String,
        dimension: Dimension,
        low: Option<(f64, bool)>,
        high: Option<(f64, bool)>,
        near: Option<(f64, f64)>,
    },
    Dates {
        low: Date,
        high: Date,
    },
    Under {
        key: String,
        folded: Vec<String>,
        prefix: bool,
    },
    /// A value that is a number or words: no unless one of them says yes, nothing without the key.
    Either {
        words: Box<Ask>,
        number: Box<Ask>,
    },
    Kind(Kind),
    Flag(String),
    Card(Box<Ask>),
    Not(Box<Ask>),
    All(Vec<Ask>),
    Any(Vec<Ask>),
}

/// A record with what is read from it once: its words, and its leaves with their words and number.
pub(crate) struct Walked {
    pub(crate) entry: Entry,
    texts: Vec<Vec<String>>,
    leaves: Vec<(String, Vec<String>, Option<FieldNumber>)>,
}

impl Walked {
    pub(crate) fn new(entry: &Entry) -> Self {
        let leaves: Vec<_> = entry
            .fields
            .iter()
            .map(|(key, text)| (key.clone(), folded(text), leaf_number(text)))
            .collect();
        let stem = entry.id.rsplit('/').next().unwrap();
        let mut texts = vec![folded(&entry.title), folded(stem), folded(&entry.body)];
        texts.extend(leaves.iter().map(|(_, words, _)| words.clone()));
        Self { entry: entry.clone(), texts, leaves }
    }
}

/// The records by id, for asking the card.
pub(crate) type Shop = BTreeMap<String, Walked>;

pub(crate) fn has_phrase(text: &[String], phrase: &[String], prefix: bool) -> bool {
    text.windows(phrase.len()).any(|window| {
        window.iter().zip(phrase).enumerate().all(|(place, (word, wanted))| {
            if prefix && place + 1 == phrase.len() {
                word.starts_with(wanted.as_str())
            } else {
                word == wanted
            }
        })
    })
}

/// The numbers and ranges under a key, each as its two ends.
pub(crate) fn numbers(walked: &Walked, key: &str, dimension: Dimension) -> Vec<(f64, f64)> {
    if let Some((_, number)) = walked.entry.numbers.iter().find(|(name, _)| name == key) {
        return number.value().map(|value| (value, value)).into_iter().collect();
    }
    let leaves = walked.leaves.iter().filter(|(name, _, _)| name == key);
    leaves
        .filter_map(|(_, _, number)| match number {
            Some(FieldNumber::One(quantity)) if quantity.dimension == dimension => {
                Some((quantity.si, quantity.si))
            }
            Some(FieldNumber::Range(range)) if range.dimension == dimension => Some((
                range.low.map_or(f64::NEG_INFINITY, |low| low.si),
                range.high.map_or(f64::INFINITY, |high| high.si),
            )),
            _ => None,
        })
        .collect()
}

impl Ask {
    pub(crate) fn answer(&self, walked: &Walked, shop: &Shop) -> Answer {
        let entry = &walked.entry;
        match self {
            Ask::Words { folded, prefix } => {
                Answer::of(walked.texts.iter().any(|text| has_phrase(text, folded, *prefix)))
            }
            Ask::Number { key, dimension, low, high, near } => {
                let values = numbers(walked, key, *dimension);
                if values.is_empty() {
                    return Answer::Nothing;
                }
                Answer::of(values.iter().any(|(least, most)| {
                    // Values that differ in the last few digits are the same value.
                    let same = |a: f64, b: f64| {
                        b.is_finite() && (a - b).abs() <= 1e-10 * a.abs().max(b.abs())
                    };
                    let low_holds =
                        low.is_none_or(
                            |(low, strict)| if same(low, *most) { !strict } else { low < *most },
                        );
                    let high_holds =
                        high.is_none_or(
                            |(high, strict)| {
                                if same(high, *least) { !strict } else { *least < high }
                            },
                        );
                    let near_holds = near.is_none_or(|(value, step)| {
                        let (lowest, highest) = (value - step, value + step);
                        (lowest <= *most || same(lowest, *most))
                            && (*least <= highest || same(highest, *least))
                    });
                    low_holds && high_holds && near_holds
                }))
            }
            Ask::Dates { low, high } => {
                let written = entry.fields.iter().find(|(name, _)| name == "date");
                written.map_or(Answer::Nothing, |(_, text)| {
                    let date: Date = text.parse().unwrap();
                    Answer::of(*low <= date && date <= *high)
                })
            }
            Ask::Under { key, folded: wanted, prefix } => {
                if key == "title" {
                    return Answer::of(has_phrase(&folded(&entry.title), wanted, *prefix));
                }
                let mut values = walked.leaves.iter().filter(|(name, _, _)| name == key).peekable();
                if values.peek().is_none() {
                    return Answer::Nothing;
                }
                Answer::of(values.any(|(_, words, _)| has_phrase(words, wanted, *prefix)))
            }
            Ask::Either { words, number } => match number.answer(walked, shop) {
                Answer::Yes => Answer::Yes,
                _ => words.answer(walked, shop),
            },
            Ask::Kind(kind) => Answer::of(entry.kind() == *kind),
            Ask::Flag(flag) => Answer::of(entry.flags.contains(flag)),
            Ask::Card(ask) => entry
                .blank
                .as_ref()
                .and_then(|card| shop.get(card))
                .map_or(Answer::Nothing, |card| ask.answer(card, shop)),
            Ask::Not(ask) => match ask.answer(walked, shop) {
                Answer::Yes => Answer::No,
                Answer::No => Answer::Yes,
                Answer::Nothing => Answer::Nothing,
            },
            Ask::All(parts) => {
                let answers: Vec<_> = parts.iter().map(|part| part.answer(walked, shop)).collect();
                if answers.contains(&Answer::No) {
                    Answer::No
                } else if answers.contains(&Answer::Nothing) {
                    Answer::Nothing
                } else {
                    Answer::Yes
                }
            }
            Ask::Any(parts) => {
                let answers: Vec<_> = parts.iter().map(|part| part.answer(walked, shop)).collect();
                if answers.contains(&Answer::Yes) {
                    Answer::Yes
                } else if answers.contains(&Answer::Nothing) {
                    Answer::Nothing
                } else {
                    Answer::No
                }
            }
        }
    }
}
