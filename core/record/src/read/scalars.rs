//! Readers of the values that are not quantities: text, words, dates, counts, yes and no.

use super::Reader;
use super::keys::misspelt;
use crate::source::quoted;
use crate::yaml::{Entry, Style, whole_number};
use crate::{Date, Spanned};

impl<'s> Reader<'s, '_> {
    /// Reads text as written.
    pub(crate) fn text(
        &mut self,
        entry: Option<&Entry<'s>>,
        example: &str,
    ) -> Option<Spanned<String>> {
        let entry = entry?;
        let (text, style) = self.single(entry, example)?;
        if style == Style::Rejoined {
            let message = format!(
                "{} has a comma, which ends a text in braces: put the text in quotes, {}",
                quoted(text),
                crate::yaml::in_quotes(text)
            );
            self.problems.report(entry.value.span.clone(), message);
        }
        self.lost_end(&entry.value);
        Some(Spanned { value: text.to_owned(), span: entry.value.span.clone() })
    }

    /// Reads text whose place does not matter.
    pub(crate) fn plain_text(
        &mut self,
        entry: Option<&Entry<'s>>,
        example: &str,
    ) -> Option<String> {
        self.text(entry, example).map(|text| text.value)
    }

    /// Reads one of a few words.
    ///
    /// Of several words for one thing the first is shown.
    pub(crate) fn word<T: Copy + PartialEq>(
        &mut self,
        entry: Option<&Entry<'s>>,
        words: &[(&'static str, T)],
    ) -> Option<Spanned<T>> {
        let entry = entry?;
        let (text, _) = self.single(entry, words[0].0)?;
        let found = words.iter().find(|(word, _)| word.eq_ignore_ascii_case(text));
        if let Some((_, value)) = found {
            return Some(Spanned { value: *value, span: entry.value.span.clone() });
        }
        let cure = match misspelt(text, words.iter().map(|(word, _)| *word)) {
            Some(meant) => format!("did you mean `{meant}`?"),
            None => {
                let first =
                    |idx: usize| !words[..idx].iter().any(|(_, value)| *value == words[idx].1);
                let shown = (0..words.len()).filter(|idx| first(*idx)).map(|idx| words[idx].0);
                format!("write {}", one_of(shown))
            }
        };
        let message = format!("{} is not known as `{}`: {cure}", quoted(text), entry.key);
        self.problems.report(entry.value.span.clone(), message);
        None
    }

    /// Reads a date.
    pub(crate) fn date(&mut self, entry: Option<&Entry<'s>>) -> Option<Spanned<Date>> {
        let entry = entry?;
        let (text, _) = self.single(entry, "2026-03-14")?;
        let span = entry.value.span.clone();
        let message = match date(text) {
            Ok(date) if (1900..=2200).contains(&date.year()) => {
                return Some(Spanned { value: date, span });
            }
            Ok(_) => format!("{} is far from now: check the year", quoted(text)),
            Err(Some(why)) => format!("{} does not exist: {why}", quoted(text)),
            Err(None) => format!(
                "{} is no date: write year, month and day, such as `2026-03-14`",
                quoted(text)
            ),
        };
        self.problems.report(span, message);
        None
    }

    /// Reads a whole number between two bounds.
    pub(crate) fn count(
        &mut self,
        entry: Option<&Entry<'s>>,
        least: u32,
        most: u32,
    ) -> Option<Spanned<u32>> {
        let entry = entry?;
        let (text, _) = self.single(entry, &least.max(1).to_string())?;
        let span = entry.value.span.clone();
        match whole_number(text).filter(|count| (least..=most).contains(count)) {
            Some(value) => Some(Spanned { value, span }),
            None => {
                let message = match hexadecimal(text) {
                    Some(value) if (least..=most).contains(&value) => {
                        format!("{} is not a plain number: write `{value}`", quoted(text))
                    }
                    _ => format!(
                        "{} can't be `{}`: write a whole number from {least} to {most}",
                        quoted(text),
                        entry.key
                    ),
                };
                self.problems.report(span, message);
                None
            }
        }
    }

    /// Reads yes or no.
    pub(crate) fn flag(&mut self, entry: Option<&Entry<'s>>) -> Option<bool> {
        const WORDS: [(&str, bool); 4] =
            [("yes", true), ("no", false), ("true", true), ("false", false)];
        self.word(entry, &WORDS).map(|word| word.value)
    }
}

/// Reads `2026-03-14`; an error says why such a day does not exist, or nothing when it is no date at all.
pub(crate) fn date(text: &str) -> Result<Date, Option<String>> {
    let bytes = text.as_bytes();
    let shaped = bytes.len() == 10
        && bytes.iter().enumerate().all(|(at, byte)| {
            if matches!(at, 4 | 7) { *byte == b'-' } else { byte.is_ascii_digit() }
        });
    if !shaped {
        return Err(None);
    }
    let year: i16 = text[..4].parse().map_err(|_| None)?;
    let month: i8 = text[5..7].parse().map_err(|_| None)?;
    let day: i8 = text[8..].parse().map_err(|_| None)?;
    Date::new(year, month, day).map_err(|_| {
        let first = Date::new(year, month, 1);
        Some(match first {
            Ok(first) => format!("that month has {} days", first.days_in_month()),
            Err(_) => format!(
                "there is no month {}, write year, month and day, such as `2026-03-14`",
                &text[5..7]
            ),
        })
    })
}

/// Reads a number to the base 16.
pub(crate) fn hexadecimal(text: &str) -> Option<u32> {
    let digits = text.strip_prefix("0x").or_else(|| text.strip_prefix("0X"))?;
    u32::from_str_radix(digits, 16).ok()
}

/// Lists words: `` `keep`, `recut` or `scrap` ``.
pub(crate) fn one_of<'w>(words: impl Iterator<Item = &'w str>) -> String {
    let words: Vec<String> = words.map(|word| format!("`{word}`")).collect();
    match words.as_slice() {
        [] => String::new(),
        [only] => only.clone(),
        [most @ .., last] => format!("{} or {last}", most.join(", ")),
    }
}
