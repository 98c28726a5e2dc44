//! The piece of a record that shows why it was found.
//!
//! The body is preferred; where the query's words stand in the front matter alone, its lines are shown.
//! A snippet is one line of plain text; what matches is told by byte ranges, so that each reader marks it in its own way.

use std::ops::Range;

use crate::error::printable;
use crate::query::Phrase;
use crate::words::{char_start, fold_into, next_word};

/// About how many bytes of text a snippet shows.
const LENGTH: usize = 160;

/// How many bytes before the first match are shown, so that it stands in its sentence.
const LEAD: usize = 40;

/// How much of a text is looked through for matches; a note that is longer is shown from its beginning when the match comes later.
const MOST_TEXT: usize = 256 * 1024;

/// A snippet.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Snippet {
    /// The text.
    pub(crate) text: String,
    /// The bytes of the text that match.
    pub(crate) marks: Vec<Range<usize>>,
}

/// The words to look for, each with the key under which they must stand, if any.
pub(crate) type Wanted<'a> = [(Option<&'a str>, &'a Phrase)];

/// Makes the snippet of a record from its front matter, as lines of `key: text`, and its body.
pub(crate) fn make(title: &str, front: &str, body: &str, wanted: &Wanted) -> Snippet {
    let body = body.get(..char_start(body, MOST_TEXT)).unwrap_or(body);
    // The title is shown beside the snippet, so the heading need not be said again.
    let body = body
        .trim_start()
        .strip_prefix(title)
        .filter(|rest| rest.starts_with(['\n', '\r']))
        .unwrap_or(body);
    let in_body = matches(body, 0, wanted, |key| key.is_none());
    let in_front = front_matches(front, wanted);
    let kinds = |found: &[Match]| {
        let mut phrases: Vec<usize> = found.iter().map(|found| found.phrase).collect();
        phrases.sort_unstable();
        phrases.dedup();
        phrases.len()
    };
    let body_is_empty = body.trim().is_empty();
    if kinds(&in_body) < kinds(&in_front) || body_is_empty {
        cut(front, &in_front, " · ")
    } else {
        cut(body, &in_body, " ")
    }
}

/// A place where a phrase stands.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Match {
    at: Range<usize>,
    phrase: usize,
}

fn front_matches(front: &str, wanted: &Wanted) -> Vec<Match> {
    let mut found = Vec::new();
    let mut start = 0;
    for line in front.split_inclusive('\n') {
        if let Some((key, text)) = line.split_once(": ") {
            let offset = start + line.len() - text.len();
            found.extend(matches(text, offset, wanted, |wanted_key| {
                wanted_key.is_none_or(|wanted_key| wanted_key == key)
            }));
        }
        start += line.len();
    }
    found
}

/// Finds the phrases of some keys in a text that stands `offset` bytes into a longer one, in order.
fn matches(
    text: &str,
    offset: usize,
    wanted: &Wanted,
    of_key: impl Fn(Option<&str>) -> bool,
) -> Vec<Match> {
    let longest = wanted.iter().map(|(_, phrase)| phrase.words.len()).max().unwrap_or(0);
    if longest == 0 {
        return Vec::new();
    }
    let mut found: Vec<Match> = Vec::new();
    // The last words read, as many as the longest phrase has; the newest is at the end.
    let mut recent: std::collections::VecDeque<(Range<usize>, String)> =
        std::collections::VecDeque::new();
    let mut at = 0;
    while let Some(range) = next_word(text, at) {
        at = range.end;
        let mut word =
            if recent.len() == longest { recent.pop_front().map(|(_, word)| word) } else { None }
                .unwrap_or_default();
        word.clear();
        fold_into(&text[range.clone()], &mut word);
        if word.is_empty() {
            continue;
        }
        recent.push_back((range, word));
        for (phrase_idx, (key, phrase)) in wanted.iter().enumerate() {
            let Some(first) = recent.len().checked_sub(phrase.words.len()) else { continue };
            if !of_key(*key) || !ends_with(&recent, first, phrase) {
                continue;
            }
            let from = recent[first].0.start;
            found.push(Match { at: offset + from..offset + at, phrase: phrase_idx });
        }
    }
    found.sort_by_key(|found| (found.at.start, found.at.end));
    found
}

