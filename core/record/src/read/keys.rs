//! Which keys a place knows, and what to say of one that it does not.
//!
//! An unknown key is nobody's mistake; only one that looks like a misspelt or misplaced known key is.

use std::borrow::Cow;

use super::Reader;
use crate::source::quoted;
use crate::yaml::{Entry, Map};

/// A place in a record with the keys that it knows.
pub(crate) struct Place {
    /// What the place is called in a message, such as `a cut`.
    pub(crate) name: &'static str,
    pub(crate) keys: &'static [&'static str],
    /// Keys that belong elsewhere, and where.
    pub(crate) elsewhere: fn(&str) -> Option<Cow<'static, str>>,
}

/// The keys whose values are maps.
pub(crate) const MAPS: [&str; 9] =
    ["limits", "aim", "read", "cut", "plan", "pull", "settled", "adds", "errors"];

/// No key belongs elsewhere.
pub(crate) fn nowhere(_: &str) -> Option<Cow<'static, str>> {
    None
}

/// The entries of a map by its known keys.
pub(crate) struct Known<'n, 's> {
    entries: Vec<(&'static str, &'n Entry<'s>)>,
}

impl<'n, 's> Known<'n, 's> {
    /// The entry of a key, the first when it is repeated.
    pub(crate) fn get(&self, key: &str) -> Option<&'n Entry<'s>> {
        self.entries.iter().find(|(known, _)| *known == key).map(|(_, entry)| *entry)
    }
}

impl<'s> Reader<'s, '_> {
    /// Sorts the entries of a map by the keys of a place, and reports repeated and doubtful ones.
    pub(crate) fn known<'n>(&mut self, map: &'n Map<'s>, place: &Place) -> Known<'n, 's> {
        self.known_among(map.entries.iter(), map, place)
    }

    /// Does the same for some of a map's entries.
    pub(crate) fn known_among<'n>(
        &mut self,
        among: impl Iterator<Item = &'n Entry<'s>>,
        map: &'n Map<'s>,
        place: &Place,
    ) -> Known<'n, 's>
    where
        's: 'n,
    {
        let mut entries = Vec::with_capacity(map.entries.len().min(place.keys.len()));
        for entry in among {
            if entry.repeated {
                self.repeated(map, entry);
            } else if let Some(key) = place.keys.iter().find(|key| **key == entry.key) {
                entries.push((*key, entry));
            } else {
                self.unknown(entry, place);
            }
        }
        Known { entries }
    }

    fn repeated(&mut self, map: &Map<'s>, entry: &Entry<'s>) {
        let first = map.get(&entry.key).and_then(|first| first.value.text());
        let message = match first {
            Some(first) => format!(
                "{} stands twice: the first, {}, is used; take one out",
                quoted(&entry.key),
                quoted(first)
            ),
            None => format!(
                "{} stands twice: only the first is used; move what is here to it",
                quoted(&entry.key)
            ),
        };
        self.problems.report(entry.key_span.clone(), message);
    }

    /// Reports an unknown key when it is likely to be a mistake.
    pub(crate) fn unknown(&mut self, entry: &Entry<'s>, place: &Place) {
        let key = &*entry.key;
        if let Some(message) = wrong_start(key) {
            self.problems.report(entry.key_span.clone(), message);
        } else if let Some(meant) = misspelt(key, place.keys.iter().copied()) {
            let message =
                format!("{} is not known in {}: did you mean `{meant}`?", quoted(key), place.name);
            self.problems.report(entry.key_span.clone(), message);
        } else if let Some(elsewhere) = (place.elsewhere)(key) {
            let message = format!("{} does not belong in {}: {elsewhere}", quoted(key), place.name);
            self.problems.report(entry.key_span.clone(), message);
        } else {
            self.lost_inside(&entry.value);
        }
    }
}

/// Finds a key that YAML takes for one and a builder meant for something else.
fn wrong_start(key: &str) -> Option<String> {
    let first = key.chars().next()?;
    if first.is_whitespace() {
        return Some(format!(
            "{} begins with a space that is no plain one: indent with plain spaces",
            quoted(key)
        ));
    }
    let bare = key.trim_start_matches(|c: char| "-–—−•*+".contains(c) || c.is_whitespace());
    (bare != key).then(|| {
        format!(
            "{} begins with `{first}`: begin an item of a list with a dash and a space, {}",
            quoted(key),
            quoted(&format!("- {bare}: …"))
        )
    })
}

/// Finds the known word that a word is likely to mean.
pub(crate) fn misspelt<'k>(word: &str, known: impl Iterator<Item = &'k str>) -> Option<&'k str> {
    if 40 < word.len() {
        return None;
    }
    let folded = fold(word);
    known
        .filter_map(|candidate| Some((distance(&folded, &fold(candidate))?, candidate)))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// Without what people write differently: case, and what joins the parts.
fn fold(word: &str) -> String {
    word.chars()
        .filter(|c| !matches!(c, '_' | '-') && !c.is_whitespace())
        .flat_map(char::to_lowercase)
        .collect()
}

/// How far a word is from a known one, if it is near enough to be taken for it.
///
/// Short words are near to many others, so they must differ by one slip and keep their first letter;
/// two letters that changed places are one slip.
fn distance(word: &str, known: &str) -> Option<usize> {
    let distance = strsim::osa_distance(word, known);
    let length = known.chars().count();
    let same_start = word.chars().next() == known.chars().next();
    let near = match distance {
        0 => true,
        1 => 2 < length && (same_start || 5 < length),
        2 => 6 < length && same_start,
        _ => false,
    };
    near.then_some(distance)
}