fn ends_with(
    recent: &std::collections::VecDeque<(Range<usize>, String)>,
    first: usize,
    phrase: &Phrase,
) -> bool {
    let last = phrase.words.len() - 1;
    phrase.words.iter().enumerate().all(|(place, wanted)| {
        let word = recent[first + place].1.as_str();
        if place == last && phrase.prefix {
            word.starts_with(wanted.as_str())
        } else {
            word == wanted
        }
    })
}

/// Cuts the stretch with the most different phrases out of a text, and puts `between` where lines end.
fn cut(text: &str, found: &[Match], between: &str) -> Snippet {
    let start = best_start(found).map_or(0, |match_start| lead_in(text, match_start));
    let mut end = char_start(text, start + LENGTH);
    if end < text.len() {
        // A word that does not fit whole is left out, unless nothing would remain.
        let inside = found
            .iter()
            .map(|found| found.at.end)
            .filter(|match_end| *match_end <= end)
            .max()
            .unwrap_or(start);
        if let Some(space) = text[start..end].rfind(char::is_whitespace).map(|space| start + space)
            && start < space
            && inside <= space
        {
            end = space;
        }
    }
    squeeze(text, start..end, found, between)
}

/// Finds the match from which a snippet shows the most different phrases; the first such one.
fn best_start(found: &[Match]) -> Option<usize> {
    let mut best: Option<(usize, usize)> = None;
    for (first, start) in found.iter().enumerate() {
        let mut phrases: Vec<usize> = found[first..]
            .iter()
            .take_while(|found| found.at.end <= start.at.start + LENGTH - LEAD)
            .take(64)
            .map(|found| found.phrase)
            .collect();
        phrases.sort_unstable();
        phrases.dedup();
        if best.is_none_or(|(most, _)| most < phrases.len()) {
            best = Some((phrases.len(), start.at.start));
        }
    }
    best.map(|(_, start)| start)
}

/// Goes back from a match by some words, but not over the end of a line.
fn lead_in(text: &str, match_start: usize) -> usize {
    let earliest = char_start(text, match_start.saturating_sub(LEAD));
    let before = &text[earliest..match_start];
    if let Some(line) = before.rfind('\n') {
        return earliest + line + 1;
    }
    if earliest == 0 {
        return 0;
    }
    // A word that is cut by the earliest byte is left out.
    before
        .split_inclusive(char::is_whitespace)
        .next()
        .map_or(match_start, |cut_word| earliest + cut_word.len())
}

/// Writes a stretch on one line, with single spaces, and says with `…` where more stands before or behind.
fn squeeze(text: &str, stretch: Range<usize>, found: &[Match], between: &str) -> Snippet {
    let mut out = String::with_capacity(stretch.len() + 8);
    // Where each byte of the stretch went.
    let mut moved = Vec::with_capacity(stretch.len() + 1);
    if !text[..stretch.start].trim().is_empty() {
        out.push('…');
    }
    // What separates the last word written from the next, once one comes.
    let mut gap: Option<&str> = None;
    let mut is_start = true;
    for char in text[stretch.clone()].chars() {
        let shown = printable(char);
        if shown == ' ' {
            gap = if char == '\n' { Some(between) } else { gap.or(Some(" ")) };
        } else if let Some(gap) = gap.take().filter(|_| !is_start) {
            out.push_str(gap);
        }
        moved.extend(std::iter::repeat_n(out.len(), char.len_utf8()));
        if shown != ' ' {
            out.push(shown);
            is_start = false;
        }
    }
    moved.push(out.len());
    let marks = marks(&stretch, &moved, out.len(), found);
    if !text[stretch.end..].trim().is_empty() {
        out.push('…');
    }
    Snippet { text: out, marks }
}

/// Moves the matches inside a stretch to where they went; those that touch become one.
fn marks(
    stretch: &Range<usize>,
    moved: &[usize],
    length: usize,
    found: &[Match],
) -> Vec<Range<usize>> {
    let mut marks: Vec<Range<usize>> = Vec::new();
    for found in found {
        if found.at.start < stretch.start || stretch.end < found.at.end {
            continue;
        }
        let place = |at: usize| moved[at - stretch.start].min(length);
        let mark = place(found.at.start)..place(found.at.end);
        match marks.last_mut() {
            Some(last) if mark.start < last.end => last.end = last.end.max(mark.end),
            _ => marks.push(mark),
        }
    }
    marks
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Texts with words that fold, spaces, marks and letters of several widths.
    fn text() -> impl Strategy<Value = String> {
        let piece = prop_oneof![
            Just("spoon".to_owned()),
            Just("SPOÓN".to_owned()),
            Just("trout".to_owned()),
            Just("sea\u{a0}".to_owned()),
            Just("竿".to_owned()),
            Just("\n\n".to_owned()),
            Just("\npurpose: ".to_owned()),
            Just("… ".to_owned()),
            "[ .,a-zéß]{1,30}",
            "\\PC{0,5}",
            "[a-z]{200}",
        ];
        prop::collection::vec(piece, 0..60).prop_map(|pieces| pieces.concat())
    }

    proptest! {
        #[test]
        fn marks_are_words_of_the_query(body in text(), front in text(), title in text()) {
            let phrase = |words: &[&str], prefix| Phrase { words: words.iter().map(|word| (*word).to_owned()).collect(), prefix };
            let phrases =
                [phrase(&["spoon"], false), phrase(&["trou"], true), phrase(&["sea", "trout"], false), phrase(&["竿"], false)];
            let keys = [None, None, Some("purpose"), None];
            let wanted: Vec<_> = keys.into_iter().zip(&phrases).collect();
            let snippet = make(&title, &front, &body, &wanted);
            let text = snippet.text;
            assert!(text.len() < 2 * LENGTH, "{text}");
            assert!(!text.contains(char::is_control), "{text:?}");
            assert!(!text.contains("  ") && text.trim() == text, "{text:?}");
            let mut end = 0;
            for mark in snippet.marks {
                assert!(end <= mark.start && mark.start < mark.end);
                end = mark.end;
                let marked = text[mark].to_lowercase().replace('ó', "o");
                assert!(["spoon", "trou", "sea", "竿"].iter().any(|word| marked.starts_with(word)), "{marked:?}");
            }
        }
    }

    #[test]
    fn a_key_marks_only_under_it() {
        let phrase = Phrase { words: vec!["ilse".to_owned()], prefix: false };
        let front = "maker: Ilse\ncustomer: Ilse\n";
        let check = |key, text: &str, mark: Range<usize>| {
            let snippet = make("t", front, "Ilse came.", &[(key, &phrase)]);
            assert_eq!(
                (snippet.text.as_str(), snippet.marks.as_slice()),
                (text, [mark].as_slice())
            );
        };
        check(Some("customer"), "…customer: Ilse", 13..17);
        check(None, "Ilse came.", 0..4);
    }

    #[test]
    fn a_mark_that_follows_no_letter_is_no_part_of_the_match() {
        // U+1ABF is a combining mark that Unicode counts among the letters.
        let phrase = Phrase { words: vec!["spoon".to_owned()], prefix: false };
        let snippet = make("", "", "竿\u{1abf}spoon", &[(None, &phrase)]);
        assert_eq!(&snippet.text[snippet.marks[0].clone()], "spoon");
    }

    #[test]
    fn a_match_far_into_a_long_note_is_not_looked_for() {
        let phrase = Phrase { words: vec!["spoon".to_owned()], prefix: false };
        let body = format!("begin {}spoon", "x ".repeat(MOST_TEXT / 2));
        let snippet = make("t", "", &body, &[(None, &phrase)]);
        assert!(snippet.text.starts_with("begin x") && snippet.marks.is_empty());
    }
}
